// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/apex_kinematics.hpp"
#include "sim/laws/number.hpp"

/// How far the apex radius can fall on a medium, and how it gets there.
///
///     r∞²   = (c_s·s)² + r_carb² + r_floor²
///     dr/dn = −( v/(1 − sin α) )·[ 1 − (r∞/r)^m ]
///
/// | symbol  | C++                 | meaning                                            | unit | range     | default |
/// |---------|---------------------|----------------------------------------------------|------|-----------|---------|
/// | c_s     | `radius_per_scratch`| apex radius per depth of scratch                   | –    | 0.5 … 20  | 6       |
/// | s       | `scratch_um`        | depth of the scratches                             | µm   | ≥ 0       | –       |
/// | r_carb  | `carbide_radius_um` | radius left where carbides pull out of the apex    | µm   | ≥ 0       | carbide_radius_um() |
/// | r_floor | `floor_radius_um`   | smallest radius steel was ever honed to            | µm   | ≥ 0.02    | 0.02    |
/// | m       | `exponent`          | sharpness of the approach                          | –    | 1 … 3     | 2       |
/// | v       | `recession_um`      | n̄ of a rigid medium (half the removal of the face) or a_s of a strop | µm/stroke | ≥ 0 | – |
///
/// Far above r∞ the fall is the exact kinematics of apex_kinematics.hpp with v_t = 0; below r∞ the radius rises: a
/// fine edge set on a coarse stone blunts.
/// Source: estimate for c_s and m; r_floor from honed razor steel, 0.02–0.1 µm (US 9,808,944); carbide sizes from
/// memory. The closed form for m = 1, s constant is r = r∞·(1 + W₀(u₀·e^(u₀ − A·n/r∞))). Throws nothing.
///
///     const HoningFloor<double> floor{6.0, 0.08, 0.02, 2.0};
///     floor.radius_um(0.027);                     // 0.182 µm
///     floor.rate(1.0, 0.182, 0.05, 0.2588);       // −0.0652 µm per stroke
namespace arris::laws {

/// r_carb = c·d₀·(d/d₀)^(1/3) in µm: the radius that carbides of the size d leave of an apex, d₀ being 1 µm. Where they lie between them
/// the steel is honed finer than they are large, the more so the farther apart they are, and a filament is severed from the keenest places: so
/// the radius grows more slowly than the size.
///
///     share       c, the radius over the size, of carbides of 1 µm; 0 … 1
///     carbide_um  d, µm, above 0
///
/// Source: estimate. After the hard strop O1 then reads some 15 gf less than A2 and D2 12 more: the trade finds O1 a little keener than A2 and
/// A2 than D2, and all of them fit for work (common practice, no source). With an exponent of 1 it would be 32 less and 44 more.
template <class T>
[[nodiscard]] T carbide_radius_um(const T& share, const T& carbide_um) {
  using std::pow;
  return share * pow(carbide_um, 1.0 / 3.0);
}

template <class T>
struct HoningFloor {
  T radius_per_scratch{};
  T carbide_radius_um{};
  T floor_radius_um{};
  T exponent{};
  T least_um2 =
      carbide_radius_um * carbide_radius_um + floor_radius_um * floor_radius_um;  ///< r∞² without scratches

  /// r∞ in µm for scratches of depth `scratch_um`.
  [[nodiscard]] T radius_um(const T& scratch_um) const {
    using std::sqrt;
    const T rough = radius_per_scratch * scratch_um;
    return sqrt(rough * rough + least_um2);
  }
  /// 1 − (r∞/r)^m: 1 far above the equilibrium radius, 0 at it, negative below.
  [[nodiscard]] T distance(const T& apex_radius_um, const T& equilibrium_um) const {
    using std::pow;
    if (exponent == 2.0 && !Number<T>::varies(exponent))
      return distance_squared(apex_radius_um, equilibrium_um);
    return 1.0 - pow(equilibrium_um / apex_radius_um, exponent);
  }
  /// The same for m = 2, which saves the power.
  [[nodiscard]] static T distance_squared(const T& apex_radius_um, const T& equilibrium_um) {
    return distance_of(T(equilibrium_um / apex_radius_um));
  }
  /// And by r∞/r, which it depends on alone.
  [[nodiscard]] static T distance_of(const T& ratio) { return 1.0 - ratio * ratio; }
  /// dr/dn in µm per stroke towards the equilibrium radius `equilibrium_um` (r∞, or r_s on a strop).
  [[nodiscard]] T rate(const T& apex_radius_um, const T& equilibrium_um, const T& recession_um,
                       const T& sin_half) const {
    return radius_rate(T(0.0), recession_um, sin_half) * distance(apex_radius_um, equilibrium_um);
  }
};

}  // namespace arris::laws
