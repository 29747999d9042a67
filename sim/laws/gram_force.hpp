// SPDX-License-Identifier: MIT
#pragma once

/// Forces in newton and in gram-force.
///
///     in_gram_force(1.30);    // 133 gf
///     in_newton(133.0);       // 1.30 N
namespace arris::laws {

/// Standard gravity, m/s², exact by definition: 1 gf = 9.80665 mN.
inline constexpr double standard_gravity = 9.80665;

/// A force in newton, in gram-force.
template <class T>
[[nodiscard]] T in_gram_force(const T& newton) {
  return newton * (1000.0 / standard_gravity);
}

/// A force in gram-force, in newton.
[[nodiscard]] constexpr double in_newton(double gram_force) { return gram_force * 1e-3 * standard_gravity; }

}  // namespace arris::laws
