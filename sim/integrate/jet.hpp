// SPDX-License-Identifier: MIT
#pragma once

#include <ceres/jet.h>

#include "sim/integrate/scalar.hpp"

/// Numbers that carry exact derivatives (ceres::Jet, header only) through a whole history.
namespace arris {

template <int N>
struct Number<ceres::Jet<double, N>> {
  using Jet = ceres::Jet<double, N>;

  [[nodiscard]] static double value(const Jet& x) { return x.a; }
  [[nodiscard]] static bool   finite(const Jet& x) { return std::isfinite(x.a) && x.v.allFinite(); }
  [[nodiscard]] static bool   varies(const Jet& x) { return !x.v.isZero(0.0); }
};

template <int N>
struct Scalar<ceres::Jet<double, N>> : Number<ceres::Jet<double, N>> {
  using Jet = ceres::Jet<double, N>;

  /// The worst of value and derivatives. Derivatives steer a fit and its covariance, so they are held to four times the
  /// tolerance of the value; one that is much smaller than the largest of them, to that one's.
  [[nodiscard]] static double error_ratio(const Jet& error, const Jet& before, const Jet& after,
                                          double absolute, double relative) {
    double       worst   = Scalar<double>::error_ratio(error.a, before.a, after.a, absolute, relative);
    const double largest = std::max(before.v.cwiseAbs().maxCoeff(), after.v.cwiseAbs().maxCoeff());
    const double allowed = 4.0 * (absolute + relative * largest);
    worst                = std::max(worst, error.v.cwiseAbs().maxCoeff() / allowed);
    return worst;
  }
  template <class Operation, class... S>
  static void apply(Operation& operation, S&... x) {
    operation(x.a...);
    for (int i = 0; i < N; ++i) operation(x.v[i]...);
  }
};

}  // namespace arris
