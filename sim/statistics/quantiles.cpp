// SPDX-License-Identifier: MIT
#include "sim/statistics/quantiles.hpp"

#include <algorithm>
#include <cstddef>
#include <limits>

namespace arris {

double quantile(std::vector<double> values, double p) {
  std::sort(values.begin(), values.end());
  return quantile_of_sorted(values, p);
}

double quantile_of_sorted(const std::vector<double>& values, double p) {
  if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
  const double place = p * static_cast<double>(values.size() - 1);
  const auto   low   = static_cast<std::size_t>(place);
  const auto   high  = std::min(low + 1, values.size() - 1);
  if (values[low] == values[high] || place == static_cast<double>(low)) return values[low];
  return values[low] + (place - static_cast<double>(low)) * (values[high] - values[low]);
}

}  // namespace arris
