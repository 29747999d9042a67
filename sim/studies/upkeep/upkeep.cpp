// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/upkeep.hpp"

#include <algorithm>

#include "sim/laws/gram_force.hpp"
#include "sim/studies/upkeep/search_result.hpp"

namespace arris {

double Routine::between_honings() const { return period.passes / std::max(1, period.honings); }
double Routine::minutes() const { return 1000.0 * period.minutes / period.passes; }
double Routine::money() const { return 1000.0 * period.money / period.passes; }
double Routine::steel_um() const { return 1000.0 * period.loss_um / period.passes; }

namespace {

/// The edge as the best routine brings it to the stone.
void look_before_honing(const upkeep_search::Task& task, UpkeepResult& out) {
  Cycle             cycle;
  EdgeState<double> worn      = task.exact.worn_to(task.demand.limit_N());
  const auto        stretches = upkeep_search::Pair{out.best.passes, out.best.stroppings}.stretches();
  if (!task.exact.steady(worn, stretches, 1e-4, cycle).usable()) return;
  out.dub_depth_um        = worn.dub_depth_um;
  out.chip_um             = worn.chip_um;
  EdgeState<double> whole = worn;
  whole.chip_um           = 0.0;
  out.chip_gf             = laws::in_gram_force(task.exact.reading_N(worn) - task.exact.reading_N(whole));
}

}  // namespace

UpkeepResult upkeep(const Scenario& scenario, const EdgePlan& plan, const Workshop& workshop,
                    const UpkeepSettings& settings, const UpkeepMiss& miss) {
  using namespace upkeep_search;
  const Task    task    = task_of(scenario, plan, workshop, settings, miss);
  const Leading leading = lead(task);
  const Lands   lands   = lands_of(task, leading);
  UpkeepResult  out     = result_of(task, leading, lands, screen(task, leading, lands));
  look_before_honing(task, out);
  return out;
}

}  // namespace arris
