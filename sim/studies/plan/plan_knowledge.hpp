// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit.hpp"
#include "sim/fit/fit_settings.hpp"
#include "sim/fit/identifiability.hpp"
#include "sim/simulate/readings.hpp"

/// What is known before an experiment is planned: from priors, from readings, or from an earlier fit.
namespace arris {

/// What is known before the experiment.
struct PlanKnowledge {
  Ensemble                   ensemble;    ///< members to average the design over
  std::vector<FreeParameter> parameters;  ///< P, what the experiment is to narrow
  Eigen::VectorXd            centre;      ///< P, scaled
  Spread                     spread;      ///< typical
  Eigen::MatrixXd data;  ///< P × P: information of readings about the scaled parameters, priors left out
  std::optional<Identifiability> now;  ///< what readings so far leave open; none without readings
  std::vector<std::string>       cautions;
  laws::HeldWearLaw<double>      wear;  ///< the law it is known under
  std::vector<PlanKnowledge>
      rivals;  ///< under other wear laws, each with as many members as it has weight; they have no rivals
  std::vector<std::string> refuted;            ///< laws without members, which the readings speak against
  std::string              law;                ///< name of `wear`, where there are several
  bool                     ruled_out = false;  ///< the readings speak against it
};

/// Priors and the scatter of the configuration.
[[nodiscard]] PlanKnowledge knowledge_from_priors(const Scenario& scenario, const FitSettings& settings,
                                                  int members, unsigned long long seed);

/// A fit of the campaign's readings from a few starts; draws of its normal approximation. Falls back to the priors, with a
/// caution, when it does not converge.
[[nodiscard]] PlanKnowledge knowledge_from_readings(const Scenario&             scenario,
                                                    const std::vector<Reading>& readings,
                                                    const FitSettings& settings, int members,
                                                    unsigned long long seed, int threads);

/// Draws of an earlier fit: their medians and their covariance, and what `readings` (may be empty) leave open there. Where they have several
/// wear laws, what is known under the heaviest one, and beside it under the others.
[[nodiscard]] PlanKnowledge knowledge_from_draws(const Scenario&             scenario,
                                                 const std::vector<Reading>& readings,
                                                 const FitSettings& settings, const Ensemble& draws,
                                                 int members);

/// What `model` tells at a point that was not searched for, as a fit that ended there would have it: effects 0, not converged.
/// `information.data` is empty where a history cannot be run.
[[nodiscard]] FitResult fit_as_known(const CampaignModel& model, const Eigen::VectorXd& scaled,
                                     const Spread& spread);

/// The numbers of `model` on the scale of the priors; one at an end of its range is put just inside it, so that it does not
/// come back outside by a rounding.
[[nodiscard]] Eigen::VectorXd scaled_values(const std::vector<FreeParameter>& parameters,
                                            const Model<double>&              model);

}  // namespace arris
