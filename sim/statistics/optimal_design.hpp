// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

/// Where to measure: rows out of a table of candidates that tell most about the parameters.
///
///     φ(ξ) = mean over members k of log det( M_k + Σ_u c_u·( X_uᵀX_u − X_uᵀz_u·z_uᵀX_u/(1 + z_uᵀz_u) ) )
///
/// | symbol | C++      | meaning                                                                                   |
/// |--------|----------|-------------------------------------------------------------------------------------------|
/// | X_u    | `slopes` | chosen rows of unit u: slopes of what is measured, over its noise, against scaled parameters |
/// | z_u    | `shared` | slopes against what all rows of one copy of the unit share (the luck of an edge), a standard normal; integrated out |
/// | c_u    | `copies` | copies of the unit that are all measured at the same rows, each with a luck of its own     |
/// | M_k    | `before` | information there is beforehand, prior included                                            |
///
/// Members are versions of the model; with one member the design is locally D-optimal, with draws of a prior it is optimal
/// on average (Bayesian). The choice is improved by the exchange of one row at a time, the best of all exchanges first,
/// until none gains; the best of several random starts is kept.
/// Source: Fedorov 1972; Chaloner & Verdinelli 1995, Statist. Sci. 10, 273 (from memory).
namespace arris {

struct DesignProblem {
  std::vector<Eigen::MatrixXd> slopes;  ///< by member, candidates × P
  std::vector<Eigen::VectorXd> shared;  ///< by member, candidates; empty: nothing is shared
  std::vector<Eigen::MatrixXd> before;  ///< by member, P × P; empty: nothing is known
  std::vector<int>             unit;    ///< of each candidate, from 0
  std::vector<double>          copies;  ///< by unit
  std::vector<int>             wanted;  ///< by unit: how many rows to choose, those in `fixed` included
  std::vector<int>             fixed;   ///< candidates that are chosen in any case
  bool                         repeats = false;  ///< a candidate may be chosen more than once
};

struct OptimalDesign {
  std::vector<int> chosen;           ///< candidates, by unit, ascending in each
  double           criterion = 0.0;  ///< φ; −∞ when the rows cannot determine all parameters
  int              exchanges = 0;    ///< of the start that won
};

/// φ of the candidates `chosen`.
[[nodiscard]] double design_criterion(const DesignProblem& problem, const std::vector<int>& chosen);

/// Throws std::invalid_argument when sizes do not match, or a unit has fewer candidates than are wanted of it and repeats are
/// not allowed.
[[nodiscard]] OptimalDesign optimal_design(const DesignProblem& problem, int starts, unsigned long long seed);

}  // namespace arris
