// SPDX-License-Identifier: MIT
#pragma once

/// Tails and quantiles of the distributions that tests and intervals need, by Boost.Math, compiled once.
///
/// "above" is the probability of a larger value, worked out as such, so that it keeps its digits where it is small. Degrees of
/// freedom are positive and need not be whole; probabilities lie in (0, 1). Outside that Boost.Math throws std::domain_error.
namespace arris {

/// z with P(Z ≤ z) = p.
[[nodiscard]] double normal_quantile(double p);

/// t with P(T ≤ t) = p, Student's t.
[[nodiscard]] double t_quantile(double p, double df);
/// t with P(T > t) = tail.
[[nodiscard]] double t_quantile_above(double tail, double df);
/// P(T > t).
[[nodiscard]] double t_above(double t, double df);
/// P(T > t) of the non-central t distribution.
[[nodiscard]] double noncentral_t_above(double t, double df, double noncentrality);

/// Log of the density of Student's t where it is highest, at 0.
[[nodiscard]] double t_log_peak(double df);

/// log Γ(x), x > 0. That of the C library writes a global sign, and so is none for several threads.
[[nodiscard]] double log_gamma(double x);

/// F with P(ratio ≤ F) = p, of `df` degrees of freedom above the line and `df_below` below it.
[[nodiscard]] double f_quantile(double p, double df, double df_below);
/// F with P(ratio > F) = tail.
[[nodiscard]] double f_quantile_above(double tail, double df, double df_below);
/// P(ratio > F).
[[nodiscard]] double f_above(double F, double df, double df_below);

/// x with P(χ² ≤ x) = p.
[[nodiscard]] double chi_squared_quantile(double p, double df);
/// x with P(χ² > x) = tail.
[[nodiscard]] double chi_squared_quantile_above(double tail, double df);

/// x with P(X ≤ x) = p, the beta distribution of parameters a and b.
[[nodiscard]] double beta_quantile(double p, double a, double b);

}  // namespace arris
