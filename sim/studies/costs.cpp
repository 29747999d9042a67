// SPDX-License-Identifier: MIT
#include "sim/studies/costs.hpp"

#include <algorithm>

namespace arris {

void CostParts::add(const CostParts& other, double times) {
  working_min += times * other.working_min;
  handling_min += times * other.handling_min;
  flatten_min += times * other.flatten_min;
  media += times * other.media;
  strops += times * other.strops;
  flatten += times * other.flatten;
}

CostParts StepCost::parts_for(double count) const {
  CostParts out = once;
  out.add(per_count, count);
  return out;
}

std::vector<StepMaterial> CostTable::materials_of(const Step& step) const {
  const auto medium = [&](int index) -> std::vector<StepMaterial> {
    const auto& m = model_.media[static_cast<std::size_t>(index)];
    return {{.name = m.name, .family = m.family}};
  };
  if (const auto* hone = std::get_if<HoneStep>(&step)) return medium(hone->medium);
  if (const auto* back = std::get_if<BackStep>(&step)) return medium(back->medium);
  const auto* strop = std::get_if<StropStep>(&step);
  if (strop == nullptr) return {};
  std::vector<StepMaterial> out{{.name     = model_.backings[static_cast<std::size_t>(strop->backing)].name,
                                 .family   = {},
                                 .of_strop = true}};
  const auto&               compound = model_.compounds[static_cast<std::size_t>(strop->compound_index)];
  if (compound.name != "none") out.push_back({.name = compound.name, .family = {}, .of_strop = true});
  return out;
}

void CostTable::add_material(StepCost& cost, const StepMaterial& material, bool taken_up) {
  const Price* price = workshop_.price_of(material.name, material.family);
  if (price == nullptr) {
    if (std::find(unpriced_.begin(), unpriced_.end(), material.name) == unpriced_.end())
      unpriced_.push_back(material.name);
    return;
  }
  if (taken_up) cost.once.handling_min += price->soak_min + price->clean_min;
  if (price->flatten_every_strokes > 0.0) {
    cost.per_count.flatten_min += price->flatten_min / price->flatten_every_strokes;
    cost.per_count.flatten += price->flatten_price / price->flatten_every_strokes;
    costs_money_ = costs_money_ || price->flatten_price > 0.0;
  }
  if (price->life_strokes > 0.0) {
    (material.of_strop ? cost.per_count.strops : cost.per_count.media) += price->price / price->life_strokes;
    cost.per_count.handling_min += price->change_min / price->life_strokes;
    costs_money_ = costs_money_ || price->price > 0.0;
  }
}

StepCost CostTable::of(const Step& step, bool taken_up) {
  const Pace& pace = workshop_.pace;
  StepCost    cost;
  if (taken_up) cost.once.handling_min = pace.step_min;
  const auto materials = materials_of(step);
  if (!materials.empty())
    cost.per_count.working_min =
        1.0 / (materials.front().of_strop ? pace.laps_per_minute : pace.strokes_per_minute);
  for (const StepMaterial& material : materials) add_material(cost, material, taken_up);
  if (const auto* dress = std::get_if<DressStep>(&step)) {
    const auto&  medium = model_.media[static_cast<std::size_t>(dress->medium)];
    const Price* price  = workshop_.price_of(medium.name, medium.family);
    cost.once.flatten_min += price != nullptr ? price->flatten_min : Price{}.flatten_min;
    if (price != nullptr) {
      cost.once.flatten += price->flatten_price;
      costs_money_ = costs_money_ || price->flatten_price > 0.0;
    }
  }
  return cost;
}

}  // namespace arris
