// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <vector>

#include "sim/history/tables.hpp"
#include "sim/laws/chip_radius.hpp"
#include "sim/laws/dub.hpp"
#include "sim/laws/geometry.hpp"
#include "sim/laws/honing_floor.hpp"

/// The state of an edge between the steps of its history.
namespace arris {

template <class T>
struct EdgeState {
  T apex_radius_um{};  ///< r
  T scratch_um{};      ///< s, depth of the scratches on the bevel
  T burr_um{};         ///< b
  T bevel_depth_um{};  ///< h, honed away normal to the bevel since it was ground
  T back_depth_um{};   ///< h of a back bevel; stays 0 on a flat back
  T dub_um{};          ///< D, what a dubbed tip would add to the radius that a tester meets if it were no arc
  T dub_depth_um{};    ///< what flat honing must take off the bevel before it meets the tip
  T chip_um{};         ///< depth of chips and nicks

  laws::BesideArc<T>
      beside;  ///< how much of D counts beside the arc of the tip; the same all through a history

  /// What the dub adds to the radius that a tester meets, µm.
  [[nodiscard]] T met_dub_um() const { return dub_um * beside.share(apex_radius_um); }
  /// r_e, the radius that a tester meets, µm.
  [[nodiscard]] T met_radius_um() const {
    return apex_radius_um + met_dub_um() + laws::chip_radius_share * chip_um;
  }

  /// Pass this on to derive, compare or print every component under the same names.
  template <class V, class... S>
  static void components(V&& v, S&... s) {
    v("apex_radius_um", s.apex_radius_um...);
    v("scratch_um", s.scratch_um...);
    v("burr_um", s.burr_um...);
    v("bevel_depth_um", s.bevel_depth_um...);
    v("back_depth_um", s.back_depth_um...);
    v("dub_um", s.dub_um...);
    v("dub_depth_um", s.dub_depth_um...);
    v("chip_um", s.chip_um...);
  }
};

/// What a history keeps count of beside the state: wear of the media and the path since the last abrasive.
template <class T>
struct Ledger {
  std::vector<T> strokes_on_medium;            ///< since it was last dressed, one per medium
  double         strokes               = 0.0;  ///< strokes and laps so far
  double         passes                = 0.0;  ///< passes in wood so far
  double         path_m                = 0.0;  ///< path in wood so far
  double         path_since_abrasive_m = 0.0;
  T              steel_removed_um_mm{};  ///< cross-section honed and stropped away so far
  T              steel_worn_um_mm{};     ///< cross-section worn away in wood so far

  void reset(std::size_t media) {
    strokes_on_medium.assign(media, T(0.0));
    strokes = passes = path_m = path_since_abrasive_m = 0.0;
    steel_removed_um_mm = steel_worn_um_mm = T(0.0);
  }
};

/// What the geometry of a tool gives to every step of its history.
template <class T>
struct Blade {
  T    width_m;
  T    hardness_Pa;
  T    carbide_radius_um;
  T    carbide_um;
  T    wear_ratio;
  T    included;            ///< β at the apex, micro-bevel plus back bevel, rad
  T    half_angle;          ///< α
  T    sin_half;            ///< sin α
  T    sin_included;        ///< sin β
  T    tangent_per_radius;  ///< from the ideal apex to where the arc begins, over r
  T    step_angle;      ///< micro-bevel minus primary, per honed side, rad; 0 when the whole bevel is honed
  T    land_per_depth;  ///< ℓ/h of the bevel; 0 when the whole bevel is honed
  T    full_land_mm;    ///< land of the whole bevel, as far as it touches
  T    back_land_per_depth;  ///< ℓ/h of a back bevel; 0 on a flat back
  T    back_land_mm;         ///< contact of a flat back
  T    loss_per_depth;       ///< x₀/h
  T    sin_bevel;            ///< sine of the honed angle of a face
  T    section_factor;       ///< g(β)
  T    severity_of_angle;    ///< g(30°)/g(β)
  T    half_thickness_um;
  T    widest_land_mm;  ///< of a blade honed at this angle from one face to the other
  bool both_sides;
};

/// Whether a blade can have an edge in this state: the apex no rounder than the blade is thick, the land no wider than the blade is
/// across at that angle, no burr that is less than none (to what an integration leaves of one). Laws do not end there by themselves.
template <class T>
[[nodiscard]] bool fits_on(const Blade<T>& blade, const EdgeState<T>& state) {
  constexpr double rounding_um = 1e-6;
  return !(state.apex_radius_um > blade.half_thickness_um) && !(state.burr_um < -rounding_um) &&
         !(1e-3 * blade.land_per_depth * state.bevel_depth_um > blade.widest_land_mm);
}

/// g at 30°, for which the severity of a wood is stated.
inline const double reference_section_factor = laws::Wedge<double>{30.0 * laws::degree}.section_factor();

template <class T>
[[nodiscard]] Blade<T> assemble_blade(const Tool<T>& tool, const T& hardness_GPa, const T& carbide_um,
                                      const T& carbide_share, const T& wear_ratio) {
  using std::sin;
  Blade<T> b;
  b.both_sides        = tool.honed_sides == 2;
  b.width_m           = 1e-3 * tool.width_mm;
  b.hardness_Pa       = 1e9 * hardness_GPa;
  b.carbide_radius_um = laws::carbide_radius_um(carbide_share, carbide_um);
  b.carbide_um        = carbide_um;
  b.wear_ratio        = wear_ratio;
  b.included          = (tool.micro_bevel_deg + tool.back_bevel_deg) * laws::degree;
  b.half_angle        = 0.5 * b.included;
  b.sin_half          = sin(b.half_angle);
  b.sin_included      = sin(b.included);

  // a knife is two half wedges, back to back along its middle plane
  const double side    = b.both_sides ? 0.5 : 1.0;
  const T      primary = side * laws::degree * tool.primary_bevel_deg;
  const T      micro   = side * laws::degree * tool.micro_bevel_deg;
  b.step_angle         = micro - primary;
  b.full_land_mm       = laws::full_bevel_land(T(side * tool.thickness_mm), primary);
  b.half_thickness_um  = 500.0 * tool.thickness_mm;
  b.widest_land_mm     = laws::full_bevel_land(T(side * tool.thickness_mm), micro);
  if (!(b.step_angle > 0.0) && tool.bevel_contact_mm < b.full_land_mm) b.full_land_mm = tool.bevel_contact_mm;
  b.land_per_depth = b.step_angle > 0.0 ? laws::land_per_depth(primary, micro) : T(0.0);
  b.loss_per_depth = laws::blade_loss_per_depth(micro);
  b.sin_bevel      = sin(micro);

  // a back bevel cuts off the corner between the bevel and the flat back
  const T back          = tool.back_bevel_deg * laws::degree;
  b.back_land_per_depth = back > 0.0 ? laws::land_per_depth(micro, T(micro + back)) : T(0.0);
  b.back_land_mm        = tool.back_contact_mm;
  const laws::Wedge<T> wedge{b.included};
  b.tangent_per_radius = wedge.tangent_length(T(1.0));
  b.section_factor     = wedge.section_factor();
  b.severity_of_angle  = reference_section_factor / b.section_factor;
  return b;
}

/// Enters `n` strokes or laps, which removed a cross-section, in µm·mm; `medium` is −1 on a strop.
template <class T>
void count_strokes(Ledger<T>& ledger, int medium, const T& n, double plain_n, const T& removed_um_mm) {
  ledger.strokes += plain_n;
  ledger.steel_removed_um_mm += removed_um_mm;
  ledger.path_since_abrasive_m = 0.0;
  if (medium >= 0) ledger.strokes_on_medium[static_cast<std::size_t>(medium)] += n;
}
/// Enters passes in wood.
template <class T>
void count_passes(Ledger<T>& ledger, double passes, double pass_m) {
  ledger.passes += passes;
  ledger.path_m += passes * pass_m;
  ledger.path_since_abrasive_m += passes * pass_m;
}

inline constexpr double steel_density_kg_m3 = 7850.0;

/// Mass of a cross-section over the width of the blade, mg.
template <class T>
[[nodiscard]] T steel_mg(const T& section_um_mm, const T& width_m) {
  return section_um_mm * width_m * (1e-9 * steel_density_kg_m3 * 1e6);
}

/// What the blade has lost since its history began, mg: steel that abrasives took, and what wore off the apex in wood,
///     m = ρ·w·( Σ honed and stropped + Σ over cuts of g·(r² after − r² before) ).
/// A burr counts as taken when it is raised, though it breaks off later; steel that gives way at a tip too thin counts as
/// worn off. Both weigh micrograms.
template <class T>
[[nodiscard]] T mass_loss_mg(const Ledger<T>& ledger, const T& width_m) {
  return steel_mg(T(ledger.steel_removed_um_mm + ledger.steel_worn_um_mm), width_m);
}

/// The state in which a tool begins, that a tester meets `behind_um` behind its tip.
template <class T>
[[nodiscard]] EdgeState<T> initial_state(const Tool<T>& tool, const Blade<T>& blade, const T& behind_um) {
  EdgeState<T> state;
  state.beside         = laws::beside_arc(behind_um, blade.sin_half);
  state.apex_radius_um = tool.apex_radius_um;
  state.scratch_um     = tool.scratch_um;
  state.burr_um        = tool.burr_um;
  state.bevel_depth_um = blade.land_per_depth > 0.0 ? T(1e3 * tool.land_mm / blade.land_per_depth) : T(0.0);
  state.back_depth_um  = T(0.0);
  state.dub_um         = T(0.0);
  state.dub_depth_um   = T(0.0);
  state.chip_um        = tool.chip_um;
  return state;
}

}  // namespace arris
