// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/laws/field.hpp"

/// Tests of whether a model fits, and a correction where many are made.
///
///     pure error:  F = ( (SSE − SSPE)/(m − p) ) / ( SSPE/(n − m) )     n values in m groups that the model gives one value
///     runs:        P(R ≤ r) and P(R ≥ r) of n₁ and n₂ signs in random order, exact
///     Holm:        p₍ᵢ₎ ← max over j ≤ i of min( 1, (n − j + 1)·p₍ⱼ₎ )
///
/// Source: Fisher 1922 (pure error; as in Draper & Smith, Applied Regression Analysis, from memory); Wald & Wolfowitz 1940;
/// Holm 1979, Scand. J. Stat. 6, 65 (from memory).
namespace arris {

struct PureErrorTest {
  double misfit_ss = not_given, misfit_df = 0.0;  ///< of the groups about the model
  double error_ss = not_given, error_df = 0.0;    ///< of values about their group
  double F = not_given, p = not_given;            ///< NaN where there are no degrees of freedom, or no error
};

/// From residuals, the group of each (any numbers; the same number, the same group), and how many parameters were fitted, which
/// need not be whole. Throws std::domain_error where the sizes differ.
[[nodiscard]] PureErrorTest pure_error_test(const std::vector<double>& residuals,
                                            const std::vector<int>& group, double parameters);

struct RunsTest {
  int    runs     = 0;
  double expected = not_given;
  double p        = 1.0;  ///< two-sided: twice the smaller tail, at most 1; 1 where all signs are one
};

/// Of signs in their order: true is one, false the other.
[[nodiscard]] RunsTest runs_test(const std::vector<bool>& signs);

/// Probability values as they may be compared with one level all together, in the order given. NaN stays NaN and is not counted.
[[nodiscard]] std::vector<double> holm_adjusted(const std::vector<double>& p);

}  // namespace arris
