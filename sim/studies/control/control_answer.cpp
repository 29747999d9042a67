// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/studies/control/control.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr std::size_t enough_points = 20;

std::string gf(double value) { return fmt::format("{} gf", plain(value, 4)); }

// what a signal is, with its points
std::string said(const ControlResult& r, const ChartSignal& signal) {
  const ControlPoint &first = r.points[signal.first], &last = r.points[signal.last];
  const auto          count = signal.last - signal.first + 1;
  const std::string   span  = fmt::format("from {} to {}", printable(first.label), printable(last.label));
  switch (signal.rule) {
    case ChartRule::beyond_limits:
      return fmt::format("{} reads {}, {} the limit of {}.", printable(last.label), gf(last.reading_gf),
                         signal.is_high ? "above" : "below",
                         gf(signal.is_high ? r.chart.upper : r.chart.lower));
    case ChartRule::range_beyond:
      return fmt::format("Between {} and {} it jumps by {}, more than the {} that ranges keep within.",
                         printable(r.points[signal.first - 1].label), printable(last.label),
                         gf(r.chart.ranges[signal.last]), gf(r.chart.range_upper));
    case ChartRule::one_side:
      return fmt::format("{} points in a row, {}, lie {} the centre of {}.", count, span,
                         signal.is_high ? "above" : "below", gf(r.chart.centre));
    case ChartRule::trend:
      return fmt::format("{} points in a row {}, {}.", count, signal.is_high ? "rise" : "fall", span);
  }
  return {};
}

std::string headline(const ControlResult& r) {
  const std::string what = printable(r.edge);
  if (r.signals.empty())
    return fmt::format(
        "Nothing shows that the tester has changed: {} of {} lie within {} … {}, without a run.",
        counted(static_cast<long long>(r.points.size()), r.by_day ? "day" : "reading"), what,
        plain(r.chart.lower, 4), gf(r.chart.upper));
  return fmt::format("The tester, or {} itself, has changed. {}{}", what, said(r, r.signals.front()),
                     r.signals.size() > 1
                         ? fmt::format(" {} below.", counted(static_cast<long long>(r.signals.size()) - 1,
                                                             "more signal stands", "more signals stand"))
                         : "");
}

// a new lot of filament where a signal begins is another reason for it
void add_lots(const ControlResult& r, Answer& answer) {
  for (std::size_t i = 1; i < r.points.size(); ++i) {
    if (r.points[i].lot == r.points[i - 1].lot) continue;
    const bool near = std::any_of(r.signals.begin(), r.signals.end(),
                                  [&](const ChartSignal& s) { return s.last >= i && s.first <= i + 1; });
    answer.remark(
        near ? About::more : About::certainty,
        fmt::format(
            "The filament lot changes from {} to {} at {}{}.",
            r.points[i - 1].lot.empty() ? "one that is not named" : printable(r.points[i - 1].lot),
            r.points[i].lot.empty() ? "one that is not named" : printable(r.points[i].lot),
            printable(r.points[i].label),
            near ? ": it may be the filament that changed, not the tester" : ", without a signal there"));
  }
}

void add_tables(const ControlResult& r, Answer& answer) {
  std::vector<std::string> labels, lots, marks;
  std::vector<double>      order, values, ranges, counts;
  for (std::size_t i = 0; i < r.points.size(); ++i) {
    const ControlPoint& point = r.points[i];
    labels.push_back(point.label);
    lots.push_back(point.lot);
    order.push_back(static_cast<double>(i + 1));
    values.push_back(point.reading_gf);
    ranges.push_back(r.chart.ranges[i]);
    counts.push_back(point.readings);
    std::string mark;
    for (const ChartSignal& s : r.signals) {
      if (i < s.first || i > s.last) continue;
      const char* name = s.rule == ChartRule::beyond_limits  ? "beyond limits"
                         : s.rule == ChartRule::range_beyond ? "jump"
                         : s.rule == ChartRule::one_side     ? "one side"
                                                             : "trend";
      if (mark.find(name) == std::string::npos) mark += (mark.empty() ? "" : ", ") + std::string(name);
    }
    marks.push_back(mark);
  }
  AnswerTable points{.name = "points", .says = "What was read, in order", .axis = "point"};
  points.text("point", r.by_day ? "day" : "in order", "day or reading", labels);
  points.number("order", "1", "", "place in the order", order);
  points.number("reading_gf", "gf", "gf", "mean reading", values, 4);
  points.number("moving_range_gf", "gf", "range gf", "difference from the point before", ranges);
  points.number("readings", "1", "readings", "readings behind it", counts);
  points.columns.back().places = 0;
  points.text("filament_lot", "lot", "filament lot", lots);
  points.text("signal", "signal", "rules that it breaks", marks);
  answer.tables.push_back(std::move(points));
  AnswerTable limits{.name = "limits", .says = "Limits of the chart", .axis = "quantity"};
  limits.text("quantity", "limits of", "what it limits", {"reading", "moving range"});
  limits.number("centre_gf", "gf", "centre gf", "mean of the points that set the limits",
                {r.chart.centre, r.chart.range_mean}, 4);
  limits.number("lower_gf", "gf", "lower gf", "lower limit", {r.chart.lower, 0.0}, 4);
  limits.number("upper_gf", "gf", "upper gf", "upper limit", {r.chart.upper, r.chart.range_upper}, 4);
  answer.tables.push_back(std::move(limits));
}

}  // namespace

Answer control_answer(const ControlResult& r, const ControlSettings& settings) {
  Answer answer;
  answer.kind     = "log-check";
  answer.headline = headline(r);
  for (std::size_t i = 1; i < r.signals.size(); ++i) answer.remark(About::more, said(r, r.signals[i]));
  add_lots(r, answer);
  answer.remark(
      About::certainty,
      fmt::format(
          "Limits are {} ± 2.660 times the mean moving range of {}, and 3.267 times it for ranges, from the {} "
          "(constants and rules of ISO 7870-2, from memory): a point or a range beyond its limit, {} points in a row on one side of the centre, {} that rise or fall.",
          gf(r.chart.centre), gf(r.chart.range_mean),
          r.base == r.points.size() ? fmt::format("{} points here", r.base)
                                    : fmt::format("first {} points", r.base),
          run_length, run_length));
  answer.remark(
      About::certainty,
      fmt::format(
          "Of series as long as this, from a tester that does not change, {} show a signal by chance (simulated, points independent and normal).",
          percent(r.false_signals)));
  if (r.base < enough_points)
    answer.remark(
        About::certainty,
        fmt::format("Limits from fewer than {} points are preliminary (common practice).", enough_points));
  if (r.excluded > 0)
    answer.remark(About::more,
                  fmt::format("{} excluded in the file.", counted(r.excluded, "reading is", "readings are")));
  if (r.signals.empty()) {
    answer.remark(About::next, "Read it again on the next test day, before the edges.");
  } else {
    answer.remark(
        About::next,
        "Look at the tester first: its zero, its load cell or spring, how the filament is held; then read a second check edge or a fresh reference filament, which tells a changed tester from a worn check edge.");
    answer.remark(
        About::next,
        "Readings of edges since then can be given a test day of their own, so that a fit lets them differ.");
  }
  answer.rests_on = fmt::format("Rests on readings of {} in {}; no model of an edge was used.",
                                printable(r.edge), settings.source);
  add_tables(r, answer);
  answer.settings = {{"base_points", static_cast<double>(r.base)},
                     {"centre_gf", r.chart.centre},
                     {"lower_gf", r.chart.lower},
                     {"upper_gf", r.chart.upper},
                     {"range_upper_gf", r.chart.range_upper},
                     {"false_signal_share", r.false_signals}};
  return answer;
}

}  // namespace arris
