// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/geometry.hpp"
#include "sim/laws/number.hpp"

/// Scratches: how deep a medium cuts them, and how the next medium cuts them away.
///
///     s_m   = tan θ·d·√( 2p/(π·H·c(p)) )·φ_m,    c(p) = c_a·(p/p₀)^e
///     ds/dn = −a·(s − s_m)/(s + s_m)
///
/// | symbol | C++               | meaning                                          | unit | range     | default |
/// |--------|-------------------|--------------------------------------------------|------|-----------|---------|
/// | θ      | `grit_angle`      | flank angle of a conical grit                    | rad  | 5° … 40°  | 15°     |
/// | c_a    | `active_fraction` | grits that cut, per d², at the pressure p₀       | –    | 1e-3 … 1  | 0.01    |
/// | e      | `load_exponent`   | how the number of cutting grits grows with load  | –    | 0 … 1     | 1       |
/// | φ_m    | `protrusion`      | how far the bond lets grits stand out            | –    | 0.5 … 5   | by medium |
/// | d      | `size_um`         | grit size                                        | µm   | > 0       | –       |
/// | p      | `pressure_Pa`     | pressure on the land                             | Pa   | > 0       | –       |
/// | H      | `hardness_Pa`     | hardness of the steel                            | Pa   | > 0       | –       |
/// | s      | `scratch_um`      | depth of the scratches on the bevel              | µm   | > 0       | –       |
/// | s_m    | `own_um`          | depth that this medium leaves when it has its way | µm  | > 0       | –       |
///
/// With e = 0 the same grits carry any load and the depth goes as √p: a bevel honed over its whole width would then
/// come off the same stone several times finer than a narrow land, which is not what is found. A rough surface
/// under load brings new contacts in proportion to the load, at a constant mean pressure (Greenwood & Williamson
/// 1966, from memory); that is e = 1 and makes the depth independent of p. p₀ = 0.8 MPa.
/// Valid while the grit is harder than the steel and its carbides.
/// Source: derived here (indentation of cones); θ, c_a, φ_m, e estimates. The memory law: derived here, its
/// denominator an estimate. Throws nothing.
///
///     const ScratchDepth<double> stone{15*degree, 0.01, 1.0, 1.0};
///     stone.depth_um(60.0, 0.8e6, 7.3e9);    // 1.34 µm
///     scratch_rate(0.1, 1.0, 0.2);           // −0.067 µm per stroke
namespace arris::laws {

template <class T>
struct ScratchDepth {
  static constexpr double reference_pressure_Pa = 0.8e6;

  T grit_angle;
  T active_fraction;
  T load_exponent;
  T protrusion;

  /// s_m in µm.
  [[nodiscard]] T depth_um(const T& size_um, const T& pressure_Pa, const T& hardness_Pa) const {
    using std::pow;
    using std::sqrt;
    using std::tan;
    const T over = pressure_Pa / reference_pressure_Pa;
    const T active =
        active_fraction *
        (load_exponent == 1.0 && !Number<T>::varies(load_exponent) ? over : T(pow(over, load_exponent)));
    return tan(grit_angle) * size_um * sqrt(2.0 * pressure_Pa / (pi * hardness_Pa * active)) * protrusion;
  }
};

/// ds/dn in µm per stroke, for a removal of `removal_um` per stroke.
template <class T>
[[nodiscard]] T scratch_rate(const T& removal_um, const T& scratch_um, const T& own_um) {
  return -removal_um * (scratch_um - own_um) / (scratch_um + own_um);
}

}  // namespace arris::laws
