// SPDX-License-Identifier: MIT
#include "sim/figures/heat_map.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "sim/figures/plot.hpp"

namespace arris::figures {
namespace {

constexpr int shades = 8;

// the ends of the cell around value i: half way to its neighbours
std::vector<double> ends_of(const std::vector<double>& values, bool log) {
  const auto          mean = [&](double a, double b) { return log ? std::sqrt(a * b) : 0.5 * (a + b); };
  std::vector<double> ends{values.front()};
  for (std::size_t i = 1; i < values.size(); ++i) ends.push_back(mean(values[i - 1], values[i]));
  ends.push_back(values.back());
  return ends;
}

// whether a line comes into a box, as far as a dozen places along each of its pieces tell
bool comes_near(const Points& line, double x, double y, double width, double height) {
  constexpr int places = 12;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const auto& [x0, y0] = line[i];
    const auto& [x1, y1] = line[std::min(i + 1, line.size() - 1)];
    for (int k = 0; k <= places; ++k) {
      const double px = x0 + (x1 - x0) * k / places, py = y0 + (y1 - y0) * k / places;
      if (px >= x && px <= x + width && py >= y && py <= y + height) return true;
    }
  }
  return false;
}

// the values of a map in steps of one colour, from the least to the most
struct ColourSteps {
  double low, high;
  bool   log;

  // what has no logarithm is below all
  [[nodiscard]] int of(double z) const {
    const double share = log ? std::log(z / low) / std::log(high / low) : (z - low) / (high - low);
    const double at    = share * shades;
    return at > 0.0 ? static_cast<int>(std::min(at, shades - 1.0)) : 0;
  }
  // the value at which a step begins
  [[nodiscard]] double begin(int step) const {
    const double s = static_cast<double>(step) / shades;
    return log ? low * std::pow(high / low, s) : low + s * (high - low);
  }
};

ColourSteps colour_steps(const HeatMap& m) {
  double low = HUGE_VAL, high = -HUGE_VAL;
  for (const double z : m.z) {
    if (!std::isfinite(z) || (m.z_log && z <= 0.0)) continue;
    low  = std::min(low, z);
    high = std::max(high, z);
  }
  if (!(low <= high)) low = high = 1.0;  // nothing to be seen
  if (!(high > low)) high = low + 1.0;
  return {low, high, m.z_log};
}

constexpr double colour_key_height = 52.0;

// each step with the number at which it begins
void draw_colour_key(Svg& svg, const std::string& label, const ColourSteps& colours) {
  svg.text(8.0, 14.0, label, Svg::Anchor::start, "small");
  const double cell = std::min((svg.width() - 60.0) / shades, 62.0);
  for (int s = 0; s < shades; ++s) {
    svg.rect(8.0 + s * cell, 20.0, cell, 12.0, fmt::format("step-{}", s));
    svg.text(8.0 + s * cell, 44.0, figure_number(colours.begin(s), 2), Svg::Anchor::start, "small soft");
  }
  svg.text(8.0 + shades * cell, 44.0, figure_number(colours.high, 2), Svg::Anchor::start, "small soft");
}

void draw_cells(Svg& svg, const Plot& plot, const HeatMap& m, const ColourSteps& colours) {
  const auto across = ends_of(m.x, false), up = ends_of(m.y, m.y_log);
  for (std::size_t row = 0; row < m.y.size(); ++row) {
    const double top = plot.y(up[row + 1]), tall = plot.y(up[row]) - top;
    const auto   z = [&](std::size_t column) { return m.z[row * m.x.size() + column]; };
    // neighbours of one step are one rectangle
    for (std::size_t begin = 0, end = 0; begin < m.x.size(); begin = end) {
      end = begin + 1;
      if (!std::isfinite(z(begin))) continue;
      const int step = colours.of(z(begin));
      while (end < m.x.size() && std::isfinite(z(end)) && colours.of(z(end)) == step) ++end;
      svg.rect(plot.x(across[begin]), top, plot.x(across[end]) - plot.x(across[begin]), tall + 0.3,
               fmt::format("step-{}", step));
    }
  }
}

// The line through the map with its meaning above it; returns where it goes.
Points draw_through(Svg& svg, Plot& plot, const HeatMap& m) {
  Points points;
  if (m.line.empty()) return points;
  for (std::size_t row = 0; row < m.y.size() && row < m.line.size(); ++row) {
    if (std::isfinite(m.line[row])) points.emplace_back(plot.x(m.line[row]), plot.y(m.y[row]));
  }
  // light under dark, so that it is seen on every step
  svg.polyline(points, "under");
  svg.polyline(points, "over");
  for (std::size_t row = 0; row < m.y.size() && row < m.line.size(); ++row)
    plot.point(m.line[row], m.y[row], "ochre",
               fmt::format("{}: {}", figure_number(m.y[row]), figure_number(m.line[row])), 3.0);
  if (!m.line_says.empty()) {
    const double from = svg.width() - 36.0 - text_width(m.line_says, 11.0);
    svg.line(from, 10.0, from + 20.0, 10.0, "over");
    svg.text(from + 26.0, 14.0, m.line_says, Svg::Anchor::start, "small");
  }
  return points;
}

// names of other heights, at the right side, those that lie on one another left out
void draw_heights(Svg& svg, const Plot& plot, const HeatMap& m) {
  const Box&          box   = plot.box();
  const double        right = box.x + box.width;
  std::vector<double> taken;
  for (const auto& [value, says] : m.heights) {
    const double y = plot.y(value);
    if (!(y >= box.y && y <= box.y + box.height)) continue;
    if (std::any_of(taken.begin(), taken.end(), [&](double other) { return std::abs(other - y) < 14.0; }))
      continue;
    taken.push_back(y);
    svg.line(right - 14.0, y, right, y, "limit");
    svg.text(right - 18.0, y + 4.0, says, Svg::Anchor::end, "small halo");
  }
}

// What the configuration has, its words where they hide nothing of `line`.
void draw_configured(Svg& svg, Plot& plot, const HeatMap& m, const Points& line) {
  if (m.mark_says.empty() || !std::isfinite(m.mark_x) || !std::isfinite(m.mark_y)) return;
  const Box&   box = plot.box();
  const double px = plot.x(m.mark_x), py = plot.y(m.mark_y);
  const double wide = text_width(m.mark_says, 11.0) + 10.0;
  const bool   left = px + 14.0 + wide > box.x + box.width;
  const double from = left ? px - 10.0 - wide : px + 10.0;
  // level with its point, or as near above or below as it hides nothing of the line
  double at = py;
  for (const double off : {0.0, -20.0, 20.0, -40.0, 40.0, -60.0, 60.0}) {
    if (py + off - 9.0 < box.y || py + off + 9.0 > box.y + box.height) continue;
    at = py + off;
    if (!comes_near(line, from - 4.0, at - 13.0, wide + 8.0, 26.0)) break;
    at = py;
  }
  if (at != py) {  // by a bent line to its point
    svg.line(px, py, px, at, "axis");
    svg.line(px, at, left ? from + wide : from, at, "axis");
  }
  plot.point(m.mark_x, m.mark_y, "plum", m.mark_says, 5.5);
  svg.rect(from, at - 9.0, wide, 18.0, "frame");
  svg.text(left ? px - 15.0 : px + 15.0, at + 4.0, m.mark_says, left ? Svg::Anchor::end : Svg::Anchor::start,
           "small");
}

}  // namespace

std::string heat_map_svg(const HeatMap& m, double width, const std::string& id) {
  if (m.x.size() < 2 || m.y.size() < 2 || m.z.size() != m.x.size() * m.y.size())
    throw std::invalid_argument("a map needs a value at every point of two axes with two values or more");
  const double      key = colour_key_height, height = key + (width < 520.0 ? 330.0 : 400.0);
  Svg               svg(width, height, id, m.title, m.description);
  const ColourSteps colours = colour_steps(m);
  draw_colour_key(svg, m.z_label, colours);
  Plot plot(svg, {50.0, key + 36.0, width - 66.0, height - key - 84.0}, {m.x_label, m.x.front(), m.x.back()},
            {m.y_label, m.y.front(), m.y.back(), m.y_log});
  draw_cells(svg, plot, m, colours);
  const Points line = draw_through(svg, plot, m);
  draw_heights(svg, plot, m);
  draw_configured(svg, plot, m, line);
  return svg.text_of();
}

}  // namespace arris::figures
