// SPDX-License-Identifier: MIT
#include "sim/studies/sensitivity/sensitivity.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/input/sweep_design.hpp"
#include "sim/simulate/life.hpp"
#include "sim/text.hpp"

namespace arris::ask {
namespace {

// the one that is named; else the first, and of those that cut wood where a life is asked for
const EdgePlan& edge_asked_for(const Arguments& arguments, const Scenario& scenario, bool is_life) {
  if (arguments.has("edge")) return scenario.edges[edges_of(arguments, scenario).front()];
  const auto cutting = std::find_if(scenario.edges.begin(), scenario.edges.end(), cuts_wood);
  return is_life && cutting != scenario.edges.end() ? *cutting : scenario.edges.front();
}

SensitivitySettings sensitivity_settings(const Arguments& arguments, const Loaded& loaded) {
  SensitivitySettings s;
  s.output = output_of(arguments.text("output").value_or("passes_to_limit"));
  for (const char* option : {"limit", "passes"}) {
    if (!s.is_life() && arguments.has(option))
      throw Error(Exit::usage, {.code = "bad-option",
                                .what = fmt::format("{} is for passes_to_limit, not for {}",
                                                    arguments.shown(option), s.output.name)});
  }
  if (s.is_life() && arguments.has("at"))
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} does not go with passes_to_limit: an edge has one life",
                                                  arguments.shown("at"))});
  s.moment = sweep_moment(arguments.text("at").value_or("end"));
  if (s.is_life()) {
    s.limit_gf = limit_of(arguments, loaded).second;
    s.passes   = static_cast<double>(arguments.integer("passes", 5000, 1, 10'000'000));
  }
  s.base = static_cast<std::size_t>(arguments.integer("base", 1024, 16, 1 << 20));
  if ((s.base & (s.base - 1)) != 0)
    throw Error(Exit::usage,
                {.code    = "bad-option",
                 .what    = fmt::format("{} {} is no power of two", arguments.shown("base"), s.base),
                 .allowed = "16, 32, 64 … 1048576",
                 .cause   = "Only so many points of a Sobol sequence are balanced."});
  s.seed    = static_cast<unsigned long long>(arguments.integer("seed", 1, 1, 2'000'000'000));
  s.threads = threads_of(arguments);
  return s;
}

}  // namespace

Answered sensitivity(const Arguments& arguments, const Campaign& campaign, const Progress& progress) {
  const Loaded& loaded = campaign.loaded;
  const auto    texts  = arguments.texts("over");
  require_reduced(loaded.scenario, "a sensitivity analysis");
  require_blades(loaded.scenario, "a sensitivity analysis", "Its outputs are readings and lives of edges.");
  if (texts.empty() || texts.size() > most_design_inputs / 2)
    throw Error(
        Exit::usage,
        {.code    = "bad-sweep",
         .what    = texts.empty() ? "nothing is said to be varied" : fmt::format("{} inputs", texts.size()),
         .allowed = fmt::format("1 to {} inputs", most_design_inputs / 2),
         .next    = fmt::format("Give {} \"PATH=LOW:HIGH\" for each input.", arguments.shown("over"))});
  const SensitivitySettings settings = sensitivity_settings(arguments, loaded);
  const EdgePlan&           plan     = edge_asked_for(arguments, loaded.scenario, settings.is_life());
  std::vector<DesignInput>  inputs;
  std::vector<SweepAxis>    axes;
  for (const std::string& text : texts) {
    inputs.push_back(design_input(text, loaded, plan));
    axes.push_back(inputs.back().axis);
  }
  name_apart(axes);  // none twice
  const auto inputs_at = [&](const std::vector<double>& points) { return at_points(inputs, points); };
  Answer     answer    = sensitivity_answer(
             arris::sensitivity(loaded.scenario, plan, inputs.size(), inputs_at, settings, progress), settings);
  answer.rests_on = rests_on_values(loaded);
  return {std::move(answer), std::to_string(settings.seed)};
}

}  // namespace arris::ask
