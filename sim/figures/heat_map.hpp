// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <utility>
#include <vector>

/// A number over two others in steps of one colour, with a line through it: stiffness of a pad against laps.
namespace arris::figures {

struct HeatMap {
  std::string                                 title, description;
  std::string                                 x_label, y_label, z_label;  ///< with their units
  std::vector<double>                         x, y;                       ///< ascending
  std::vector<double>                         z;  ///< row by row: y.size() × x.size(); NaN is left blank
  bool                                        y_log = false, z_log = false;
  std::vector<double>                         line;  ///< x for each y; may be empty
  std::string                                 line_says;
  double                                      mark_x = 0.0, mark_y = 0.0;  ///< what the configuration has
  std::string                                 mark_says;                   ///< empty: none
  std::vector<std::pair<double, std::string>> heights;  ///< other values of y that have a name
};

/// Throws std::invalid_argument where z does not fit x and y.
[[nodiscard]] std::string heat_map_svg(const HeatMap& map, double width, const std::string& id);

}  // namespace arris::figures
