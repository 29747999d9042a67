// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/campaign_model.hpp"
#include "sim/fit/free_parameters.hpp"

/// By how much each measurement moves with each parameter that has a prior, at the values of a configuration.
namespace arris {

struct Sensitivities {
  std::vector<FreeParameter>
      parameters;  ///< P, with their default priors, which are centred on the present values
  std::vector<std::string> measurements;  ///< n, "edge, moment"
  Eigen::MatrixXd by_prior;  ///< n × P: change of the log per width of the prior, over the stated uncertainty
};

/// Every measurement must state its uncertainty (reading_cv). Throws Error: Exit::data "no-readings", or "no-uncertainty" where one does
/// not; Exit::integration "no-convergence" where a history cannot be integrated.
[[nodiscard]] Sensitivities sensitivities(const Scenario& scenario, const std::vector<Reading>& readings,
                                          const FitSettings& settings);

}  // namespace arris
