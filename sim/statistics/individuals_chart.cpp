// SPDX-License-Identifier: MIT
#include "sim/statistics/individuals_chart.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>

namespace arris {
namespace {

int side_of(double value, double centre) { return value > centre ? 1 : value < centre ? -1 : 0; }

// stretches of points in a row of the same sign that are not 0, at least `least` long; sign(i) of each point
template <class Sign>
void add_stretches(std::vector<ChartSignal>& signals, std::size_t points, ChartRule rule, std::size_t least,
                   std::size_t points_before, Sign&& sign) {
  for (std::size_t begin = points_before; begin < points;) {
    std::size_t end = begin + 1;
    while (end < points && sign(end) == sign(begin)) ++end;
    if (sign(begin) != 0 && end - begin >= least)
      signals.push_back({rule, begin - points_before, end - 1, sign(begin) > 0});
    begin = end;
  }
}

}  // namespace

IndividualsChart individuals_chart(const std::vector<double>& values, std::size_t base) {
  if (values.size() < 2 || base < 2) throw std::invalid_argument("a chart needs two points");
  base = std::min(base, values.size());
  IndividualsChart chart;
  chart.ranges.push_back(std::numeric_limits<double>::quiet_NaN());
  for (std::size_t i = 1; i < values.size(); ++i) chart.ranges.push_back(std::abs(values[i] - values[i - 1]));
  for (std::size_t i = 0; i < base; ++i) {
    chart.centre += values[i] / static_cast<double>(base);
    if (i > 0) chart.range_mean += chart.ranges[i] / static_cast<double>(base - 1);
  }
  chart.lower       = chart.centre - limits_of_individuals * chart.range_mean;
  chart.upper       = chart.centre + limits_of_individuals * chart.range_mean;
  chart.range_upper = limit_of_ranges * chart.range_mean;
  return chart;
}

std::vector<ChartSignal> chart_signals(const std::vector<double>& values, const IndividualsChart& chart) {
  std::vector<ChartSignal> signals;
  const std::size_t        points = values.size();
  for (std::size_t i = 0; i < points; ++i) {
    if (values[i] > chart.upper || values[i] < chart.lower)
      signals.push_back({ChartRule::beyond_limits, i, i, values[i] > chart.upper});
    if (i > 0 && chart.ranges[i] > chart.range_upper)
      signals.push_back({ChartRule::range_beyond, i, i, values[i] > values[i - 1]});
  }
  add_stretches(signals, points, ChartRule::one_side, run_length, 0,
                [&](std::size_t i) { return side_of(values[i], chart.centre); });
  // seven points that rise have six steps between them
  add_stretches(signals, points, ChartRule::trend, run_length - 1, 1,
                [&](std::size_t i) { return side_of(values[i], values[i - 1]); });
  std::stable_sort(signals.begin(), signals.end(),
                   [](const ChartSignal& a, const ChartSignal& b) { return a.last < b.last; });
  return signals;
}

double false_signal_share(std::size_t points, std::size_t base) {
  constexpr int                        series = 2000;
  boost::random::mt19937_64            random(7870);
  boost::random::normal_distribution<> normal;
  int                                  with_signal = 0;
  std::vector<double>                  values(points);
  for (int s = 0; s < series; ++s) {
    for (double& value : values) value = normal(random);
    if (!chart_signals(values, individuals_chart(values, base)).empty()) ++with_signal;
  }
  return static_cast<double>(with_signal) / series;
}

}  // namespace arris
