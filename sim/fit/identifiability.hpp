// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit.hpp"

/// What readings can tell, and what they cannot.
///
/// The information of the data about the parameters, on the scale of their priors and with effects integrated out, is
/// W^T·W with W the whitened Jacobian; its singular values s say how much the readings narrow each direction: the
/// variance falls from 1 (the prior) to 1/(1 + s²). A direction with s² < 1/4 is hardly narrowed: it is undetermined, what
/// is known of it is its prior, and no parameter that mostly lies along it gets a standard error.
namespace arris {

struct UndeterminedDirection {
  Eigen::VectorXd  direction;          ///< P, unit length, scaled parameters
  double           information = 0.0;  ///< s²
  std::vector<int> parameters;         ///< those that take part, largest share first
  std::string
      combination;  ///< what the readings do fix, "slope × radius per scratch"; empty for a single parameter
  std::string sentence;    ///< in plain words
  std::string settled_by;  ///< the measurement that would help most, a sentence
};

struct ParameterFate {
  bool   has_standard_error = false;  ///< false: mostly undetermined, or at a bound
  double value              = 0.0;
  double log_sd = 0.0;  ///< posterior standard deviation of u times the spread: of log value, logit or value
  double low    = 0.0;  ///< central 90 % by Wald, Student's t on the scale of the prior, turned back
  double high   = 0.0;
  double dof    = 0.0;         ///< degrees of freedom of the t distribution behind low and high
  double prior_share = 0.0;    ///< posterior variance over prior variance; 1: the prior alone
  bool   at_bound    = false;  ///< rests at an end of its range
  double widths_off  = 0.0;    ///< from the median of its prior, in widths of the prior

  /// Hardly narrowed and yet pulled away from its prior: neither a measurement nor the prior.
  [[nodiscard]] bool is_far_from_prior() const {
    return !has_standard_error && !at_bound && std::abs(widths_off) > 2.0;
  }
};

struct Identifiability {
  Eigen::VectorXd singular_values;  ///< one per parameter that is not at a bound, descending
  int             rank = 0;         ///< directions that the readings determine
  std::vector<UndeterminedDirection> undetermined;
  std::vector<ParameterFate>         parameters;  ///< P
};

[[nodiscard]] Identifiability identifiability(const CampaignModel& model, const FitResult& fit);

}  // namespace arris
