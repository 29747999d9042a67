// SPDX-License-Identifier: MIT
#include "sim/input/readings_columns.hpp"

namespace arris {

const std::vector<ReadingsColumn>& readings_column_list() {
  // clang-format off
  static const std::vector<ReadingsColumn> list{
      {"part", "", "what was read, where there is no configuration"},
      {"edge", "", "name of the edge in the configuration"},
      {"code", "", "the code that stands for an edge on a blind run sheet"},
      {"step", "", "name of the read step at which it was taken; this or passes"},
      {"passes", "1", "passes that the edge had made when it was taken; this or step", true},
      {"reading_gf", "gf", "what the tester showed, in gram-force; empty: missing, not zero", true},
      {"reading_N", "N", "what the tester showed, in newtons; empty: missing, not zero", true},
      {"replicate", "1", "which reading of the same edge at the same moment: 1, 2, 3 …", true},
      {"operator", "", "who took it"},
      {"filament_lot", "", "lot of the filament"},
      {"date", "", "day on which it was taken: year-month-day"},
      {"test_day", "", "any name of the day; the date where it is left empty"},
      {"note", "", "anything else"},
      {"excluded", "", "a reason to leave the reading out; empty: it counts"},
      {"reading_cv", "1", "scatter of this reading where it is known: 0.08 for 8 %", true},
      {"apex_radius_um", "µm", "apex radius under a microscope", true},
      {"apex_radius_sd_um", "µm", "its standard deviation", true},
      {"recession_um", "µm", "ideal apex to tip, under a microscope", true},
      {"recession_sd_um", "µm", "its standard deviation", true},
      {"mass_loss_mg", "mg", "what the blade has lost since its history began", true},
      {"mass_loss_sd_mg", "mg", "its standard deviation", true},
      {"specimen", "", "of specimens: its name in the configuration, as that of an edge"},
      {"metres", "m", "of specimens that wear per metre: the way made when it was taken; this or step", true},
      {"minutes", "min", "of specimens that wear per minute: the time when it was taken; this or step", true},
      {"wear_um", "µm", "of specimens: wear; 0 where none was seen", true},
      {"wear_mm", "mm", "of specimens: wear; 0 where none was seen", true},
      {"wear_sd_um", "µm", "its standard deviation", true},
      {"wear_sd_mm", "mm", "its standard deviation", true}};
  // clang-format on
  return list;
}

std::string unit_in_words(const ReadingsColumn& column) {
  if (column.units == "1") return "a number";
  if (column.units == "gf") return "gram-force";
  if (column.units == "N") return "newtons";
  return std::string(column.units);
}

}  // namespace arris
