// SPDX-License-Identifier: MIT
#include "sim/figures/intervals.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

#include "sim/figures/plot.hpp"

namespace arris::figures {
namespace {

// One column below its label, `rows` lines at the given heights.
void draw_column(Svg& svg, const IntervalFigure& f, const IntervalColumn& c, double x, double width,
                 double top, const std::vector<double>& at, double bottom) {
  std::vector<double> all = c.value;
  all.insert(all.end(), c.low.begin(), c.low.end());
  all.insert(all.end(), c.high.begin(), c.high.end());
  std::copy_if(c.beside.begin(), c.beside.end(), std::back_inserter(all),
               [](double v) { return std::isfinite(v); });
  if (c.level > 0.0) all.push_back(c.level);
  const Axis axis  = axis_over("", all, c.log, !c.log);
  const auto place = [&](double v) {
    const double share = axis.log ? std::log(v / axis.low) / std::log(axis.high / axis.low)
                                  : (v - axis.low) / (axis.high - axis.low);
    return x + share * width;
  };
  double label_y = top - 8.0;
  auto   lines   = lines_of(c.label, width + 30.0, 11.0);
  for (auto line = lines.rbegin(); line != lines.rend(); ++line, label_y -= 13.0)
    svg.text(x, label_y, *line, Svg::Anchor::start, "small");
  double last = -HUGE_VAL;
  for (const double t : ticks_of(axis, std::max(4, static_cast<int>(width / 50.0)))) {
    const std::string words = figure_number(t);
    const double      half  = 0.5 * text_width(words, 11.0);
    svg.line(place(t), top, place(t), bottom, "grid");
    if (place(t) - half < last + 6.0) continue;
    svg.text(place(t), bottom + 16.0, words, Svg::Anchor::middle, "small soft");
    last = place(t) + half;
  }
  svg.line(x, bottom, x + width, bottom, "axis");
  if (c.level > 0.0) {
    svg.line(place(c.level), top, place(c.level), bottom, "limit");
    const bool left = place(c.level) > x + 0.5 * width;
    svg.text(place(c.level) + (left ? -4.0 : 4.0), bottom - 5.0, c.level_says,
             left ? Svg::Anchor::end : Svg::Anchor::start, "small halo");
  }
  for (std::size_t i = 0; i < f.rows.size(); ++i) {
    if (i >= c.value.size() || !std::isfinite(c.value[i])) {
      svg.text(x + 4.0, at[i] + 4.0, "–", Svg::Anchor::start, "soft");
      continue;
    }
    const std::string tone = static_cast<int>(i) == f.reference ? "plum" : "ink";
    if (i < c.low.size() && i < c.high.size() && std::isfinite(c.low[i]) && !(c.log && c.low[i] <= 0.0)) {
      // one that has no end goes to the end of the axis
      const double end = std::isfinite(c.high[i]) ? place(c.high[i]) : x + width;
      svg.line(place(c.low[i]), at[i], end, at[i], "bar-" + tone);
    }
    svg.circle(place(c.value[i]), at[i], 4.0, "point-" + tone, f.rows[i] + ": " + figure_number(c.value[i]));
    if (i < c.beside.size() && std::isfinite(c.beside[i]))
      svg.circle(place(c.beside[i]), at[i], 3.0, "point-ochre",
                 f.rows[i] + ", as it was read: " + figure_number(c.beside[i]));
  }
}

}  // namespace

std::string intervals_svg(const IntervalFigure& f, double width, const std::string& id) {
  const bool   narrow = width < 520.0;
  const auto   n      = f.columns.size();
  const double names  = narrow ? 0.0 : std::min(0.42 * width, 250.0);
  const double row    = narrow ? 36.0 : 30.0;

  // names of several lines need higher rows
  std::vector<std::vector<std::string>> texts;
  for (std::size_t i = 0; i < f.rows.size(); ++i) {
    const double letters = static_cast<int>(i) == f.reference ? bold_size : 12.0;
    texts.push_back(lines_of(f.rows[i], narrow ? width - 20.0 : names - 14.0, letters));
  }

  const double top      = 46.0;
  const double gap      = 26.0;
  const double per_line = narrow ? 1.0 : static_cast<double>(n);
  const double wide     = (width - names - 18.0 - gap * (per_line - 1.0)) / per_line;
  const auto   panels   = narrow ? n : 1;

  double              at_y = top;
  std::vector<double> heights, ats;
  for (const auto& lines : texts) {
    const double height = std::max(row, 14.0 * static_cast<double>(lines.size()) + (narrow ? 22.0 : 8.0));
    ats.push_back(at_y + (narrow ? 14.0 * static_cast<double>(lines.size()) + 8.0 : 0.5 * height));
    heights.push_back(height);
    at_y += height;
  }
  const double bottom = at_y + 4.0, panel = bottom + 30.0;

  Svg svg(width, panel * static_cast<double>(panels), id, f.title, f.description);
  for (std::size_t c = 0; c < n; ++c) {
    if (narrow) svg.begin_at(0.0, panel * static_cast<double>(c));
    draw_column(svg, f, f.columns[c], narrow ? 8.0 : names + static_cast<double>(c) * (wide + gap), wide, top,
                ats, bottom);
    if (narrow || c == 0) {
      for (std::size_t i = 0; i < texts.size(); ++i) {
        double y = narrow ? ats[i] - 8.0 - 14.0 * static_cast<double>(texts[i].size() - 1)
                          : ats[i] + 4.0 - 7.0 * static_cast<double>(texts[i].size() - 1);
        for (const std::string& line : texts[i]) {
          svg.text(8.0, y, line, Svg::Anchor::start,
                   static_cast<int>(i) == f.reference ? "strong halo" : "halo");
          y += 14.0;
        }
      }
    }
    if (narrow) svg.end();
  }
  return svg.text_of();
}

}  // namespace arris::figures
