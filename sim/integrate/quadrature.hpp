// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cmath>

#include <boost/math/quadrature/gauss_kronrod.hpp>

#include "sim/integrate/scalar.hpp"

/// Integrals of smooth functions, over doubles or jets: Gauss–Kronrod with 7 and 15 nodes, halved where the two disagree.
namespace arris {

/// Adds ∫ f(x) dx over [a, b] to `sum`. The nodes are plain numbers; what `f` returns may carry derivatives, which the
/// sum then has. `relative` is the error allowed in the value; the estimate of it is that of QUADPACK, (200·|G₇ − K₁₅|)^1.5.
/// False where f is not finite at a node or ten halvings do not suffice; `sum` is then of no use.
template <class T, class F>
[[nodiscard]] bool add_integral(const F& f, double a, double b, double relative, T& sum, int halvings = 10) {
  using Nodes                 = boost::math::quadrature::gauss_kronrod<double, 15>;
  static const auto& node     = Nodes::abscissa();
  static const auto& weight   = Nodes::weights();
  static const auto& weight_7 = boost::math::quadrature::gauss<double, 7>::weights();

  const double middle = 0.5 * (a + b), half = 0.5 * (b - a);
  const T      centre = f(middle);
  T            fine   = weight[0] * centre;
  double       coarse = weight_7[0] * Scalar<T>::value(centre);
  for (std::size_t i = 1; i < node.size(); ++i) {
    const T both = f(middle - half * node[i]) + f(middle + half * node[i]);
    fine += weight[i] * both;
    if (i % 2 == 0) coarse += weight_7[i / 2] * Scalar<T>::value(both);
  }
  const double value = Scalar<T>::value(fine);
  if (!std::isfinite(value)) return false;
  if (std::abs(value - coarse) <= std::pow(relative, 2.0 / 3.0) / 200.0 * std::abs(value)) {
    sum += half * fine;
    return true;
  }
  return halvings > 0 && add_integral(f, a, middle, relative, sum, halvings - 1) &&
         add_integral(f, middle, b, relative, sum, halvings - 1);
}

}  // namespace arris
