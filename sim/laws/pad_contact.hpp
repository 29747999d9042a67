// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

/// How far a compliant pad sinks under the land, and how much of the bevel it then touches.
///
///     δ·( ℓ + δ/tan Δ ) = F·t_eff/(w·E),   1/t_eff = 1/t + 1/(2ℓ_c),   ℓ_c = ℓ + δ/tan Δ,   p = F/(w·ℓ_c)
///
/// | symbol | C++             | meaning                                              | unit | range     | default |
/// |--------|-----------------|------------------------------------------------------|------|-----------|---------|
/// | F      | `force_N`       | force on the blade                                   | N    | > 0       | –       |
/// | w      | `width_m`       | width of the blade                                   | m    | > 0       | –       |
/// | E, t   | `modulus_Pa`, `thickness_m` | modulus through the pad, and its thickness | Pa, m | > 0     | by backing |
/// | ℓ      | `land_m`        | honed land                                           | m    | > 0       | –       |
/// | Δ      | `step_angle`    | micro-bevel minus primary bevel (0: whole bevel)     | rad  | ≥ 0       | –       |
/// | δ, ℓ_c, p | `sink_m`, `contact_m`, `pressure_Pa` | sink, contact length, mean pressure | m, m, Pa | > 0 | – |
///
/// A thin pad on a stiff base is a layer of thickness t; a pad thicker than the contact behaves as if it were about
/// twice the contact deep, hence t_eff. With Δ = 0 the contact is the whole bevel and δ follows at once.
/// Written for ℓ_c the equation is a quadratic with one positive root, so no iteration is needed:
///     ℓ_c²/t + ℓ_c·(1/2 − ℓ/t) − ℓ/2 − F/(w·E·tan Δ) = 0
/// Not valid for sinks above a fifth of the pad's thickness (the modulus of leather and felt then rises).
/// Source: derived here; elastic layer and half-space limits after Johnson, Contact Mechanics (from memory).
/// Throws nothing.
///
///     const PadContact<double> c = press_pad(10.0, 0.05, 40e6, 1e-3, 0.5e-3, 5*degree);
///     c.sink_m;       // 4.7e-6
///     c.contact_m;    // 0.554e-3
namespace arris::laws {

template <class T>
struct PadContact {
  T sink_m;
  T contact_m;
  T pressure_Pa;
};

template <class T>
[[nodiscard]] PadContact<T> press_pad(const T& force_N, const T& width_m, const T& modulus_Pa,
                                      const T& thickness_m, const T& land_m, const T& step_angle) {
  using std::sqrt;
  using std::tan;

  const T    load           = force_N / (width_m * modulus_Pa);
  const auto depth_of_layer = [&](const T& contact) {
    return T(1.0 / (1.0 / thickness_m + 1.0 / (2.0 * contact)));
  };
  if (!(step_angle > 0.0)) {
    const T sink = load * depth_of_layer(land_m) / land_m;
    return {sink, land_m, force_N / (width_m * land_m)};
  }

  // unknown: the contact ℓ_c ≥ ℓ, from  tan Δ·(ℓ_c − ℓ)·ℓ_c·(1/t + 1/(2ℓ_c)) = F/(w·E), a quadratic in ℓ_c:
  //   ℓ_c²/t + ℓ_c·(1/2 − ℓ/t) − ℓ/2 − load/tan Δ = 0
  const T a       = 1.0 / thickness_m;
  const T b       = 0.5 - land_m / thickness_m;
  const T c       = -0.5 * land_m - load / tan(step_angle);
  const T root    = sqrt(b * b - 4.0 * a * c);
  const T contact = b > 0.0 ? T(-2.0 * c / (b + root)) : T((root - b) / (2.0 * a));
  const T sink    = load * depth_of_layer(contact) / contact;
  return {sink, contact, force_N / (width_m * contact)};
}

}  // namespace arris::laws
