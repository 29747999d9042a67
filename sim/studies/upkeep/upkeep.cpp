// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/upkeep.hpp"

#include <algorithm>

#include "sim/studies/upkeep/search_result.hpp"

namespace arris {

double Routine::between_honings() const { return period.passes / std::max(1, period.honings); }
double Routine::minutes() const { return 1000.0 * period.minutes / period.passes; }
double Routine::money() const { return 1000.0 * period.money / period.passes; }
double Routine::steel_um() const { return 1000.0 * period.loss_um / period.passes; }

UpkeepResult upkeep(const Scenario& scenario, const EdgePlan& plan, const Workshop& workshop,
                    const UpkeepSettings& settings) {
  using namespace upkeep_search;
  const Task    task    = task_of(scenario, plan, workshop, settings);
  const Leading leading = lead(task);
  const Lands   lands   = lands_of(task, leading);
  return result_of(task, leading, lands, screen(task, leading, lands));
}

}  // namespace arris
