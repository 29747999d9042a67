// SPDX-License-Identifier: MIT
#include <mutex>
#include <vector>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/loading.hpp"
#include "sim/output/outline_text.hpp"
#include "sim/output/terminal.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/slips_of_unit.hpp"
#include "sim/stop.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris::cli {
namespace {

void tell_notes(const Loaded& loaded) {
  for (const Diagnostic& warning : loaded.warnings) tell("note: " + warning.text());
}

std::vector<FollowedEdge> followed_edges(const Scenario& scenario, const std::vector<std::size_t>& chosen,
                                         bool quiet) {
  std::vector<FollowedEdge> edges(chosen.size());
  Progress                  progress("following outlines", quiet);
  std::mutex                speaking;
  std::size_t               done = 0;
  for_each_index(chosen.size(), 0, [&](std::size_t i) {
    stop_if_wished();
    edges[i].plan    = &scenario.edges[chosen[i]];
    edges[i].history = outline_history(scenario, *edges[i].plan);
    const std::scoped_lock lock(speaking);
    progress.show(++done, chosen.size());
  });
  return edges;
}

Exit check_against_outline(const Arguments& arguments, const Scenario& scenario) {
  const bool quiet = arguments.has("quiet");
  const auto edges = followed_edges(scenario, ask::edges_of(arguments, scenario), quiet);
  fmt::print("{}", wrapped(outline_answer(edges)));
  Exit exit = Exit::done;
  for (const FollowedEdge& edge : edges) {
    if (!quiet) fmt::print("\n{}", outline_table(edge));
    if (edge.history.status.usable()) continue;
    exit = Exit::integration;
    tell(wrapped("error: " + edge.history.message));
  }
  return exit;
}

}  // namespace

Exit check(const Arguments& arguments) {
  const Campaign campaign = load_within_limits(arguments);
  const Loaded&  loaded   = campaign.loaded;
  if (arguments.has("outline")) {
    ask::require_blades(loaded.scenario, "a check against the outline",
                        "A specimen has no edge whose outline could be followed.");
    tell_notes(loaded);
    return check_against_outline(arguments, loaded.scenario);
  }
  if (arguments.has("edge")) {
    throw Error(Exit::usage, {.code  = "bad-option",
                              .what  = "--edge has nothing to choose",
                              .cause = "A configuration is checked as a whole.",
                              .next  = "Use it with --outline."});
  }
  if (!arguments.has("quiet")) fmt::print("{}\n", resolved_toml(loaded, true));
  tell_notes(loaded);
  const std::vector<std::string> slips = slips_of_unit(loaded.scenario, campaign.readings);
  for (const std::string& slip : slips) fmt::print(stderr, "{}", wrapped("note: " + slip));
  std::size_t steps = 0;
  for (const EdgePlan& plan : loaded.scenario.edges) steps += plan.steps.size();
  const auto count = [](std::size_t n, const char* what) { return counted(static_cast<long long>(n), what); };
  std::string verdict = fmt::format("{} is right: {} with {}", printable(*arguments.text("FILE")),
                                    count(loaded.scenario.edges.size(), "edge"), count(steps, "step"));
  if (!campaign.readings_path.empty())
    verdict += fmt::format(", {} in {}", count(campaign.readings.size(), "reading"),
                           printable(campaign.readings_path));
  if (const std::size_t notes = loaded.warnings.size() + slips.size(); notes > 0)
    verdict += fmt::format("; {} to look at, above", count(notes, "note"));
  // as a remark, so that the output stays a configuration
  fmt::print("{}{}.\n", arguments.has("quiet") ? "" : "# ", verdict);
  return Exit::done;
}

}  // namespace arris::cli
