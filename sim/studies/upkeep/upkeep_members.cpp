// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <span>

#include "sim/parallel.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/upkeep/search_task.hpp"

namespace arris {
namespace {

/// Grinding for a member of an ensemble, at the width of land at which the model itself grinds under the routine.
PeriodRules rules_under(const Routine& routine, const UpkeepResult& result, const UpkeepCycle& cycle,
                        const Pace& pace) {
  PeriodRules rules = upkeep_search::grinding_rules(cycle, pace);
  rules.grinds      = result.land_per_depth > 0.0;
  // half a honing early, so that the model itself grinds after as many honings
  const Period& period = routine.period;
  rules.depth_limit_um = period.depth_um * std::sqrt(1.0 - 0.5 / std::max(1, period.honings));
  return rules;
}

/// The depths up to grinding at which cycles are worked out, from 0.
std::vector<double> depths_under(const Routine& routine, const UpkeepResult& result, bool grinds) {
  std::vector<double> depths;
  for (const double depth : result.depths_um) {
    if (depth < routine.period.depth_um) depths.push_back(depth);
  }
  if (grinds) depths.push_back(routine.period.depth_um);
  return depths;
}

/// A member of an ensemble under a routine, with the cycle that repeats itself at each depth as far as it can be integrated.
struct UnderRoutine {
  UpkeepCycle         cycle;
  PeriodRules         rules;
  std::vector<double> depths;
  std::vector<Cycle>  cycles;
};

void find_member_cycles(std::vector<UnderRoutine>& members, double limit_N, double back_per_depth,
                        std::span<const double> stretches) {
  Cycle unusable;
  unusable.usable = false;
  std::vector<EdgeInUse> edges;
  for (UnderRoutine& m : members) {
    m.cycles.assign(m.depths.size(), unusable);
    edges.push_back({&m.cycle, m.cycle.worn_to(limit_N), stretches});
  }
  for (std::size_t depth = 0;; ++depth) {
    std::vector<EdgeInUse*>  going;
    std::vector<std::size_t> which;
    for (std::size_t i = 0; i < edges.size(); ++i) {
      const auto& depths = members[i].depths;
      if (depth >= depths.size() || !edges[i].status.usable()) continue;
      edges[i].state.bevel_depth_um = depths[depth];
      edges[i].state.back_depth_um  = back_per_depth * depths[depth];
      going.push_back(&edges[i]);
      which.push_back(i);
    }
    if (going.empty()) return;
    steady_each(going, 1e-3);
    for (const std::size_t i : which) members[i].cycles[depth] = edges[i].made;
  }
}

MemberUpkeep upkeep_of(const UnderRoutine& member, const upkeep_search::Demand& demand) {
  const auto periods = periods_of(CycleByDepth(member.depths, member.cycles), member.rules);
  if (periods.empty()) return {};
  if (member.rules.grinds && periods.back().depth_um < member.rules.depth_limit_um) return {};
  return {true, demand.keeps(periods.back()), periods.back()};
}

}  // namespace

std::vector<MemberUpkeep> upkeep_of_members(const Scenario& scenario, const UpkeepResult& result,
                                            const Routine& routine, const Workshop& workshop,
                                            const UpkeepSettings& settings, const Ensemble& ensemble) {
  constexpr std::size_t       block = 64;  // members that are worked abreast
  const upkeep_search::Demand demand(settings);
  const Tolerances            tolerances = upkeep_search::coarse(tolerances_of(scenario));
  const auto                  stretches = upkeep_search::Pair{routine.passes, routine.stroppings}.stretches();
  const auto                  plan      = std::find_if(scenario.edges.begin(), scenario.edges.end(),
                                                       [&](const EdgePlan& p) { return p.name == result.steps.edge; });
  const std::vector<UpkeepMiss> misses =
      plan == scenario.edges.end() ? std::vector<UpkeepMiss>{} : upkeep_misses(ensemble, *plan);
  std::vector<MemberUpkeep> out(ensemble.size());
  for_each_index((ensemble.size() + block - 1) / block, settings.threads, [&](std::size_t b) {
    const std::size_t          first = b * block, end = std::min(ensemble.size(), first + block);
    std::vector<Model<double>> models;
    for (std::size_t m = first; m < end; ++m) models.push_back(member_of(scenario.model, ensemble, m));
    std::vector<UnderRoutine> members;
    for (std::size_t i = 0; i < models.size(); ++i) {
      const UpkeepCycle cycle(models[i], result.steps, workshop, tolerances, demand.limit_N(),
                              upkeep_search::few_looks, misses.empty() ? UpkeepMiss{} : misses[first + i]);
      const PeriodRules rules = rules_under(routine, result, cycle, workshop.pace);
      members.push_back({cycle, rules, depths_under(routine, result, rules.grinds), {}});
    }
    find_member_cycles(members, demand.limit_N(), result.back_per_depth, stretches);
    for (std::size_t i = 0; i < members.size(); ++i) out[first + i] = upkeep_of(members[i], demand);
  });
  return out;
}

void try_members(const Scenario& scenario, UpkeepResult& result, const Workshop& workshop,
                 const UpkeepSettings& settings, const Ensemble& ensemble) {
  result.caution.clear();
  for (const double share : {1.0, 0.75, 0.5, 0.35, 0.25}) {
    Routine fewer = result.best;
    fewer.passes  = static_cast<int>(std::ceil(share * result.best.passes));
    if (!result.caution.empty() && result.caution.back().passes == fewer.passes) continue;
    auto                members = upkeep_of_members(scenario, result, fewer, workshop, settings, ensemble);
    double              keeping = 0.0;
    std::vector<double> minutes, money;
    std::vector<bool>   keeps;
    for (const MemberUpkeep& m : members) {
      keeping += m.keeps ? 1.0 / static_cast<double>(members.size()) : 0.0;
      keeps.push_back(m.keeps);
      if (!m.ran) continue;
      minutes.push_back(1000.0 * m.period.minutes / m.period.passes);
      money.push_back(1000.0 * m.period.money / m.period.passes);
    }
    result.caution.push_back(
        {fewer.passes, keeping, quantile(minutes, 0.5), quantile(money, 0.5), std::move(keeps)});
    if (share == 1.0) result.members = std::move(members);
  }
}

}  // namespace arris
