// SPDX-License-Identifier: MIT
#include "sim/simulate/simulate.hpp"

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/earlier_fit.hpp"
#include "sim/cli/loading.hpp"
#include "sim/cli/notes.hpp"
#include "sim/cli/output_files.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/simulation_files.hpp"
#include "sim/output/simulation_hdf5.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/output/terminal.hpp"
#include "sim/simulate/collapse_said.hpp"

namespace arris::cli {
namespace {

void write_invented(const Arguments& arguments, const Loaded& loaded, int threads) {
  const auto readings = ask::invented(arguments, loaded, threads);
  write_text(
      *arguments.text("invent-readings"),
      readings_text(
          readings, loaded.scenario,
          {"Invented readings, not measured: drawn from a model by arris, with reading, edge, operator and lot scatter.",
           fmt::format("Repeat with: {}", arguments.line)}));
}

}  // namespace

Exit simulate(const Arguments& arguments) {
  const bool     quiet    = arguments.has("quiet");
  const int      threads  = ask::threads_of(arguments);
  const Campaign campaign = ask::at_fit(load_within_limits(arguments), fit_of(arguments));
  const Loaded&  loaded   = campaign.loaded;
  ask::require_rates(loaded, arguments.has("fit"));
  tell_warnings(arguments, loaded);
  const auto held = hold_outputs(arguments, campaign, {"out", "csv", "json", "invent-readings"});
  if (arguments.has("seed") && !arguments.has("invent-readings")) {
    throw Error(Exit::usage, {.code  = "bad-option",
                              .what  = "--seed has nothing to draw",
                              .cause = "A simulation itself draws nothing.",
                              .next  = "Use it with --invent-readings FILE."});
  }

  SimulationResult result;
  {
    Progress progress("simulating", quiet);
    result = arris::simulate(loaded.scenario, threads,
                             [&](std::size_t done, std::size_t all) { progress.show(done, all); });
  }
  const auto                chosen = ask::edges_of(arguments, loaded.scenario);
  std::optional<Comparison> comparison;
  if (!campaign.readings.empty())
    comparison = compare_with_readings(loaded.scenario, campaign.readings, threads);

  const Provenance origin =
      provenance(campaign, arguments.line, arguments.text("seed").value_or(""), arguments.text("fit"));
  if (const auto path = arguments.text("out"))
    write_hdf5(*path, loaded, result, comparison, campaign.readings, origin);
  if (const auto path = arguments.text("csv")) write_text(*path, simulation_csv(loaded, result));
  if (const auto path = arguments.text("json"))
    write_text(*path, simulation_json(loaded, result, comparison, origin));
  if (arguments.has("invent-readings")) write_invented(arguments, loaded, threads);

  const auto to_stdout = [&](const char* option) { return arguments.text(option).value_or("") == "-"; };
  if (!quiet && arguments.prints && !to_stdout("csv") && !to_stdout("json") &&
      !to_stdout("invent-readings")) {
    if (!loaded.scenario.title.empty()) fmt::print("{}\n", wrapped(loaded.scenario.title));
    fmt::print("{}\n", wrapped(simulation_answer(loaded, result)));
    fmt::print("{}\n", simulation_overview(loaded, result));
    if (!arguments.has("brief")) {
      for (const std::size_t i : chosen) fmt::print("{}\n", edge_text(loaded, result.edges[i]));
    }
    if (comparison)
      fmt::print("Measured against predicted ({})\n{}\n", printable(campaign.readings_path),
                 comparison_text(*comparison));
    if (!arguments.has("brief")) fmt::print("{}", wrapped(collapse_said(loaded.scenario)));
    fmt::print("{}", wrapped("Rests on: " + origin.rests_on));
  }
  if (result.usable()) return Exit::done;
  for (const EdgeResult& edge : result.edges) {
    if (!edge.message.empty()) tell(wrapped("error: " + edge.message));
  }
  return Exit::integration;
}

}  // namespace arris::cli
