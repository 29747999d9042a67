// SPDX-License-Identifier: MIT
#include "sim/studies/sweep/sweep.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/input/sweep_design.hpp"
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

const SweepQuestion* question_of(const Arguments& arguments) {
  return arguments.has("question") ? &sweep_question(*arguments.text("question")) : nullptr;
}

DesignTable table_of(const Arguments& arguments) {
  const std::string file = *arguments.text("rows");
  const std::string text = read_text(file, Exit::usage);
  if (text.starts_with("PAR1"))
    throw Error(
        Exit::data,
        {.code    = "not-csv",
         .what    = fmt::format("{} is a table in Parquet, which is not read here", printable(file)),
         .allowed = "a table as CSV",
         .next =
             "Make one in Python, where pandas has a reader of Parquet: pandas.read_parquet(\"design.parquet\").to_csv(\"design.csv\", index=False).",
         .file = file});
  return {file, text};
}

// more rows than that are no design, but a table of their own
constexpr long long most_rows = most_values;

std::vector<SweepAxis> designed_inputs(const Arguments& arguments, const Loaded& loaded, const EdgePlan& plan,
                                       const std::vector<std::string>& inputs) {
  const std::string name = *arguments.text("design");
  const auto        kind = design_kind(name);
  if (!kind)
    throw Error(Exit::usage,
                {.code    = "bad-option",
                 .what    = fmt::format("{} {} is not known", arguments.shown("design"), printable(name)),
                 .allowed = "sobol or latin-hypercube"});
  const auto count = static_cast<std::size_t>(arguments.integer("count", 256, 1, most_rows));
  const auto seed  = static_cast<unsigned long long>(arguments.integer("seed", 1, 0, 2'000'000'000));
  if (inputs.size() > most_design_inputs)
    throw Error(Exit::usage, {.code    = "too-many",
                              .what    = fmt::format("{} inputs", inputs.size()),
                              .allowed = fmt::format("up to {} in a design", most_design_inputs)});
  std::vector<DesignInput> read;
  for (const std::string& input : inputs) read.push_back(design_input(input, loaded, plan));
  return at_points(read, unit_design(*kind, count, inputs.size(), seed));
}

// how many combinations a grid has, or more than are allowed
double members_of(const std::vector<SweepAxis>& axes) {
  double members = 1.0;
  for (const SweepAxis& axis : axes) members *= static_cast<double>(axis.size());
  return members;
}

void check_size(const SweepDefinition& d) {
  constexpr std::size_t most_in_row = 20'000'000;
  const double          members     = members_of(d.axes);
  if (members > static_cast<double>(most_members))
    throw Error(Exit::usage, {.code    = "too-many",
                              .what    = fmt::format("{:.0f} combinations", members),
                              .allowed = fmt::format("up to {}", most_members),
                              .next    = "Take fewer points."});
  if (d.axes.size() > 1 && members / static_cast<double>(d.axes.front().size()) > most_in_row)
    throw Error(Exit::usage, {.code    = "too-many",
                              .what    = fmt::format("{:.0f} combinations for each value of {}",
                                                     members / static_cast<double>(d.axes.front().size()),
                                                     d.axes.front().path),
                              .allowed = fmt::format("up to {}", most_in_row),
                              .next    = "Name the input with most values first."});
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
    if (arguments.has("rows") || arguments.has("design")) {
      d.design = arguments.text("design").value_or("rows");
      d.inputs = arguments.has("rows") ? table_of(arguments).axes(loaded, plan)
                                       : designed_inputs(arguments, loaded, plan, inputs);
      d.axes   = {row_axis(d.inputs.front().size())};
    } else {
      for (const std::string& input : inputs) d.axes.push_back(sweep_axis(input, loaded, plan));
    }
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
    std::vector<std::string> taken{"row", "status"};
    for (const SweepOutput& output : d.outputs) taken.push_back(output.name);
    name_apart(d.inputs.empty() ? d.axes : d.inputs, taken);
  }
  d.limit_gf = limit_of(arguments, loaded).second;
  d.rests_on = rests_on_values(loaded);
  d.misses   = loaded.scenario.beside.misses;
  return d;
}

// a design, a table of rows and a question exclude each other
void check_design_options(const Arguments& arguments) {
  const auto refuse = [&](const char* option, const char* with) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} does not go with {}", arguments.shown(option),
                                                  arguments.shown(with))});
  };
  for (const char* option : {"design", "rows"}) {
    if (arguments.has(option) && arguments.has("question")) refuse(option, "question");
  }
  for (const char* option : {"over", "design"}) {
    const bool given =
        std::string_view(option) == "over" ? !arguments.texts("over").empty() : arguments.has(option);
    if (given && arguments.has("rows")) refuse(option, "rows");
  }
  for (const char* option : {"count", "seed"}) {
    if (arguments.has(option) && !arguments.has("design"))
      throw Error(
          Exit::usage,
          {.code = "bad-option",
           .what = fmt::format("{} is given without {}", arguments.shown(option), arguments.shown("design")),
           .next = fmt::format("Give {} sobol or latin-hypercube.", arguments.shown("design"))});
  }
}

}  // namespace

std::string rests_on_values(const Loaded& loaded) {
  const auto fitted = std::count_if(loaded.origins.begin(), loaded.origins.end(), [](const auto& origin) {
    return origin.second.status.rfind("fitted", 0) == 0;
  });
  if (fitted == 0)
    return "Rests on the configuration and the shipped defaults, most of which are estimates; no parameter was fitted to readings.";
  return fmt::format(
      "Rests on the configuration, with {} values fitted to readings, and on shipped defaults, most of which are estimates.",
      fitted);
}

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
  if (question == nullptr && inputs.empty() && !arguments.has("rows")) {
    std::vector<std::string> names;
    for (const SweepQuestion& q : sweep_questions()) names.emplace_back(q.name);
    throw Error(Exit::usage,
                {.code = "bad-sweep",
                 .what = "nothing is said to be swept",
                 .next = fmt::format("Give {} \"PATH=LOW:HIGH:POINTS\", or {} with one of {}.",
                                     arguments.shown("over"), arguments.shown("question"), or_list(names))});
  }
  check_design_options(arguments);
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

  auto materials = materials_in(arguments.has("rows") ? table_of(arguments).inputs() : inputs);
  // every wood, unless it is said which
  if (question != nullptr && std::string(question->name) == "wood" && materials.empty())
    materials.push_back({"wood", "", -1});
  return materials;
}

std::unique_ptr<arris::Sweep> sweep_study(const Arguments& arguments, const Campaign& campaign) {
  const Loaded& loaded = campaign.loaded;
  require_reduced(loaded.scenario, "a sweep");
  require_blades(
      loaded.scenario, "a sweep",
      "Its inputs and outputs are those of blades; edges with steps of their own vary way and load.");
  const SweepQuestion* question = question_of(arguments);
  const EdgePlan&      plan     = chosen_edge(arguments, loaded.scenario, question);
  auto                 d        = defined(arguments, loaded, plan, question, arguments.texts("over"));
  check_size(d);
  return std::make_unique<arris::Sweep>(loaded.scenario, plan, std::move(d));
}

void check_fits_memory(const arris::Sweep& study, const SweepShard& shard, const std::string& next) {
  const SweepGrid&  grid    = study.grid();
  const std::size_t first   = grid.first_row(shard.first(grid.chunks()));
  const std::size_t end     = std::min(grid.first_row(shard.end(grid.chunks())), grid.rows);
  const std::size_t members = (end - first) * grid.columns;
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
