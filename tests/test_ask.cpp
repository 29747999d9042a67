// SPDX-License-Identifier: MIT
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/ask/ask.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/answer_text.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

const std::string two_ways = iron + R"([route.stones]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 20, after_burr = true },
  { hone = "hard waterstone, JIS #8000", strokes = 30 },
  { back = "hard waterstone, JIS #8000", strokes = 10 },
]
[edge.plain]
tool  = "iron"
route = "stones"
steps = [ { cut = "white oak", passes = 100, pass_m = 0.6 } ]
[edge.stropped]
tool  = "iron"
route = "stones"
steps = [
  { strop = "MDF", compound = "chromium oxide 0.5 µm", laps = 20 },
  { cut = "white oak", passes = 100, pass_m = 0.6 },
  { strop = "MDF", compound = "chromium oxide 0.5 µm", laps = 20 },
  { cut = "white oak", passes = 100, pass_m = 0.6 },
]
)";

Campaign campaign_with(const std::string& more) {
  Campaign out;
  out.loaded = load(two_ways + more);
  return out;
}

// posterior draws of one parameter, some way from what a configuration says
FittedDraws fit_of_wear(const Campaign& campaign, double best) {
  const std::vector<std::string> free = {"wear.parting_um2_per_m"};
  FittedDraws                    draws;
  draws.columns    = free;
  draws.parameters = free;
  draws.best       = {best};
  for (const double factor : {0.8, 0.9, 1.05, 1.1, 1.3}) draws.values.push_back(factor * best);
  draws.spread   = {0.1, 0.1, 0.0, 0.0};
  draws.edges    = 4;
  draws.readings = 20;
  draws.source   = "fit.h5";
  draws.given    = given_to_fit(campaign.loaded.scenario.model, free);
  return draws;
}

}  // namespace

TEST_CASE("answers are about what was fitted, whatever the configuration says of it", "[ask]") {
  constexpr double   fitted = 2e-3;  // several times the default
  const Campaign     plain = campaign_with(""), states = campaign_with("[wear]\nparting_um2_per_m = 0.002\n");
  const auto         draws = fit_of_wear(plain, fitted);
  const ask::ReadFit fit   = [&](const Scenario& scenario, int members) {
    return ensemble_of(draws, scenario, members);
  };
  Arguments arguments;
  arguments.values = {{"limit", "250"}};
  const auto text  = [](const ask::Answered& answered) { return answer_text(answered.answer); };

  arguments.command = "forecast";
  CHECK(text(ask::forecast(arguments, plain, fit, {})) == text(ask::forecast(arguments, states, fit, {})));
  arguments.command = "compare";
  CHECK(text(ask::compare(arguments, plain, fit, {})) == text(ask::compare(arguments, states, fit, {})));
  arguments.command        = "upkeep";
  arguments.values["edge"] = "stropped";
  const std::string upkeep = text(ask::upkeep(arguments, states, fit));
  CHECK(text(ask::upkeep(arguments, plain, fit)) == upkeep);
  // and without the fit it is another answer: the test can fail
  arguments.values["members"] = "0";
  CHECK(text(ask::upkeep(arguments, plain, {})).substr(0, 200) != upkeep.substr(0, 200));
}

TEST_CASE("a fit that does not say what fits best is refused", "[ask]") {
  const Campaign campaign = campaign_with("");
  auto           draws    = fit_of_wear(campaign, 2e-3);
  draws.parameters.clear();
  draws.best.clear();
  const Error error = error_of([&] { (void)ensemble_of(draws, campaign.loaded.scenario, 5); });
  CHECK(error.diagnostics().front().code == "another-campaign");
}

TEST_CASE("the mean edge of a forecast is that of a simulation, however far the members lie off",
          "[ask][forecast]") {
  const Campaign   campaign = campaign_with("");
  const Scenario&  scenario = campaign.loaded.scenario;
  ForecastSettings settings;
  settings.limit_N    = laws::in_newton(160.0);
  const Ensemble wide = prior_ensemble(scenario, {}, 200, 1);
  const auto     far  = forecast(scenario, {}, wide, {0, 1}, settings);
  const auto     near = forecast(scenario, {}, single_member(scenario), {0, 1}, settings);
  for (std::size_t e = 0; e < 2; ++e) {
    INFO(e);
    CHECK(far.edges[e].mean_passes.middle == near.edges[e].mean_passes.middle);
    CHECK(far.edges[e].fresh_N.middle == near.edges[e].fresh_N.middle);
    CHECK(far.edges[e].member_passes.size() == 200);
    // lanes against a scalar run: 2e-5 is what lanes promise
    const int  cut  = static_cast<int>(scenario.edges[e].steps.size()) - (e == 0 ? 1 : 3);
    const auto seen = predict(scenario, scenario.edges[e], {{cut - 1, not_given}});
    CHECK(far.edges[e].fresh_N.middle == Approx(seen.points.at(0).reading_N).epsilon(2e-5));
  }
}

TEST_CASE("edges are asked for by names with commas between them, and a name may have a comma of its own",
          "[ask]") {
  const Campaign campaign = campaign_with(R"([edge."chisel, plates"]
tool  = "iron"
route = "stones"
steps = [ { cut = "white oak", passes = 1, pass_m = 0.6 } ]
)");
  const auto     chosen   = [&](const std::string& text) {
    Arguments arguments;
    arguments.values["edge"] = text;
    std::vector<std::string> names;
    for (const std::size_t i : ask::edges_of(arguments, campaign.loaded.scenario))
      names.push_back(campaign.loaded.scenario.edges[i].name);
    return names;
  };
  CHECK(chosen("stropped,plain") == std::vector<std::string>{"stropped", "plain"});
  CHECK(chosen("chisel, plates") == std::vector<std::string>{"chisel, plates"});
  CHECK_THROWS_AS(chosen("chisel"), Error);
}
