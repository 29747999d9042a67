// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>

#include "tests/bench/plain_history.hpp"

/// What the right-hand sides of plain_history.py work with, of those of plain_history.hpp.
namespace arris::bench {

/// By the names that they have there.
using PlainNumbers = std::map<std::string, double>;

[[nodiscard]] inline PlainNumbers numbers_of(const PlainHoning<double>& of) {
  const auto& f = of.stage;
  return {{"land_per_depth", f.land.land_per_depth},
          {"section_per_stroke", f.land.section_per_stroke},
          {"glaze_floor", f.glaze.floor},
          {"glaze_strokes", f.glaze.strokes},
          {"used", f.used},
          {"radius_per_scratch", f.floor.radius_per_scratch},
          {"least_um2", f.floor.least_um2},
          {"exponent", f.floor.exponent},
          {"force_per_width", f.force_per_width},
          {"reference_Pa", f.scratch.reference_pressure_Pa},
          {"active_fraction", f.scratch.active_fraction},
          {"load_exponent", f.scratch.load_exponent},
          {"grit_angle", f.scratch.grit_angle},
          {"protrusion", f.scratch.protrusion},
          {"size_um", f.size_um},
          {"hardness_Pa", f.hardness_Pa},
          {"opening_half_width", laws::burr_opening_half_width},
          {"sin_half", of.blade.sin_half},
          {"start_depth_um", f.start_depth_um},
          {"excess_um", f.tip.excess_um},
          {"burr_growth", f.burr.growth},
          {"burr_limit_um", f.burr.limit_um},
          {"burr_loss", f.burr.lost_per_stroke()}};
}
[[nodiscard]] inline PlainNumbers numbers_of(const PlainStropping<double>& of) {
  const auto& f = of.stage;
  return {{"down_um", f.removal_um},
          {"excess_um", f.tip.excess_um},
          {"start_worn_in_um", f.start_worn_in_um},
          {"worn_in_share", laws::of_outline::worn_in_share},
          {"per_MPa", f.per_MPa},
          {"modulus_MPa", f.pad.modulus_MPa},
          {"length_um", f.pad.length_um},
          {"strain", f.pad.strain},
          {"radius_per_scratch", f.floor.radius_per_scratch},
          {"least_um2", f.floor.least_um2},
          {"exponent", f.floor.exponent},
          {"sin_half", of.blade.sin_half},
          {"own_scratch_um", f.own_scratch_um},
          {"burr_loss", f.burr_loss}};
}
[[nodiscard]] inline PlainNumbers numbers_of(const PlainCutting<double>& of) {
  const auto& f = of.stage;
  return {{"pass_m", of.pass_m},
          {"parting_um2_per_m", f.wear.parting_um2_per_m},
          {"crushing_um_per_m", f.wear.crushing_um_per_m},
          {"borne_um", f.borne_um},
          {"critical_radius_um", f.collapse.critical_radius_um},
          {"collapse_length_m", f.collapse.length_m},
          {"burr_break_off_m", f.burr_break_off_m}};
}
template <class T>
[[nodiscard]] std::string name_of(const PlainHoning<T>&) {
  return "honing";
}
template <class T>
[[nodiscard]] std::string name_of(const PlainStropping<T>&) {
  return "stropping";
}
template <class T>
[[nodiscard]] std::string name_of(const PlainCutting<T>&) {
  return "cutting";
}

}  // namespace arris::bench
