// SPDX-License-Identifier: MIT
#pragma once

#include <array>
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
/// in the number of columns, not of rows; columns that one unit alone meets (`nested`) are eliminated unit by unit (bordered.hpp), so
/// that they cost as many units as there are, not the cube of that.
///
/// The search is Newton's in the *variances*, with exact slopes: there the likelihood has a slope at 0 as elsewhere, whereas
/// in the logs of standard deviations it is flat there and a search from far below the truth, or one that has touched 0,
/// never comes away. Far from the top the expected information stands in for the observed one (Fisher's scoring). A
/// variance that ends at its bound is at a maximum there: its slope points outwards.
///
///     ∂ log p/∂θ_a = ½·(yᵀP·V_a·P·y − tr(P·V_a));   observed −∂²: yᵀP·V_a·P·V_b·P·y − ½·tr(P·V_a·P·V_b);   expected: ½·tr(P·V_a·P·V_b)
///
/// Source: Patterson & Thompson 1971; Harville 1977; Bates et al. 2015, J. Stat. Softw. 67 (from memory).
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

  /// Two columns of each unit, which stand in the rows of that unit alone; beside those of `design`.
  struct Nested {
    Eigen::Matrix2Xd   slopes;  ///< 2 × n
    std::vector<int>   unit;    ///< n; −1: a row of none. Empty: there are no units
    int                units = 0;
    std::array<int, 2> group{flat, flat};  ///< `flat`: there is no such column, its slopes are 0
  };
  Nested nested = {};
};

struct VarianceComponents {
  double              residual_sd = 0.0;  ///< σ
  std::vector<double> group_sd;           ///< σ_g; at `smallest_sd` a group cannot be told from nothing
  double              log_likelihood = 0.0;
  bool                converged      = false;
  int                 iterations     = 0;

  static constexpr double smallest_sd = 1e-4;
};

/// Maximises log p(y | σ) + log_prior(sds) over σ and every σ_g, from the given start (σ, then groups), each above 0.
/// `log_prior` may be empty; it is taken as a sum of one term for each.
/// Standard deviations stay between `smallest_sd` and 1e6 times the scale of the start.
[[nodiscard]] VarianceComponents variance_components(
    const MixedModel& model, const std::vector<double>& start,
    const std::function<double(const std::vector<double>&)>& log_prior = {});

/// Degrees of freedom behind the variances c_j of combinations l_jᵀ·β of columns of `design` (columns of `combinations`, k × m), when the standard
/// deviations (σ, then groups) were estimated from the same data: l_jᵀ(β̂ − β)/√c_j is about Student's t with so many.
///
///     ν_j = 2·c_j²/(gᵀ·A·g),   g = ∂c_j/∂θ,   A the inverse of the expected information about the variances θ
///
/// Infinite where c_j does not depend on what was estimated. A variance at `smallest_sd` counts as known. A prior of a standard
/// deviation that is worth `prior_dof` degrees of freedom (of each, as `sd`; empty: none) adds ½·prior_dof/θ² to the information about its variance.
/// Source: Satterthwaite 1946; Giesbrecht & Burns 1985 for mixed models (from memory). The responses do not matter.
[[nodiscard]] Eigen::VectorXd degrees_of_freedom(const MixedModel& model, const std::vector<double>& sd,
                                                 const Eigen::MatrixXd&     combinations,
                                                 const std::vector<double>& prior_dof = {});

/// Expected information about the logs of the standard deviations (σ, then groups): 2·ν where a variance has ν degrees of freedom
/// to itself.
[[nodiscard]] Eigen::MatrixXd log_sd_information(const MixedModel& model, const std::vector<double>& sd);

/// Twice by how much the log likelihood rises when each of these groups is let in (deviance_of_group), in their order.
[[nodiscard]] std::vector<double> deviances_of_groups(const MixedModel& model, const std::vector<double>& sd,
                                                      const std::vector<int>& groups);

/// Twice by how much the log likelihood rises when a group is let in, every other standard deviation found anew with and without
/// it. Where the group is not there, it follows half a χ² of one degree of freedom and half a 0.
/// Source: Self & Liang 1987 (from memory).
[[nodiscard]] double deviance_of_group(const MixedModel& model, const std::vector<double>& sd, int group);

}  // namespace arris
