// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <type_traits>

#include "sim/laws/number.hpp"

/// What the integrator needs to know of a number type beyond arithmetic. jet.hpp adds numbers with derivatives.
namespace arris {

template <class T>
struct Scalar;

template <>
struct Scalar<double> : Number<double> {
  /// Error of one step over what is allowed; above 1 the step is taken again.
  [[nodiscard]] static double error_ratio(double error, double before, double after, double absolute,
                                          double relative) {
    return std::abs(error) / (absolute + relative * std::max(std::abs(before), std::abs(after)));
  }
  /// Calls `operation` on the plain numbers that make up its arguments.
  template <class Operation, class... S>
  static void apply(Operation& operation, S&... x) {
    operation(x...);
  }
};

/// Algebra for Boost.Odeint over std::array<T, N>: linear combinations are formed number by number, so that a jet needs no
/// temporary.
struct ComponentAlgebra {
  template <class Operation, class First, class... Rest>
  static void each(Operation& operation, First& first, Rest&... rest) {
    using T = typename std::remove_cvref_t<First>::value_type;
    for (std::size_t i = 0; i < first.size(); ++i) Scalar<T>::apply(operation, first[i], rest[i]...);
  }
  // the names that odeint calls; the operation comes last
  static void for_each2(auto& a, auto& b, auto op) { each(op, a, b); }
  static void for_each3(auto& a, auto& b, auto& c, auto op) { each(op, a, b, c); }
  static void for_each4(auto& a, auto& b, auto& c, auto& d, auto op) { each(op, a, b, c, d); }
  static void for_each5(auto& a, auto& b, auto& c, auto& d, auto& e, auto op) { each(op, a, b, c, d, e); }
  static void for_each6(auto& a, auto& b, auto& c, auto& d, auto& e, auto& f, auto op) {
    each(op, a, b, c, d, e, f);
  }
  static void for_each7(auto& a, auto& b, auto& c, auto& d, auto& e, auto& f, auto& g, auto op) {
    each(op, a, b, c, d, e, f, g);
  }
  static void for_each8(auto& a, auto& b, auto& c, auto& d, auto& e, auto& f, auto& g, auto& h, auto op) {
    each(op, a, b, c, d, e, f, g, h);
  }
};

}  // namespace arris
