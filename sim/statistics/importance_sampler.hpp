// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include <Eigen/Core>

#include "sim/statistics/ensemble_sampler.hpp"

/// Posterior draws by importance: points proposed about the optimum, each weighted by how much denser the posterior is there.
///
///     x = c + L·y·√(ν/χ²_ν),   y_j split normal: two half normals of different width;   w = p(x)/Σ_k n_k·q_k(x)
///
/// A round of n_k points is proposed with density q_k. After each round all points so far are weighed against all proposals so far together, and c, L·Lᵀ and the
/// widths are set anew from their weighted mean, covariance and skewness, until draws enough carry the weight. The largest of the weights are
/// replaced by order statistics of the generalised Pareto distribution that fits them, and its shape k says whether the weights can be trusted: up to
/// 0.7 they can. Draws are then taken as often as their weights have it (systematic resampling). A density with several tops far from
/// each other is not found by it.
/// Source: Cornuet, Marin, Mira & Robert 2012 for the rounds; Geweke 1989 for the split proposals; Vehtari, Simpson, Gelman, Yao & Gabry, "Pareto smoothed
/// importance sampling"; Zhang & Stephens 2009 for the fit (all from memory).
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
  int    wanted_draws  = 4000;
  int    least_round   = 400;     ///< points of a round: half of the draws that are wanted, and no fewer
  int    most_per_draw = 8;       ///< points of all rounds, for each draw
  int    most_points   = 120000;  ///< or this many, where that is more
  double dof           = 8.0;     ///< ν
  double worst_shape   = 0.7;
  double least_worth  = 1.0;  ///< effective draws over those that are wanted, where no more rounds are needed
  double fewest_worth = 0.25;  ///< the same after the last round: below it the draws are not usable
  unsigned long long seed = 1;
};

struct ImportanceDraws {
  Eigen::MatrixXd values;       ///< draws × d; empty where nothing had weight
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
