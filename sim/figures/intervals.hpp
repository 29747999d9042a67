// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

/// Things side by side, each a point with its interval: routes, sources of scatter, parameters.
namespace arris::figures {

struct IntervalColumn {
  std::string         label;  ///< "reading ready for work, gf"
  std::vector<double> value, low,
      high;  ///< one per row; without `high` it is open, without both there is none
  bool        log   = false;
  double      level = 0.0;  ///< an upright line; 0: none
  std::string level_says;
  std::vector<double>
      beside;  ///< a second point in each row, in ochre, such as what was measured; NaN: none there
};

struct IntervalFigure {
  std::string                 title, description;
  std::vector<std::string>    rows;
  std::vector<IntervalColumn> columns;
  int                         reference = -1;  ///< a row that the others are compared with; −1: none
};

[[nodiscard]] std::string intervals_svg(const IntervalFigure& figure, double width, const std::string& id);

}  // namespace arris::figures
