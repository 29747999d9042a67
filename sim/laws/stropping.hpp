// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/geometry.hpp"
#include "sim/laws/outline_constants.hpp"
#include "sim/laws/smooth.hpp"

/// Stropping: how hard a compliant pad presses on the tip, how the hand changes that, and what a lap removes.
///
///     K   = A·(F/w_b)/(π·√ℓ_K)·[ 1 + (ℓ_K/(1.63·t))² ]^(−1/4),  ℓ_K = √(ℓ·ℓ_c)     pressure K/√ξ at the distance ξ behind the tip
///     A²  = pos(1 + c_σ·μ/θ₀)² + (c_σ·σ/θ₀)²,  1/θ₀ = (E·ℓ_c·w_b/F)·( π/4 + ℓ_c/(2t) ),  σ² = σ_hand² + (u/ℓ)²
///     Λ   = (K/E)²,   P = (p̄/E)·√( 2A²/(1 + A²) ),   u_σ = (c_σ·σ/θ₀)²/A²
///     p_t = E·√( Q/(1 + Q) ),   Q = Λ/(c_b·w + r) + P²                             pressure at the tip, never above E
///     κ   = (a₀/40 kPa)·(L/0.2 m)·(7.1 GPa/H)                                     removal per pressure and lap
///     dw/dn = κ·E                                                                 length over which the edge has worn in
///     dr/dn = −κ·p_t/(1 − sin α)·[ 1 − (r∞/r)^m ],   ds/dn = −κ·p_t·(s − s_m)/(s + s_m),   db/dn = −λ_s·b
///
/// | symbol   | C++                    | meaning                                                    | unit | range   | default |
/// |----------|------------------------|------------------------------------------------------------|------|---------|---------|
/// | E, t     | `modulus_MPa`, `thickness_um` | modulus through the pad, and its thickness           | MPa, µm | > 0  | by backing |
/// | F/w_b    | `force_per_width`      | force per length of edge                                   | N/m  | > 0     | –       |
/// | ℓ, ℓ_c, p̄ | `land_um`, `contact_um`, `mean_MPa` | land, contact and mean pressure (pad_contact.hpp) | µm, µm, MPa | > 0 | – |
/// | μ        | `held`                 | how much steeper than the micro-bevel the blade is held    | rad  | ± 5°    | 0       |
/// | σ_hand   | `scatter`              | standard deviation of that from lap to lap                 | rad  | 0 … 5°  | 0.25°   |
/// | u        | `unevenness_um`        | unevenness of the pad over the land                        | µm   | ≥ 0     | by backing |
/// | Λ        | `length_um`            | strength of the pressure at the edge                       | µm   | ≥ 0     | –       |
/// | P        | `strain`               | mean pressure over E, as far as it reaches the tip         | –    | ≥ 0     | –       |
/// | u_σ      | `unsteady`             | share of Λ that comes and goes from lap to lap             | –    | 0 … 1   | 0       |
/// | w        | `worn_in_um`           | length behind the tip over which edge and pad fit          | µm   | ≥ 0     | –       |
/// | a₀       | `removal_nm`           | removal per lap of a compound at the reference             | nm   | 0.3 … 30| 3       |
///
/// A land pressed on an elastic layer bears hardest at its end; the pad follows the loss of steel there over a length that
/// grows with the laps, and the pressure evens out within it. A blade held too steep bears harder at the tip, one held
/// too low does not reach it; on a hard pad a fraction of a degree decides, and a hand that wobbles does both in turn.
/// Source: K of a flat punch, and its change by a tilt (Johnson, Contact Mechanics, from memory); c_b and c_σ are fitted
/// to the outline of sim/outline (dub.hpp). Throws nothing.
///
///     const PadEdge<double> edge = press_edge({200.0, 34.6, 1000.0, 500.0, 540.0, 0.37}, {0.0, 0.0});
///     edge.length_um;                     // 0.0063
///     edge.tip_pressure_MPa(50.0, 0.15);  // 0.78 MPa, twice the mean
namespace arris::laws {

inline constexpr double strop_reference_pressure_Pa = 40e3;
inline constexpr double strop_reference_lap_m       = 0.2;
inline constexpr double strop_reference_hardness_Pa = 7.1e9;

/// A blade on a pad, per length of edge.
template <class T>
struct OnPad {
  T force_per_width;
  T modulus_MPa;
  T thickness_um;
  T land_um;
  T contact_um;
  T mean_MPa;
};

/// How the blade is held, in rad.
template <class T>
struct Hold {
  T held;     ///< μ, with its sign
  T scatter;  ///< σ, hand and pad together
};

/// The pressure that a pad puts on the end of a land. `Constants` are those that are fitted to the outline; a fit of them puts
/// numbers that vary in their place.
template <class T, class Constants = OutlineConstants>
struct PadEdge {
  T                               modulus_MPa;
  T                               length_um;   ///< Λ
  T                               strain;      ///< P
  T                               contact_um;  ///< ℓ_K
  T                               unsteady{};  ///< u_σ
  [[no_unique_address]] Constants fitted;      ///< takes no room where they are fixed

  /// Q.
  [[nodiscard]] T load(const T& worn_in_um, const T& apex_radius_um) const {
    return length_um / (fitted.worn_in_share * worn_in_um + apex_radius_um) + strain * strain;
  }
  /// p_t in MPa, 0 … E.
  [[nodiscard]] T tip_pressure_MPa(const T& worn_in_um, const T& apex_radius_um) const {
    using std::sqrt;
    const T q = load(worn_in_um, apex_radius_um);
    return modulus_MPa * sqrt(q / (1.0 + q));
  }
};

/// How many times as hard as one held exactly a blade bears at the tip.
template <class T>
struct Bearing {
  T square;    ///< A², at least 1e-6, which is nothing
  T unsteady;  ///< share of it that comes and goes from lap to lap, u_σ

  [[nodiscard]] T factor() const {
    using std::sqrt;
    return sqrt(square);
  }
};

template <class T, class Constants = OutlineConstants>
[[nodiscard]] Bearing<T> bearing(const OnPad<T>& on, const Hold<T>& hold, const Constants& fitted = {}) {
  constexpr double least    = 1e-6;
  const T          per_tilt = fitted.hand * on.modulus_MPa * on.contact_um / on.force_per_width *
                     (0.25 * pi + 0.5 * on.contact_um / on.thickness_um);  // c_σ/θ₀
  const T steady = smooth_positive(T(1.0 + hold.held * per_tilt), T(1.0));
  const T wobble = hold.scatter * per_tilt;
  const T square = steady * steady + wobble * wobble;
  if (!(square > least)) return {T(least), T(0.0)};
  return {square, T(wobble * wobble / square)};
}

template <class T, class Constants = OutlineConstants>
[[nodiscard]] PadEdge<T, Constants> press_edge(const OnPad<T>& on, const Hold<T>& hold,
                                               const Constants& fitted = {}) {
  using std::sqrt;
  const Bearing<T> bears   = bearing(on, hold, fitted);
  const T          contact = sqrt(on.land_um * on.contact_um);
  const T          deep    = contact / (1.63 * on.thickness_um);
  const T          per     = on.force_per_width / (pi * on.modulus_MPa);  // F/(w_b·π·E), µm
  return {on.modulus_MPa,
          T(per * per * bears.square / (contact * sqrt(1.0 + deep * deep))),
          T(on.mean_MPa / on.modulus_MPa * sqrt(2.0 * bears.square / (1.0 + bears.square))),
          contact,
          bears.unsteady,
          fitted};
}

/// κ in µm per MPa and lap.
template <class T>
[[nodiscard]] T strop_removal_per_MPa(const T& removal_nm, const T& lap_m, const T& hardness_Pa) {
  return 1e-3 * removal_nm / (1e-6 * strop_reference_pressure_Pa) * (lap_m / strop_reference_lap_m) *
         (strop_reference_hardness_Pa / hardness_Pa);
}

}  // namespace arris::laws
