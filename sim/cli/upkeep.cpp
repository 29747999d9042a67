// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/fit_reader.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {
namespace {

const EdgePlan& chosen_edge(const Arguments& arguments, const Scenario& scenario) {
  if (!arguments.has("edge")) {
    // the first that works in wood
    for (const EdgePlan& plan : scenario.edges) {
      if (std::any_of(plan.steps.begin(), plan.steps.end(),
                      [](const Step& s) { return std::holds_alternative<CutStep>(s); }))
        return plan;
    }
    return scenario.edges.front();
  }
  return scenario.edges[edges_of(arguments, scenario).front()];
}

void set_limit(const Arguments& arguments, const Loaded& loaded, UpkeepSettings& settings) {
  const auto [name, newton] = limit_of(arguments, loaded);
  settings.limit_gf         = laws::in_gram_force(newton);
  if (loaded.workshop.limit_named(name) != nullptr) settings.task = name;
}

void set_least(const Arguments& arguments, UpkeepSettings& settings) {
  static const std::vector<std::pair<std::string, Least>> kinds = {
      {"time", Least::minutes}, {"money", Least::money}, {"steel", Least::steel}, {"mix", Least::mix}};
  std::vector<std::string> known;
  for (const auto& [name, least] : kinds) known.push_back(name);
  const bool        mixes = arguments.has("minutes-per-mm");
  const std::string given = arguments.text("least").value_or(mixes ? "mix" : "time");
  const auto        found = std::find(known.begin(), known.end(), given);
  if (found == known.end()) {
    const std::string close = nearest(given, known);
    throw Error(Exit::usage, {.code    = "bad-option",
                              .what    = fmt::format("--least {} is not known", printable(given)),
                              .allowed = listed(known),
                              .next    = close.empty() ? "" : fmt::format("Did you mean {}?", close)});
  }
  settings.least = kinds[static_cast<std::size_t>(found - known.begin())].second;
  if (mixes != (settings.least == Least::mix)) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = "--least mix and --minutes-per-mm go together",
                              .next = "Say what a millimetre of blade is worth: --minutes-per-mm 30"});
  }
  settings.minutes_per_mm = arguments.number("minutes-per-mm", 0.0, 0.0, 1e6);
}

}  // namespace

Exit upkeep(const Arguments& arguments) {
  UpkeepSettings settings;
  settings.threads         = static_cast<int>(arguments.integer("threads", 0, 0, 4096));
  settings.most_stroppings = static_cast<int>(arguments.integer("stroppings", 10, 0, 200));
  settings.share           = 0.01 * arguments.number("share", 100.0, 1.0, 100.0);
  const int members        = static_cast<int>(arguments.integer("members", 200, 0, 100000));
  set_least(arguments, settings);
  const Campaign campaign = load_campaign_file(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  for (const Diagnostic& warning : loaded.warnings) {
    if (!arguments.has("quiet")) fmt::print(stderr, "note: {}", warning.text());
  }
  check_outputs(arguments, campaign, {"out", "csv", "json"});
  set_limit(arguments, loaded, settings);
  const EdgePlan& plan = chosen_edge(arguments, loaded.scenario);
  const auto      seed = static_cast<unsigned long long>(
      arguments.integer("seed", loaded.fit.seed, 0, 9'000'000'000'000'000'000));
  if (members == 0 && arguments.has("fit")) {
    throw Error(Exit::usage,
                Diagnostic{.code = "bad-option", .what = "--fit has nothing to do with --members 0"});
  }
  Ensemble   ensemble = single_member(loaded.scenario);
  const auto fitted   = arguments.text("fit");
  if (fitted) {
    ensemble = read_ensemble(*fitted, loaded.scenario, members);
  } else if (members > 0) {
    ensemble = prior_ensemble(loaded.scenario, loaded.fit.priors, members, seed);
  }

  UpkeepResult result = arris::upkeep(loaded.scenario, plan, loaded.workshop, settings);
  if (settings.least == Least::money && !result.costs_money) {
    throw Error(Exit::usage,
                {.code = "no-prices",
                 .what = "no wage and no price with a life is stated, so nothing costs money",
                 .next = "State wage_per_hour in [workshop], or [price.\"…\"] with life_strokes."});
  }
  if (members > 0) try_members(loaded.scenario, result, loaded.workshop, settings, ensemble);
  deliver(arguments, campaign, upkeep_answer(result, loaded.workshop, settings, ensemble),
          members > 0 && !fitted ? std::to_string(seed) : std::string{});
  return Exit::done;
}

}  // namespace arris::cli
