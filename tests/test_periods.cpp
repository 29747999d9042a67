// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/diagnostic.hpp"
#include "sim/input/loader.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/statistics/t_tests.hpp"
#include "sim/studies/periods/periods.hpp"

using namespace arris;
using Catch::Contains;
using Catch::Detail::Approx;

namespace {

constexpr int edges = 8;

// two ways of sharpening, four edges of each, read when ready
const Scenario& workshop() {
  static const Scenario scenario = [] {
    std::string text =
        "[tool.iron]\nkind = \"plane iron\"\nsteel = \"O1\"\nwidth_mm = 50\nthickness_mm = 3.2\n"
        "primary_bevel_deg = 25\n"
        "[route.film]\nsteps = [ { hone = \"lapping film, 15 µm\", strokes = 30 } ]\n"
        "[route.stones]\nsteps = [ { hone = \"soft waterstone, JIS #1000\", strokes = 30 } ]\n";
    for (int e = 0; e < edges; ++e)
      text += "[edge.E" + std::to_string(e + 1) + "]\ntool = \"iron\"\nroute = \"" +
              (e % 2 == 0 ? "film" : "stones") + "\"\nsteps = [ { read = \"ready\" } ]\n";
    return load_scenario("campaign.toml", text).scenario;
  }();
  return scenario;
}

Reading reading_of(int edge, double gf, const std::string& date, const std::string& by = "K") {
  Reading r;
  r.edge          = edge;
  r.moment        = {1, 0.0};
  r.moment_name   = "ready";
  r.reading_N     = laws::in_newton(gf);
  r.operator_name = by;
  r.date = r.test_day = date;
  return r;
}

// numbers without a pattern, about 5 % wide
double luck(int i) { return std::exp(0.05 * std::sin(7.3 * i * i + 1.7 * i)); }

// every edge read twice in the first year and twice in the second, where all reads `times` as much
std::vector<Reading> two_years(double times) {
  std::vector<Reading> out;
  for (int e = 0; e < edges; ++e) {
    const double mean = (e % 2 == 0 ? 150.0 : 170.0) * luck(100 + e);
    for (int k = 0; k < 2; ++k) {
      out.push_back(reading_of(e, mean * luck(4 * e + k), "2025-03-0" + std::to_string(k + 1)));
      out.push_back(reading_of(e, mean * times * luck(4 * e + 2 + k), "2026-03-0" + std::to_string(k + 1)));
    }
  }
  return out;
}

}  // namespace

TEST_CASE("a year is held against the year before, edge by edge", "[periods]") {
  const std::vector<Reading> readings = two_years(1.2);
  const PeriodComparison     c        = compare_periods(workshop(), readings, PeriodLength::year);
  REQUIRE(c.periods.size() == 2);
  const ReadPeriod& second = c.periods[1];
  CHECK(second.name == "2026");
  CHECK(second.readings == 16);
  CHECK(second.edges == edges);
  CHECK(second.kinds == 2);
  CHECK(second.confounded.empty());
  // all edges in both years, alike often: readings less the mean of their edge, whose difference has Student's t
  double mean = 0.0, squares = 0.0;
  for (const Reading& r : readings) {
    const bool late = r.date > "2026";
    mean += (late ? 1.0 : -1.0) * std::log(r.reading_N) / 16.0;
  }
  for (int e = 0; e < edges; ++e) {
    double of_edge = 0.0;
    for (const Reading& r : readings) of_edge += r.edge == e ? std::log(r.reading_N) / 4.0 : 0.0;
    for (const Reading& r : readings) {
      if (r.edge != e) continue;
      const double left = std::log(r.reading_N) - of_edge - (r.date > "2026" ? 0.5 : -0.5) * mean;
      squares += left * left;
    }
  }
  const double dof = 32.0 - edges - 1.0;
  const TTest  t   = t_test(mean, std::sqrt(squares / dof / 8.0), dof, 0.9);
  CHECK(second.ratio.middle == Approx(std::exp(t.difference)).epsilon(1e-6));
  CHECK(second.ratio.low == Approx(std::exp(t.low)).epsilon(1e-4));
  CHECK(second.ratio.high == Approx(std::exp(t.high)).epsilon(1e-4));
  CHECK(second.p == Approx(t.p).epsilon(1e-2));
  const Answer answer = periods_answer(c, 0.1);
  CHECK_THAT(answer.headline, Contains("Readings of 2026 are 1.2") && Contains("times those of 2025") &&
                                  Contains("the change is real, by chance"));
}

TEST_CASE("no change is claimed where there is none", "[periods]") {
  const auto headline = [](double times, double margin) {
    return periods_answer(compare_periods(workshop(), two_years(times), PeriodLength::year), margin).headline;
  };
  CHECK_THAT(headline(1.0, 0.1), Contains("no change that matters, less than 10 %"));
  CHECK_THAT(headline(1.0, 0.005), Contains("no change is shown"));
}

TEST_CASE("a change of years that may be one of who read is not claimed", "[periods]") {
  std::vector<Reading> readings = two_years(1.2);
  for (Reading& r : readings) r.operator_name = r.date > "2026" ? "M" : "K";
  const PeriodComparison c = compare_periods(workshop(), readings, PeriodLength::year);
  CHECK_THAT(c.periods[1].confounded, Contains("operator"));
  CHECK(std::isnan(c.periods[1].ratio.middle));
  CHECK_THAT(periods_answer(c, 0.1).headline, Contains("no change is claimed") && Contains("operator"));
  // where both read in both years, it is, and they are allowed for
  for (std::size_t i = 0; i < readings.size(); ++i) readings[i].operator_name = i / 2 % 2 == 0 ? "K" : "M";
  const PeriodComparison told = compare_periods(workshop(), readings, PeriodLength::year);
  CHECK(told.allowed_for == std::vector<std::string>{"operators"});
  CHECK(told.periods[1].ratio.low > 1.1);
}

TEST_CASE("years in which nothing alike was read cannot be told apart", "[periods]") {
  std::vector<Reading> readings = two_years(1.2);
  std::erase_if(readings, [](const Reading& r) { return (r.edge % 2 == 0) == (r.date > "2026"); });
  const PeriodComparison c = compare_periods(workshop(), readings, PeriodLength::year);
  CHECK(c.periods[1].kinds == 0);
  CHECK_THAT(c.periods[1].confounded,
             Contains("No way of sharpening was read at the same moment in 2025 and in 2026"));
}

TEST_CASE("months and days are periods too, and readings without a date are told", "[periods]") {
  std::vector<Reading> readings = two_years(1.2);
  readings.push_back(reading_of(0, 150.0, ""));
  const PeriodComparison months = compare_periods(workshop(), readings, PeriodLength::month);
  CHECK(months.undated == 1);
  CHECK(months.periods.back().name == "2026-03");
  const PeriodComparison days = compare_periods(workshop(), readings, PeriodLength::day);
  REQUIRE(days.periods.size() == 4);
  CHECK(days.periods[1].name == "2025-03-02");
  const Answer answer = periods_answer(days, 0.1);
  CHECK_THAT(answer.headline, Contains("Readings of 2026-03-02") && Contains("2026-03-01 (1.") &&
                                  Contains("by more than chance"));
  CHECK(std::any_of(answer.remarks.begin(), answer.remarks.end(), [](const std::string& s) {
    return s.find("1 reading without a date is left out") != std::string::npos;
  }));
}

TEST_CASE("periods that cannot be compared are refused with the reason", "[periods]") {
  const auto code = [](const std::vector<Reading>& readings, PeriodLength length) {
    try {
      (void)compare_periods(workshop(), readings, length);
    } catch (const Error& e) {
      return e.diagnostics().front().code;
    }
    return std::string();
  };
  CHECK(code({reading_of(0, 150.0, "")}, PeriodLength::year) == "no-dates");
  CHECK(code({reading_of(0, 150.0, "2026-01-01"), reading_of(1, 160.0, "2026-02-01")}, PeriodLength::year) ==
        "one-period");
  CHECK(period_length("months") == PeriodLength::month);
  CHECK_THROWS_AS(period_length("weeks"), Error);
}
