// SPDX-License-Identifier: MIT
#include "sim/input/scenario_loader.hpp"

namespace arris {

void ScenarioLoader::read_workshop() {
  Workshop& workshop = loaded_.workshop;
  read_single("workshop", workshop.pace);
  for (const Entry& entry : catalogue_.entries("limit")) {
    Limit limit;
    read_entry("limit", entry, limit);
    workshop.limits.push_back(std::move(limit));
  }
  for (const Entry& entry : catalogue_.entries("price")) {
    Price price;
    read_entry("price", entry, price);
    workshop.prices.push_back(std::move(price));
  }
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
    const std::string close       = nearest(entry.name, known);
    const auto& [document, table] = entry.layers.back();
    findings_.warn(*document, *table,
                   {.code = "unused-price",
                    .what = fmt::format("no step uses \"{}\", so its price has no effect", entry.name),
                    .next = close.empty() ? std::string{} : fmt::format("Did you mean \"{}\"?", close)});
  }
}

}  // namespace arris
