// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/free_parameters.hpp"

/// What rules of thumb of the trade say of parameters together: all that is known where nothing was measured, and the prior of a fit.
///
/// Each parameter alone is known to the width of its prior; a rule, such as "off these stones an edge reads about 180", ties many of
/// them. Where nothing was measured, parameters are draws from what priors and rules say together, which `./dev calibrate` makes by a Markov
/// chain and writes into a table. In a fit only some are free; the rest vary by their priors. To first order about the defaults,
/// with J the change of the log of each stated reading over its spread (n × P, another table), the free ones have, beside their
/// own priors, the density
///     exp( −½·|W·u|² ),   W = L⁻¹·J_free,   L·Lᵀ = 1 + J_rest·J_restᵀ
/// A parameter that the configuration gives another value, or states a prior for, is not of the rules any more: it is
/// taken as stated, and the rules hold for the rest.
/// Source: facts.csv and rises.csv of configs/calibration: common practice, no source. W is a linear map: far from the defaults it errs.
namespace arris {

class RulesOfThumb {
 public:
  RulesOfThumb(const Model<double>& model, const std::vector<FreeParameter>& parameters,
               const std::map<std::string, Prior>& stated);

  /// n.
  [[nodiscard]] Eigen::Index facts() const { return by_prior_.rows(); }
  /// How many draws there are.
  [[nodiscard]] static std::size_t draws();
  /// Puts the draw `which` (from 0) in the place of independent ones of the parameters that rules tie; u has P.
  void hear(Eigen::VectorXd& u, std::size_t which) const;
  /// W (n × free), where the parameters at these indices are free.
  [[nodiscard]] Eigen::MatrixXd on(const std::vector<Eigen::Index>& free) const;

 private:
  Eigen::MatrixXd by_prior_;  ///< J
  std::vector<Eigen::Index>
      drawn_;  ///< where the parameters of a draw stand in u; −1 for one that rules do not tie
};

/// W of the free parameters of a fit, 0 in the columns of those of which no rule tells: with a stated prior or one about another centre, and
/// those of the tester, since facts of the trade were read on other people's testers.
[[nodiscard]] Eigen::MatrixXd rules_on(const Model<double>& model, const std::vector<FreeParameter>& free,
                                       const std::map<std::string, Prior>& stated);

}  // namespace arris
