// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/figures/curves.hpp"
#include "sim/figures/edge_section.hpp"

/// One sheet of A4 on the life of one edge: what it reads along strokes and passes, and its cross-sections at one scale.
namespace arris::figures {

struct Poster {
  std::string              title, lead;  ///< "The life of edge F3"; the blade, its route and its wood
  std::vector<std::string> facts;        ///< sentences on it
  CurveFigure              curve;
  std::vector<EdgeSection> sections;             ///< no more than six; at one scale, as their `view_um` says
  std::vector<std::string> steps;                ///< what was done, a line each
  std::string              how_to_read, source;  ///< below the pictures; at the foot
};

/// Width and height of A4 in pixels of 1/96 inch.
inline constexpr double a4_width = 793.7, a4_height = 1122.5;

/// `width` is that of the sheet; all on it grows with it. Throws std::invalid_argument as edge_section_svg.
[[nodiscard]] std::string poster_svg(const Poster& poster, double width, const std::string& id);

}  // namespace arris::figures
