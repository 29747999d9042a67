// SPDX-License-Identifier: MIT
#include "sim/figures/ways.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/plot.hpp"

namespace arris::figures {

std::string ways_svg(const WaysFigure& f, double width, const std::string& id) {
  static constexpr const char* way_tones[] = {"ink", "ochre", "plum"};
  const std::size_t            count       = std::min<std::size_t>(f.ways.size(), std::size(way_tones));

  double most = 1.25 * f.limit;
  for (const WayCurve& way : f.ways) {
    for (const double y : way.y) most = std::isfinite(y) ? std::max(most, 1.25 * y) : most;
  }
  std::vector<double> across, up{f.limit > 0.0 ? f.limit : NAN};
  bool                measured = false;
  for (const WayCurve& way : f.ways) {
    across.insert(across.end(), way.x.begin(), way.x.end());
    up.insert(up.end(), way.y.begin(), way.y.end());
    for (const double high : way.high) up.push_back(std::min(high, most));
    for (const auto& [x, y] : way.points) {
      up.push_back(y);
      measured = true;
    }
  }

  // the key: a way each, in as many lines as its name needs
  const double line   = 17.0;
  const auto   in_key = [width](const std::string& says) { return lines_of(says, width - 44.0, 11.0); };
  auto         lines  = static_cast<double>(measured ? 1 : 0);
  for (std::size_t i = 0; i < count; ++i) lines += static_cast<double>(in_key(f.ways[i].name).size());
  if (!f.band_says.empty()) lines += static_cast<double>(in_key(f.band_says).size());
  const double top = 6.0 + line * lines, inside = width < 520.0 ? 220.0 : 280.0;
  Svg          svg(width, top + inside + 76.0, id, f.title, f.description);
  double       y   = 14.0;
  const auto   say = [&](const std::string& says) {
    for (const std::string& words : in_key(says)) {
      svg.text(36.0, y, words, Svg::Anchor::start, "small");
      y += line;
    }
  };
  for (std::size_t i = 0; i < count; ++i) {
    svg.line(6.0, y - 4.0, 30.0, y - 4.0, fmt::format("line-{}", way_tones[i]));
    say(f.ways[i].name);
  }
  const auto banded =
      std::find_if(f.ways.begin(), f.ways.end(), [](const WayCurve& way) { return !way.high.empty(); });
  if (!f.band_says.empty() && banded != f.ways.end()) {
    svg.rect(6.0, y - 9.0, 24.0, 10.0,
             fmt::format("band-{}", way_tones[std::min<std::ptrdiff_t>(banded - f.ways.begin(), 2)]));
    say(f.band_says);
  }
  if (measured) {
    svg.circle(18.0, y - 4.0, 4.0, "point-ink");
    say("readings");
  }

  Axis x_axis = axis_over(f.x_label, across, false, true);
  if (!across.empty()) x_axis.high = *std::max_element(across.begin(), across.end());
  if (!(x_axis.high > x_axis.low)) x_axis.high = x_axis.low + 1.0;
  Plot plot(svg, {46.0, top + 24.0, width - 56.0, inside}, x_axis, axis_over(f.y_label, up, false, true));
  for (std::size_t i = 0; i < count; ++i) plot.band(f.ways[i].x, f.ways[i].low, f.ways[i].high, way_tones[i]);
  for (std::size_t i = 0; i < count; ++i) {
    plot.curve(f.ways[i].x, f.ways[i].y, way_tones[i]);
    for (const auto& [px, py] : f.ways[i].points)
      plot.point(px, py, way_tones[i],
                 fmt::format("{}: {} at {} passes", f.ways[i].name, figure_number(py), figure_number(px)));
  }
  if (f.limit > 0.0) plot.level(f.limit, f.limit_says, true);
  return svg.text_of();
}

}  // namespace arris::figures
