// SPDX-License-Identifier: MIT
#include "sim/studies/weigh.hpp"

#include "sim/cli/commands.hpp"
#include "sim/input/document.hpp"
#include "sim/input/files.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

Exit weigh(const Arguments& arguments) {
  const int      threads  = static_cast<int>(arguments.integer("threads", 0, 0, 4096));
  const Campaign campaign = load_campaign_file(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  require_readings(campaign, *arguments.text("FILE"));
  check_outputs(arguments, campaign, {"out", "csv", "json"});
  auto names = wear_law_names(loaded.scenario.model);
  if (const auto given = arguments.texts("law"); !given.empty())
    names = names_in(fmt::format("{}", fmt::join(given, ",")));
  if (names.empty()) {
    throw Error(Exit::usage, {.code    = "unknown-law",
                              .what    = "--law names no law",
                              .allowed = listed(wear_law_names(loaded.scenario.model))});
  }

  FitSettings settings = loaded.fit;
  settings.starts      = static_cast<int>(arguments.integer("starts", 4, 1, 10000));
  if (settings.free.empty()) settings.free = usual_parameters(loaded.scenario);
  std::vector<WeighedLaw> laws;
  {
    Progress progress("weighing", arguments.has("quiet"));
    laws = arris::weigh(loaded.scenario, campaign.readings, settings, names, threads,
                        [&](std::size_t done, std::size_t all) { progress.show(done, all); });
  }
  deliver(arguments, campaign, weigh_answer(laws, printable(campaign.readings_path)),
          std::to_string(settings.seed));
  return laws.front().usable ? Exit::done : Exit::not_converged;
}

}  // namespace arris::cli
