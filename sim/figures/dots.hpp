// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

/// Everything that was measured, a dot each, in rows over one axis: readings of edges, moment by moment.
namespace arris::figures {

struct DotRow {
  std::string              name, more;   ///< "W1", and "waterstones + thin hide" where there is room for it
  std::vector<double>      values;       ///< a dot each
  std::vector<std::string> says;         ///< of each dot; may be empty
  double                   mean  = 0.0;  ///< an upright stroke; NaN: none
  double                   model = 0.0;  ///< a ring of another colour; NaN: none
};

/// Rows that belong together under one heading.
struct DotGroup {
  std::string         heading;
  std::vector<DotRow> rows;
};

struct DotFigure {
  std::string           title, description, x_label;
  std::vector<DotGroup> groups;
  double                limit = 0.0;  ///< an upright line; 0: none
  std::string           limit_says;
};

/// An `<svg>` element of this width. Equal ratios take equal room.
[[nodiscard]] std::string dots_svg(const DotFigure& figure, double width, const std::string& id);

}  // namespace arris::figures
