// SPDX-License-Identifier: MIT
#include "sim/input/scenario_loader.hpp"
#include "sim/wording.hpp"

namespace arris {

void ScenarioLoader::read_workshop() {
  Workshop& workshop = loaded_.workshop;
  read_single("workshop", workshop.pace);
  read_entries("limit", workshop.limits);
  read_entries("price", workshop.prices);
}

// a price for something that no step uses is as a rule misspelt
void ScenarioLoader::check_prices() {
  for (const Entry& entry : catalogue_.entries("price")) {
    std::vector<std::string> known;
    for (const auto& medium : model().media) known.insert(known.end(), {medium.name, medium.family});
    for (const auto& backing : model().backings) known.push_back(backing.name);
    for (const auto& compound : model().compounds) known.push_back(compound.name);
    const bool used = std::any_of(known.begin(), known.end(), [&](const std::string& name) {
      return folded(name) == folded(entry.name);
    });
    if (used) continue;
    const auto& [document, table] = entry.layers.back();
    findings_.warn(*document, *table,
                   {.code = "unused-price",
                    .what = fmt::format("no step uses \"{}\", so its price has no effect", entry.name),
                    .next = did_you_mean(entry.name, known)});
  }
}

}  // namespace arris
