// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

/// How far each of several models is to be believed, by how well it foretells data that it has not seen.
///
/// Weights by stacking:
///
///     maximise Σ_i log Σ_k w_k·p_k(y_i | y without i) + d·Σ_k log w_k   over w_k ≥ 0, Σ_k w_k = 1
///
/// With few data models that foretell nearly alike would get weights of nearly 0 and 1 by chance; the prior of the weights, a Dirichlet
/// distribution with the exponents d, keeps them near to equal until the data differ by more: each model counts as if d data had
/// spoken for it alone. The sum is concave, so that its maximum is found by w_k ∝ w_k·Σ_i p_ik/Σ_j w_j·p_ij + d, which never lowers it.
/// Source: Yao, Vehtari, Simpson & Gelman 2018, "Using stacking to average Bayesian predictive distributions", Bayesian Analysis
/// 13(3), which has d = 0; the iteration is that of mixture proportions by Dempster, Laird & Rubin 1977 (both from memory). The prior: estimate.
namespace arris {

/// Stacking weights from log p_k(y_i | y without i), data × models. At most `gap` per datum of the sum is left at the end. Without data
/// all weights are equal. A model that cannot foretell a datum has −∞ there; every datum needs one model that can. `doubt` is d ≥ 0.
[[nodiscard]] Eigen::VectorXd stacking_weights(const Eigen::MatrixXd& log_densities, double doubt = 0.0,
                                               double gap = 1e-6);

/// How often chance alone would put a sum of differences as far from 0 as this one, if each were as likely above 0 as below: the share of
/// all 2ⁿ choices of signs (Fisher 1935, from memory), for more than 16 differences by the normal approximation of it. 1 where there
/// are none.
[[nodiscard]] double sign_flip_probability(const std::vector<double>& differences);

/// Standard error of a sum whose parts are independent: √(n·s²). NaN where there are fewer than two.
[[nodiscard]] double standard_error_of_sum(const std::vector<double>& parts);

}  // namespace arris
