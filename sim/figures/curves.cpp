// SPDX-License-Identifier: MIT
#include "sim/figures/curves.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "sim/figures/plot.hpp"
#include "sim/numbers.hpp"

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
  if (!f.others_say.empty())
    place(f.others_say, [&](double at, double level) { svg.line(at, level, at + 20, level, "line-text"); });
  for (const auto& [tone, says] : f.band_says) {
    const std::string look = "band-" + tone;
    place(says, [&, look](double at, double level) { svg.rect(at, level - 5, 20, 10, look); });
  }
  for (const auto& [kind, says] : f.ground_says) {
    const std::string look = "ground-" + kind;
    place(says, [&, look](double at, double level) { svg.rect(at, level - 6, 20, 12, look); });
  }
  if (!f.points_say.empty())
    place(f.points_say, [&](double at, double level) { svg.circle(at + 10, level, 4, "point-ochre"); });
  return x > 8.0 ? y + 8.0 : 0.0;
}

constexpr double title_line = 15.0, panel_left = 46.0, panel_gap = 26.0;

// how the panels are set out below the key, in units of the picture
struct PanelGrid {
  int                                   columns, rows;
  double                                wide, inside;  // of a panel inside its axes
  std::vector<std::vector<std::string>> titles;        // of each panel, in as many lines as it needs
  double                                titled;        // height of the lines of a title but the first

  [[nodiscard]] double row_height() const { return inside + 76.0 + titled; }
  [[nodiscard]] bool first_of_row(std::size_t panel) const { return static_cast<int>(panel) % columns == 0; }
  [[nodiscard]] Box  box(std::size_t panel, double key) const {
     const int column = static_cast<int>(panel) % columns, line = static_cast<int>(panel) / columns;
     return {panel_left + column * (wide + panel_gap), key + line * row_height() + 36.0 + titled, wide,
             inside};
  }
};

PanelGrid panel_grid(const CurveFigure& f, double width) {
  const auto n      = f.panels.size();
  const bool narrow = width < 520.0;
  PanelGrid  grid{};
  grid.columns      = f.side_by_side && !narrow ? static_cast<int>(n)
                      : narrow                  ? 1
                               : static_cast<int>(std::min<std::size_t>(n, n == 2 || n == 4 ? 2 : 3));
  const int columns = std::max(grid.columns, 1);
  grid.rows         = (static_cast<int>(n) + grid.columns - 1) / columns;
  grid.inside       = f.height > 0.0 ? f.height : n == 1 || f.side_by_side ? (narrow ? 220.0 : 300.0) : 170.0;
  grid.wide         = (width - panel_left - 10.0 - panel_gap * (grid.columns - 1)) / columns;
  // the panels stay level with each other
  std::size_t lines = 1;
  for (const CurvePanel& p : f.panels) {
    grid.titles.push_back(lines_of(p.title, grid.wide + (grid.columns == 1 ? panel_left : 0.0), bold_size));
    lines = std::max(lines, grid.titles.back().size());
  }
  grid.titled = title_line * static_cast<double>(lines - 1);
  return grid;
}

// one for all panels: what is seen of their curves, bands and points
Axis shared_axis(const CurveFigure& f) {
  std::vector<double> all;
  for (const CurvePanel& p : f.panels) {
    const double end = p.x_high > 0.0 ? p.x_high : INFINITY;
    for (std::size_t i = 0; i < p.x.size(); ++i) {
      if (p.x[i] > end) continue;
      all.push_back(p.y[i]);
      for (const auto& other : p.others)
        all.push_back(std::min(other.y[i], 1.25 * std::max(p.y[i], f.limit)));
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
  return axis_over(f.y_label, all, f.log, !f.log);
}

// along one panel: to the end that it asks for, or that of its curve
Axis axis_along(const CurvePanel& p) {
  Axis x = axis_over(p.x_label, p.x, false, true);
  if (p.x_high > 0.0) x.high = p.x_high;
  if (!p.x.empty() && p.x_high <= 0.0) x.high = *std::max_element(p.x.begin(), p.x.end());
  if (!(x.high > x.low)) x.high = x.low + 1.0;
  return x;
}

// what is said at the marks, upright beside their lines
void draw_marks(Svg& svg, const Plot& plot, const CurvePanel& p) {
  const Box& box       = plot.box();
  double     free_from = -HUGE_VAL;
  for (const CurvePanel::Mark& m : p.marks) {
    // where there is room for a line of text
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
}

// the names of the thin curves at their right ends, in a wide panel
void name_others(Svg& svg, const Plot& plot, const CurvePanel& p) {
  constexpr double roomy = 250.0, line = 12.0;
  const Box&       box = plot.box();
  if (box.width < roomy) return;
  std::vector<std::pair<double, std::string>> ends;  // height and name
  for (const NamedCurve& other : p.others) {
    double at = not_given;
    for (std::size_t i = 0; i < p.x.size(); ++i) {
      if (plot.x(p.x[i]) <= box.x + box.width + 0.5 && std::isfinite(other.y[i])) at = plot.y(other.y[i]);
    }
    if (at >= box.y && at <= box.y + box.height) ends.emplace_back(at - 3.0, other.name);
  }
  std::sort(ends.begin(), ends.end());
  double lowest = box.y + line - 2.0;  // of the next name
  for (auto& [at, name] : ends) {
    at     = std::max(at, lowest);
    lowest = at + line;
  }
  double highest = box.y + box.height - 3.0;
  for (auto end = ends.rbegin(); end != ends.rend(); ++end) {
    end->first = std::min(end->first, highest);
    highest    = end->first - line;
    svg.text(box.x + box.width - 4.0, end->first, end->second, Svg::Anchor::end, "small soft halo");
  }
}

void draw_title(Svg& svg, const std::vector<std::string>& lines, double x, double y) {
  for (const std::string& line : lines) {
    svg.text(x, y, line, Svg::Anchor::start, "strong");
    y += title_line;
  }
}

// `first`: of all, which says what the limit is
void draw_panel(Svg& svg, Plot& plot, const CurvePanel& p, const CurveFigure& f, bool first) {
  const Box&       box   = plot.box();
  constexpr double apart = 3.0;  // lines that are closer make a grey field
  double           last  = -HUGE_VAL;
  for (const CurvePanel::Ground& g : p.grounds)
    svg.rect(plot.x(g.from), box.y, plot.x(g.to) - plot.x(g.from), box.height, "ground-" + g.kind);
  for (const CurvePanel::Mark& m : p.marks) {
    if (plot.x(m.x) < last + apart) continue;
    last = plot.x(m.x);
    svg.line(last, box.y, last, box.y + box.height, "note");
  }
  for (const CurveBand& b : p.bands) plot.band(p.x, b.low, b.high, b.tone);
  for (const NamedCurve& other : p.others) plot.curve(p.x, other.y, "text");
  plot.curve(p.x, p.y, "ink");
  if (f.limit > 0.0) plot.level(f.limit, first ? f.limit_says : "", p.marks.empty());
  draw_marks(svg, plot, p);
  name_others(svg, plot, p);
  constexpr std::size_t           many = 200;
  std::set<std::pair<long, long>> taken;  // of many points one upon another is not seen
  for (const MeasuredPoint& m : p.points) {
    if (p.points.size() > many && std::isfinite(m.x) && std::isfinite(m.y) &&
        !taken.emplace(std::lround(plot.x(m.x)), std::lround(plot.y(m.y))).second)
      continue;
    if (m.high > m.low) plot.bar_up(m.x, m.low, m.high, "ochre");
    plot.point(m.x, m.y, "ochre", m.says);
  }
}

}  // namespace

std::string curves_svg(const CurveFigure& f, double width, const std::string& id) {
  const PanelGrid grid = panel_grid(f, width);
  // a first try to learn how high the key is
  Svg          trial(width, 10, id, "", "");
  const double key = draw_key(trial, f, width);
  Svg          svg(width, key + grid.row_height() * grid.rows, id, f.title, f.description);
  draw_key(svg, f, width);

  const Axis up = shared_axis(f);
  for (std::size_t i = 0; i < f.panels.size(); ++i) {
    const bool first = grid.first_of_row(i);
    const Box  box   = grid.box(i, key);
    // the first of a row has the numbers of the axis at its side
    Axis y   = up;
    y.label  = first ? f.y_label : "";
    y.places = first;
    Plot plot(svg, box, axis_along(f.panels[i]), y);
    draw_title(svg, grid.titles[i], first ? 6.0 : box.x, box.y - 22.0 - grid.titled);
    draw_panel(svg, plot, f.panels[i], f, i == 0);
  }
  return svg.text_of();
}

}  // namespace arris::figures
