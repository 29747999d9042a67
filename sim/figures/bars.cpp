// SPDX-License-Identifier: MIT
#include "sim/figures/bars.hpp"

#include <algorithm>
#include <stdexcept>

#include <fmt/format.h>

#include "sim/figures/plot.hpp"

namespace arris::figures {
namespace {

constexpr double bar_height = 13.0, bar_words = 15.0, bar_row = bar_height + bar_words + 9.0, bar_left = 8.0;

bool has_any(const BarPart& part) {
  return std::any_of(part.value.begin(), part.value.end(), [](double v) { return v > 0.0; });
}

double total_of(const BarFigure& f, std::size_t row) {
  double sum = 0.0;
  for (const BarPart& part : f.parts) sum += part.value[row] > 0.0 ? part.value[row] : 0.0;
  return sum;
}

// what each tone means; returns the height that took
double draw_bar_key(Svg& svg, const BarFigure& f) {
  double x = bar_left, y = 14.0;
  for (const BarPart& part : f.parts) {
    if (!has_any(part)) continue;
    const double need = 30.0 + text_width(part.name, 11.0);
    if (x > bar_left && x + need > svg.width()) {
      x = bar_left;
      y += 17.0;
    }
    svg.rect(x, y - 10.0, 12.0, 12.0, "fill-" + part.tone);
    svg.text(x + 18.0, y, part.name, Svg::Anchor::start, "small");
    x += need + 8.0;
  }
  return y + 14.0;
}

}  // namespace

std::string bars_svg(const BarFigure& f, double width, const std::string& id) {
  for (const BarPart& part : f.parts) {
    if (part.value.size() != f.rows.size())
      throw std::invalid_argument("a part of bars needs a value for every row");
  }
  std::vector<double> totals;
  for (std::size_t i = 0; i < f.rows.size(); ++i) totals.push_back(total_of(f, i));
  Svg          trial(width, 10.0, id, "", "");
  const double key = draw_bar_key(trial, f), tall = bar_row * static_cast<double>(f.rows.size());
  Svg          svg(width, key + tall + 46.0, id, f.title, f.description);
  draw_bar_key(svg, f);

  const Axis   axis = axis_over(f.x_label, totals, false, true);
  const double room = width - 2.0 * bar_left - 46.0;  // behind the longest bar stands its number
  const auto at = [&](double value) { return bar_left + room * (value - axis.low) / (axis.high - axis.low); };
  for (const double tick : ticks_of(axis, width < 520.0 ? 4 : 7)) {
    svg.line(at(tick), key, at(tick), key + tall, "grid");
    svg.text(at(tick), key + tall + 16.0, figure_number(tick),
             tick == axis.low ? Svg::Anchor::start : Svg::Anchor::middle, "small soft");
  }
  svg.text(bar_left, key + tall + 36.0, f.x_label, Svg::Anchor::start, "small");
  for (std::size_t i = 0; i < f.rows.size(); ++i) {
    const double y = key + bar_row * static_cast<double>(i);
    svg.text(bar_left, y + 12.0, f.rows[i], Svg::Anchor::start, "halo");
    double from = 0.0;
    for (const BarPart& part : f.parts) {
      if (!(part.value[i] > 0.0)) continue;
      svg.rect(at(from), y + bar_words + 2.0, at(from + part.value[i]) - at(from), bar_height,
               "fill-" + part.tone);
      from += part.value[i];
    }
    svg.text(at(from) + 5.0, y + bar_words + 13.0, figure_number(totals[i]), Svg::Anchor::start,
             "small halo");
  }
  return svg.text_of();
}

}  // namespace arris::figures
