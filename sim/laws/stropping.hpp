// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

/// Stropping: how much of the pad's work reaches the apex, what radius a compliant pad leaves, and what it removes.
///
///     A   = 1 − exp(−δ/γ),   γ = tan ε·ℓ + u             reach
///     r_s² = r∞² + (χ_pad·δ)²                            drape
///     a_s = a₀·(p/40 kPa)·(L/0.2 m)·(7.1 GPa/H)          removal per lap
///     dr/dn = −A·( a_s/(1 − sin α) )·[ 1 − (r_s/r)^m ],  db/dn = −A·λ_s·b,  ds/dn = −A·a_s·(s − s_m)/(s + s_m)
///
/// | symbol | C++              | meaning                                           | unit | range       | default |
/// |--------|------------------|---------------------------------------------------|------|-------------|---------|
/// | δ      | `sink_um`        | how far the pad sinks (pad_contact.hpp)           | µm   | ≥ 0         | –       |
/// | γ      | `gap_um`         | gap between apex and a rigid pad                  | µm   | ≥ 0         | –       |
/// | ε      | `angle_error`    | how much lower than the micro-bevel the blade is held | rad | 0 … 5°   | 0.5°    |
/// | u      | `unevenness_um`  | unevenness of the pad over the land               | µm   | ≥ 0         | by backing |
/// | χ_pad  | `drape`          | apex radius per sink                              | –    | 0.001 … 0.1 | fitted  |
/// | a₀     | `removal_nm`     | removal per lap of a compound at the reference    | nm   | 0.3 … 30    | 3       |
/// | p, L, H| `pressure_Pa`, `lap_m`, `hardness_Pa` | pressure, length of a lap, hardness | Pa, m, Pa | > 0 | –  |
///
/// A pad too stiff to sink by the gap misses the apex; a pad that swells behind the apex rounds it. The two oppose
/// one another, so a soft strop first improves an edge and then only rounds it: the best number of laps is finite.
/// With γ = 0 (a jig, or film on a flat plate at the honing angle) the reach is 1.
/// Source: drape and reach are estimates, closures for the pressure p ∝ 1/√ξ at the edge of a flat punch (Johnson,
/// Contact Mechanics, from memory). A finer model of the outline (validation/profile) gives χ_pad = 0.013, ×/÷ 1.55 between pads and
/// ×/÷ 2 for the distance from the tip at which an edge is met; facts of the trade ask for less, and the default is fitted to both.
/// Throws nothing.
///
///     strop_reach(10.0, 5.0);            // 0.865
///     strop_radius(0.1, 10.0, 0.01);     // 0.141 µm
namespace arris::laws {

inline constexpr double strop_reference_pressure_Pa = 40e3;
inline constexpr double strop_reference_lap_m       = 0.2;
inline constexpr double strop_reference_hardness_Pa = 7.1e9;

/// A, 0 … 1.
template <class T>
[[nodiscard]] T strop_reach(const T& sink_um, const T& gap_um) {
  using std::exp;
  if (!(gap_um > 0.0)) return T(1.0);
  return 1.0 - exp(-sink_um / gap_um);
}

/// γ in µm; `angle_error` in rad, `land_um` and `unevenness_um` in µm.
template <class T>
[[nodiscard]] T strop_gap(const T& angle_error, const T& land_um, const T& unevenness_um) {
  using std::tan;
  return tan(angle_error) * land_um + unevenness_um;
}

/// r_s in µm.
template <class T>
[[nodiscard]] T strop_radius(const T& floor_um, const T& sink_um, const T& drape) {
  using std::sqrt;
  const T round = drape * sink_um;
  return sqrt(floor_um * floor_um + round * round);
}

/// a_s in µm per lap.
template <class T>
[[nodiscard]] T strop_removal_um(const T& removal_nm, const T& pressure_Pa, const T& lap_m,
                                 const T& hardness_Pa) {
  return 1e-3 * removal_nm * (pressure_Pa / strop_reference_pressure_Pa) * (lap_m / strop_reference_lap_m) *
         (strop_reference_hardness_Pa / hardness_Pa);
}

}  // namespace arris::laws
