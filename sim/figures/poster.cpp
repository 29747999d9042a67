// SPDX-License-Identifier: MIT
#include "sim/figures/poster.hpp"

#include <algorithm>

#include "sim/figures/svg.hpp"

namespace arris::figures {
namespace {

constexpr double poster_margin = 44.0, poster_inside = a4_width - 2.0 * poster_margin;

// lines of text from y down; returns where the next begins
double poster_lines(Svg& svg, double x, double y, double width, const std::string& words, const char* look,
                    double size, double line) {
  for (const std::string& one : lines_of(words, width, size)) {
    svg.text(x, y, one, Svg::Anchor::start, look);
    y += line;
  }
  return y;
}

// what was done in two columns; returns where the next begins
double poster_steps(Svg& svg, double y, const std::vector<std::string>& steps) {
  const double      column = 0.5 * (poster_inside - 20.0);
  const std::size_t half   = (steps.size() + 1) / 2;
  double            lowest = y;
  for (const bool second : {false, true}) {
    double            at    = y;
    const std::size_t begin = second ? half : 0, end = second ? steps.size() : half;
    for (std::size_t i = begin; i < end; ++i)
      at = poster_lines(svg, poster_margin + (second ? column + 20.0 : 0.0), at, column, steps[i], "small",
                        11.0, 14.0);
    lowest = std::max(lowest, at);
  }
  return lowest;
}

}  // namespace

std::string poster_svg(const Poster& poster, double width, const std::string& id) {
  std::string says = poster.lead;
  for (const std::string& fact : poster.facts) says += " " + fact;
  Svg    sheet(a4_width, a4_height, id + "-in", poster.title, says);
  double y = poster_margin + 24.0;
  y        = poster_lines(sheet, poster_margin, y, poster_inside, poster.title, "title", 27.0, 30.0);
  y        = poster_lines(sheet, poster_margin, y, poster_inside, poster.lead, "lead", 15.0, 20.0) + 6.0;
  for (const std::string& fact : poster.facts)
    y = poster_lines(sheet, poster_margin, y, poster_inside, fact, "", 12.0, 16.0);

  CurveFigure low         = poster.curve;
  low.height              = 225.0;
  const std::string curve = curves_svg(low, poster_inside, id + "-curve");
  sheet.embed(poster_margin, y + 2.0, curve);
  y += height_of(curve) + 24.0;

  sheet.text(poster_margin, y, "The edge in cross-section", Svg::Anchor::start, "head");
  const std::string sections = edge_sections_svg(poster.sections, poster_inside, id + "-sections", 225.0);
  sheet.embed(poster_margin, y + 8.0, sections);
  y += height_of(sections) + 22.0;
  y = poster_lines(sheet, poster_margin, y, poster_inside, poster.how_to_read, "small soft", 11.0, 14.0) +
      8.0;

  const double foot = a4_height - poster_margin + 16.0;
  Svg          trial(a4_width, a4_height, id, "", "");
  if (poster_steps(trial, y + 24.0, poster.steps) < foot - 4.0) {
    sheet.text(poster_margin, y + 6.0, "What was done", Svg::Anchor::start, "head");
    poster_steps(sheet, y + 24.0, poster.steps);
  }
  sheet.text(poster_margin, foot, poster.source, Svg::Anchor::start, "small soft");

  const double scale = width / a4_width;
  Svg          out(width, scale * a4_height, id, poster.title, says);
  out.embed(0.0, 0.0, sheet.text_of(), scale);
  return out.text_of();
}

}  // namespace arris::figures
