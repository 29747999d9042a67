// SPDX-License-Identifier: MIT
#include "sim/studies/sweep.hpp"

#include <algorithm>
#include <charconv>
#include <filesystem>
#include <memory>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/input/files.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/columns.hpp"
#include "sim/output/sweep_file.hpp"
#include "sim/output/terminal.hpp"
#include "sim/studies/sweep_questions.hpp"

namespace arris::cli {
namespace {

constexpr std::size_t most_numbers_in_memory = 20'000'000;

std::string meant(const std::string& word, const std::vector<std::string>& known) {
  const std::string close = nearest(word, known);
  return close.empty() ? std::string{} : fmt::format("Did you mean \"{}\"?", close);
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
                            .allowed = listed(known, 20),
                            .next    = meant(name, known)});
}

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
                              .allowed = listed(known),
                              .next    = meant(*name, known)});
  }
  if (question != nullptr) {
    for (const EdgePlan& plan : scenario.edges) {
      if (std::any_of(plan.steps.begin(), plan.steps.end(), question->is_about)) return plan;
    }
  }
  return scenario.edges.front();
}

SweepShard shard_of(const Arguments& arguments, const SweepGrid& grid) {
  SweepShard shard;
  const auto text = arguments.text("shard");
  if (!text) return shard;
  const auto slash = text->find('/');
  const auto read  = [&](std::size_t from, std::size_t to, std::size_t& value) {
    const char* last        = text->data() + to;
    const auto [end, error] = std::from_chars(text->data() + from, last, value);
    return error == std::errc{} && end == last;
  };
  if (slash == std::string::npos || !read(0, slash, shard.index) ||
      !read(slash + 1, text->size(), shard.count) || shard.index < 1 || shard.index > shard.count ||
      shard.count > grid.chunks()) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("--shard {} is no share of this sweep", printable(*text)),
                              .allowed = fmt::format("1/N … N/N with N up to {}", grid.chunks()),
                              .cause   = "Shares are made of whole blocks of rows."});
  }
  if (!arguments.has("out") || arguments.has("csv") || arguments.has("json")) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = "a share goes to a file of its own with --out, and has no table yet",
                              .next = "Give --out, leave --csv and --json to `arris merge`."});
  }
  return shard;
}

std::string rests_on(const Loaded& loaded) {
  const auto fitted = std::count_if(loaded.origins.begin(), loaded.origins.end(), [](const auto& origin) {
    return origin.second.status.rfind("fitted", 0) == 0;
  });
  if (fitted == 0)
    return "Rests on the configuration and the shipped defaults, most of which are estimates; no parameter "
           "was fitted to "
           "readings.";
  return fmt::format(
      "Rests on the configuration, with {} values fitted to readings, and on shipped defaults, most of which "
      "are "
      "estimates.",
      fitted);
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
        throw Error(Exit::usage, {.code    = "bad-option",
                                  .what    = fmt::format("{} is no input of the question {} about this edge",
                                                         axis.path, question->name),
                                  .allowed = listed(paths),
                                  .next    = "Leave --question out to sweep inputs of your own."});
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
        throw Error(Exit::usage,
                    {.code = "given-twice", .what = fmt::format("--output names {} twice", name)});
      d.outputs.push_back(output_of(name));
    }
    if (d.outputs.empty())
      throw Error(Exit::usage, Diagnostic{.code = "bad-option", .what = "--output names nothing"});
    d.moment = sweep_moment(arguments.text("at").value_or("end"));
  }
  d.limit_gf = laws::in_gram_force(limit_of(arguments, loaded).second);
  d.rests_on = rests_on(loaded);
  return d;
}

}  // namespace

Exit sweep(const Arguments& arguments) {
  const bool           quiet   = arguments.has("quiet");
  const int            threads = static_cast<int>(arguments.integer("threads", 0, 0, 4096));
  const auto           inputs  = arguments.texts("over");
  const SweepQuestion* question =
      arguments.has("question") ? &sweep_question(*arguments.text("question")) : nullptr;
  if (question == nullptr && (inputs.empty() || inputs.size() > 2)) {
    std::vector<std::string> names;
    for (const SweepQuestion& q : sweep_questions()) names.emplace_back(q.name);
    throw Error(
        Exit::usage,
        {.code    = "bad-sweep",
         .what    = inputs.empty() ? "nothing is said to be swept"
                                   : fmt::format("{} inputs are swept at once", inputs.size()),
         .allowed = "one or two inputs",
         .next = "Give --over \"PATH=LOW:HIGH:POINTS\", or --question with one of " + listed(names) + "."});
  }
  for (const char* option : {"output", "at"}) {
    if (question == nullptr || !arguments.has(option)) continue;
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("--{} does not go with --question", option),
                              .next = "A question has its own outputs and moment."});
  }
  if (question == nullptr && arguments.has("step"))
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = "--step tells what a question is about, and there is none",
                              .next = "Write the step into the input: --over \"step.5.laps=0:60:61\"."});

  auto materials = materials_in(inputs);
  // every wood, unless it is said which
  if (question != nullptr && std::string(question->name) == "wood" && materials.empty())
    materials.push_back({"wood", "", -1});
  const Campaign  campaign = load_campaign_file(*arguments.text("FILE"), materials);
  const Loaded&   loaded   = campaign.loaded;
  const EdgePlan& plan     = chosen_edge(arguments, loaded.scenario, question);
  check_outputs(arguments, campaign, {"out", "csv", "json"});

  const arris::Sweep study(loaded.scenario, plan, defined(arguments, loaded, plan, question, inputs));
  const SweepGrid&   grid = study.grid();
  if (grid.members() > most_members) {
    throw Error(Exit::usage, {.code    = "too-many",
                              .what    = fmt::format("{} combinations", grid.members()),
                              .allowed = fmt::format("up to {}", most_members),
                              .next    = "Take fewer points."});
  }
  const SweepShard            shard  = shard_of(arguments, grid);
  const Provenance            origin = provenance(campaign, arguments.line, "");
  const auto&                 d      = study.definition();
  std::unique_ptr<SweepStore> store;
  SweepFile*                  file = nullptr;
  if (const auto path = arguments.text("out")) {
    auto opened = std::make_unique<SweepFile>(*path, d, shard, loaded.scenario.title, origin);
    file        = opened.get();
    store       = std::move(opened);
    if (file->resumed() > 0 && !quiet)
      fmt::print(stderr, "note: going on with {}.part, {} of {} blocks are done already\n", printable(*path),
                 file->resumed(), (grid.chunks() - shard.index) / shard.count + 1);
  } else {
    if (grid.members() * (d.outputs.size() + 1) > most_numbers_in_memory) {
      throw Error(Exit::usage,
                  {.code = "too-many",
                   .what = fmt::format("{} combinations are too many to keep in memory", grid.members()),
                   .next = "Give --out: then they go to a file as they come."});
    }
    store = std::make_unique<SweepMemory>();
  }
  {
    Progress progress("sweeping", quiet);
    study.run_into(*store, shard, threads,
                   [&](std::size_t done, std::size_t all) { progress.show(done, all); });
  }
  const auto    get      = [&](std::size_t chunk) { return store->get(chunk); };
  SweepFailures failures = count_failures(grid, shard, get);
  if (failures.count > 0) failures.cause = study.cause(failures.first_row, failures.first_column);
  const Answer answer = shard.is_whole() ? sweep_answer(d, failures, get) : shard_answer(d, shard, failures);
  if (file != nullptr) file->finish(answer, failures);
  tell(arguments, loaded.scenario.title, origin, answer);
  return failures.count < failures.members ? Exit::done : Exit::integration;
}

Exit merge(const Arguments& arguments) {
  const auto out = arguments.text("out");
  if (!out)
    throw Error(Exit::usage,
                {.code = "bad-option", .what = "the whole needs a file", .next = "Give --out FILE."});
  std::vector<std::filesystem::path> files;
  for (const std::string& file : arguments.texts("SHARE")) {
    std::error_code error;
    if (std::filesystem::equivalent(file, *out, error) && !error)
      throw Error(Exit::usage, {.code = "would-overwrite",
                                .what = "--out would overwrite a share",
                                .next = "Give the whole another name.",
                                .file = *out});
    files.emplace_back(file);
  }
  const SweepShards shards(files);
  const auto        get    = [&](std::size_t chunk) { return shards.get(chunk); };
  const Answer      answer = sweep_answer(shards.definition(), shards.failures(), get);
  shards.write(*out, answer, arguments.line);
  tell(arguments, shards.title(), shards.provenance(arguments.line), answer);
  return Exit::done;
}

}  // namespace arris::cli
