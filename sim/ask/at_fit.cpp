// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/wording.hpp"

namespace arris::ask {

Campaign at_fit(Campaign campaign, const ReadFit& fit) {
  if (!fit) return campaign;
  Scenario&      scenario = campaign.loaded.scenario;
  const Ensemble draws    = fit(scenario, 1);
  scenario                = as_read(scenario, draws);
  const std::string source =
      fmt::format("fit to {} of {}", counted(draws.readings, "measurement"),
                  counted(draws.edges, scenario.model.specimen.in_use ? "specimen" : "edge"));
  const auto mark = [&](const std::vector<std::string>& paths) {
    for (const std::string& path : paths)
      campaign.loaded.origins[path] = {.file = {}, .line = 0, .status = "fitted", .source = source};
  };
  mark(draws.paths);
  if (draws.has_laws()) mark(draws.laws.front().fitted);
  return campaign;
}

}  // namespace arris::ask
