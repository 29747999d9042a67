// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>

/// What the integrator needs to know of a number type beyond arithmetic. jet.hpp adds numbers with derivatives.
namespace arris {

template <class T>
struct Scalar;

template <>
struct Scalar<double> {
  [[nodiscard]] static double value(double x) { return x; }
  [[nodiscard]] static bool   finite(double x) { return std::isfinite(x); }

  /// Error of one step over what is allowed; above 1 the step is taken again.
  [[nodiscard]] static double error_ratio(double error, double before, double after, double absolute,
                                          double relative) {
    return std::abs(error) / (absolute + relative * std::max(std::abs(before), std::abs(after)));
  }
};

}  // namespace arris
