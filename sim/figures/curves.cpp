// SPDX-License-Identifier: MIT
#include "sim/figures/curves.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/plot.hpp"

namespace arris::figures {
namespace {

// the key in one line or more above the panels; returns the height it took
double draw_key(Svg& svg, const CurveFigure& f, double width) {
  double     x = 8.0, y = 14.0;
  const auto place = [&](const std::string& says, auto&& sign) {
    const double need = 34.0 + text_width(says, 11.0);
    if (x > 8.0 && x + need > width) {
      x = 8.0;
      y += 17.0;
    }
    sign(x, y - 4.0);
    svg.text(x + 26.0, y, says, Svg::Anchor::start, "small");
    x += need + 8.0;
  };
  if (!f.line_says.empty())
    place(f.line_says, [&](double at, double level) { svg.line(at, level, at + 20, level, "line-ink"); });
  for (const auto& [tone, says] : f.band_says) {
    const std::string look = "band-" + tone;
    place(says, [&, look](double at, double level) { svg.rect(at, level - 5, 20, 10, look); });
  }
  if (!f.points_say.empty())
    place(f.points_say, [&](double at, double level) { svg.circle(at + 10, level, 4, "point-ochre"); });
  return x > 8.0 ? y + 8.0 : 0.0;
}

}  // namespace

std::string curves_svg(const CurveFigure& f, double width, const std::string& id) {
  const auto   n       = f.panels.size();
  const bool   narrow  = width < 520.0;
  const int    columns = f.side_by_side && !narrow ? static_cast<int>(n)
                         : narrow                  ? 1
                                  : static_cast<int>(std::min<std::size_t>(n, n == 2 || n == 4 ? 2 : 3));
  const int    rows    = (static_cast<int>(n) + columns - 1) / std::max(columns, 1);
  const double inside  = n == 1 || f.side_by_side ? (narrow ? 220.0 : 300.0) : 170.0;
  const double left = 46.0, gap = 26.0;
  const double wide = (width - left - 10.0 - gap * (columns - 1)) / std::max(columns, 1);

  // titles, of as many lines as they need; the panels stay level with each other
  const double                          line_height = 15.0;
  std::vector<std::vector<std::string>> titles;
  std::size_t                           title_lines = 1;
  for (const CurvePanel& p : f.panels) {
    titles.push_back(lines_of(p.title, wide + (columns == 1 ? left : 0.0), bold_size));
    title_lines = std::max(title_lines, titles.back().size());
  }
  const double titled = line_height * static_cast<double>(title_lines - 1);
  const double row    = inside + 76.0 + titled;

  // a first try to learn how high the key is
  Svg          trial(width, 10, id, "", "");
  const double key = draw_key(trial, f, width);

  Svg svg(width, key + row * rows, id, f.title, f.description);
  draw_key(svg, f, width);

  std::vector<double> all;
  for (const CurvePanel& p : f.panels) {
    const double end = p.x_high > 0.0 ? p.x_high : INFINITY;
    for (std::size_t i = 0; i < p.x.size(); ++i) {
      if (p.x[i] > end) continue;
      all.push_back(p.y[i]);
      for (const CurveBand& b : p.bands) all.push_back(std::min(b.high[i], 1.25 * std::max(p.y[i], f.limit)));
      for (const CurveBand& b : p.bands) all.push_back(b.low[i]);
    }
    for (const MeasuredPoint& m : p.points) {
      if (m.x > end) continue;
      all.push_back(m.low);
      all.push_back(m.high);
    }
  }
  if (f.limit > 0.0) all.push_back(f.limit);
  const Axis y_axis = axis_over(f.y_label, all, f.log, !f.log);

  for (std::size_t i = 0; i < n; ++i) {
    const CurvePanel& p      = f.panels[i];
    const int         column = static_cast<int>(i) % columns, line = static_cast<int>(i) / columns;
    const bool        first = column == 0;
    // the first of a row has the numbers of the axis at its side
    const Box box{left + column * (wide + gap), key + line * row + 36.0 + titled, wide, inside};
    Axis      y = y_axis, x = axis_over(p.x_label, p.x, false, true);
    y.label  = first ? f.y_label : "";
    y.places = first;
    if (p.x_high > 0.0) x.high = p.x_high;
    if (!p.x.empty() && p.x_high <= 0.0) x.high = *std::max_element(p.x.begin(), p.x.end());
    if (!(x.high > x.low)) x.high = x.low + 1.0;

    const Plot plot_frame = Plot(svg, box, x, y);
    Plot       plot       = plot_frame;
    double     title_y    = box.y - 22.0 - titled;
    for (const std::string& title : titles[i]) {
      svg.text(first ? 6.0 : box.x, title_y, title, Svg::Anchor::start, "strong");
      title_y += line_height;
    }
    for (const CurvePanel::Mark& m : p.marks)
      svg.line(plot.x(m.x), box.y, plot.x(m.x), box.y + box.height, "note");
    for (const CurveBand& b : p.bands) plot.band(p.x, b.low, b.high, b.tone);
    plot.curve(p.x, p.y, "ink");
    if (f.limit > 0.0) plot.level(f.limit, i == 0 ? f.limit_says : "", true);
    double free_from = -HUGE_VAL;
    for (const CurvePanel::Mark& m : p.marks) {
      // upright beside its line, where there is room for a line of text
      if (m.says.empty() || plot.x(m.x) - 4.0 < free_from + 12.0) continue;
      if (plot.x(m.x) + 14.0 > box.x + box.width) continue;
      // above or below, where the curve is not
      const double half = 0.5 * text_width(m.says, 11.0);
      double       high = 0.0, seen = 0.0;
      for (std::size_t k = 0; k < p.x.size(); ++k) {
        if (plot.x(p.x[k]) < plot.x(m.x) - 2.0 || plot.x(p.x[k]) > plot.x(m.x) + 18.0) continue;
        high += plot.y(p.y[k]);
        seen += 1.0;
      }
      const bool above = seen > 0.0 && high / seen > box.y + 0.5 * box.height;
      svg.upright(plot.x(m.x) + 12.0, above ? box.y + half + 4.0 : box.y + box.height - half - 4.0, m.says,
                  "small soft halo");
      free_from = plot.x(m.x);
    }
    for (const MeasuredPoint& m : p.points) {
      if (m.high > m.low) plot.bar_up(m.x, m.low, m.high, "ochre");
      plot.point(m.x, m.y, "ochre", m.says);
    }
  }
  return svg.text_of();
}

}  // namespace arris::figures
