// SPDX-License-Identifier: MIT
#include "sim/studies/compare.hpp"

#include <tuple>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

Exit compare(const Arguments& arguments) {
  const Campaign campaign = load_campaign_file(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  check_outputs(arguments, campaign, {"out", "csv", "json"});
  const auto      ensemble = ensemble_of(arguments, loaded);
  CompareSettings settings;
  std::tie(settings.life.limit_name, settings.life.limit_N) = limit_of(arguments, loaded);
  settings.life.passes  = static_cast<double>(arguments.integer("passes", 5000, 1, 10'000'000));
  settings.life.seed    = static_cast<unsigned long long>(arguments.integer("seed", 1, 0, 2'000'000'000));
  settings.life.threads = static_cast<int>(arguments.integer("threads", 0, 0, 4096));
  settings.tool         = arguments.text("tool").value_or("");
  settings.margin       = arguments.number("margin", 10.0, 0.1, 100.0) / 100.0;
  Comparing result;
  {
    Progress bar("comparing", arguments.has("quiet"));
    result = compare_ways(loaded.scenario, loaded.workshop, ensemble, edges_of(arguments, loaded.scenario),
                          campaign.readings, settings,
                          [&](std::size_t done, std::size_t all) { bar.show(done, all); });
  }
  deliver(arguments, campaign, compare_answer(result, loaded.workshop, ensemble),
          std::to_string(settings.life.seed));
  return Exit::done;
}

}  // namespace arris::cli
