// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit.hpp"

/// Densities of a campaign's readings with its effects integrated out, by Laplace's approximation about the mode of the effects.
///
///     log ∫ p(y | u, η, σ)·p(η | σ) dη ≈ log p(y | u, η̂, σ) − ½·|ẑ|² − ½·log|K|,   z = η/σ_k,   K = 1 + Jᵀ·J
///
/// J: slopes of the standardised residuals by z. The luck of an edge, and of its rate, touches its own readings alone, so K is made of
/// blocks of two for each edge with a border for what edges share (operators, lots, days): its cost grows with the number of
/// edges, not with its cube.
namespace arris {

/// Log likelihood of the readings with the effects integrated out (Laplace), without any prior of u or σ; effects as in
/// log_marginal.
[[nodiscard]] double log_likelihood(const CampaignModel& model, const Eigen::VectorXd& u,
                                    const Spread& spread, Eigen::VectorXd& effects);

/// Log density of the readings of `model`, edges that `fit` has not seen: over N(fit.u, `covariance`) of the parameters and the scatter of
/// effects, predictions linear in both, by Laplace (exact where noise is normal). −∞ where the histories fail.
[[nodiscard]] double log_predictive(const CampaignModel& model, const FitPoint& fit,
                                    const Eigen::MatrixXd& covariance);

/// Laplace's log marginal posterior of (u, σ), effects integrated out about their mode, which is found from `effects` and
/// left there; −∞ where the histories fail. Includes the Jacobian of log σ when `log_scale` (for samplers).
[[nodiscard]] double log_marginal(const CampaignModel& model, const Eigen::VectorXd& u, const Spread& spread,
                                  Eigen::VectorXd& effects, bool log_scale);
/// The same at each column of `u` (P × n) with a spread of its own, to the same bits, histories of several columns run together
/// in lanes; the modes of the effects are all found from `effects`.
[[nodiscard]] Eigen::VectorXd log_marginals(const CampaignModel& model, const Eigen::MatrixXd& u,
                                            const std::vector<Spread>& spreads,
                                            const Eigen::VectorXd& effects, bool log_scale, int threads);

}  // namespace arris
