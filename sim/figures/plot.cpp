// SPDX-License-Identifier: MIT
#include "sim/figures/plot.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

namespace arris::figures {
namespace {

// sizes that nothing measured or worked out has, and their reciprocals: not drawn
constexpr double beyond = 1e100;

double round_step(double step) {
  const double power = std::pow(10.0, std::floor(std::log10(step)));
  for (const double s : {1.0, 2.0, 5.0}) {
    if (step <= s * power * (1.0 + 1e-9)) return s * power;
  }
  return 10.0 * power;
}

double share(const Axis& axis, double value) {
  if (axis.log)
    return (std::log(std::max(value, 1e-300)) - std::log(axis.low)) /
           (std::log(axis.high) - std::log(axis.low));
  return (value - axis.low) / (axis.high - axis.low);
}

// lines that leave the box by far are cut where they would only make numbers long
double bounded(double value, double low, double high) {
  const double room = 4.0 * (high - low);
  return std::clamp(value, low - room, high + room);
}

}  // namespace

std::vector<double> ticks_of(const Axis& axis, int most) {
  std::vector<double> ticks;
  if (!(axis.high > axis.low) || !std::isfinite(axis.high - axis.low)) return ticks;
  if (axis.log && axis.low > 0.0) {
    const int first = static_cast<int>(std::floor(std::log10(axis.low) + 1e-9)),
              last  = static_cast<int>(std::ceil(std::log10(axis.high) - 1e-9));
    for (const auto& steps : {std::vector<double>{1, 2, 3, 5, 7}, std::vector<double>{1, 2, 5},
                              std::vector<double>{1, 3}, std::vector<double>{1}}) {
      ticks.clear();
      for (int p = first; p <= last; ++p) {
        for (const double s : steps) {
          const double t = s * std::pow(10.0, p);
          if (t >= axis.low * (1.0 - 1e-9) && t <= axis.high * (1.0 + 1e-9)) ticks.push_back(t);
        }
      }
      if (static_cast<int>(ticks.size()) <= most) break;
    }
    while (static_cast<int>(ticks.size()) > most && ticks.size() > 2) {  // every other power
      std::vector<double> fewer;
      for (std::size_t i = 0; i < ticks.size(); i += 2) fewer.push_back(ticks[i]);
      ticks = fewer;
    }
    constexpr std::size_t fewest = 4;
    if (ticks.size() >= fewest || axis.high > 10.0 * axis.low) return ticks;
    ticks.clear();  // too few steps of these: as on a plain axis
  }
  // one number alone tells no scale, and two none of equal ratios: then more, and closer
  const std::size_t telling = axis.log ? 3 : 2;
  for (int wanted = std::max(most - 1, 1); ticks.size() < telling && wanted <= 64; wanted *= 2) {
    const double step = round_step((axis.high - axis.low) / wanted);
    ticks.clear();
    if (!(step > 0.0)) break;
    const double first = std::ceil(axis.low / step - 1e-9);
    for (int i = 0; i <= 2 * wanted;
         ++i) {  // where steps are lost in the last digit of the numbers, no more than that
      const double t = (first + i) * step;
      if (t > axis.high + 1e-9 * step) break;
      ticks.push_back(std::fabs(t) < 1e-9 * step ? 0.0 : t);
    }
  }
  return ticks;
}

Axis axis_over(std::string label, const std::vector<double>& values, bool log, bool from_zero) {
  Axis   axis{std::move(label), 0.0, 1.0, log};
  double low = HUGE_VAL, high = -HUGE_VAL;
  for (const double v : values) {
    if (!(std::fabs(v) < beyond) || (log && v <= 1.0 / beyond)) continue;
    low  = std::min(low, v);
    high = std::max(high, v);
  }
  if (!(low <= high)) {
    if (log) axis.low = 0.1;
    return axis;
  }
  if (log) {
    const double room = std::max(std::pow(high / low, 0.06), 1.05);
    axis.low          = low / room;
    axis.high         = high * room;
    return axis;
  }
  if (from_zero) low = std::min(low, 0.0);
  // no scale tells numbers apart that differ in their last digits
  if (const double size = std::max(std::fabs(low), std::fabs(high));
      high - low <= 1e-12 * size || size < 1.0 / beyond)
    high = low + (size < 1.0 / beyond ? 1.0 : 0.1 * size);
  const double step = round_step((high - low) / 8.0);
  axis.low          = from_zero && low == 0.0 ? 0.0 : std::floor(low / step) * step;
  axis.high         = std::ceil(high / step) * step;
  return axis;
}

Plot::Plot(Svg& svg, const Box& box, Axis x, Axis y)
    : svg_(svg), box_(box), x_(std::move(x)), y_(std::move(y)) {
  const double right = box.x + box.width, bottom = box.y + box.height;
  for (const double t : ticks_of(y_, std::max(3, static_cast<int>(box.height / 32.0)))) {
    svg.line(box.x, this->y(t), right, this->y(t), "grid");
    if (y_.places) svg.text(box.x - 6, this->y(t) + 4, figure_number(t), Svg::Anchor::end, "small soft");
  }
  double last = -HUGE_VAL;
  for (const double t : ticks_of(x_, std::max(3, static_cast<int>(box.width / 58.0)))) {
    svg.line(this->x(t), bottom, this->x(t), bottom + 4, "axis");
    const std::string words = figure_number(t);
    const double      half  = 0.5 * text_width(words, 11.0);
    if (!x_.places || this->x(t) - half < last + 6.0) continue;
    if (this->x(t) + half > right + 8.0) {  // not into what stands beside it
      svg.text(right + 8.0, bottom + 17, words, Svg::Anchor::end, "small soft");
    } else {
      svg.text(this->x(t), bottom + 17, words, Svg::Anchor::middle, "small soft");
    }
    last = this->x(t) + half;
  }
  svg.line(box.x, bottom, right, bottom, "axis");
  svg.line(box.x, box.y, box.x, bottom, "axis");
  if (!x_.label.empty())
    svg.text(box.x + 0.5 * box.width, bottom + (x_.places ? 34 : 18), x_.label, Svg::Anchor::middle, "small");
  // level and above the axis, so that nobody turns his head
  if (!y_.label.empty())
    svg.text(std::max(box.x - 40, 2.0), box.y - 8, y_.label, Svg::Anchor::start, "small");
}

double Plot::x(double value) const {
  return bounded(box_.x + box_.width * share(x_, value), box_.x, box_.x + box_.width);
}
double Plot::y(double value) const {
  return bounded(box_.y + box_.height * (1.0 - share(y_, value)), box_.y, box_.y + box_.height);
}

std::vector<std::size_t> seen_points(const std::vector<double>& xs, const std::vector<double>& ys,
                                     double strip) {
  std::vector<std::size_t> seen;
  const std::size_t        all   = std::min(xs.size(), ys.size());
  const auto               place = [&](std::size_t i) { return std::floor(xs[i] / strip); };
  for (std::size_t begin = 0, end = 0; begin < all; begin = end) {
    std::size_t low = begin, high = begin;
    // where a number is none, neither place is equal to the other, and the point stands alone
    for (end = begin + 1; end < all && place(end) == place(begin) && std::isfinite(ys[end]); ++end) {
      if (ys[end] < ys[low]) low = end;
      if (ys[end] > ys[high]) high = end;
    }
    for (const std::size_t i : std::set<std::size_t>{begin, low, high, end - 1}) seen.push_back(i);
  }
  return seen;
}

namespace {

constexpr double half_a_dot = 0.5;

Points seen_of(const Points& points) {
  std::vector<double> xs, ys;
  for (const auto& [x, y] : points) {
    xs.push_back(x);
    ys.push_back(y);
  }
  Points seen;
  for (const std::size_t i : seen_points(xs, ys, half_a_dot)) seen.push_back(points[i]);
  return seen;
}

}  // namespace

void Plot::curve(const std::vector<double>& xs, const std::vector<double>& ys, std::string_view tone) {
  svg_.begin_clipped(box_.x, box_.y - 1, box_.width, box_.height + 2);
  Points points;
  for (std::size_t i = 0; i < xs.size() && i < ys.size(); ++i) {
    if (std::isfinite(xs[i]) && std::isfinite(ys[i])) {
      points.emplace_back(x(xs[i]), y(ys[i]));
      continue;
    }
    svg_.polyline(seen_of(points), fmt::format("line-{}", tone));
    points.clear();
  }
  svg_.polyline(seen_of(points), fmt::format("line-{}", tone));
  svg_.end();
}

void Plot::band(const std::vector<double>& xs, const std::vector<double>& low,
                const std::vector<double>& high, std::string_view tone) {
  Points there, back;
  for (std::size_t i = 0; i < xs.size() && i < low.size() && i < high.size(); ++i) {
    if (!std::isfinite(low[i]) || !std::isfinite(high[i])) continue;
    there.emplace_back(x(xs[i]), y(low[i]));
    back.emplace_back(x(xs[i]), y(high[i]));
  }
  there = seen_of(there);
  back  = seen_of(back);
  there.insert(there.end(), back.rbegin(), back.rend());
  svg_.begin_clipped(box_.x, box_.y - 1, box_.width, box_.height + 2);
  svg_.polyline(there, fmt::format("band-{}", tone), true);
  svg_.end();
}

void Plot::point(double px, double py, std::string_view tone, std::string_view says, double radius) {
  if (!std::isfinite(px) || !std::isfinite(py)) return;
  const double reach = 1.0;
  if (x(px) < box_.x - reach || x(px) > box_.x + box_.width + reach || y(py) < box_.y - reach ||
      y(py) > box_.y + box_.height + reach)
    return;
  svg_.circle(x(px), y(py), radius, fmt::format("point-{}", tone), says);
}

void Plot::bar_up(double px, double low, double high, std::string_view tone) {
  if (!std::isfinite(low) || !std::isfinite(high)) return;
  svg_.begin_clipped(box_.x - 3, box_.y, box_.width + 6, box_.height);
  svg_.line(x(px), y(low), x(px), y(high), fmt::format("bar-{}", tone));
  svg_.end();
}

void Plot::bar_across(double py, double low, double high, std::string_view tone) {
  if (!std::isfinite(low) || !std::isfinite(high)) return;
  svg_.begin_clipped(box_.x, box_.y - 3, box_.width, box_.height + 6);
  svg_.line(x(low), y(py), x(high), y(py), fmt::format("bar-{}", tone));
  svg_.end();
}

void Plot::level(double at, std::string_view says, bool at_left) {
  const double place = y(at);
  if (place < box_.y || place > box_.y + box_.height) return;
  svg_.line(box_.x, place, box_.x + box_.width, place, "limit");
  svg_.text(at_left ? box_.x + 4 : box_.x + box_.width - 2, place - 4, says,
            at_left ? Svg::Anchor::start : Svg::Anchor::end, "small halo");
}

void Plot::mark(double at, std::string_view says) {
  const double place = x(at);
  if (place < box_.x - 0.5 || place > box_.x + box_.width + 0.5) return;
  svg_.line(place, box_.y, place, box_.y + box_.height, "limit");
  const bool left = place > box_.x + 0.6 * box_.width;
  svg_.text(place + (left ? -5 : 5), box_.y + 11, says, left ? Svg::Anchor::end : Svg::Anchor::start,
            "small halo");
}

}  // namespace arris::figures
