// SPDX-License-Identifier: MIT
#include "sim/fit/sensitivities.hpp"

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/history/steps.hpp"

namespace arris {

Sensitivities sensitivities(const Scenario& scenario, const std::vector<Reading>& readings,
                            const FitSettings& settings) {
  Sensitivities out;
  for (const std::string& path : fittable_parameters(scenario.model))
    out.parameters.push_back(free_parameter(scenario.model, path));
  const CampaignModel model(scenario, readings, out.parameters, settings);
  const auto          apex = model.apex(Eigen::VectorXd::Zero(model.parameter_count()), true);
  if (!apex.usable) throw Error(Exit::integration, {.code = "no-convergence", .what = apex.failure});
  Eigen::VectorXd f;
  model.observe(apex, Eigen::VectorXd::Zero(model.effect_count()), f, &out.by_prior, nullptr);
  for (Eigen::Index i = 0; i < out.by_prior.rows(); ++i) {
    const Observation& o    = model.observations()[static_cast<std::size_t>(i)];
    const EdgePlan&    plan = scenario.edges[static_cast<std::size_t>(o.edge)];
    const auto         step = static_cast<std::size_t>(model.moment_of(o).step);
    out.measurements.push_back(plan.name + ", " + subject_of(plan.steps[step]));
    if (!(o.known_sd > 0.0)) {
      throw Error(Exit::data, {.code = "no-uncertainty",
                               .what = fmt::format("the measurement of {} states no uncertainty",
                                                   out.measurements.back()),
                               .next = "Give its reading_cv in the readings file."});
    }
    out.by_prior.row(i) /= o.known_sd;
  }
  return out;
}

}  // namespace arris
