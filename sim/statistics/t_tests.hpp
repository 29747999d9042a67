// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

/// Differences of means, with their uncertainty.
///
///     Welch:   SE² = s₁²/n₁ + s₂²/n₂,   ν = SE⁴ / ( (s₁²/n₁)²/(n₁−1) + (s₂²/n₂)²/(n₂−1) )
///     paired:  SE² = s_d²/n,            ν = n − 1
///
/// Source: Student 1908; Welch 1947 (degrees of freedom after Satterthwaite). Distribution by Boost.Math.
namespace arris {

struct TTest {
  double difference = 0.0;  ///< mean of the first minus mean of the second
  double se         = 0.0;
  double dof        = 0.0;
  double t          = 0.0;
  double p          = 1.0;       ///< two-sided
  double low = 0.0, high = 0.0;  ///< confidence interval of the difference

  /// Probability value of "the difference is at least `margin` in size" (two one-sided tests): small where it is surely less.
  [[nodiscard]] double p_not_equivalent(double margin) const;
};

/// From a difference, its standard error (> 0) and degrees of freedom (> 0); `level` of the interval, 0 … 1.
[[nodiscard]] TTest t_test(double difference, double se, double dof, double level = 0.90);

/// Each sample needs two values, and not all the same in both; throws std::domain_error otherwise.
[[nodiscard]] TTest welch_test(const std::vector<double>& a, const std::vector<double>& b,
                               double level = 0.90);

/// Differences a − b in pairs of the same order. Throws std::domain_error for samples of different size, fewer than two
/// pairs, or differences that are all the same.
[[nodiscard]] TTest paired_test(const std::vector<double>& a, const std::vector<double>& b,
                                double level = 0.90);

}  // namespace arris
