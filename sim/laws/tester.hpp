// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/geometry.hpp"
#include "sim/laws/gram_force.hpp"

/// What a tester reads: the peak force with which an edge, pressed without slicing, parts a tensioned filament.
///
///     F = F_a + S·r_e/( 1 + S·r_e/(F_sat − F_a) ),    r_e = r + κ_b·b,    F_a = F₀·( 1 + ω·(tan α − tan 15°) )
///
/// | symbol | C++                | meaning                                                | unit  | range      | default |
/// |--------|--------------------|--------------------------------------------------------|-------|------------|---------|
/// | F₀     | `cut_resistance_N` | the filament's own resistance, at 30° included angle   | N     | 0.05 … 5   | 0.5     |
/// | S      | `slope_N_per_um`   | force per apex radius                                  | N/µm  | 0.1 … 50   | 1.8     |
/// | F_sat  | `saturation_N`     | force at which a blunt bar shears or crushes the filament, τ·π·d_f²/4 | N | > F₀ | 8 |
/// | κ_b    | `burr_share`       | how much of the burr counts as radius                  | –     | 0 … 1      | 0.3     |
/// | ω      | `wedge_share`      | small effect of the wedge angle on F₀                  | –     | 0 … 0.5    | 0.05    |
/// | α      | `half_angle`       | half the included angle                                | rad   | 0 … π/2    | –       |
/// | r, b   | `apex_radius_um`, `burr_um` | apex radius and burr                          | µm    | ≥ 0        | –       |
///
/// Valid for a straight press at a steady, slow rate on a tensioned filament; pressed fast, or on a loose filament, a
/// reading belongs to another population.
/// Source: initiation force flat in r below a transition radius and linear above it (Antarvedi Goda et al.,
/// arXiv 2412.02021); sharpness index linear in tip radius and independent of wedge angle, speed and substrate
/// (Schuldt et al., J. Food Eng. 188 (2016) 13). The saturation is an estimate. Throws nothing.
///
///     const TesterLaw<double> tester{0.5, 3.0, 8.0, 0.3, 0.05};
///     tester.reading_N(0.3, 0.0, 15*degree);          // 1.30 N
///     in_gram_force(1.30);                            // 133 gf
namespace arris::laws {

/// The law for edges of one angle.
template <class T>
struct TesterAtAngle {
  T start_N;  ///< F_a
  T slope_N_per_um;
  T saturation_N;
  T burr_share;

  /// F in newton.
  [[nodiscard]] T reading_N(const T& apex_radius_um, const T& burr_um) const {
    const T linear = slope_N_per_um * (apex_radius_um + burr_share * burr_um);
    return start_N + linear / (1.0 + linear / (saturation_N - start_N));
  }
};

template <class T>
struct TesterLaw {
  T cut_resistance_N;
  T slope_N_per_um;
  T saturation_N;
  T burr_share;
  T wedge_share;

  /// For many readings of edges of one angle.
  [[nodiscard]] TesterAtAngle<T> at_angle(const T& half_angle) const {
    using std::tan;
    static const double tan_reference = std::tan(15.0 * degree);
    return {cut_resistance_N * (1.0 + wedge_share * (tan(half_angle) - tan_reference)), slope_N_per_um,
            saturation_N, burr_share};
  }
  /// F in newton.
  [[nodiscard]] T reading_N(const T& apex_radius_um, const T& burr_um, const T& half_angle) const {
    return at_angle(half_angle).reading_N(apex_radius_um, burr_um);
  }
};

/// F_sat in newton from the filament: `shear_strength_MPa` in MPa, `diameter_mm` in mm.
template <class T>
[[nodiscard]] T filament_saturation_N(const T& shear_strength_MPa, const T& diameter_mm) {
  return shear_strength_MPa * 0.25 * pi * diameter_mm * diameter_mm;
}

}  // namespace arris::laws
