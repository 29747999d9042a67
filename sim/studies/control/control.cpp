// SPDX-License-Identifier: MIT
#include "sim/studies/control/control.hpp"

#include <algorithm>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr std::size_t fewest_points = 5;

std::vector<std::string> distinct(const std::vector<std::string>& all) {
  const std::set<std::string> set(all.begin(), all.end());
  return {set.begin(), set.end()};
}

// the name that was asked for, or the only one; `what` is what it names
std::string chosen(const std::string& asked, const std::vector<std::string>& known, const char* option,
                   const char* what) {
  if (asked.empty() && known.size() == 1) return known.front();
  if (!asked.empty() && std::find(known.begin(), known.end(), asked) != known.end()) return asked;
  throw Error(
      Exit::usage,
      {.code    = asked.empty() ? "bad-option" : "unknown-edge",
       .what    = asked.empty()
                      ? fmt::format("the readings are of several {}s", what)
                      : fmt::format("there is no {} \"{}\" among the readings", what, printable(asked)),
       .allowed = or_list(known),
       .next = asked.empty() ? fmt::format("Name with {} the one that is read to check the tester.", option)
                             : did_you_mean(asked, known)});
}

// those of what is read again and again, in the order of their dates where all have one
std::vector<GaugeReading> of_check_edge(const std::vector<GaugeReading>& readings,
                                        const ControlSettings& settings, ControlResult& result) {
  std::vector<std::string> edges, moments;
  for (const GaugeReading& r : readings) edges.push_back(r.edge);
  result.edge = chosen(settings.edge, distinct(edges), "edge", "edge");
  for (const GaugeReading& r : readings) {
    if (r.edge == result.edge) moments.push_back(r.moment);
  }
  const std::string moment = chosen(settings.moment, distinct(moments), "moment", "moment");
  if (!moment.empty()) result.edge += ", " + moment;
  std::vector<GaugeReading> own;
  for (const GaugeReading& r : readings) {
    if (result.edge != r.part()) continue;
    if (r.excluded.empty())
      own.push_back(r);
    else
      ++result.excluded;
  }
  if (std::all_of(own.begin(), own.end(), [](const GaugeReading& r) { return !r.date.empty(); }))
    std::stable_sort(own.begin(), own.end(),
                     [](const GaugeReading& a, const GaugeReading& b) { return a.date < b.date; });
  return own;
}

std::vector<ControlPoint> points_of(const std::vector<GaugeReading>& readings, bool by_day) {
  std::vector<ControlPoint>          points;
  std::map<std::string, std::size_t> places;
  for (const GaugeReading& r : readings) {
    const std::string label = by_day ? r.test_day : fmt::format("reading {}", points.size() + 1);
    const auto [at, is_new] = places.emplace(label, points.size());
    if (is_new) points.push_back({label, r.filament_lot, 0.0, 0});
    ControlPoint& point = points[at->second];
    if (point.lot != r.filament_lot) point.lot = "several";
    point.reading_gf += r.reading_gf;
    ++point.readings;
  }
  for (ControlPoint& point : points) point.reading_gf /= point.readings;
  return points;
}

}  // namespace

ControlResult control(const std::vector<GaugeReading>& readings, const ControlSettings& settings) {
  ControlResult                   result;
  const std::vector<GaugeReading> own = of_check_edge(readings, settings, result);
  const auto                      with_day =
      std::count_if(own.begin(), own.end(), [](const GaugeReading& r) { return !r.test_day.empty(); });
  result.by_day = with_day > 0;
  if (result.by_day && with_day < static_cast<std::ptrdiff_t>(own.size()))
    throw Error(Exit::data, {.code = "no-day",
                             .what = fmt::format("{} of {} of {} have no date and no test day",
                                                 own.size() - static_cast<std::size_t>(with_day), own.size(),
                                                 printable(result.edge)),
                             .next = "Give each the day on which it was taken, or none of them.",
                             .file = settings.source});
  result.points = points_of(own, result.by_day);
  if (result.points.size() < fewest_points)
    throw Error(Exit::data, {.code = "too-few",
                             .what = fmt::format("{} of {}: limits need {}",
                                                 counted(static_cast<long long>(result.points.size()),
                                                         result.by_day ? "day" : "reading"),
                                                 printable(result.edge), fewest_points),
                             .next = "Read it on more days.",
                             .file = settings.source});
  result.base = settings.base == 0 ? result.points.size() : static_cast<std::size_t>(settings.base);
  if (result.base < fewest_points || result.base > result.points.size())
    throw Error(Exit::usage,
                {.code    = "bad-option",
                 .what    = fmt::format("base {} of {} points", settings.base, result.points.size()),
                 .allowed = fmt::format("{} … {}", fewest_points, result.points.size())});
  std::vector<double> values;
  for (const ControlPoint& point : result.points) values.push_back(point.reading_gf);
  result.chart = individuals_chart(values, result.base);
  if (!(result.chart.range_mean > 0.0))
    throw Error(Exit::data,
                {.code  = "no-scatter",
                 .what  = "the points that set the limits are all the same",
                 .cause = "No tester reads alike each time; the figures may have been copied or rounded.",
                 .next  = "Give readings as they were taken.",
                 .file  = settings.source});
  result.signals       = chart_signals(values, result.chart);
  result.false_signals = false_signal_share(values.size(), result.base);
  return result;
}

}  // namespace arris
