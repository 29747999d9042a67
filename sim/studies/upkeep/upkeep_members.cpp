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

/// The cycle that repeats itself at each depth, as far as it can be integrated.
std::vector<Cycle> cycles_at(const std::vector<double>& depths, double back_per_depth,
                             const UpkeepCycle& cycle, EdgeState<double> worn,
                             std::span<const double> stretches) {
  Cycle unusable;
  unusable.usable = false;
  std::vector<Cycle> cycles(depths.size(), unusable);
  for (std::size_t i = 0; i < depths.size(); ++i) {
    worn.bevel_depth_um = depths[i];
    worn.back_depth_um  = back_per_depth * depths[i];
    if (!cycle.steady(worn, stretches, 1e-3, cycles[i]).usable()) break;
  }
  return cycles;
}

MemberUpkeep member_under(const Routine& routine, const UpkeepResult& result, const UpkeepCycle& cycle,
                          const Pace& pace, const UpkeepSettings& settings) {
  const upkeep_search::Demand demand(settings);
  const PeriodRules           rules     = rules_under(routine, result, cycle, pace);
  const auto                  depths    = depths_under(routine, result, rules.grinds);
  const auto                  stretches = upkeep_search::Pair{routine.passes, routine.stroppings}.stretches();
  const auto                  cycles =
      cycles_at(depths, result.back_per_depth, cycle, cycle.worn_to(demand.limit_N()), stretches);
  const auto periods = periods_of(CycleByDepth(depths, cycles), rules);
  if (periods.empty()) return {};
  if (rules.grinds && periods.back().depth_um < rules.depth_limit_um) return {};
  return {true, demand.keeps(periods.back()), periods.back()};
}

}  // namespace

std::vector<MemberUpkeep> upkeep_of_members(const Scenario& scenario, const UpkeepResult& result,
                                            const Routine& routine, const Workshop& workshop,
                                            const UpkeepSettings& settings, const Ensemble& ensemble) {
  const double              limit_N    = upkeep_search::Demand(settings).limit_N();
  const Tolerances          tolerances = upkeep_search::coarse(tolerances_of(scenario));
  std::vector<MemberUpkeep> out(ensemble.size());
  for_each_index(ensemble.size(), settings.threads, [&](std::size_t m) {
    const Model<double> model = member_of(scenario.model, ensemble, m);
    const UpkeepCycle   cycle(model, result.steps, workshop, tolerances, limit_N);
    out[m] = member_under(routine, result, cycle, workshop.pace, settings);
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
    for (const MemberUpkeep& m : members) {
      keeping += m.keeps ? 1.0 / static_cast<double>(members.size()) : 0.0;
      if (!m.ran) continue;
      minutes.push_back(1000.0 * m.period.minutes / m.period.passes);
      money.push_back(1000.0 * m.period.money / m.period.passes);
    }
    result.caution.push_back({fewer.passes, keeping, quantile(minutes, 0.5), quantile(money, 0.5)});
    if (share == 1.0) result.members = std::move(members);
  }
}

}  // namespace arris
