// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

/// How the honed land grows, and so how fast honing slows down.
///
///     ℓ = c·h,   h·dh/dn = W/c      ⇒   h(ν)² = h₀² + 2·(W/c)·ν        (micro-bevel)
///     ℓ constant                     ⇒   h(ν)  = h₀ + (W/ℓ)·ν           (whole bevel)
///
/// | symbol | C++                  | meaning                                             | unit        | range | default |
/// |--------|----------------------|-----------------------------------------------------|-------------|-------|---------|
/// | W      | `section_per_stroke` | cross-section removed by one fresh stroke, K·F·L/(w·H) | µm·mm    | > 0   | –       |
/// | c      | `land_per_depth`     | ℓ/h of the micro-bevel (0: the whole bevel is honed) | –          | ≥ 0   | –       |
/// | ℓ      | `full_land_mm`       | land when the whole bevel is honed                  | mm          | > 0   | –       |
/// | h      | `depth_um`           | depth honed away, normal to the bevel               | µm          | > 0   | –       |
/// | ν      | `effective_strokes`  | fresh strokes (see glazing.hpp)                     | strokes     | ≥ 0   | –       |
///
/// The load is carried by the land alone and spread evenly. With ℓ ∝ h an infinitely small land would carry an
/// infinite pressure; the start must therefore be a land no shorter than the rounded apex itself, which the
/// assembly of a history sees to.
/// Source: derived here from Archard's law and plane geometry, exact. Throws nothing.
///
///     const LandGrowth<double> land{0.043, 9.70, 0.0};
///     land.depth(50.0, 20.0);     // h after 20 strokes, µm
///     land.land_mm(50.0);         // 0.485
namespace arris::laws {

template <class T>
struct LandGrowth {
  T section_per_stroke;
  T land_per_depth;
  T full_land_mm;

  [[nodiscard]] bool grows() const { return land_per_depth > 0.0; }
  /// ℓ in mm at the depth h in µm.
  [[nodiscard]] T land_mm(const T& depth_um) const {
    return grows() ? T(1e-3 * land_per_depth * depth_um) : full_land_mm;
  }
  /// h in µm after ν effective strokes from h₀.
  [[nodiscard]] T depth(const T& start_um, const T& effective_strokes) const {
    using std::sqrt;
    if (!grows()) return start_um + section_per_stroke / full_land_mm * effective_strokes;
    return sqrt(start_um * start_um + 2.0 * section_per_stroke / (1e-3 * land_per_depth) * effective_strokes);
  }
  /// a in µm per fresh stroke at the depth h in µm.
  [[nodiscard]] T removal_um(const T& depth_um) const { return section_per_stroke / land_mm(depth_um); }
};

}  // namespace arris::laws
