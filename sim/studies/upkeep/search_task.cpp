// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/search_task.hpp"

#include <algorithm>
#include <string>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/simulate/simulate.hpp"

namespace arris::upkeep_search {

Demand::Demand(const UpkeepSettings& settings)
    : limit_gf_(settings.limit_gf),
      limit_N_(laws::in_newton(settings.limit_gf)),
      share_(settings.share),
      least_(settings.least),
      minutes_per_mm_(settings.minutes_per_mm) {}

double Demand::value(const Period& period, Least least) const {
  const double per_1000 = 1000.0 / period.passes;
  switch (least) {
    case Least::minutes:
      return per_1000 * period.minutes;
    case Least::money:
      return per_1000 * period.money;
    case Least::steel:
      return per_1000 * period.loss_um;
    case Least::mix:
      break;
  }
  return per_1000 * (period.minutes + minutes_per_mm_ * 1e-3 * period.loss_um);
}

bool Demand::keeps(const Period& period, double reading_N, double share) const {
  return always() ? period.worst_N <= reading_N : period.within >= share - 1e-9;
}

bool Demand::nearly_keeps(const Period& period) const {
  constexpr double reading_over = 1.01, share_under = 0.01;
  return keeps(period, reading_over * limit_N_, share_ - share_under);
}

bool Demand::keeps_target(const Period& period, double target) const {
  return keeps(period, laws::in_newton(target), target);
}

Tolerances coarse(Tolerances tolerances) {
  tolerances.relative    = std::max(tolerances.relative, 1e-4);
  tolerances.absolute_um = std::max(tolerances.absolute_um, 1e-6);
  return tolerances;
}

PeriodRules grinding_rules(const UpkeepCycle& cycle, const Pace& pace) {
  PeriodRules rules;
  rules.grinds         = cycle.blade().land_per_depth > 0.0;
  rules.loss_per_depth = cycle.blade().loss_per_depth;
  rules.grind_minutes  = pace.grind_min;
  rules.grind_money    = pace.grind_min * cycle.wage_per_minute();
  rules.grind_loss_um  = 1e3 * pace.grind_loss_mm;
  return rules;
}

Task task_of(const Scenario& scenario, const EdgePlan& plan, const Workshop& workshop,
             const UpkeepSettings& settings, const UpkeepMiss& miss) {
  const Demand      demand(settings);
  const UpkeepCycle exact(scenario.model, upkeep_steps(plan), workshop, tolerances_of(scenario),
                          demand.limit_N(), UpkeepCycle::closest_looks, miss);
  const UpkeepCycle quick(scenario.model, exact.steps(), workshop, coarse(tolerances_of(scenario)),
                          demand.limit_N(), few_looks, miss);
  PeriodRules       rules = grinding_rules(exact, workshop.pace);
  if (rules.grinds) {
    const auto& blade = exact.blade();
    rules.depth_limit_um =
        1e3 * std::min(workshop.pace.grind_land_mm, blade.full_land_mm) / blade.land_per_depth;
  }
  return {scenario, settings, demand, exact, quick, rules};
}

void honing_fails(const Task& task, const RunStatus& status) {
  EdgePlan honing;
  honing.name  = task.exact.steps().edge;
  honing.steps = task.exact.steps().honing;
  throw Error(Exit::integration,
              {.code  = "integration",
               .what  = "the honing fails: " + describe(status, honing),
               .cause = fmt::format("It begins with an edge worn to the limit, an apex radius of {:.3g} µm.",
                                    task.exact.worn_to(task.demand.limit_N()).apex_radius_um)});
}

void limit_out_of_reach(const Task& task, const Sharpest& sharpest) {
  const std::string& edge           = task.exact.steps().edge;
  const double       honed_gf       = laws::in_gram_force(sharpest.honed_N);
  const bool         honed_too_dull = sharpest.honed_N > task.demand.limit_N();
  const bool         burr_does_it   = honed_too_dull && sharpest.without_burr_N < task.demand.limit_N();
  throw Error(
      Exit::usage,
      {.code = "limit-out-of-reach",
       .what =
           honed_too_dull
               ? fmt::format(
                     "right after grinding and honing, edge {} reads {:.0f} gf at best; no routine can keep it at {:g} gf",
                     edge, honed_gf, task.demand.limit_gf())
               : fmt::format(
                     "edge {} reads {:.0f} gf right after honing and passes {:g} gf in the first pass; no routine can keep that",
                     edge, honed_gf, task.demand.limit_gf()),
       .cause =
           burr_does_it
               ? fmt::format(
                     "The burr does it: without it the edge reads {:.0f} gf. On the narrow land of a bevel freshly ground the same strokes raise a longer burr than later on.",
                     laws::in_gram_force(sharpest.without_burr_N))
               : std::string(
                     "What is done before the first cut counts as the honing; a strop step there counts too."),
       .next = burr_does_it ? "Give the back more strokes, end the honing on a strop, or set another --limit."
                            : "End the honing on a finer medium or a strop, or set another --limit."});
}

}  // namespace arris::upkeep_search
