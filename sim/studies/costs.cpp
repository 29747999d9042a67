// SPDX-License-Identifier: MIT
#include "sim/studies/costs.hpp"

#include <algorithm>

namespace arris {

void CostTable::add_material(StepCost& cost, const std::string& name, const std::string& family) {
  const Price* price = workshop_.price_of(name, family);
  if (price == nullptr) {
    if (std::find(unpriced_.begin(), unpriced_.end(), name) == unpriced_.end()) unpriced_.push_back(name);
    return;
  }
  if (price->flatten_every_strokes > 0.0)
    cost.minutes_per_count += price->flatten_min / price->flatten_every_strokes;
  if (price->life_strokes > 0.0) {
    cost.money_per_count += price->price / price->life_strokes;
    costs_money_ = costs_money_ || price->price > 0.0;
  }
}

StepCost CostTable::of(const Step& step, bool taken_up) {
  const Pace& pace = workshop_.pace;
  StepCost    cost;
  if (taken_up) cost.minutes = pace.step_min;
  const auto on_medium = [&](int index) {
    const auto& medium     = model_.media[static_cast<std::size_t>(index)];
    cost.minutes_per_count = 1.0 / pace.strokes_per_minute;
    add_material(cost, medium.name, medium.family);
  };
  if (const auto* hone = std::get_if<HoneStep>(&step)) on_medium(hone->medium);
  if (const auto* back = std::get_if<BackStep>(&step)) on_medium(back->medium);
  if (const auto* strop = std::get_if<StropStep>(&step)) {
    cost.minutes_per_count = 1.0 / pace.laps_per_minute;
    add_material(cost, model_.backings[static_cast<std::size_t>(strop->backing)].name, {});
    const auto& compound = model_.compounds[static_cast<std::size_t>(strop->compound_index)];
    if (compound.name != "none") add_material(cost, compound.name, {});
  }
  if (const auto* dress = std::get_if<DressStep>(&step)) {
    const auto&  medium = model_.media[static_cast<std::size_t>(dress->medium)];
    const Price* price  = workshop_.price_of(medium.name, medium.family);
    cost.minutes += price != nullptr ? price->flatten_min : Price{}.flatten_min;
  }
  return cost;
}

}  // namespace arris
