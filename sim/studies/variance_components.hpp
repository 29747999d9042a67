// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <vector>

#include <Eigen/Core>

/// Variance components of a linear mixed model, by the marginal likelihood of the variances.
///
///     y = X·β + ε,   ε_i ~ N(0, σ²/w_i) or N(0, v_i) where v_i is known,
///     β_j flat, or ~ N(0, 1), or ~ N(0, σ_g²) for the columns j of group g
///
///     −2·log p(y | σ) = Σ log var(ε_i) + log|S + T| − Σ log τ_j + (S_yy − S_yx·(S + T)⁻¹·S_xy) + constants
///
/// with S the Gram matrix of [X, y] weighted by 1/var(ε) and T = diag(τ), τ the prior precisions (0 where flat). Every β is
/// integrated out, so that with flat fixed effects this is restricted maximum likelihood. All work after the Gram matrix is
/// in the number of columns, not of rows.
/// Source: Patterson & Thompson 1971; Bates et al. 2015, J. Stat. Softw. 67 (from memory).
namespace arris {

struct MixedModel {
  static constexpr int flat = -1;  ///< group of a fixed effect without prior
  static constexpr int unit = -2;  ///< group of an effect with prior N(0, 1)

  Eigen::MatrixXd  design;    ///< n × k
  Eigen::VectorXd  response;  ///< n
  Eigen::VectorXd  weights;   ///< n, relative precision of a row whose noise is σ
  Eigen::VectorXd  known_sd;  ///< n, 0 where the noise is σ
  std::vector<int> group;     ///< k: flat, unit, or 0 … groups − 1
  int              groups = 0;
};

struct VarianceComponents {
  double              residual_sd = 0.0;  ///< σ
  std::vector<double> group_sd;           ///< σ_g; at `smallest_sd` a group cannot be told from nothing
  double              log_likelihood = 0.0;
  bool                converged      = false;

  static constexpr double smallest_sd = 1e-4;
};

/// Maximises log p(y | σ) + log_prior(sds) over σ and every σ_g, from the given start (σ, then groups). `log_prior` may be
/// empty. Standard deviations stay between `smallest_sd` and 1e6 times the scale of the start.
[[nodiscard]] VarianceComponents variance_components(
    const MixedModel& model, const std::vector<double>& start,
    const std::function<double(const std::vector<double>&)>& log_prior = {});

}  // namespace arris
