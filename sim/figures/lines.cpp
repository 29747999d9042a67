// SPDX-License-Identifier: MIT
#include "sim/figures/lines.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/plot.hpp"

namespace arris::figures {
namespace {

constexpr const char* series_tones[] = {"ink", "ochre", "plum"};

// both axes, over all series
std::pair<Axis, Axis> axes_of(const LineFigure& f) {
  std::vector<double> xs, ys;
  for (const LineSeries& s : f.series) {
    xs.insert(xs.end(), s.x.begin(), s.x.end());
    ys.insert(ys.end(), s.y.begin(), s.y.end());
    ys.insert(ys.end(), s.low.begin(), s.low.end());
    ys.insert(ys.end(), s.high.begin(), s.high.end());
  }
  if (f.level > 0.0) ys.push_back(f.level);
  Axis x = axis_over(f.x_label, xs, f.x_log), y = axis_over(f.y_label, ys, f.y_log, f.from_zero && !f.y_log);
  // words beside the last point go below it
  const bool with_words =
      std::any_of(f.series.begin(), f.series.end(), [](const LineSeries& l) { return !l.says.empty(); });
  if (with_words && f.y_log) y.low /= 1.5;
  if (f.most > 0.0) y.high = f.most;
  // a curve begins and ends at its axis
  xs.erase(std::remove_if(xs.begin(), xs.end(), [](double v) { return !std::isfinite(v); }), xs.end());
  if (!f.x_log && !xs.empty()) {
    x.low  = f.x_from_zero ? 0.0 : *std::min_element(xs.begin(), xs.end());
    x.high = std::max(*std::max_element(xs.begin(), xs.end()), x.low + 1e-12);
  }
  return {x, y};
}

// room beside the box for the names of several series
double room_for_names(const LineFigure& f, double width) {
  double names = 0.0;
  for (const LineSeries& s : f.series) names = std::max(names, text_width(s.name, 11.0));
  return f.series.size() > 1 ? std::min(names + 12.0, 0.34 * width) : 16.0;
}

void draw_level(Plot& plot, const LineFigure& f) {
  if (!(f.level > 0.0) || f.series.empty()) return;
  // at the end where the first curve is farther from it
  const auto  from  = [&](double value) { return std::fabs(plot.y(value) - plot.y(f.level)); };
  const auto& first = f.series.front().y;
  plot.level(f.level, f.level_says, !first.empty() && from(first.front()) > from(first.back()));
}

std::string series_tone(std::size_t series) { return series_tones[series % 3]; }

// the values of a series; where it is wide, with their words
void draw_values(Svg& svg, Plot& plot, const LineFigure& f, std::size_t series, double room) {
  const LineSeries& s      = f.series[series];
  const bool        narrow = svg.width() < 520.0;
  for (std::size_t i = 0; i < s.x.size(); ++i) {
    const std::string says = i < s.says.size() ? s.says[i] : std::string{};
    plot.point(s.x[i], s.y[i], series_tone(series), says);
    if (says.empty() || narrow || !std::isfinite(s.y[i])) continue;
    // to the right and above; to the left and below where there is no room, or where the top is the most there can be
    const double at = plot.x(s.x[i]), wide = 10.0 + text_width(says, 11.0);
    const bool   below = f.most > 0.0 || at + wide > svg.width() - room,
               left    = below && at - wide > plot.box().x;
    svg.text(at + (left ? -9.0 : 9.0), plot.y(s.y[i]) + (below ? 16.0 : -6.0), says,
             left ? Svg::Anchor::end : Svg::Anchor::start, "small halo");
  }
}

// names at the ends of their curves, in their order, each below the one above it
void draw_names(Svg& svg, const Plot& plot, const LineFigure& f, double x) {
  std::vector<std::pair<double, std::string>> ends;
  for (const LineSeries& s : f.series) {
    if (f.series.size() < 2 || s.name.empty()) continue;
    for (std::size_t i = s.x.size(); i-- > 0;) {
      if (!std::isfinite(s.y[i])) continue;
      ends.emplace_back(std::clamp(plot.y(s.y[i]) + 4.0, 34.0, svg.height() - 50.0), s.name);
      break;
    }
  }
  std::sort(ends.begin(), ends.end());
  double above = 0.0;
  for (const auto& [place, name] : ends) {
    above = std::max(place, above + 13.0);
    svg.text(x, above, name, Svg::Anchor::start, "small");
  }
}

}  // namespace

std::string lines_svg(const LineFigure& f, double width, const std::string& id) {
  const double height = width < 520.0 ? 290.0 : 360.0;
  Svg          svg(width, height, id, f.title, f.description);
  const auto [x, y] = axes_of(f);
  const double room = room_for_names(f, width);
  Plot         plot(svg, {48.0, 30.0, width - 48.0 - room, height - 76.0}, x, y);
  for (std::size_t k = 0; k < f.series.size(); ++k) {
    const LineSeries& s = f.series[k];
    if (!s.low.empty()) plot.band(s.x, s.low, s.high, series_tone(k));
    plot.curve(s.x, s.y, series_tone(k));
  }
  draw_level(plot, f);
  if (f.mark > 0.0) plot.mark(f.mark, f.mark_says);
  for (std::size_t k = 0; k < f.series.size(); ++k) {
    if (f.series[k].points) draw_values(svg, plot, f, k, room);
  }
  draw_names(svg, plot, f, width - room + 6.0);
  return svg.text_of();
}

std::string agreement_svg(const AgreementFigure& f, double width, const std::string& id) {
  const double side = std::min(width, 440.0);
  Svg          svg(side, side + 6.0, id, f.title, f.description);
  auto         all = f.predicted;
  all.insert(all.end(), f.measured.begin(), f.measured.end());
  const Axis x = axis_over("predicted, " + f.unit, all, true);
  Axis       y = x;
  y.label      = "measured, " + f.unit;
  Plot plot(svg, {50.0, 30.0, side - 66.0, side - 76.0}, x, y);
  if (f.scatter > 0.0) {
    const double far = std::exp(2.0 * f.scatter);
    plot.band({x.low, x.high}, {x.low / far, x.high / far}, {x.low * far, x.high * far}, "ink");
  }
  plot.curve({x.low, x.high}, {x.low, x.high}, "ink");
  for (std::size_t i = 0; i < f.predicted.size() && i < f.measured.size(); ++i)
    plot.point(f.predicted[i], f.measured[i], "ochre", i < f.says.size() ? f.says[i] : std::string{}, 3.5);
  return svg.text_of();
}

std::string profiles_svg(const ProfileFigure& f, double width, const std::string& id) {
  const int    columns = width < 520.0 ? 2 : 3;
  const int    rows    = (static_cast<int>(f.panels.size()) + columns - 1) / columns;
  const double wide = (width - 44.0 - 22.0 * (columns - 1)) / columns, tall = 110.0;
  // names of as many lines as they need, panels level with each other
  const double                          line_height = 13.0;
  std::vector<std::vector<std::string>> names;
  std::size_t                           name_lines = 1;
  for (const ProfilePanel& p : f.panels) {
    names.push_back(lines_of(p.name, wide + 10.0, bold_size - 1.0));
    name_lines = std::max(name_lines, names.back().size());
  }
  const double titled = line_height * static_cast<double>(name_lines - 1), row = tall + titled + 76.0;
  Svg          svg(width, row * rows, id, f.title, f.description);
  for (std::size_t i = 0; i < f.panels.size(); ++i) {
    const ProfilePanel& p      = f.panels[i];
    const int           column = static_cast<int>(i) % columns, line = static_cast<int>(i) / columns;
    const Box           box{26.0 + column * (wide + 22.0), line * row + 30.0 + titled, wide, tall};
    Axis x   = axis_over(p.unit.empty() ? "" : p.unit, p.value), y{"", 0.0, 1.5 * f.level, false};
    y.places = column == 0;
    Plot   plot(svg, box, x, y);
    double name_y = box.y - 10.0 - titled;
    for (const std::string& name : names[i]) {
      svg.text(box.x, name_y, name, Svg::Anchor::start, "small strong");
      name_y += line_height;
    }
    plot.curve(p.value, p.rise, "ink");
    plot.level(f.level, "");
    if (i == 0)  // in the valley, where no curve is
      svg.text(box.x + 0.5 * box.width, plot.y(f.level) - 4.0, "90 %", Svg::Anchor::middle, "small halo");
    plot.point(p.best, 0.0, "ochre", figure_number(p.best) + " " + p.unit);
  }
  return svg.text_of();
}

}  // namespace arris::figures
