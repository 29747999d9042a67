// SPDX-License-Identifier: MIT
#pragma once

#include <ceres/jet.h>

#include "sim/integrate/scalar.hpp"

/// Numbers that carry exact derivatives (ceres::Jet, header only) through a whole history.
namespace arris {

template <int N>
struct Scalar<ceres::Jet<double, N>> {
  using Jet = ceres::Jet<double, N>;

  [[nodiscard]] static double value(const Jet& x) { return x.a; }
  [[nodiscard]] static bool   finite(const Jet& x) { return std::isfinite(x.a) && x.v.allFinite(); }

  /// The worst of value and derivatives, each against its own size, so that the derivatives are as good as the value.
  /// A derivative much smaller than the largest of them is held to that one's tolerance.
  [[nodiscard]] static double error_ratio(const Jet& error, const Jet& before, const Jet& after, double absolute,
                                          double relative) {
    double       worst   = Scalar<double>::error_ratio(error.a, before.a, after.a, absolute, relative);
    const double largest = std::max(before.v.cwiseAbs().maxCoeff(), after.v.cwiseAbs().maxCoeff());
    const double allowed = absolute + relative * largest;
    worst                = std::max(worst, error.v.cwiseAbs().maxCoeff() / allowed);
    return worst;
  }
};

}  // namespace arris
