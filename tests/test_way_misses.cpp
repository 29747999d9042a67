// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/law_draws.hpp"
#include "sim/input/loader.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/studies/upkeep/upkeep.hpp"
#include "tests/iron_to_fit.hpp"

namespace {

using namespace arris;

// twelve edges off two media, all stropped and read in wood
const std::string two_media = [] {
  std::string text = std::string(bench::iron_to_fit) + R"([route.stones]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 40 },
  { hone = "hard waterstone, JIS #8000", strokes = 80 },
]
[route.film]
steps = [ { hone = "lapping film, 5 µm", strokes = 60 } ]
)";
  for (int e = 1; e <= 12; ++e) {
    text += "[edge.E" + std::to_string(e) + "]\ntool = \"iron\"\nroute = \"" +
            (e % 2 == 0 ? "film" : "stones") +
            "\"\nsteps = [\n  { read = \"off the medium\", replicates = 2 },\n"
            "  { strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 20 }, { read = "
            "\"stropped\", replicates = 2 },\n"
            "  { cut = \"sugar maple\", passes = 60 }, { read = \"worn\", replicates = 2 },\n]\n";
  }
  return text;
}();

const Scenario& workshop() {
  static const Scenario scenario = load_scenario("campaign.toml", two_media).scenario;
  return scenario;
}

bool is_film(int edge) { return workshop().edges[static_cast<std::size_t>(edge)].route == "film"; }

// edges off film read `factor` times what the model says
std::vector<Reading> drawn(double factor) {
  std::vector<Reading> readings = invent_readings(workshop(), 5, {"A"}, {"lot"}, 1);
  for (Reading& r : readings) {
    if (is_film(r.edge)) r.reading_N *= factor;
  }
  return readings;
}

FitReport fitted(const std::vector<Reading>& readings) {
  std::vector<FreeParameter> free;
  for (const char* path : {"tester.slope_N_per_um", "wear.parting_um2_per_m"})
    free.push_back(free_parameter(workshop().model, path));
  FitSettings settings;
  settings.starts         = 1;
  settings.allow_for_ways = true;
  const CampaignModel model(workshop(), readings, free, settings);
  return fit_report(model, {.profiles = false, .draws = 0, .threads = 1});
}

const std::string film     = "film + thin hide on wood, chromium oxide 0.5 µm, 20 laps";
const std::string stones   = "stones + thin hide on wood, chromium oxide 0.5 µm, 20 laps";
const std::string no_strop = "film";

double miss_of(const WayMisses& known, const std::string& way) {
  for (std::size_t k = 0; k < known.ways.size(); ++k) {
    if (known.ways[k] == way) return known.miss[k];
  }
  return not_given;
}

}  // namespace

TEST_CASE("a way is what was done to an edge up to a moment, whatever it cut", "[ways]") {
  const EdgePlan& plan = workshop().edges[1];
  REQUIRE(plan.route == "film");
  CHECK(way_at(plan, {0, not_given}) == "film");
  CHECK(way_at(plan, {1, not_given}) == "film");
  CHECK(way_at(plan, {2, not_given}) == film);
  CHECK(way_at(plan, {static_cast<int>(plan.steps.size()) - 1, not_given}) == film);
  EdgePlan bare;
  bare.steps = {plan.steps[4]};
  CHECK(way_at(bare, {0, not_given}) == "as they came");
  // without a route the media say it
  EdgePlan without    = workshop().edges[0];
  without.route       = "";
  without.route_steps = 0;
  CHECK(way_at(without, {1, not_given}) == "soft waterstone, JIS #1000 + hard waterstone, JIS #8000");
  CHECK(way_at(without, {0, not_given}) == "soft waterstone, JIS #1000");
}

TEST_CASE("ways with few edges are drawn towards the model, and unknown ones have all that ways differ by",
          "[ways]") {
  WayMisses known;
  known.ways                  = {"a", "b", "c", "d"};
  known.miss                  = {0.30, -0.30, 0.30, -0.25};
  known.variance              = {1e-4, 1e-4, 0.09, 1e-4};
  constexpr std::size_t count = 20000;
  const auto            of    = [&](const std::string& way) { return drawn_way_miss(known, way, count, 3); };
  const auto sd = [](const Eigen::VectorXd& x) { return std::sqrt((x.array() - x.mean()).square().mean()); };
  CHECK(of("a").mean() == Approx(0.30).margin(0.003));
  CHECK(sd(of("a")) == Approx(0.01).epsilon(0.05));
  CHECK(of("c").mean() > 0.1);
  CHECK(of("c").mean() < 0.25);  // drawn towards none
  CHECK(sd(of("c")) < 0.3);
  CHECK(of("e").mean() == Approx(0.0).margin(0.02));
  CHECK(sd(of("e")) > 0.2);
  CHECK(sd(of("e")) < 0.6);
  CHECK(of("a") == of("a"));
  // no miss of any: little is left for one that was not read
  known.miss     = {0.0, 0.0, 0.0, 0.0};
  known.variance = {1e-4, 1e-4, 1e-4, 1e-4};
  CHECK(sd(drawn_way_miss(known, "e", count, 3)) < 0.03);
  CHECK(drawn_way_miss({}, "e", 3, 3).isZero(0.0));
}

TEST_CASE("what a way was read as is found, said, and allowed for", "[ways][forecast]") {
  const FitReport right = fitted(drawn(1.0)), off = fitted(drawn(1.4));
  REQUIRE(off.ways.is_known());
  CHECK(off.ways.ways.size() == 4);  // off the medium and stropped, of either
  // the film's edges, against those of the stones, read 1.4 times as much more as before
  const auto beside = [](const FitReport& r) { return miss_of(r.ways, film) - miss_of(r.ways, stones); };
  CHECK(beside(off) - beside(right) == Approx(std::log(1.4)).margin(0.06));
  CHECK(miss_of(off.ways, no_strop) - miss_of(right.ways, no_strop) > 0.1);
  // edges of one way do not scatter more than before, though all of them do
  CHECK(off.ways.within < 0.8);
  CHECK(off.fit.best.spread.edge * off.ways.within < 1.5 * right.fit.best.spread.edge);

  // forecasts of either way lie where its edges were read
  FittedDraws draws;
  draws.columns    = {"tester.slope_N_per_um", "wear.parting_um2_per_m"};
  draws.parameters = draws.columns;
  for (Eigen::Index j = 0; j < 2; ++j) {
    const FreeParameter p = free_parameter(workshop().model, draws.columns[static_cast<std::size_t>(j)]);
    draws.best.push_back(p.value(off.fit.best.u[j]));
  }
  for (int i = 0; i < 200; ++i) draws.values.insert(draws.values.end(), draws.best.begin(), draws.best.end());
  draws.spread         = off.fit.best.spread;
  draws.edges          = 12;
  draws.ways           = off.ways;
  draws.given          = given_to_fit(workshop().model, draws.columns);
  const Ensemble knows = ensemble_of(draws, workshop(), 200);
  CHECK(allows_for_ways(knows));
  CHECK(knows.spreads.front().edge == Approx(draws.spread.edge * off.ways.within));
  draws.ways           = {};
  const Ensemble plain = ensemble_of(draws, workshop(), 200);
  CHECK_FALSE(allows_for_ways(plain));
  ForecastSettings settings;
  settings.limit_N    = laws::in_newton(400.0);
  settings.passes     = 200.0;
  settings.threads    = 1;
  const auto fresh_of = [&](const Ensemble& e) {
    const Forecast f = forecast(at_best(workshop(), e), Workshop{}, e, {0, 1}, settings);
    return std::vector<double>{f.edges[0].fresh_N.middle, f.edges[1].fresh_N.middle};
  };
  const auto of_both = fresh_of(knows), of_model = fresh_of(plain);
  CHECK(std::log(of_both[1] / of_model[1]) == Approx(miss_of(off.ways, film)).margin(0.04));
  CHECK(std::log(of_both[0] / of_model[0]) == Approx(miss_of(off.ways, stones)).margin(0.04));

  // a fit says so
  std::vector<FreeParameter> free{free_parameter(workshop().model, "tester.slope_N_per_um"),
                                  free_parameter(workshop().model, "wear.parting_um2_per_m")};
  FitSettings                fit_settings;
  fit_settings.starts         = 1;
  fit_settings.allow_for_ways = true;
  const CampaignModel model(workshop(), drawn(1.4), free, fit_settings);
  std::string         page = fit_page(model, off, false);
  std::erase_if(page, [](char c) { return c == '\n' || c == ' '; });  // wherever its lines break
  CHECK(page.find("Besidewhatthemodelsays") != std::string::npos);
}

TEST_CASE("upkeep allows for what is missed of a way and along the passes", "[ways][upkeep]") {
  const EdgePlan& plan  = workshop().edges[1];
  Ensemble        known = single_member(workshop());
  CHECK(upkeep_misses(known, plan).empty());  // no fit
  known.edges         = 12;
  known.ways.ways     = {film, stones};
  known.ways.miss     = {0.2, -0.2};
  known.ways.variance = {1e-6, 1e-6};
  known.spreads.assign(50, known.spreads.front());
  known.values.resize(50, 0);
  const UpkeepMiss mean = mean_miss(upkeep_misses(known, plan));
  CHECK(mean.at(0.0) == Approx(0.2).margin(0.002));
  CHECK(mean.at(1e6) == Approx(0.2).margin(0.002));
  const UpkeepMiss bent{{0.0, 10.0, 20.0}, {0.0, 1.0, 0.0}};
  CHECK(bent.at(5.0) == Approx(0.5));
  CHECK(bent.at(-1.0) == 0.0);
  CHECK(bent.at(15.0) == Approx(0.5));
  CHECK(bent.at(99.0) == 0.0);

  // an edge that reads a fifth more reaches its limit sooner
  const double limit_N = laws::in_newton(250.0);
  const auto   of      = [&](const UpkeepMiss& miss) {
    return UpkeepCycle(workshop().model, upkeep_steps(plan), Workshop{}, tolerances_of(workshop()), limit_N,
                              UpkeepCycle::closest_looks, miss);
  };
  const UpkeepCycle by_model = of({}), by_readings = of(mean);
  EdgeState<double> honed = by_model.worn_to(limit_N);
  Cycle             cycle;
  REQUIRE(by_model.hone(honed, cycle).usable());
  CHECK(by_readings.reading_N(honed, 10.0) ==
        Approx(std::exp(mean.at(10.0)) * by_model.reading_N(honed, 10.0)).epsilon(1e-12));
  CHECK(by_readings.passes_within(honed, limit_N, 2000) < by_model.passes_within(honed, limit_N, 2000));
}
