// SPDX-License-Identifier: MIT
#include <cmath>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/statistics/individuals_chart.hpp"
#include "sim/studies/control/control.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

constexpr double pi = 3.14159265358979323846;

std::vector<GaugeReading> log_of(const std::vector<double>& values) {
  std::vector<GaugeReading> readings;
  for (std::size_t i = 0; i < values.size(); ++i) {
    GaugeReading r;
    r.edge         = "reference";
    r.filament_lot = i < 10 ? "N-07" : "N-08";
    r.reading_gf   = values[i];
    r.date         = "2025-06-" + std::string(i < 9 ? "0" : "") + std::to_string(i + 1);
    r.test_day     = r.date;
    readings.push_back(r);
  }
  return readings;
}

}  // namespace

TEST_CASE("the constants of the chart are those of ranges of two normal values", "[control]") {
  const double d2 = 2.0 / std::sqrt(pi), d3 = std::sqrt(2.0 - 4.0 / pi);
  CHECK(limits_of_individuals == Approx(3.0 / d2).margin(0.0015));  // published with d2 = 1.128
  CHECK(limit_of_ranges == Approx(1.0 + 3.0 * d3 / d2).margin(0.0005));
}

TEST_CASE("centre, limits and ranges by hand", "[control]") {
  const IndividualsChart chart = individuals_chart({10, 12, 11, 13, 20}, 4);
  CHECK(chart.centre == Approx(11.5));
  CHECK(chart.range_mean == Approx(5.0 / 3.0));
  CHECK(chart.upper == Approx(11.5 + 2.660 * 5.0 / 3.0));
  CHECK(chart.range_upper == Approx(3.267 * 5.0 / 3.0));
  CHECK(std::isnan(chart.ranges[0]));
  CHECK(chart.ranges[4] == Approx(7.0));
  const auto signals = chart_signals({10, 12, 11, 13, 20}, chart);
  REQUIRE(signals.size() == 2);
  CHECK(signals[0].rule == ChartRule::beyond_limits);
  CHECK(signals[1].rule == ChartRule::range_beyond);
}

TEST_CASE("seven points on one side, and seven that rise, are signals, and six are not", "[control]") {
  IndividualsChart chart{
      .centre = 0.0, .lower = -100.0, .upper = 100.0, .range_mean = 1.0, .range_upper = 100.0};
  const auto signals = [&](const std::vector<double>& values) {
    chart.ranges.assign(values.size(), 0.0);
    return chart_signals(values, chart);
  };
  CHECK(signals({-1, 2, 1, 2, 1, 2, 1, -1}).empty());
  const auto side = signals({-1, 2, 1, 2, 1, 2, 1, 2, -1});
  REQUIRE(side.size() == 1);
  CHECK(side[0].rule == ChartRule::one_side);
  CHECK(side[0].first == 1);
  CHECK(side[0].last == 7);
  CHECK(signals({-3, -2, -1, 1, 2, 3, 1}).empty());
  const auto trend = signals({-3, -2, -1, 1, 2, 3, 4, 1});
  REQUIRE(trend.size() == 1);
  CHECK(trend[0].rule == ChartRule::trend);
  CHECK(trend[0].is_high);
  CHECK(trend[0].first == 0);
  CHECK(trend[0].last == 6);
  // a value on the centre ends a run
  CHECK(signals({2, 1, 2, 0, 2, 1, 2, 1}).empty());
}

TEST_CASE("a tester that steps up by three deviations is found, and one that does not change is left alone",
          "[control]") {
  std::vector<double> steady;
  for (int i = 0; i < 20; ++i) steady.push_back(180.0 + (i % 2 == 0 ? 2.0 : -2.0) + (i % 3 == 0 ? 1.0 : 0.0));
  const ControlResult calm = control(log_of(steady), {});
  CHECK(calm.signals.empty());
  CHECK(control_answer(calm, {}).headline.find(
            "Nothing shows that the tester has changed: 20 days of reference") == 0);
  auto stepped = steady;
  for (std::size_t i = 12; i < 20; ++i) stepped[i] += 25.0;
  const ControlResult found = control(log_of(stepped), {.base = 12});
  REQUIRE_FALSE(found.signals.empty());
  CHECK(found.signals.front().last == 12);
  CHECK(control_answer(found, {}).headline.find(
            "The tester, or reference itself, has changed. 2025-06-13 reads") == 0);
}

TEST_CASE("readings of one day are one point, in the order of dates, and exclusions do not count",
          "[control]") {
  auto readings = log_of({180, 182, 178, 181, 179, 183});
  std::swap(readings[0], readings[5]);
  readings.push_back(readings[1]);
  readings.back().reading_gf = 192;
  readings.push_back(readings[1]);
  readings.back().excluded   = "dropped";
  const ControlResult result = control(readings, {});
  REQUIRE(result.points.size() == 6);
  CHECK(result.points[0].reading_gf == 180);
  CHECK(result.points[1].reading_gf == Approx(187));
  CHECK(result.points[1].readings == 2);
  CHECK(result.excluded == 1);
}

TEST_CASE("false signals of a long series with few points behind its limits are told as many", "[control]") {
  // with known limits a normal point is beyond them with 0.27 %; few points make limits uncertain and runs long
  const double few = false_signal_share(40, 5), many = false_signal_share(40, 40);
  CHECK(few > many);
  CHECK(many > 0.1);
  CHECK(few < 1.0);
  CHECK(false_signal_share(40, 5) == few);
}

TEST_CASE("what no chart can be made of is told", "[control]") {
  const auto code = [](const std::vector<GaugeReading>& readings, const ControlSettings& settings) {
    return error_of([&] { (void)control(readings, settings); }).diagnostics().front().code;
  };
  CHECK(code(log_of({1, 2, 3, 4}), {}) == "too-few");
  CHECK(code(log_of({5, 5, 5, 5, 5}), {}) == "no-scatter");
  CHECK(code(log_of({1, 2, 3, 4, 5}), {.edge = "refrence"}) == "unknown-edge");
  CHECK(code(log_of({1, 2, 3, 4, 5}), {.base = 6}) == "bad-option");
  auto two    = log_of({1, 2, 3, 4, 5});
  two[0].edge = "A";
  CHECK(code(two, {}) == "bad-option");
  auto undated = log_of({1, 2, 3, 4, 5});
  undated[0].date.clear();
  undated[0].test_day.clear();
  CHECK(code(undated, {}) == "no-day");
}
