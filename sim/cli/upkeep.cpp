// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/output/fit_reader.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {
namespace {

std::optional<double> as_number(const std::string& text) {
  double value            = 0.0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc{} || end != text.data() + text.size()) return std::nullopt;
  return value;
}

const EdgePlan& chosen_edge(const Arguments& arguments, const Scenario& scenario) {
  std::vector<std::string> known;
  for (const EdgePlan& plan : scenario.edges) known.push_back(plan.name);
  if (known.empty())
    throw Error(Exit::usage, Diagnostic{.code = "no-edges", .what = "the configuration has no edge"});
  const auto name = arguments.text("edge");
  if (!name) {
    // the first that works in wood
    for (const EdgePlan& plan : scenario.edges) {
      if (std::any_of(plan.steps.begin(), plan.steps.end(),
                      [](const Step& s) { return std::holds_alternative<CutStep>(s); }))
        return plan;
    }
    return scenario.edges.front();
  }
  const auto found = std::find(known.begin(), known.end(), *name);
  if (found == known.end()) {
    const std::string close = nearest(*name, known);
    throw Error(Exit::usage, {.code    = "unknown-edge",
                              .what    = fmt::format("there is no edge \"{}\"", printable(*name)),
                              .allowed = listed(known),
                              .next    = close.empty() ? "" : fmt::format("Did you mean \"{}\"?", close)});
  }
  return scenario.edges[static_cast<std::size_t>(found - known.begin())];
}

void set_limit(const Arguments& arguments, const Loaded& loaded, UpkeepSettings& settings) {
  std::vector<std::string> known;
  for (const Limit& limit : loaded.workshop.limits) known.push_back(limit.name);
  const auto given = arguments.text("limit");
  if (!given) {
    settings.limit_gf = loaded.scenario.output.reading_limit_gf;
    if (!std::isnan(settings.limit_gf)) return;
    throw Error(Exit::usage, {.code    = "no-limit",
                              .what    = "it is not said how dull the edge may get",
                              .allowed = "--limit with a reading in gf, or a task: " + listed(known),
                              .next    = "Say --limit \"bench work\", or set reading_limit_gf in [output]."});
  }
  if (const Limit* limit = loaded.workshop.limit_named(*given)) {
    settings.limit_gf = limit->reading_gf;
    settings.task     = limit->name;
    return;
  }
  const auto value = as_number(*given);
  if (!value) {
    const std::string close = nearest(*given, known);
    throw Error(Exit::usage, {.code    = "unknown-limit",
                              .what    = fmt::format("\"{}\" is neither a reading nor a task with a limit",
                                                     printable(*given)),
                              .allowed = "a reading in gf, or " + listed(known),
                              .next    = close.empty() ? "" : fmt::format("Did you mean \"{}\"?", close)});
  }
  settings.limit_gf = arguments.number("limit", *value, 1.0, 1e5);
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
