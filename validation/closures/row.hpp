// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <stdexcept>
#include <string>
#include <string_view>
#include <type_traits>
#include <vector>

#include <fmt/format.h>

#include "sim/input/csv.hpp"
#include "sim/read_number.hpp"

/// Histories of an edge on pads and in wood, as rows of configs/closures/cases.csv: what was done, and the shape that the outline had then.
namespace arris::closures {

/// Groups of cases that the constants are not fitted to: several things differ at once; the pad changes; the blade is held so low that a pad
/// does not reach the tip at first.
inline constexpr std::string_view unseen = "several at once", changes = "change of pad",
                                  lifted = "off the tip";

/// The lap from which on the law is held to the outline: earlier ones depend on how the edge began.
inline constexpr double first_lap = 4;

/// Distances behind the tip at which a radius is compared, µm.
inline constexpr std::array<double, 3> met_um{0.5, 1.0, 2.0};

/// Sugar maple, as it wears in a finer model of it: Janka pressure, load that parts fibres, depth per pressure and path.
struct Maple {
  double crushing_MPa = 64.5, parting_N_per_m = 450, wear_um_per_MPa_m = 2.8e-5;
};
inline constexpr Maple maple;

/// One moment of a case. Rows of one step share its pad and its hand, and count their laps from its start.
struct Row {
  std::string group, name;
  double      step         = 1;  ///< from 1
  double      modulus_MPa  = 0;  ///< of the pad; nothing of it and of the hand where the step is wood
  double      thickness_um = 0, force_N_per_m = 0, removal_um_per_MPa = 0;
  double      held_deg = 0, scatter_deg = 0;
  double      floor_um =
      0;  ///< arc that carbides and scratches leave of the tip: the outline is seen rounded to it
  double included_deg = 0, start_radius_um = 0, land_um = 0, step_angle_deg = 0;  ///< of the fresh edge
  double laps = 0, path_m = 0;  ///< one of them, since the start of the step
  double radius_half_um = 0, radius_one_um = 0, radius_two_um = 0;  ///< r_e of the outline there
  double depth_um = 0;                                              ///< h
  double tip_um   = 0;                                              ///< its radius

  [[nodiscard]] bool in_wood() const { return path_m > 0; }
  [[nodiscard]] bool is_fitted() const { return group != unseen && group != changes && group != lifted; }

  /// Every column under its name.
  template <class V, class R>
  static void columns(V&& v, R& row) {
    v("group", row.group);
    v("case", row.name);
    v("step", row.step);
    v("modulus_MPa", row.modulus_MPa);
    v("thickness_um", row.thickness_um);
    v("force_N_per_m", row.force_N_per_m);
    v("removal_um_per_MPa", row.removal_um_per_MPa);
    v("held_deg", row.held_deg);
    v("scatter_deg", row.scatter_deg);
    v("floor_um", row.floor_um);
    v("included_deg", row.included_deg);
    v("start_radius_um", row.start_radius_um);
    v("land_um", row.land_um);
    v("step_angle_deg", row.step_angle_deg);
    v("laps", row.laps);
    v("path_m", row.path_m);
    v("radius_half_um", row.radius_half_um);
    v("radius_one_um", row.radius_one_um);
    v("radius_two_um", row.radius_two_um);
    v("depth_um", row.depth_um);
    v("tip_um", row.tip_um);
  }
};

/// Rows of one history, in order.
using Case = std::vector<Row>;

/// Shapes to four figures.
[[nodiscard]] inline std::string csv_of(const std::vector<Case>& cases) {
  std::vector<std::string> cells;
  Row                      any;
  Row::columns([&](std::string_view name, const auto&) { cells.emplace_back(name); }, any);
  std::string out = csv_row(cells);
  for (const Case& rows : cases) {
    for (const Row& row : rows) {
      cells.clear();
      Row::columns(
          [&](std::string_view, const auto& value) {
            if constexpr (std::is_same_v<std::decay_t<decltype(value)>, double>)
              cells.push_back(fmt::format("{:.4g}", value));
            else
              cells.push_back(value);
          },
          row);
      out += csv_row(cells);
    }
  }
  return out;
}

/// Throws what parse_csv does, std::runtime_error for a cell that is no number or a row of another length.
[[nodiscard]] inline std::vector<Case> cases_of(const std::string& file, std::string_view text) {
  std::vector<Case> cases;
  for (const CsvRow& line : parse_csv(file, text).rows) {
    Row         row;
    std::size_t column = 0;
    const auto  next   = [&] {
      if (column >= line.cells.size())
        throw std::runtime_error(fmt::format("{}:{}: too short", file, line.line));
      return line.cells[column++].text;
    };
    Row::columns(
        [&](std::string_view, auto& value) {
          const std::string cell = next();
          if constexpr (std::is_same_v<std::decay_t<decltype(value)>, double>) {
            const char* const end = cell.data() + cell.size();
            if (const auto read = read_number(cell.data(), end, value);
                read.ec != std::errc{} || read.ptr != end)
              throw std::runtime_error(fmt::format("{}:{}: no number: {}", file, line.line, cell));
          } else {
            value = cell;
          }
        },
        row);
    if (cases.empty() || cases.back().back().name != row.name) cases.emplace_back();
    cases.back().push_back(row);
  }
  return cases;
}

}  // namespace arris::closures
