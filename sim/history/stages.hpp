// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

#include "sim/history/model.hpp"
#include "sim/history/state.hpp"
#include "sim/history/steps.hpp"
#include "sim/laws/abrasion.hpp"
#include "sim/laws/apex_kinematics.hpp"
#include "sim/laws/burr.hpp"
#include "sim/laws/chipping.hpp"
#include "sim/laws/collapse.hpp"
#include "sim/laws/dub.hpp"
#include "sim/laws/glazing.hpp"
#include "sim/laws/honing_floor.hpp"
#include "sim/laws/land_growth.hpp"
#include "sim/laws/number.hpp"
#include "sim/laws/pad_contact.hpp"
#include "sim/laws/scratch.hpp"
#include "sim/laws/stropping.hpp"
#include "sim/laws/wear/conditions.hpp"
#include "sim/laws/wood_severity.hpp"

/// A stage is one step of a history with every constant of it worked out: what the integrator sees.
///
/// Each stage has `Vector`, the components that need integrating over the count n of strokes, laps or passes;
/// `start(state)`, `rates(y, dy, n)` and `finish(y, n)`, which puts what is known in closed form (land, burr in wood)
/// back beside what was integrated.
namespace arris {

template <class T>
[[nodiscard]] laws::HoningFloor<T> honing_floor(const Model<T>& model, const Blade<T>& blade) {
  const auto& c = model.coefficients;
  return {c.radius_per_scratch, blade.carbide_radius_um, c.floor_radius_um, c.floor_exponent};
}

/// Abrasion of one face on a rigid medium: the bevel (honing) or the back.
template <class T>
struct FaceStage {
  using Vector = std::array<T, 3>;  ///< r, s, B

  bool                  is_bevel;
  laws::LandGrowth<T>   land;
  laws::Glazing<T>      glaze;
  laws::HoningFloor<T>  floor;
  laws::ScratchDepth<T> scratch;
  laws::Burr<T>         burr;
  laws::TipContact<T>   tip;             ///< a dubbed tip is met once the faces are flat up to it
  laws::HandRound<T>    hand;            ///< shape that the hand gives the bevel
  T                     sin_bevel;       ///< of the honed angle
  T                     used;            ///< strokes on the medium since it was dressed
  T                     start_fresh;     ///< freshness of its surface at the start
  T                     start_depth_um;  ///< h₀
  T                     size_um;
  T                     force_per_width;  ///< N/m
  T                     hardness_Pa;
  T      fall_per_removal;  ///< dr/dn over a, far from the floor; half of the removal is on the other face
  T      own_scratch_um;    ///< s_m where it does not depend on the pressure
  T      own_floor_um;      ///< r∞ once the scratches of the medium before are gone
  bool   depth_follows_pressure;  ///< s_m must be worked out at every n
  double faces = 1.0;             ///< honed in turn: each face gets every second stroke if there are two

  [[nodiscard]] T pressure_Pa(const T& depth_um) const {
    return force_per_width / (1e-3 * land.land_mm(depth_um));
  }

  /// s_m at the pressure on a land honed to `depth_um`.
  [[nodiscard]] T own_scratch(const T& depth_um) const {
    return depth_follows_pressure ? scratch.depth_um(size_um, pressure_Pa(depth_um), hardness_Pa)
                                  : own_scratch_um;
  }
  /// h after n strokes.
  [[nodiscard]] T depth_at(const T& n) const {
    return depth_after(glaze.effective_between(n, start_fresh, glaze.freshness(T(used + n))));
  }
  /// h where the strokes so far were worth `effective` fresh ones.
  [[nodiscard]] T depth_after(const T& effective) const {
    return land.depth(start_depth_um, T(effective / faces));
  }
  /// Share of a stroke that the tip is met by, where the faces are honed to `depth`, 0 … 1.
  [[nodiscard]] T tip_share(const T& depth) const { return tip.share(T(depth - start_depth_um)); }

  /// Rates of r, s and B; `Y` may hold more behind them.
  template <class Y>
  void rates(const Y& y, Y& dy, double n) const {
    const T &r = y[0], &s = y[1];
    const T  fresh = glaze.freshness(T(used + n));
    const T  depth = depth_after(glaze.effective_between(T(n), start_fresh, fresh));
    const T  a     = land.removal_um(depth) * glaze.share_when(fresh);  // from the face under the stroke
    const T  met   = a * tip_share(depth);
    const T  r_inf = floor.radius_um(s);
    dy[0]          = met * fall_per_removal * floor.distance(r, r_inf);
    dy[1]          = is_bevel ? laws::scratch_rate(T(a / faces), s, own_scratch(depth)) : T(0.0);
    dy[2]          = is_bevel ? T(met * laws::burr_opening(r, r_inf)) : T(0.0);
  }
  /// Whether radius and scratches are where this medium leads: from there on the burr alone moves. `close(x, goal)` judges.
  template <class Y, class Close>
  [[nodiscard]] bool settled(const Y& y, double n, const Close& close) const {
    if (is_bevel && (depth_follows_pressure || !close(y[1], own_scratch_um))) return false;
    if (tip.delayed() && !(tip_share(depth_at(T(n))) == 1.0)) return false;
    return close(y[0], floor.radius_um(y[1]));
  }
  /// The state at `to` of an edge that has settled at n.
  template <class Y>
  [[nodiscard]] Y settled_at(Y y, double n, const T& to) const {
    if (is_bevel) y[2] += opened_between(depth_at(T(n)), depth_at(to), y);
    return y;
  }
  /// What B grows by on an edge that has settled, from one depth to another.
  template <class Y>
  [[nodiscard]] T opened_between(const T& from_um, const T& to_um, const Y& y) const {
    return faces * (to_um - from_um) * laws::burr_opening(y[0], floor.radius_um(y[1]));
  }
  /// How far a step may go, in strokes: to where a dubbed tip begins to be met, and a quarter of the way from there to where it
  /// is met all along. The estimate of the error does not see what a step passes.
  template <class Y>
  [[nodiscard]] double longest_step(const Y& /*y*/, const Y& /*slope*/, double n) const {
    if (!tip.delayed()) return infinity;
    const double excess = Number<T>::value(tip.excess_um);
    const T      depth  = depth_at(T(n));
    const double gone   = Number<T>::value(depth) - Number<T>::value(start_depth_um);
    const double half   = tip.half_width * excess;
    if (gone >= excess + half) return infinity;
    const double to_joint =
        gone < excess - half ? excess - half - gone : std::min(excess + half - gone, 0.5 * half);
    const double per_stroke = Number<T>::value(land.removal_um(depth)) / faces;
    return std::max(to_joint, 0.05 * half) / per_stroke;
  }
  [[nodiscard]] Vector start(const EdgeState<T>& e) const { return {e.apex_radius_um, e.scratch_um, T(0.0)}; }
  [[nodiscard]] EdgeState<T> finish(const EdgeState<T>& before, const Vector& y, const T& n) const {
    return finish_at(before, y, n, depth_after(glaze.effective(used, n)));
  }
  /// The same where the depth is known.
  [[nodiscard]] EdgeState<T> finish_at(const EdgeState<T>& before, const Vector& y, const T& n,
                                       const T& depth) const {
    EdgeState<T> e   = before;
    e.apex_radius_um = y[0];
    e.scratch_um     = y[1];
    e.burr_um        = burr.after(y[2], n);
    if (is_bevel) {
      e.bevel_depth_um = depth;
      e.chip_um        = laws::chip_left_um(before.chip_um, T(depth - start_depth_um), sin_bevel);
    } else if (land.grows()) {
      e.back_depth_um = depth;
    }
    const T off    = depth - start_depth_um;
    e.dub_um       = hand.dub_um(before.dub_um, tip.share(off), off);
    e.dub_depth_um = tip.left_um(off) + hand.depth_um(T(before.dub_depth_um - tip.excess_um), off);
    return e;
  }
  /// Cross-section removed by n strokes, µm·mm.
  [[nodiscard]] T removed(const T& n) const { return land.section_per_stroke * glaze.effective(used, n); }
  /// Positive while the apex has not been reached, zero where a burr is raised: r against the radius that this medium
  /// leaves once the scratches of the one before are gone, and a dubbed tip met over half of the edge.
  template <class Y>
  [[nodiscard]] T to_burr(const Y& y, double n) const {
    if (tip.delayed()) {
      const T share = tip_share(depth_at(T(n)));
      if (share < 0.5) return own_floor_um * (0.5 - share);
    }
    return y[0] - laws::apex_reached_ratio * own_floor_um;
  }
};

/// Honing of which the strokes are counted from the burr on: beside the face itself, how many are left. The count is a
/// component of its own, falling by the share of the edge that has a burr, so that neither a burr that is there from the
/// first stroke nor one that comes late makes a kink in what follows.
template <class T>
struct CountedStage {
  using Vector = std::array<T, 4>;  ///< r, s, B, strokes left

  FaceStage<T> face;
  double       strokes;  ///< wanted with a burr

  void rates(const Vector& y, Vector& dy, double n) const {
    face.rates(y, dy, n);
    dy[3] = -laws::burr_raised(y[0], face.own_floor_um);
    if (face.tip.delayed()) dy[3] *= face.tip_share(face.depth_at(T(n)));
  }
  template <class Close>
  [[nodiscard]] bool settled(const Vector& y, double n, const Close& close) const {
    return face.settled(y, n, close);
  }
  /// Each stroke on a settled edge counts whole.
  [[nodiscard]] Vector settled_at(const Vector& y, double n, const T& to) const {
    Vector out = face.settled_at(y, n, to);
    out[3] -= to - n;
    return out;
  }
  /// Strokes to go on a settled edge.
  [[nodiscard]] const T& settled_left(const Vector& y) const { return y[3]; }
  [[nodiscard]] Vector   start(const EdgeState<T>& e) const {
      return {e.apex_radius_um, e.scratch_um, T(0.0), T(strokes)};
  }
  [[nodiscard]] EdgeState<T> finish(const EdgeState<T>& before, const Vector& y, const T& n) const {
    return face.finish(before, {y[0], y[1], y[2]}, n);
  }
  /// How far a step may go, in strokes: to the next joint of the share of the edge that has a burr, a quarter of the way between
  /// them, and over each by a twentieth of the floor. The estimate of the error does not see a joint that a step passes.
  [[nodiscard]] double longest_step(const Vector& y, const Vector& slope, double n) const {
    const double to_tip = face.longest_step(y, slope, n);
    const double fall = -Number<T>::value(slope[0]), floor = Number<T>::value(face.own_floor_um);
    const double ahead =
        Number<T>::value(y[0]) / floor - laws::apex_reached_ratio;  // 0 where half of the edge has one
    const double half = laws::burr_raised_half_width;
    if (!(fall > 0.0) || ahead < -half) return to_tip;
    const double to_joint = ahead > half ? ahead - half : std::min(ahead + half, 0.5 * half);
    return std::min(to_tip, std::max(to_joint, 0.05) * floor / fall);
  }
  /// Every one is done after so many at the latest, given that the apex is reached within `most`: from there on half of a
  /// stroke counts at least.
  [[nodiscard]] double latest(double most) const { return most + 2.0 * strokes; }
};

namespace detail {

// a land can be no shorter than the rounded apex that it ends in
template <class T>
T depth_at_least(const T& depth_um, const T& apex_radius_um, const T& land_per_depth,
                 const T& tangent_per_radius) {
  const T least = tangent_per_radius * apex_radius_um / land_per_depth;
  return depth_um > least ? depth_um : least;
}

// with an exponent of 1 the pressure drops out, though not out of the derivative with respect to that exponent
template <class T>
bool depth_follows_pressure(const T& load_exponent) {
  if constexpr (requires { load_exponent.v; }) {
    if ((load_exponent.v.array() != 0.0).any()) return true;
  }
  return load_exponent < 1.0;
}

template <class T>
FaceStage<T> face_stage(const Model<T>& model, const Blade<T>& blade, const Medium<T>& medium, const T& used,
                        const T& force_N, double stroke_mm) {
  const auto&  c = model.coefficients;
  FaceStage<T> f;
  f.glaze            = {medium.glaze_floor, medium.glaze_strokes};
  f.floor            = honing_floor(model, blade);
  f.scratch          = {T(medium.grit_angle_deg * laws::degree), medium.active_grit_fraction,
                        c.active_grit_load_exponent, medium.protrusion};
  f.used             = used;
  f.start_fresh      = f.glaze.freshness(used);
  f.size_um          = medium.size_um;
  f.hardness_Pa      = blade.hardness_Pa;
  f.sin_bevel        = blade.sin_bevel;
  f.force_per_width  = force_N / blade.width_m;
  f.fall_per_removal = laws::radius_rate(T(0.0), T(0.5), blade.sin_half);
  const laws::Abrasion<T> abrasion{T(c.abrasion * medium.cutting_rate / medium.loose_grit_divisor),
                                   c.critical_size_um, c.size_exponent};
  // removal at a pressure of 1 N/m over 1 mm of land, so that section per stroke comes out in µm·mm
  f.land.section_per_stroke =
      laws::Abrasion<T>::removal_um(abrasion.coefficient(medium.size_um), T(1e3 * f.force_per_width),
                                    T(1e-3 * stroke_mm), blade.hardness_Pa);
  f.depth_follows_pressure = depth_follows_pressure(c.active_grit_load_exponent);
  f.own_scratch_um = f.scratch.depth_um(f.size_um, T(f.scratch.reference_pressure_Pa), blade.hardness_Pa);
  return f;
}

/// The force of a step in N: what it gives, or what is usual over the width of the blade.
template <class T>
T force_on(double given_N, double usual_N_per_mm, const Blade<T>& blade) {
  return std::isnan(given_N) ? T(usual_N_per_mm * 1e3 * blade.width_m) : T(given_N);
}

template <class T>
laws::Burr<T> burr_raised_on(const Model<T>& model, const Blade<T>& blade, const T& own_scratch_um,
                             const T& start_um) {
  const auto& c     = model.coefficients;
  const T     limit = laws::BurrLimit<T>{c.burr_limit_um, c.burr_limit_exponent}.length_um(own_scratch_um);
  return {T(c.burr_growth / blade.sin_included),
          blade.both_sides ? T(limit * c.burr_limit_alternating) : limit, c.burr_loss_one_sided, start_um};
}

/// What of a dubbed edge this face must take off before it meets the tip, beyond what the hand rounds itself.
template <class T>
void meet_dub(FaceStage<T>& f, const T& scatter, const Model<T>& model, const Blade<T>& blade,
              const EdgeState<T>& state) {
  f.hand = laws::hand_round(scatter, T(1e3 * f.land.land_mm(f.start_depth_um)),
                            model.tester.contact_distance_um, blade.half_angle);
  f.tip  = laws::met_after(
       laws::smooth_positive(T(state.dub_depth_um - f.hand.deepest_um), T(0.1 * f.hand.deepest_um)));
}

}  // namespace detail

template <class T>
[[nodiscard]] FaceStage<T> assemble(const HoneStep& step, const Model<T>& model, const Blade<T>& blade,
                                    const EdgeState<T>& state, const Ledger<T>& ledger) {
  const auto index = static_cast<std::size_t>(step.medium);
  auto       f     = detail::face_stage(model, blade, model.media[index], ledger.strokes_on_medium[index],
                                        detail::force_on(step.force_N, usual_force::honing, blade), step.stroke_mm);
  f.is_bevel       = true;
  f.faces          = blade.both_sides ? 2.0 : 1.0;
  f.burr           = detail::burr_raised_on(model, blade, f.own_scratch_um, state.burr_um);
  f.land.land_per_depth = blade.land_per_depth;
  f.land.full_land_mm   = blade.full_land_mm;
  f.start_depth_um      = f.land.grows() ? detail::depth_at_least(state.bevel_depth_um, state.apex_radius_um,
                                                                  blade.land_per_depth, blade.tangent_per_radius)
                                         : state.bevel_depth_um;
  f.own_floor_um        = f.floor.radius_um(f.own_scratch(f.start_depth_um));
  detail::meet_dub(f, T(step.angle_scatter_deg * laws::degree), model, blade, state);
  return f;
}

template <class T>
[[nodiscard]] FaceStage<T> assemble(const BackStep& step, const Model<T>& model, const Blade<T>& blade,
                                    const EdgeState<T>& state, const Ledger<T>& ledger) {
  const auto index = static_cast<std::size_t>(step.medium);
  auto       f     = detail::face_stage(model, blade, model.media[index], ledger.strokes_on_medium[index],
                                        detail::force_on(step.force_N, usual_force::back, blade), step.stroke_mm);
  f.is_bevel       = false;
  f.burr           = {T(0.0), T(0.0), model.coefficients.burr_loss_back, state.burr_um};
  f.land.land_per_depth = blade.back_land_per_depth;
  f.land.full_land_mm   = blade.back_land_mm;
  f.start_depth_um      = f.land.grows()
                              ? detail::depth_at_least(state.back_depth_um, state.apex_radius_um,
                                                       blade.back_land_per_depth, blade.tangent_per_radius)
                              : state.back_depth_um;
  f.own_floor_um        = f.floor.radius_um(f.own_scratch(f.start_depth_um));
  detail::meet_dub(f, T(0.0), model, blade, state);
  return f;
}

/// Stropping; n counts laps. `Constants`: those of its laws.
template <class T, class Constants = laws::OutlineConstants>
struct StropStage {
  using Vector = std::array<T, 2>;  ///< r, s

  laws::HoningFloor<T>        floor;
  laws::PadContact<T>         contact;
  laws::PadEdge<T, Constants> pad;
  laws::TipContact<T>
      tip;  ///< a harder pad must wear the land down before it meets a tip that a softer one dubbed
  laws::BesideArc<T> beside;            ///< the arc of the tip
  T                  start_worn_in_um;  ///< w₀
  T                  per_MPa;           ///< κ
  T                  removal_um;        ///< a_s per lap at the mean pressure
  T                  own_scratch_um;    ///< s_m of the compound
  T                  burr_loss;         ///< λ_s
  T                  fall_per_removal;  ///< dr/dn over what is off the tip, far from the equilibrium
  T                  behind_um;         ///< y
  T                  dub_share;         ///< D over that of the outline
  T                  depth_share;       ///< h over that of the outline
  T                  half_angle;

  /// Worn down all over the land by n laps, µm.
  [[nodiscard]] T worn_down_um(const T& n) const { return removal_um * n; }
  /// Laps out of n that the tip is met by.
  [[nodiscard]] T laps_at_tip(const T& n) const {
    return tip.delayed() ? T(tip.at_tip_um(worn_down_um(n)) / removal_um) : n;
  }
  /// By how much w grows in a lap at the tip, µm.
  [[nodiscard]] T worn_in_per_lap_um() const { return per_MPa * pad.modulus_MPa; }
  /// w after so many laps at the tip, µm.
  [[nodiscard]] T worn_in_um(const T& laps) const { return start_worn_in_um + worn_in_per_lap_um() * laps; }
  /// D of an edge that is worn in so far, µm.
  [[nodiscard]] T shape_um(const T& worn_in) const {
    return dub_share * laws::dub_um(pad, worn_in, worn_in_per_lap_um(), behind_um, half_angle);
  }
  /// As much of it as the pad has made beside an arc of this radius.
  [[nodiscard]] T shaped_um(const T& worn_in, const T& radius_um) const {
    return beside.made(radius_um, worn_in) * shape_um(worn_in);
  }
  /// Where stropping leads while the scratches are `scratch_um` deep.
  [[nodiscard]] T equilibrium_um(const T& scratch_um) const { return floor.radius_um(scratch_um); }

  void rates(const Vector& y, Vector& dy, double n) const {
    const auto& [r, s] = y;
    const T worked     = tip.share(worn_down_um(T(n))) * per_MPa *
                     pad.tip_pressure_MPa(worn_in_um(laps_at_tip(T(n))), r);  // off the tip per lap
    dy[0] = worked * fall_per_removal * floor.distance(r, equilibrium_um(s));
    dy[1] = laws::scratch_rate(worked, s, own_scratch_um);
  }
  /// As on a medium.
  template <class Close>
  [[nodiscard]] bool settled(const Vector& y, double /*n*/, const Close& close) const {
    return close(y[1], own_scratch_um) && close(y[0], equilibrium_um(y[1]));
  }
  [[nodiscard]] Vector settled_at(const Vector& y, double /*n*/, const T& /*to*/) const { return y; }
  /// As on a face, in laps.
  [[nodiscard]] double longest_step(const Vector& /*y*/, const Vector& /*slope*/, double n) const {
    if (!tip.delayed()) return infinity;
    const double excess = Number<T>::value(tip.excess_um), half = tip.half_width * excess;
    const double per_lap = Number<T>::value(removal_um), gone = per_lap * n;
    if (gone >= excess + half) return infinity;
    const double to_joint =
        gone < excess - half ? excess - half - gone : std::min(excess + half - gone, 0.5 * half);
    return std::max(to_joint, 0.05 * half) / per_lap;
  }
  [[nodiscard]] Vector       start(const EdgeState<T>& e) const { return {e.apex_radius_um, e.scratch_um}; }
  [[nodiscard]] EdgeState<T> finish(const EdgeState<T>& before, const Vector& y, const T& n) const {
    using std::exp;
    EdgeState<T> e   = before;
    e.apex_radius_um = y[0];
    e.scratch_um     = y[1];
    e.burr_um        = before.burr_um * exp(-burr_loss * n);
    if (!(n > 0.0)) return e;
    const T down = worn_down_um(n), worn_in = worn_in_um(laps_at_tip(n));
    // the shape of before fades as edge and pad wear in over the distance at which the edge is met
    const T kept = exp(-(worn_in - start_worn_in_um) / behind_um);
    e.dub_um     = shaped_um(worn_in, y[0]) +
               (before.dub_um - shaped_um(start_worn_in_um, before.apex_radius_um)) * kept;
    e.dub_depth_um = depth_share * laws::depth_to_flat_um(pad, worn_in) + tip.left_um(down);
    return e;
  }
  /// Cross-section removed by n laps, µm·mm.
  [[nodiscard]] T removed(const T& n) const { return removal_um * 1e3 * contact.contact_m * n; }
};

namespace detail {

// where the pad touches the blade: land in mm, and the contact
template <class T>
struct Touched {
  T                   land_mm;
  laws::PadContact<T> contact;
};

template <class T>
Touched<T> touch(const StropStep& step, const Backing<T>& backing, const Blade<T>& blade,
                 const EdgeState<T>& state) {
  T land_mm = blade.full_land_mm;
  if (blade.land_per_depth > 0.0) {
    land_mm = 1e-3 * blade.land_per_depth *
              depth_at_least(state.bevel_depth_um, state.apex_radius_um, blade.land_per_depth,
                             blade.tangent_per_radius);
  }
  const auto press = [&](const T& length_mm, const T& step_angle) {
    return laws::press_pad(force_on(step.force_N, usual_force::stropping, blade), blade.width_m,
                           T(1e6 * backing.modulus_MPa), T(1e-3 * backing.thickness_mm), T(1e-3 * length_mm),
                           step_angle);
  };
  Touched<T> out{land_mm, press(land_mm, blade.step_angle)};
  // a soft pad that would reach beyond the bevel carries the whole of it, and no more
  if (out.contact.contact_m > 1e-3 * blade.full_land_mm) out.contact = press(blade.full_land_mm, T(0.0));
  return out;
}

/// The pressure of a pad at the end of the land, as the blade is held.
template <class T>
laws::PadEdge<T> pad_edge(const StropStep& step, const Backing<T>& backing, const Blade<T>& blade,
                          const Touched<T>& on) {
  using std::sqrt;
  const T land_um = 1e3 * on.land_mm;
  const T hand = T(step.angle_scatter_deg * laws::degree), uneven = backing.unevenness_um / land_um;
  const T square = hand * hand + uneven * uneven;
  return laws::press_edge<T>(
      {T(force_on(step.force_N, usual_force::stropping, blade) / blade.width_m), backing.modulus_MPa,
       T(1e3 * backing.thickness_mm), land_um, T(1e6 * on.contact.contact_m),
       T(1e-6 * on.contact.pressure_Pa)},
      {T(step.angle_offset_deg * laws::degree), square > 0.0 ? T(sqrt(square)) : T(0.0)});
}

/// Of the deepest that a pad makes: as deep an edge counts as worn in to it, and what is beyond must be worn down first.
inline constexpr double worn_in_depth = 0.95, worn_in_blend = 0.04;

/// How far behind what the pad makes of an edge the tip lies, where a softer one has dubbed it by `beyond_um` more: the arc's
/// set-back, and no more than the whole depth to flat. On the same pad again there is none.
template <class T>
T set_back_um(const T& beyond_um, const T& depth_um, const T& behind_um, const T& sin_half) {
  constexpr double blend = 0.1;  // of y; it begins without a kink
  if (!(beyond_um > 0.0) || !(depth_um > 0.0)) return T(0.0);
  const T back = (1.0 - sin_half) * beyond_um * beyond_um / (beyond_um + blend * behind_um);
  return back * depth_um / (back + depth_um);
}

/// Where a strop begins on an edge that has a dub: a harder pad must wear the land down first, to the depth that it makes at
/// most, and to where its own shape reaches the tip.
template <class T, class Constants>
void meet_dub(StropStage<T, Constants>& f, const EdgeState<T>& before) {
  using std::sin;
  const T    deepest = f.depth_share * laws::deepest_to_flat_um(f.pad);
  const auto worn_in = [&f](const T& depth_um) {
    return laws::worn_in_at_um(f.pad, T(depth_um / f.depth_share));
  };
  const T too_deep =
      laws::smooth_positive(T(before.dub_depth_um - worn_in_depth * deepest), T(worn_in_blend * deepest));
  const T depth      = before.dub_depth_um - too_deep;
  const T beyond     = before.dub_um - f.shape_um(worn_in(depth));
  const T behind     = set_back_um(beyond, depth, f.behind_um, T(sin(f.half_angle)));
  f.tip              = laws::met_after(T(too_deep + behind));
  f.start_worn_in_um = worn_in(T(depth - behind));
}

}  // namespace detail

template <class T>
[[nodiscard]] StropStage<T> assemble(const StropStep& step, const Model<T>& model, const Blade<T>& blade,
                                     const EdgeState<T>& state, const Ledger<T>& /*ledger*/) {
  const auto& backing  = model.backings[static_cast<std::size_t>(step.backing)];
  const auto& compound = model.compounds[static_cast<std::size_t>(step.compound_index)];
  const auto& c        = model.coefficients;
  const auto  on       = detail::touch(step, backing, blade, state);

  StropStage<T> f;
  f.floor   = honing_floor(model, blade);
  f.contact = on.contact;
  f.pad     = detail::pad_edge(step, backing, blade, on);
  f.per_MPa = laws::strop_removal_per_MPa(compound.removal_nm, T(1e-3 * step.stroke_mm), blade.hardness_Pa);
  f.removal_um = f.per_MPa * 1e-6 * f.contact.pressure_Pa;
  f.own_scratch_um =
      laws::ScratchDepth<T>{T(compound.grit_angle_deg * laws::degree), compound.active_grit_fraction,
                            c.active_grit_load_exponent, compound.protrusion}
          .depth_um(compound.size_um, f.contact.pressure_Pa, blade.hardness_Pa);
  f.burr_loss        = c.burr_loss_strop;
  f.fall_per_removal = laws::radius_rate(T(0.0), T(1.0), blade.sin_half);
  f.behind_um        = model.tester.contact_distance_um;
  f.beside           = state.beside;
  f.half_angle       = blade.half_angle;
  f.dub_share        = c.dub_share;
  f.depth_share      = c.dub_depth_share;
  detail::meet_dub(f, state);
  return f;
}

/// Cutting wood, what is known of it beside the wear law; n counts passes.
template <class T>
struct WoodStage {
  using Vector = std::array<T, 1>;  ///< r + b, the radius that the load meets

  laws::Collapse<T> collapse;
  laws::Chipping<T> chipping;
  T                 burr_break_off_m;
  T                 section_factor;  ///< g(β)
  T                 borne_um;        ///< b, by the dub
  double            path_before_m;   ///< since the edge last met an abrasive
  double            pass_m;

  /// Radii where the rate is less smooth than elsewhere, µm, ascending.
  [[nodiscard]] std::array<double, 2> joints() const { return collapse.joints(); }
  [[nodiscard]] Vector       start(const EdgeState<T>& e) const { return {T(e.apex_radius_um + borne_um)}; }
  [[nodiscard]] EdgeState<T> finish(const EdgeState<T>& before, const Vector& y, const T& n) const {
    EdgeState<T> e   = before;
    e.apex_radius_um = y[0] - borne_um;
    e.burr_um        = laws::burr_after_path(before.burr_um, T(pass_m * n), burr_break_off_m);
    e.chip_um        = chipping.after_um(before.chip_um, T(pass_m * n));
    return e;
  }
  /// Cross-section worn away between two states, µm·mm.
  [[nodiscard]] T worn(const EdgeState<T>& before, const EdgeState<T>& after) const {
    const T from = before.apex_radius_um + borne_um, to = after.apex_radius_um + borne_um;
    return 1e-3 * section_factor * (to * to - from * from);
  }
};

/// The same with a law, as it is in this wood: what is integrated.
template <class T, class Law>
struct CutStage : WoodStage<T> {
  using typename WoodStage<T>::Vector;

  Law wear;

  [[nodiscard]] T radius_rate(const T& r, double n) const {
    return this->pass_m * (wear.rate(r, T(this->path_before_m + this->pass_m * n)) + this->collapse.rate(r));
  }
  void rates(const Vector& y, Vector& dy, double n) const { dy[0] = radius_rate(y[0], n); }
  /// Whether `growth` is all there is to the rates.
  [[nodiscard]] bool by_radius_alone() const { return wear.by_radius_alone(); }
  /// dr/dn at the radius r, where that is all it depends on.
  [[nodiscard]] T growth(const T& r) const { return radius_rate(r, 0.0); }
};

/// How many times as fast as the reference case the blade wears in a wood.
template <class T>
[[nodiscard]] T severity(const Model<T>& model, const Blade<T>& blade, const Wood<T>& wood) {
  const laws::WoodSeverity<T> law{model.coefficients.wood_hardness_exponent,
                                  model.coefficients.silica_per_pct};
  return law.wood(wood.side_hardness_N, wood.extractive_factor, wood.silica_pct) *
         law.steel(blade.wear_ratio, blade.hardness_Pa) * blade.severity_of_angle;
}

/// What the blade meets in a wood, for laws that look at more than the severity of it.
template <class T>
[[nodiscard]] laws::WearConditions<T> wear_conditions(const Model<T>& model, const Blade<T>& blade,
                                                      const Wood<T>& wood) {
  return {severity(model, blade, wood),
          T(1e-9 * blade.hardness_Pa),
          blade.wear_ratio,
          blade.half_angle,
          wood.side_hardness_N,
          wood.silica_pct,
          wood.extractive_factor};
}

template <class T>
[[nodiscard]] laws::Chipping<T> chipping(const Coefficients<T>& c, const Blade<T>& blade,
                                         const Wood<T>& wood) {
  const T hardness = wood.side_hardness_N / laws::chipping_reference_side_hardness_N;
  const T deepest  = laws::Chipping<T>::deepest_um(c.chip_load_N_per_m, hardness, blade.hardness_Pa,
                                                   blade.carbide_um, blade.half_angle);
  return {laws::Chipping<T>::limit_of_um(deepest, c.chip_least_um), c.chip_length_m,
          T(1e-3 * c.nicks_um_per_km * hardness)};
}

template <class T>
[[nodiscard]] laws::WearConditions<T> wear_conditions(const CutStep& step, const Model<T>& model,
                                                      const Blade<T>& blade) {
  if (!step.wears_specimen())
    return wear_conditions(model, blade, model.woods[static_cast<std::size_t>(step.wood)]);
  laws::WearConditions<T> here;
  here.severity = model.specimen.severity(
      step.load_N, model.counterfaces[static_cast<std::size_t>(step.wood)].wear_factor);
  return here;
}

template <class T>
[[nodiscard]] WoodStage<T> assemble(const CutStep& step, const Model<T>& model, const Blade<T>& blade,
                                    const EdgeState<T>& state, const Ledger<T>& ledger) {
  const auto& c = model.coefficients;
  // of a specimen nothing but the law acts: no tip that collapses or chips, no burr
  if (step.wears_specimen())
    return {{T(0.0), T(1.0)},        {T(0.0), T(1.0), T(0.0)},     c.burr_break_off_m, blade.section_factor,
            model.specimen.start_um, ledger.path_since_abrasive_m, step.pass_m};
  return {{laws::Collapse<T>::radius_um(c.collapse_load_N_per_m, blade.hardness_Pa, blade.sin_half),
           c.collapse_length_m},
          chipping(c, blade, model.woods[static_cast<std::size_t>(step.wood)]),
          c.burr_break_off_m,
          blade.section_factor,
          laws::borne_by_dub_um(state.dub_um, model.tester.contact_distance_um, blade.sin_half),
          ledger.path_since_abrasive_m,
          step.pass_m};
}

/// With a law, as it is in the wood of the step.
template <class T, class Law>
[[nodiscard]] CutStage<T, Law> assemble(const CutStep& step, const Law& law, const Model<T>& model,
                                        const Blade<T>& blade, const EdgeState<T>& state,
                                        const Ledger<T>& ledger) {
  return {assemble(step, model, blade, state, ledger),
          laws::in_wood(law, wear_conditions(step, model, blade))};
}

}  // namespace arris
