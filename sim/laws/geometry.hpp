// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

/// The cross-section of an edge: two flat faces meeting at an included angle β, the apex rounded to an arc of
/// radius r tangent to both.
///
///     D  = r·(1/sin α − 1)         ideal apex to tip of the arc           (α = β/2)
///     T  = r·cot α                 ideal apex to tangent point on a face
///     A  = g·r²,  g = cot α − (π/2 − α)      missing cross-section
///     ℓ  = h·sin β_p /( sin β_m·sin(β_m − β_p) )   land of a steeper micro-bevel honed back by h
///     ℓ  = t / sin β_p             land when the whole bevel is honed (β_m = β_p)
///     x₀ = h / sin β_m             loss of blade length along the flat back
///
/// | symbol | C++                | meaning                                     | unit | range     | default |
/// |--------|--------------------|---------------------------------------------|------|-----------|---------|
/// | β      | `included_angle`   | angle between the two faces at the apex     | rad  | 0 … π     | –       |
/// | β_p    | `primary`          | primary (ground) bevel                      | rad  | 0 … π/2   | –       |
/// | β_m    | `micro`            | honed micro-bevel                           | rad  | β_p … π/2 | –       |
/// | r      | `apex_radius`      | radius of the arc                           | any  | ≥ 0       | –       |
/// | h      | –                  | depth honed away, normal to the micro-bevel | any  | ≥ 0       | –       |
/// | t      | `blade_thickness`  | thickness of the blade                      | any  | > 0       | –       |
///
/// Lengths come out in the unit they went in with. Exact for straight faces and a circular arc; a hollow-ground
/// or convex bevel departs from it by the sagitta of the curve over the land.
/// Source: derived here, exact plane geometry. Throws nothing; angles are checked where a tool is loaded.
///
///     const Wedge<double> edge{0.5236};       // 30°
///     edge.tip_setback(1.0);                  // 2.864
///     edge.tangent_length(1.0);               // 3.732
///     edge.section_factor();                  // 2.423
///     land_per_depth(0.4363, 0.5236);         // 9.70
namespace arris::laws {

inline constexpr double pi     = 3.14159265358979323846;
inline constexpr double degree = pi / 180.0;

/// Rounded wedge of a given included angle (rad).
template <class T>
struct Wedge {
  T included_angle;

  [[nodiscard]] T half_angle() const { return 0.5 * included_angle; }
  [[nodiscard]] T sin_half() const {
    using std::sin;
    return sin(half_angle());
  }
  /// D: distance from the ideal apex to the tip of the arc, in the unit of `apex_radius`.
  [[nodiscard]] T tip_setback(const T& apex_radius) const { return apex_radius * (1.0 / sin_half() - 1.0); }
  /// T: distance along a face from the ideal apex to the tangent point, in the unit of `apex_radius`.
  [[nodiscard]] T tangent_length(const T& apex_radius) const {
    using std::tan;
    return apex_radius / tan(half_angle());
  }
  /// g: missing cross-section over r², dimensionless.
  [[nodiscard]] T section_factor() const {
    using std::tan;
    return 1.0 / tan(half_angle()) - (0.5 * pi - half_angle());
  }
  /// A: missing cross-section, in the square of the unit of `apex_radius`.
  [[nodiscard]] T missing_section(const T& apex_radius) const {
    return section_factor() * apex_radius * apex_radius;
  }
};

/// ℓ/h of a micro-bevel at `micro` on a primary bevel at `primary` (rad, micro > primary), dimensionless.
template <class T>
[[nodiscard]] T land_per_depth(const T& primary, const T& micro) {
  using std::sin;
  return sin(primary) / (sin(micro) * sin(micro - primary));
}

/// ℓ of a bevel honed over its whole width, in the unit of `blade_thickness`; `primary` in rad.
template <class T>
[[nodiscard]] T full_bevel_land(const T& blade_thickness, const T& primary) {
  using std::sin;
  return blade_thickness / sin(primary);
}

/// x₀/h: blade length lost along the back per depth honed away at the angle `micro` (rad), dimensionless.
template <class T>
[[nodiscard]] T blade_loss_per_depth(const T& micro) {
  using std::sin;
  return 1.0 / sin(micro);
}

}  // namespace arris::laws
