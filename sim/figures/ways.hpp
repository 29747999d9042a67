// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <utility>
#include <vector>

/// Several ways of sharpening in one box: the reading of each against passes, with its band, what was measured, and the limit.
namespace arris::figures {

struct WayCurve {
  std::string                            name;
  std::vector<double>                    x, y;       ///< passes, reading
  std::vector<double>                    low, high;  ///< band; may be empty
  std::vector<std::pair<double, double>> points;     ///< measured: passes, reading
};

struct WaysFigure {
  std::string           title, description, x_label, y_label;
  std::vector<WayCurve> ways;         ///< at most three: ink, ochre, plum
  double                limit = 0.0;  ///< 0: none
  std::string           limit_says;
  std::string           band_says;  ///< what the bands are; empty: not in the key
};

/// An `<svg>` element of this width. Bands that reach far above the curves are cut off at the top.
[[nodiscard]] std::string ways_svg(const WaysFigure& figure, double width, const std::string& id);

}  // namespace arris::figures
