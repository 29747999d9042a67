// SPDX-License-Identifier: MIT
#include "sim/fit/unmeasured_scale.hpp"

#include <algorithm>
#include <cmath>

namespace arris {

UnmeasuredScale::UnmeasuredScale(const CampaignModel& model, const FitPoint& point)
    : scenario_(model.scenario()), parameters_(model.parameters()) {
  scenario_.model = with_parameters(scenario_.model, parameters_, point.u);
  for (const std::string& path : fittable_parameters(scenario_.model)) {
    const bool is_fitted = std::any_of(model.parameters().begin(), model.parameters().end(),
                                       [&](const FreeParameter& p) { return p.path == path; });
    if (!is_fitted) parameters_.push_back(free_parameter(scenario_.model, path, model.settings().priors));
  }
  const CampaignModel all(scenario_, model.readings(), parameters_, model.settings());
  FitPoint            there    = point;
  there.u                      = Eigen::VectorXd::Zero(all.parameter_count());
  there.u.head(point.u.size()) = point.u;
  there.held.clear();
  // what is held fixed stands where the configuration has it, which need not be the middle of a prior that is stated
  Model<double> copy   = scenario_.model;
  const auto    values = places(copy, parameters_);
  for (std::size_t i = model.parameters().size(); i < parameters_.size(); ++i) {
    const double u = parameters_[i].scaled(*values[i]);
    if (std::isfinite(u)) there.u[static_cast<Eigen::Index>(i)] = u;
  }
  u_          = there.u;
  covariance_ = information_at(all, there).covariance;
}

std::optional<double> UnmeasuredScale::log_sd(const DerivedQuantity& quantity) const {
  DerivedModel    derived(scenario_, parameters_, quantity);
  Eigen::VectorXd slopes;
  double          value = 0.0;
  if (covariance_.size() == 0 || !derived.log_value(u_, value, &slopes)) return std::nullopt;
  return std::sqrt(slopes.dot(covariance_ * slopes));
}

bool has_measured_lengths(const CampaignModel& model) {
  return std::any_of(model.observations().begin(), model.observations().end(), [](const Observation& o) {
    return o.kind == Observation::Kind::apex_radius || o.kind == Observation::Kind::recession;
  });
}

}  // namespace arris
