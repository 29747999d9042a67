// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

/// What code over a number type T needs to know of it beyond arithmetic. sim/integrate/jet.hpp adds numbers with
/// derivatives.
namespace arris {

template <class T>
struct Number;

template <>
struct Number<double> {
  /// The value without its derivatives.
  [[nodiscard]] static double value(double x) { return x; }
  [[nodiscard]] static bool   finite(double x) { return std::isfinite(x); }
  /// Whether anything can depend on x through its derivatives.
  [[nodiscard]] static bool varies(double) { return false; }
};

}  // namespace arris
