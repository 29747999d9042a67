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

/// How a law decides between two formulas. A plain condition works out one of them; numbers of several histories at once
/// (sim/integrate/lanes_number.hpp), of which each decides for itself, both.
template <class Condition>
struct Choice {
  template <class Yes, class No>
  [[nodiscard]] static auto of(const Condition& condition, const Yes& yes, const No& no) {
    if (condition) return yes();
    return no();
  }
};

/// `yes()` where the condition holds and `no()` where it does not.
template <class Condition, class Yes, class No>
[[nodiscard]] auto choose(const Condition& condition, const Yes& yes, const No& no) {
  return Choice<Condition>::of(condition, yes, no);
}

}  // namespace arris
