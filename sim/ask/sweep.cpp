// SPDX-License-Identifier: MIT
#include "sim/studies/sweep/sweep.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/columns.hpp"
#include "sim/studies/sweep/sweep_questions.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris::ask {
namespace {

constexpr std::size_t most_numbers_in_memory = 20'000'000;

const EdgePlan& chosen_edge(const Arguments& arguments, const Scenario& scenario,
                            const SweepQuestion* question) {
  if (const auto name = arguments.text("edge")) {
    std::vector<std::string> known;
    for (const EdgePlan& plan : scenario.edges) {
      if (plan.name == *name) return plan;
      known.push_back(plan.name);
    }
    throw Error(Exit::usage, {.code    = "unknown-edge",
                              .what    = fmt::format("there is no edge \"{}\"", printable(*name)),
                              .allowed = or_list(known),
                              .next    = did_you_mean(*name, known)});
  }
  if (question != nullptr) {
    for (const EdgePlan& plan : scenario.edges) {
      if (std::any_of(plan.steps.begin(), plan.steps.end(), question->is_about)) return plan;
    }
  }
  return scenario.edges.front();
}

std::string rests_on(const Loaded& loaded) {
  const auto fitted = std::count_if(loaded.origins.begin(), loaded.origins.end(), [](const auto& origin) {
    return origin.second.status.rfind("fitted", 0) == 0;
  });
  if (fitted == 0)
    return "Rests on the configuration and the shipped defaults, most of which are estimates; no parameter was fitted to readings.";
  return fmt::format(
      "Rests on the configuration, with {} values fitted to readings, and on shipped defaults, most of which are estimates.",
      fitted);
}

const SweepQuestion* question_of(const Arguments& arguments) {
  return arguments.has("question") ? &sweep_question(*arguments.text("question")) : nullptr;
}

SweepDefinition defined(const Arguments& arguments, const Loaded& loaded, const EdgePlan& plan,
                        const SweepQuestion* question, const std::vector<std::string>& inputs) {
  SweepDefinition d;
  if (question != nullptr) {
    std::optional<int> step;
    if (arguments.has("step")) step = static_cast<int>(arguments.integer("step", 1, 1, 1'000'000)) - 1;
    d = define_question(*question, loaded.scenario, plan, step, output_of);
    std::vector<std::string> paths;
    for (const SweepAxis& axis : d.axes) paths.push_back(axis.path);
    for (const std::string& input : inputs) {
      SweepAxis  axis  = sweep_axis(input, loaded, plan);
      const auto place = std::find(paths.begin(), paths.end(), axis.path);
      if (place == paths.end()) {
        throw Error(
            Exit::usage,
            {.code = "bad-option",
             .what =
                 fmt::format("{} is no input of the question {} about this edge", axis.path, question->name),
             .allowed = or_list(paths),
             .next = fmt::format("Leave {} out to sweep inputs of your own.", arguments.shown("question"))});
      }
      SweepAxis& own = d.axes[static_cast<std::size_t>(place - paths.begin())];
      own.values     = axis.values;
      own.labels     = axis.labels;
      own.choices    = axis.choices;
      if (axis.is_text()) own.own = axis.own;
    }
  } else {
    d.edge = plan.name;
    for (const std::string& input : inputs) d.axes.push_back(sweep_axis(input, loaded, plan));
    name_apart(d.axes);
    for (const std::string& name : names_in(arguments.text("output").value_or("reading_gf,apex_radius_um"))) {
      if (d.output(name) >= 0)
        throw Error(Exit::usage, {.code = "given-twice",
                                  .what = fmt::format("{} names {} twice", arguments.shown("output"), name)});
      d.outputs.push_back(output_of(name));
    }
    if (d.outputs.empty())
      throw Error(Exit::usage,
                  {.code = "bad-option", .what = fmt::format("{} names nothing", arguments.shown("output"))});
    d.moment = sweep_moment(arguments.text("at").value_or("end"));
  }
  d.limit_gf = limit_of(arguments, loaded).second;
  d.rests_on = rests_on(loaded);
  return d;
}

}  // namespace

SweepOutput output_of(const std::string& name) {
  std::vector<std::string> known{"passes_to_limit"};
  if (name == known.front())
    return {name, "1", "number of passes until the reading limit is crossed; missing where it is not", {}};
  for (const auto& column : track_columns().numbers) {
    const std::string given = column.name;
    if (given == "step" || given == "count") continue;  // of the moment, not of the edge
    if (given == name) return {given, column.units, column.long_name, column.value};
    known.push_back(given);
  }
  throw Error(Exit::usage, {.code    = "unknown-output",
                            .what    = fmt::format("there is no output \"{}\"", printable(name)),
                            .allowed = or_list(known, 20),
                            .next    = did_you_mean(name, known)});
}

std::vector<NamedMaterial> sweep_materials(const Arguments& arguments) {
  const auto           inputs   = arguments.texts("over");
  const SweepQuestion* question = question_of(arguments);
  if (question == nullptr && (inputs.empty() || inputs.size() > 2)) {
    std::vector<std::string> names;
    for (const SweepQuestion& q : sweep_questions()) names.emplace_back(q.name);
    throw Error(Exit::usage,
                {.code    = "bad-sweep",
                 .what    = inputs.empty() ? "nothing is said to be swept"
                                           : fmt::format("{} inputs are swept at once", inputs.size()),
                 .allowed = "one or two inputs",
                 .next    = fmt::format("Give {} \"PATH=LOW:HIGH:POINTS\", or {} with one of {}.",
                                        arguments.shown("over"), arguments.shown("question"), or_list(names))});
  }
  for (const char* option : {"output", "at"}) {
    if (question == nullptr || !arguments.has(option)) continue;
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} does not go with {}", arguments.shown(option),
                                                  arguments.shown("question")),
                              .next = "A question has its own outputs and moment."});
  }
  if (question == nullptr && arguments.has("step"))
    throw Error(
        Exit::usage,
        {.code = "bad-option",
         .what = fmt::format("{} tells what a question is about, and there is none", arguments.shown("step")),
         .next = fmt::format("Write the step into the input: {} \"step.5.laps=0:60:61\".",
                             arguments.shown("over"))});

  auto materials = materials_in(inputs);
  // every wood, unless it is said which
  if (question != nullptr && std::string(question->name) == "wood" && materials.empty())
    materials.push_back({"wood", "", -1});
  return materials;
}

std::unique_ptr<arris::Sweep> sweep_study(const Arguments& arguments, const Campaign& campaign) {
  const Loaded& loaded = campaign.loaded;
  require_reduced(loaded.scenario, "a sweep");
  const SweepQuestion* question = question_of(arguments);
  const EdgePlan&      plan     = chosen_edge(arguments, loaded.scenario, question);
  auto                 study    = std::make_unique<arris::Sweep>(
      loaded.scenario, plan, defined(arguments, loaded, plan, question, arguments.texts("over")));
  if (study->grid().members() > most_members) {
    throw Error(Exit::usage, {.code    = "too-many",
                              .what    = fmt::format("{} combinations", study->grid().members()),
                              .allowed = fmt::format("up to {}", most_members),
                              .next    = "Take fewer points."});
  }
  return study;
}

void check_fits_memory(const arris::Sweep& study, const std::string& next) {
  const std::size_t members = study.grid().members();
  if (members * (study.definition().outputs.size() + 1) <= most_numbers_in_memory) return;
  throw Error(Exit::usage, {.code = "too-many",
                            .what = fmt::format("{} combinations are too many to keep in memory", members),
                            .next = next});
}

SweepShard share_of(const Arguments& arguments, const SweepGrid& grid) {
  const auto text = arguments.text("shard");
  if (!text) return {};
  const auto shard = shard_of(*text);
  if (!shard || shard->count > grid.chunks()) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} {} is no share of this sweep", arguments.shown("shard"),
                                                  printable(*text)),
                              .allowed = fmt::format("1/N … N/N with N up to {}", grid.chunks()),
                              .cause   = "Shares are made of whole blocks of rows."});
  }
  return *shard;
}

}  // namespace arris::ask
