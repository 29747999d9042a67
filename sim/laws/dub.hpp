// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/geometry.hpp"
#include "sim/laws/smooth.hpp"
#include "sim/laws/stropping.hpp"

/// Dub: the flanks of a stropped edge get steeper over their last micrometres. What that adds to the radius that a tester
/// meets, and how much flat honing must take off before it meets the tip again.
///
///     f(Λ, P, w) = A₁·√( Λ/w + (c_∞·P)² )·ln( 1 + c_w·w′/(y + c_y·Λ) )/(1 + c_L·Λ/w),   w′ = w/(1 + c_ℓ·w/ℓ_K)
///     ψ₀² = f( (1 − u_σ)·Λ, P, w )² + f( u_σ·Λ, 0, w_σ )²,   1/w_σ = 1/w + 1/(κ·E)
///     ψ  = ψ₀/√(1 + (ψ₀/ψ_m)²),   ψ_m = c_m·(π/2 − α)                          mean dub angle of a face over y
///     D  = y·[ tan(α + ψ) − tan α ]/[ tan α·(1/sin α − 1) ]                     of faces that meet in a point
///     r_e = r + D·F·G,   F = pos( 1 − r·(1 − sin α)/y; 0.25 ),   G = w/( w + r·(1/sin α − 1) )     beside an arc of the tip
///     h  = c_h·w·√Λ/√( (1 + w/ℓ_K)·(w + c_d·Λ) )                               depth to flat; solved for w it is a quadratic
///     b  = c_n·sin α·D·(y₀/y)^0.85,   y₀ = 1 µm                                borne by the dub in wood: the load meets r + b
///
/// | symbol  | C++                  | meaning                                                   | unit | range      | default |
/// |---------|----------------------|-----------------------------------------------------------|------|------------|---------|
/// | w       | `worn_in_um`         | length over which the edge has worn in to the pad         | µm   | ≥ 0        | –       |
/// | κ·E     | `per_lap_um`         | by how much w grows in a lap                              | µm   | ≥ 0        | –       |
/// | Λ, P, ℓ_K, u_σ | `PadEdge`     | strength of the pressure at the edge, mean strain, contact, share of the hand (stropping.hpp) | µm, –, µm, – | – | – |
/// | y       | `behind_um`          | distance behind the tip at which a tester meets the edge  | µm   | 0.05 … 5   | fitted  |
/// | ψ       | `dub_angle`          | how much steeper a face is there                          | rad  | 0 … ψ_m    | –       |
/// | D       | `dub_um`             | what the dub adds to the apex radius                      | µm   | ≥ 0        | –       |
/// | h       | `depth_um`           | what flat honing takes off before it meets the tip        | µm   | ≥ 0        | –       |
/// | b       | `borne_by_dub_um`    | what the dub adds to the radius that the load of wood meets | µm | ≥ 0        | –       |
///
/// A layer under even pressure that ends has a slope (2p/πE)·ln(…/ξ) at its end: the edge takes the shape of the pad there.
/// The dub angle goes as √(Λ/w)·ln(1 + w/y): it grows while w < y and falls after. Hard pads wear in within a lap and
/// are past their maximum, soft ones are before it for a hundred laps: so a soft strop rounds an edge over and a hard one
/// does not, by the same law. A hand that wobbles meets the edge at another angle in each lap: what it adds is worn in by a
/// lap, not by all of them, so that on hard pads the hand makes the dub. Where the pressure would be above the modulus, over some
/// Λ, the face is straight. What adds up on every pad is h. In wood, flanks that are steeper carry a part of the load that would
/// all be on the arc of the tip: a dubbed edge blunts more slowly than a straight one that reads the same.
/// An arc reaches r·(1 − sin α) behind the tip, and only beyond that does a face that is steeper count: F is exact for a small dub angle.
/// Until the pad has worn in over the length by which its faces would meet ahead of it, it bears on the arc and dubs less.
/// Source: derived here; the constants are fitted to the outline of sim/outline. Slopes above some 20° are beyond what a
/// linear pad can say. Throws nothing.
///
///     const PadEdge<double> thin = ...;
///     dub_um(thin, 52.0, 2.6, 1.0, 15*degree);   // 0.13 µm after 20 laps on thin hide
///     depth_to_flat_um(thin, 52.0);              // 1.1 µm
namespace arris::laws {

namespace detail {

/// f: what a pressure of strength Λ and strain P makes of an edge that has worn in over w, rad.
template <class T, class Constants>
[[nodiscard]] T free_dub_angle(const PadEdge<T, Constants>& pad, const T& length_um, const T& strain,
                               const T& worn_in_um, const T& behind_um) {
  using std::log;
  using std::sqrt;
  const auto& c    = pad.fitted;
  const T     even = c.mean_share * strain * worn_in_um;
  const T     q    = sqrt(length_um * worn_in_um + even * even) / (worn_in_um + c.onset * length_um);
  const T     over = worn_in_um / (1.0 + c.land_share * worn_in_um / pad.contact_um);
  return c.angle * q * log(1.0 + c.reach * over / (behind_um + c.even_share * length_um));
}

}  // namespace detail

/// ψ in rad.
template <class T, class Constants>
[[nodiscard]] T dub_angle(const PadEdge<T, Constants>& pad, const T& worn_in_um, const T& per_lap_um,
                          const T& behind_um, const T& half_angle) {
  using std::sqrt;
  if (!(worn_in_um > 0.0)) return T(0.0);
  T free =
      detail::free_dub_angle(pad, T(pad.length_um * (1.0 - pad.unsteady)), pad.strain, worn_in_um, behind_um);
  if (pad.unsteady > 0.0 && per_lap_um > 0.0) {
    const T anew   = worn_in_um * per_lap_um / (worn_in_um + per_lap_um);
    const T wobble = detail::free_dub_angle(pad, T(pad.length_um * pad.unsteady), T(0.0), anew, behind_um);
    free           = sqrt(free * free + wobble * wobble);
  }
  const T part = free / (pad.fitted.steepest * (0.5 * pi - half_angle));
  return free / sqrt(1.0 + part * part);
}

/// D in µm of faces that are steeper by `angle` (rad) over the distance `behind_um`; `half_angle` in rad.
template <class T>
[[nodiscard]] T dub_of_angle_um(const T& angle, const T& behind_um, const T& half_angle) {
  using std::sin;
  using std::tan;
  const T slope = tan(half_angle);
  return behind_um * (tan(T(half_angle + angle)) - slope) / (slope * (1.0 / sin(half_angle) - 1.0));
}

/// D in µm; `half_angle` in rad.
template <class T, class Constants>
[[nodiscard]] T dub_um(const PadEdge<T, Constants>& pad, const T& worn_in_um, const T& per_lap_um,
                       const T& behind_um, const T& half_angle) {
  return dub_of_angle_um(dub_angle(pad, worn_in_um, per_lap_um, behind_um, half_angle), behind_um,
                         half_angle);
}

/// F, the part of a dub that counts beside the arc of the tip.
template <class T>
struct BesideArc {
  T per_radius{};  ///< (1 − sin α)/y, 1/µm
  T ahead{};       ///< 1/sin α − 1: how far ahead of an arc its faces meet, over its radius

  static constexpr double blend = 0.25;  ///< no arc ends all at once; an estimate

  [[nodiscard]] T share(const T& radius_um) const {
    return smooth_positive(T(1.0 - radius_um * per_radius), T(blend));
  }
  /// G, what of its dub a pad has made of an edge with an arc by the time it has worn in over `worn_in_um`.
  [[nodiscard]] T made(const T& radius_um, const T& worn_in_um) const {
    return worn_in_um > 0.0 ? T(worn_in_um / (worn_in_um + radius_um * ahead)) : T(1.0);
  }
};

template <class T>
[[nodiscard]] BesideArc<T> beside_arc(const T& behind_um, const T& sin_half) {
  return {T((1.0 - sin_half) / behind_um), T(1.0 / sin_half - 1.0)};
}

/// h in µm.
template <class T, class Constants>
[[nodiscard]] T depth_to_flat_um(const PadEdge<T, Constants>& pad, const T& worn_in_um) {
  using std::sqrt;
  return pad.fitted.depth * worn_in_um *
         sqrt(pad.length_um /
              ((1.0 + worn_in_um / pad.contact_um) * (worn_in_um + pad.fitted.depth_onset * pad.length_um)));
}

/// The depth in µm that a pad makes at most, however long one strops on it.
template <class T, class Constants>
[[nodiscard]] T deepest_to_flat_um(const PadEdge<T, Constants>& pad) {
  using std::sqrt;
  return pad.fitted.depth * sqrt(pad.length_um * pad.contact_um);
}

/// w in µm at which this pad has made the depth `depth_um`, which must be below `deepest_to_flat_um`.
template <class T, class Constants>
[[nodiscard]] T worn_in_at_um(const PadEdge<T, Constants>& pad, const T& depth_um) {
  using std::sqrt;
  // with H = (h/c_h)²:  (Λ − H/ℓ)·w² − H·(1 + c_dΛ/ℓ)·w − c_dΛ·H = 0, divided by h so that w goes as h near 0
  const T per   = depth_um / (pad.fitted.depth * pad.fitted.depth);  // H/h
  const T onset = pad.fitted.depth_onset * pad.length_um;
  const T a     = pad.length_um - per * depth_um / pad.contact_um;
  const T b     = per * (1.0 + onset / pad.contact_um);
  const T c     = onset / (pad.fitted.depth * pad.fitted.depth);
  return depth_um * (b + sqrt(b * b + 4.0 * a * c)) / (2.0 * a);
}

/// b in µm of an edge whose dub adds `dub_um` to the radius met `behind_um` behind its tip. The power is that of D over y on hard
/// pads, 1 on soft ones.
template <class T, class Constants = OutlineConstants>
[[nodiscard]] T borne_by_dub_um(const T& dub_um, const T& behind_um, const T& sin_half,
                                const Constants& fitted = {}) {
  using std::pow;
  return fitted.borne * sin_half * dub_um * pow(behind_um, T(-0.85));
}

/// How steel comes off the tip of a dubbed edge while a flat face is honed, or a pad worn in, from behind: nothing until a
/// depth e is gone, everything after. No edge is straight, so that it begins here before it begins there.
///
///     depth at the tip = pos(d − e; e/2),   share = its slope,   left = pos(e − d; e/2)
template <class T>
struct TipContact {
  T excess_um;  ///< e ≥ 0

  static constexpr double half_width = 0.5;  ///< of e, an estimate

  [[nodiscard]] bool delayed() const { return excess_um > 0.0; }
  /// What is off the tip after the depth `depth_um`, µm.
  [[nodiscard]] T at_tip_um(const T& depth_um) const {
    return delayed() ? smooth_positive(T(depth_um - excess_um), T(half_width * excess_um)) : depth_um;
  }
  /// 0 … 1.
  [[nodiscard]] T share(const T& depth_um) const {
    return delayed() ? smooth_step(T(depth_um - excess_um), T(half_width * excess_um)) : T(1.0);
  }
  /// What still keeps the tip from being met, µm.
  [[nodiscard]] T left_um(const T& depth_um) const {
    return delayed() ? smooth_positive(T(excess_um - depth_um), T(half_width * excess_um)) : T(0.0);
  }
};

/// A tip that is met after the depth `excess_um`. Less than a picometre is none: the joints of so short a delay cannot be
/// stepped over, and it is nothing.
template <class T>
[[nodiscard]] TipContact<T> met_after(const T& excess_um) {
  constexpr double least_um = 1e-6;
  return {excess_um > least_um ? excess_um : T(0.0)};
}

/// The shape that a hand gives a bevel on a flat stone: its angle wanders by σ, so that the bevel comes out convex, and the
/// last micrometres are honed by the steepest strokes.
///
///     D_σ = D( c_t·σ ),   h_σ = σ·ℓ/4,   both reached over a depth of h_σ
///
/// A segment of a circle that turns by 2σ over the land ℓ lies σ·ℓ/4 below its chord. c_t = 1.5: the steepest of some ten
/// strokes. Estimates; with a guide (σ = 0) there is nothing of either.
template <class T>
struct HandRound {
  T deepest_um{};  ///< h_σ
  T rounded_um{};  ///< D_σ

  /// Share of the shape that is there after the depth `off_um`.
  [[nodiscard]] T made(const T& off_um) const {
    using std::exp;
    return deepest_um > 0.0 ? T(1.0 - exp(-off_um / deepest_um)) : T(1.0);
  }
  /// D where it was `before_um`, with the tip met by a share `met` of the strokes.
  [[nodiscard]] T dub_um(const T& before_um, const T& met, const T& off_um) const {
    return off_um > 0.0 ? T(before_um + (rounded_um - before_um) * met * made(off_um)) : before_um;
  }
  /// The part of the depth to flat that this hand makes itself, where it was `before_um`.
  [[nodiscard]] T depth_um(const T& before_um, const T& off_um) const {
    return deepest_um > 0.0 ? T(before_um + (deepest_um - before_um) * made(off_um)) : T(0.0 * before_um);
  }
};

template <class T>
[[nodiscard]] HandRound<T> hand_round(const T& scatter, const T& land_um, const T& behind_um,
                                      const T& half_angle) {
  constexpr double steepest = 1.5;
  return {T(0.25 * scatter * land_um), dub_of_angle_um(T(steepest * scatter), behind_um, half_angle)};
}

}  // namespace arris::laws
