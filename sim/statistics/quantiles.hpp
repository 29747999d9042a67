// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

/// Quantiles of what was drawn.
namespace arris {

/// Quantile p (0 … 1) of values by linear interpolation between order statistics (type 7); NaN when there are none. Infinite
/// values are allowed and sort last, so that "never within what was simulated" counts.
[[nodiscard]] double quantile(std::vector<double> values, double p);
/// The same of values that are in ascending order already.
[[nodiscard]] double quantile_of_sorted(const std::vector<double>& values, double p);

}  // namespace arris
