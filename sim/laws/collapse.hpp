// SPDX-License-Identifier: MIT
#pragma once

#include <array>

#include "sim/laws/number.hpp"
#include "sim/laws/smooth.hpp"

/// Collapse of an apex too thin to carry the load of the cut.
///
///     dr/dx = pos(r_c − r)/L_c,     r_c = (1.5·F′/σ_y)·(1 + 1/sin α),   σ_y = H/3
///
/// | symbol | C++                  | meaning                                          | unit | range    | default |
/// |--------|----------------------|--------------------------------------------------|------|----------|---------|
/// | F′     | `load_N_per_m`       | load per length of edge that bends the tip       | N/m  | ≥ 0      | 60      |
/// | σ_y    | –                    | yield stress, a third of the hardness            | Pa   | –        | –       |
/// | r_c    | `radius_um`          | radius below which the tip yields                | µm   | 0.1 … 2  | 0.19    |
/// | L_c    | `length_m`           | path over which it gives way                     | m    | 0.1 … 30 | 10      |
///
/// Obtuse edges survive thinner: 1 + 1/sin α = 6.8, 5.6, 4.9, 4.3, 3.9 at 20, 25, 30, 35, 40°.
/// The positive part is the C² one of smooth.hpp, half-width r_c/10, so the term is exactly zero above 1.1·r_c.
/// Source: derived here (plastic cantilever); σ_y = H/3 is Tabor's rule of thumb (from memory); F′ and L_c estimates.
/// Throws nothing.
///
///     Collapse<double>::radius_um(60.0, 7.1e9, 0.2588);    // 0.185 µm
namespace arris::laws {

template <class T>
struct Collapse {
  T critical_radius_um;
  T length_m;

  /// r_c in µm.
  [[nodiscard]] static T radius_um(const T& load_N_per_m, const T& hardness_Pa, const T& sin_half) {
    return 1e6 * 1.5 * load_N_per_m / (hardness_Pa / 3.0) * (1.0 + 1.0 / sin_half);
  }
  /// dr/dx in µm per metre.
  [[nodiscard]] T rate(const T& apex_radius_um) const {
    const auto giving_way = [&] {
      return T(smooth_positive(T(critical_radius_um - apex_radius_um), T(blend * critical_radius_um)) /
               length_m);
    };
    return choose(critical_radius_um > 0.0, giving_way, [] { return T(0.0); });
  }
  /// Radii in µm at which the rate is only twice differentiable: where the positive part begins and ends to blend.
  [[nodiscard]] std::array<double, 2> joints() const {
    const double radius = Number<T>::value(critical_radius_um);
    return {(1.0 - blend) * radius, (1.0 + blend) * radius};
  }

 private:
  static constexpr double blend = 0.1;
};

}  // namespace arris::laws
