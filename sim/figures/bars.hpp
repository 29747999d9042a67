// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

/// Bars made of parts, one below the other: what a year of each way of sharpening costs, and for what.
namespace arris::figures {

struct BarPart {
  std::string         name;
  std::string         tone;   ///< "soft", "ink", "ochre" or "plum"
  std::vector<double> value;  ///< of each row, 0 or more
};

struct BarFigure {
  std::string              title, description, x_label;
  std::vector<std::string> rows;
  std::vector<BarPart>     parts;  ///< parts that are nothing in every row are left out
};

/// Throws std::invalid_argument where a part has not a value for every row.
[[nodiscard]] std::string bars_svg(const BarFigure& figure, double width, const std::string& id);

}  // namespace arris::figures
