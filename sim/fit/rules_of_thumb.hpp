// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/free_parameters.hpp"

/// What rules of thumb of the trade say of parameters together, where nothing was measured.
///
/// Each parameter alone is known to the width of its prior; a rule, such as "off these stones an edge reads about 180", ties many of
/// them. To first order about the defaults, with J the change of the log of each stated reading over its spread (n × P, the
/// table that `./dev calibrate` writes), the parameters are normal with the covariance (1 + JᵀJ)⁻¹, and
///     u = z − Jᵀ(1 + J·Jᵀ)⁻¹(J·z + e),   z ~ N(0, 1) of P,   e ~ N(0, 1) of n
/// is a draw of them. A parameter that the configuration gives another value, or states a prior for, is not of the rules any more: it is
/// taken as stated, and the rules hold for the rest.
/// Source: facts.csv of configs/calibration: common practice, no source. A linear map: far from the defaults it errs.
namespace arris {

class RulesOfThumb {
 public:
  RulesOfThumb(const Model<double>& model, const std::vector<FreeParameter>& parameters,
               const std::map<std::string, Prior>& stated);

  /// n.
  [[nodiscard]] Eigen::Index facts() const { return by_prior_.rows(); }
  /// Turns independent draws of the parameters (P), with draws of the errors of the facts (n), into draws that heed the facts.
  void hear(Eigen::VectorXd& u, const Eigen::VectorXd& error) const;

 private:
  Eigen::MatrixXd by_prior_;  ///< J
  Eigen::MatrixXd gain_;      ///< Jᵀ(1 + J·Jᵀ)⁻¹
};

}  // namespace arris
