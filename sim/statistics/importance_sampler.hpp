// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <Eigen/Core>

#include "sim/statistics/ensemble_sampler.hpp"

/// Posterior draws by importance: proposals about the optimum, each weighted by how much denser the posterior is there.
///
///     x = c + L·z·√(ν/χ²_ν),  z ~ N(0, 1):  Student's t with ν degrees of freedom;   w = p(x)/q(x)
///
/// The largest of the weights are replaced by order statistics of the generalised Pareto distribution that fits them, and its shape k says
/// whether the weights can be trusted: up to 0.7 they can. Where they cannot, or too few draws carry the weight, c and L·Lᵀ become the weighted mean
/// and covariance of the draws, and all is done again, a few times at most. Draws are then taken as often as their weights have it
/// (systematic resampling). A density with several tops far from each other is not found by it.
/// Source: Vehtari, Simpson, Gelman, Yao & Gabry, "Pareto smoothed importance sampling"; Zhang & Stephens 2009 for the fit; Cappé et al. 2008 for
/// the rounds (all from memory).
namespace arris {

struct ParetoSmoothed {
  Eigen::VectorXd weights;      ///< sum 1
  double          shape = NAN;  ///< k; infinite where no tail could be fitted
  /// Σw²⁻¹: so many independent draws are worth as much.
  [[nodiscard]] double effective() const { return 1.0 / weights.squaredNorm(); }
};

/// Smoothed weights from log w, of which −∞ and NaN count as none. Fewer than 25 finite ones give k = ∞.
[[nodiscard]] ParetoSmoothed pareto_smoothed(const Eigen::VectorXd& log_weights);

struct ImportanceOptions {
  int                wanted_draws = 4000;
  int                per_draw     = 4;    ///< proposals of a round for each draw
  double             dof          = 5.0;  ///< ν
  int                rounds       = 4;
  double             worst_shape  = 0.7;
  double             least_worth  = 0.5;  ///< effective draws over those that are wanted
  unsigned long long seed         = 1;
};

struct ImportanceDraws {
  Eigen::MatrixXd values;       ///< draws × d, of the last round; empty where nothing had weight
  Eigen::VectorXd log_density;  ///< one per draw
  double          shape     = NAN;
  double          effective = 0.0;
  int             proposals = 0;  ///< in all rounds
  bool            usable    = false;
};

/// `centre` (d) and the covariance L·Lᵀ (d × d) are those of the first round.
[[nodiscard]] ImportanceDraws importance_sample(const LogDensities& densities, const Eigen::VectorXd& centre,
                                                const Eigen::MatrixXd&   covariance,
                                                const ImportanceOptions& options);

}  // namespace arris
