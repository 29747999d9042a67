// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/history/stages.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/simulate/readings.hpp"
#include "tests/yard_readings.hpp"

using namespace arris;
using namespace arris::desk;

TEST_CASE("measured beside predicted, worked out by hand", "[readings][comparison]") {
  Scenario scenario                  = yard().scenario;
  scenario.model.scatter             = {};
  scenario.model.scatter.reading_cv  = 0.1;
  scenario.model.scatter.edge_cv     = 0.2;
  scenario.model.scatter.operator_cv = 0.05;
  scenario.model.scatter.lot_cv      = 0.04;
  // three readings with a geometric mean of 2 N, a factor of two apart; one excluded; at another edge a single one
  const auto readings =
      parse_readings("r.csv",
                     "edge,step,reading_N,replicate,excluded\n"
                     "A,new,1,1,\nA,new,2,2,\nA,new,4,3,\nA,new,7,4,it slipped\nB,new,3,1,\n",
                     scenario);
  const Comparison c = compare_with_readings(scenario, readings);
  REQUIRE(c.moments.size() == 2);
  const auto&  tool = scenario.model.tools.at(0);
  const double new_N =
      tester_law(scenario.model.tester)
          .reading_N(tool.apex_radius_um, tool.burr_um, 0.5 * laws::degree * tool.micro_bevel_deg);
  const double log2 = std::log(2.0);

  // logarithms, exponentials and their sums: some units in the last place
  constexpr double rounding = 1e-14;
  const auto&      a        = c.moments[0];
  CHECK(a.edge == "A");
  CHECK(a.moment == "new");
  CHECK(a.count == 3);
  CHECK(a.excluded == 1);
  CHECK(a.measured_N == Approx(2.0).epsilon(rounding));
  CHECK(a.spread_cv == Approx(std::sqrt(std::exp(log2 * log2) - 1.0)).epsilon(rounding));
  CHECK(a.predicted_N == Approx(new_N).epsilon(rounding));
  CHECK(a.ratio == Approx(2.0 / new_N).epsilon(rounding));
  const auto   variance = [](double cv) { return std::log(1.0 + cv * cv); };
  const double apex     = 1.0 - scenario.model.tester.cut_resistance_N / new_N;
  const auto   sd       = [&](int count) {
    return std::sqrt(variance(0.1) / count + apex * apex * variance(0.2) + variance(0.05) + variance(0.04));
  };
  CHECK(a.in_sd == Approx(std::log(2.0 / new_N) / sd(3)).epsilon(rounding));
  const auto& b = c.moments[1];
  CHECK(b.edge == "B");
  CHECK(b.count == 1);
  CHECK(std::isnan(b.spread_cv));
  CHECK(b.in_sd == Approx(std::log(3.0 / new_N) / sd(1)).epsilon(rounding));

  CHECK(c.readings == 4);
  CHECK(c.excluded == 1);
  CHECK(c.mean_ratio == Approx(std::sqrt(6.0) / new_N).epsilon(rounding));
  CHECK(c.typical_error ==
        Approx(std::sqrt((std::pow(std::log(2.0 / new_N), 2) + std::pow(std::log(3.0 / new_N), 2)) / 2.0))
            .epsilon(rounding));
  CHECK(c.beyond_2sd == (std::abs(a.in_sd) > 2.0) + (std::abs(b.in_sd) > 2.0));
  CHECK(c.failed.empty());
}

TEST_CASE("readings in the middle of a cut are compared with the curve there", "[readings][comparison]") {
  const auto& scenario = yard().scenario;
  const auto  readings = parse("edge,passes,reading_gf\nA,0,300\nA,60,310\nA,150,320\n");
  const auto  c        = compare_with_readings(scenario, readings);
  const auto  points   = predict(scenario, scenario.edges.at(0), {{1, 0.0}, {1, 60.0}, {3, 50.0}}).points;
  REQUIRE(c.moments.size() == 3);
  REQUIRE(points.size() == 3);
  for (std::size_t i = 0; i < 3; ++i) CHECK(same_bits(c.moments[i].predicted_N, points[i].reading_N));
  CHECK(c.moments[0].predicted_N < c.moments[1].predicted_N);
  CHECK(c.moments[1].predicted_N < c.moments[2].predicted_N);
}

TEST_CASE("a microscope and a balance are compared with the model too", "[readings][comparison]") {
  Scenario scenario              = yard().scenario;
  scenario.model.scatter.edge_cv = 0.2;
  const auto readings            = parse_readings(
                 "r.csv",
                 "edge,step,passes,reading_gf,apex_radius_um,apex_radius_sd_um,recession_um,recession_sd_um,mass_loss_mg,excluded\n"
                            "A,,60,,2,0.2,,,,\nA,,60,,4,0.8,,,,\nA,,60,,9,0.1,,,,out of focus\nA,,60,,,,20,1,3,\nB,new,,310,,,,,,\n",
                 scenario);
  const Comparison c = compare_with_readings(scenario, readings);
  // nobody read edge A on the tester: it has no place among readings
  REQUIRE(c.moments.size() == 1);
  CHECK(c.moments[0].edge == "B");
  REQUIRE(c.measures.size() == 3);
  const TrackPoint p = predict(scenario, scenario.edges.at(0), {{1, 60.0}}).points.front();
  // both radii are known to 10 % and 20 %: weights 100 and 25
  const auto& radius = c.measures[0];
  CHECK(radius.kind == Measured::apex_radius);
  CHECK(radius.edge == "A");
  CHECK(radius.count == 2);
  constexpr double rounding = 1e-13;  // some logarithms and exponentials
  CHECK(radius.measured ==
        Approx(std::exp((100.0 * std::log(2.0) + 25.0 * std::log(4.0)) / 125.0)).epsilon(rounding));
  CHECK(radius.predicted == p.apex_radius_um);
  CHECK(radius.ratio == Approx(radius.measured / p.apex_radius_um).epsilon(rounding));
  CHECK(radius.in_sd ==
        Approx(std::log(radius.ratio) / std::sqrt(1.0 / 125.0 + std::log(1.04))).epsilon(rounding));
  CHECK(c.measures[1].kind == Measured::recession);
  CHECK(c.measures[1].predicted == p.tip_setback_um);
  const auto& mass = c.measures[2];
  CHECK(mass.kind == Measured::mass_loss);
  CHECK(mass.predicted == p.mass_loss_mg);
  // the balance alone is uncertain of it, as no uncertainty is stated
  CHECK(mass.in_sd == Approx(std::log(mass.ratio) / (unstated_mass_loss_sd_mg / 3.0)).epsilon(rounding));
  const std::string text = comparison_text(c);
  CHECK(text.find("apex radius") != std::string::npos);
  CHECK(text.find("of these 3 lie beyond") != std::string::npos);
  CHECK(text.find("nan") == std::string::npos);
}

TEST_CASE("where every reading is excluded nothing is compared", "[readings][comparison]") {
  const auto       readings = parse("edge,step,reading_gf,excluded\nA,new,300,dropped\nB,new,310,dropped\n");
  const Comparison c        = compare_with_readings(yard().scenario, readings);
  CHECK(c.readings == 0);
  CHECK(c.excluded == 2);
  CHECK(c.beyond_2sd == 0);
  for (const ComparedMoment& m : c.moments) {
    CHECK(std::isnan(m.measured_N));
    CHECK(std::isnan(m.ratio));
    CHECK(std::isnan(m.in_sd));
    CHECK_FALSE(std::isnan(m.predicted_N));
  }
  std::string text = comparison_text(c);
  std::replace(text.begin(), text.end(), '\n', ' ');  // wherever its lines break
  text.erase(std::unique(text.begin(), text.end(), [](char a, char b) { return a == ' ' && b == ' '; }),
             text.end());
  CHECK(text.find("None of them can be compared.") != std::string::npos);
  CHECK(text.find("nan") == std::string::npos);
}

TEST_CASE("an edge without a prediction is named, and the others are compared", "[readings][comparison]") {
  Scenario scenario =
      load(
          shop(
              "{ hone = \"lapping film, 0.02 µm\", strokes = 1, after_burr = true, max_strokes = 1 },\n  { read = \"new\" },") +
          "[edge.B]\ntool = \"iron\"\nsteps = [ { read = \"new\" } ]\n")
          .scenario;
  const auto readings = parse_readings("r.csv", "edge,step,reading_gf\nA,new,300\nB,new,310\n", scenario);
  const auto c        = compare_with_readings(scenario, readings);
  REQUIRE(c.moments.size() == 2);
  CHECK(std::isnan(c.moments[0].predicted_N));
  CHECK(std::isnan(c.moments[0].ratio));
  CHECK_FALSE(std::isnan(c.moments[1].ratio));
  CHECK(c.mean_ratio == Approx(c.moments[1].ratio).epsilon(1e-15));  // one logarithm and its exponential
  REQUIRE(c.failed.size() == 1);
  CHECK(c.failed[0].find("edge \"A\", step 1") == 0);
}

TEST_CASE("comparisons do not depend on the number of threads", "[readings][comparison][threads]") {
  const auto& scenario = yard().scenario;
  const auto  readings = invent_readings(scenario, 5, {"K"}, {"N"});
  const auto  one      = compare_with_readings(scenario, readings, 1),
             many      = compare_with_readings(scenario, readings, 7);
  REQUIRE(one.moments.size() == many.moments.size());
  for (std::size_t i = 0; i < one.moments.size(); ++i)
    CHECK(same_bits(one.moments[i].in_sd, many.moments[i].in_sd));
  CHECK(same_bits(one.typical_error, many.typical_error));
}

TEST_CASE("invented readings follow from their seed alone", "[readings][invented]") {
  const auto text = [](unsigned long long seed, int threads) {
    return readings_text(invent_readings(yard().scenario, seed, {"K", "M"}, {"N-1", "N-2"}, threads),
                         yard().scenario, {});
  };
  CHECK(text(7, 1) == text(7, 1));
  CHECK(text(7, 2) == text(7, 1));
  CHECK(text(7, 7) == text(7, 1));
  CHECK(text(8, 1) != text(7, 1));
  // they are readings: the parser takes them
  CHECK(parse(text(7, 0)).size() == 3);
}

namespace {

// many edges, each read once or several times as new, with the scatter stated and no other
std::vector<Reading> sample(std::size_t edges, int replicates, const std::string& scatter,
                            std::size_t operators, std::size_t lots) {
  std::string text = iron + "[scatter]\nreading_cv = 0\nedge_cv = 0\noperator_cv = 0\nlot_cv = 0\n";
  text             = with(text, scatter.substr(0, scatter.find(' ')) + " = 0\n", scatter + "\n");
  for (std::size_t i = 0; i < edges; ++i) {
    text += fmt::format("[edge.E{:05}]\ntool = \"iron\"\nsteps = [ {{ read = \"new\", replicates = {} }} ]\n",
                        i, replicates);
  }
  const Loaded loaded = load(text);
  const auto   names  = [](std::size_t n) {
    std::vector<std::string> out;
    for (std::size_t i = 0; i < n; ++i) out.push_back(fmt::format("{}", i));
    return out;
  };
  return invent_readings(loaded.scenario, 20811, names(operators), names(lots));
}

double log_sd(double cv) { return std::sqrt(std::log(1.0 + cv * cv)); }

struct Moments {
  double mean, sd;
};
Moments moments(const std::vector<double>& x) {
  double sum = 0.0, squares = 0.0;
  for (const double v : x) sum += v;
  const double mean = sum / static_cast<double>(x.size());
  for (const double v : x) squares += (v - mean) * (v - mean);
  return {mean, std::sqrt(squares / static_cast<double>(x.size() - 1))};
}

// The mean of n normal values has the standard deviation σ/√n, their standard deviation about σ/√(2(n−1)). Five of those
// are allowed: a right sampler fails one time in a million, and the seed is fixed. The coefficients of variation below
// are large, so that a standard deviation taken for them would be noticed.
void check_normal(const std::vector<double>& x, double sigma) {
  const auto n = static_cast<double>(x.size());
  const auto m = moments(x);
  CHECK(std::abs(m.mean) < 5.0 * sigma / std::sqrt(n));
  CHECK(std::abs(m.sd - sigma) < 5.0 * sigma / std::sqrt(2.0 * (n - 1.0)));
}

}  // namespace

TEST_CASE("invented readings scatter as the configuration states", "[readings][invented]") {
  const Loaded plain   = load(shop("{ read = \"new\" },"));
  const auto&  tool    = plain.scenario.model.tools.at(0);
  const auto   tester  = tester_law(plain.scenario.model.tester);
  const double half    = 0.5 * laws::degree * tool.micro_bevel_deg;
  const double typical = tester.reading_N(tool.apex_radius_um, tool.burr_um, half);
  const auto   factors = [&](const std::vector<Reading>& readings) {
    std::vector<double> logs;
    for (const Reading& r : readings) logs.push_back(std::log(r.reading_N / typical));
    return logs;
  };
  SECTION("of repeated readings") {
    check_normal(factors(sample(10, 1000, "reading_cv = 0.5", 2, 2)), log_sd(0.5));
  }
  SECTION("of operators, each at one edge") {
    check_normal(factors(sample(4000, 1, "operator_cv = 1", 4000, 1)), log_sd(1.0));
  }
  SECTION("of filament lots, each at one edge") {
    check_normal(factors(sample(4000, 1, "lot_cv = 0.6", 1, 4000)), log_sd(0.6));
  }
  SECTION("of edges, on the apex radius") {
    // the tester's law solved for the radius that gives the reading
    const double        start = tester.reading_N(0.0, 0.0, half);
    const double        room  = tester.saturation_N - start;
    std::vector<double> logs;
    for (const Reading& r : sample(4000, 1, "edge_cv = 0.8", 2, 2)) {
      const double above = r.reading_N - start;
      logs.push_back(std::log(above / (1.0 - above / room) / tester.slope_N_per_um / tool.apex_radius_um));
    }
    check_normal(logs, log_sd(0.8));
  }
  SECTION("not at all where it states none") {
    // a product of factors that are all exactly 1
    for (const Reading& r : sample(3, 2, "reading_cv = 0", 2, 2)) CHECK(same_bits(r.reading_N, typical));
  }
  SECTION("operators and lots take turns") {
    std::map<std::string, int> operators, lots;
    for (const Reading& r : sample(12, 1, "reading_cv = 0.1", 3, 4)) {
      ++operators[r.operator_name];
      ++lots[r.filament_lot];
    }
    CHECK(operators == std::map<std::string, int>{{"0", 4}, {"1", 4}, {"2", 4}});
    CHECK(lots == std::map<std::string, int>{{"0", 3}, {"1", 3}, {"2", 3}, {"3", 3}});
  }
}

TEST_CASE("readings are not invented for a history that fails", "[readings][invented]") {
  const Loaded loaded = load(shop(
      "{ hone = \"lapping film, 0.02 µm\", strokes = 1, after_burr = true, max_strokes = 1 },\n  { read = \"new\" },"));
  const Error  error  = error_of([&] { (void)invent_readings(loaded.scenario, 1, {"K"}, {"N"}); });
  CHECK(error.exit() == Exit::integration);
  CHECK(codes(error) == std::vector<std::string>{"no-convergence"});
}
