// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "sim/laws/field.hpp"

/// How files of readings are written, where they do not say it themselves: `[readings]` of a configuration, and the options of
/// `arris import`.
namespace arris {

struct ReadingsForm {
  std::string sheet;       ///< of a workbook; empty: the one with columns of readings
  std::string separator;   ///< "comma", "semicolon" or "tab"; empty: as the first line shows
  std::string decimal;     ///< "point" or "comma"; empty: as the whole column shows
  std::string unit;        ///< "gf" or "N", of readings whose head says none
  std::string dates;       ///< "day first", "month first", "days since 1900" or "days since 1904"
  std::string day;         ///< what of a date is the test day: "date", "month" or "year"; empty: the date
  std::string check_edge;  ///< whose rows are left to `arris log check`; empty: none

  std::vector<std::pair<std::string, std::string>> columns;  ///< what a column is called, and what it is
  std::vector<std::pair<std::string, std::string>>
      moments;  ///< what a column is called, and the moment it holds

  static void fields(auto&& v, auto&... s) {
    // clang-format off
    v(field("sheet").optional().says("sheet of a workbook that holds the readings; else the one with columns of readings"), s.sheet...);
    v(field("separator").optional().says("comma, semicolon or tab between columns; else as the first line shows"), s.separator...);
    v(field("decimal").optional().says("point or comma in numbers; else as the whole column shows"), s.decimal...);
    v(field("unit").optional().says("gf or N, of readings whose column says none"), s.unit...);
    v(field("dates").optional().says("day first, month first, days since 1900 or days since 1904; else as the whole column shows"), s.dates...);
    v(field("day").optional().says("what of a date is the test day: date, month or year, so that months or years are set against one another (date)"), s.day...);
    v(field("check_edge").optional().says("the check edge or reference filament by which the tester is checked: its rows are left to arris log check, and no edge has to have its name"), s.check_edge...);
    // clang-format on
  }
};

/// What a field of the form may be; empty for "sheet" and "check_edge", which may be anything.
[[nodiscard]] const std::vector<std::string>& choices_of(std::string_view field);

}  // namespace arris
