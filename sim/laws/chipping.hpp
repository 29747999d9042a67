// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/chip_radius.hpp"
#include "sim/laws/smooth.hpp"

/// Chips: pieces that an apex loses where it is too thin for the load and for the carbides in it.
///
///     z_c   = 1.5·f·J/( σ_e·tan² α ),   σ_e = (H/3)·(1 µm/d_c)^¼,   J = side hardness of the wood/6450 N
///     c∞    = pos( z_c − z₀; z₀/10 )
///     dc/dx = pos( c∞ − c )/L_ch + ν·J;   closed form:  c* − (c* − c₀)·exp(−x/L_ch) up to c∞, c* = c∞ + ν·J·L_ch, and a line from there
///     honed: c = pos( c₀ − h/sin β_m; c₀/10 )
///
/// | symbol | C++                 | meaning                                                        | unit | range     | default |
/// |--------|---------------------|----------------------------------------------------------------|------|-----------|---------|
/// | f      | `load_N_per_m`      | load across the edge in sugar maple that bends it              | N/m  | 0 … 5000  | 270     |
/// | J      | `wood`              | side hardness of the wood over that of sugar maple             | –    | > 0       | –       |
/// | H, d_c | `hardness_Pa`, `carbide_um` | hardness of the steel, size of its large carbides      | Pa, µm | > 0     | by steel |
/// | α      | `half_angle`        | half the included angle                                        | rad  | 0 … π/2   | –       |
/// | z_c    | `deepest_um`        | depth to which the bending stress exceeds the strength         | µm   | ≥ 0       | –       |
/// | z₀     | `least_um`          | depth below which nothing breaks out: the tip yields instead   | µm   | > 0       | 3       |
/// | c      | `chip_um`           | depth of the chips                                             | µm   | ≥ 0       | –       |
/// | L_ch   | `length_m`          | path in wood over which they come                              | m    | > 0       | 60      |
/// | ν      | `nicks_um_per_m`    | what knots, grit and knocks add in any wood, on average        | µm/m | ≥ 0       | 0.0015  |
/// | h, β_m | `honed_um`, `sin_bevel` | honed away normal to the bevel, honed angle                | µm, – | –        | –       |
///
/// A wedge that a load f per length bends at its tip has the stress 1.5·f/(z·tan² α) at the distance z behind it: a few degrees
/// decide. Nicks come at any angle, slowly, and no strop takes them out: they are what a stropped edge is honed for in the end. Large carbides make steel weaker against it, the more the larger they are; hard woods load it more.
/// Source: stress of a thin wedge under a load at its tip (elementary bending); strength by hardness and carbide size, f, z₀, L_ch and ν are
/// estimates, set so that an A2 edge begins to chip below 30° in sugar maple and a D2 edge below 34° (common practice, no source).
/// Throws nothing.
///
///     const Chipping<double> maple_25{270.0, 3.0, 60.0, ...};
///     Chipping<double>::deepest_um(270.0, 1.0, 7.1e9, 2.5, 15*degree);     // 3.0 µm: hardly a chip
///     Chipping<double>::deepest_um(270.0, 1.0, 7.1e9, 2.5, 12.5*degree);   // 4.4 µm
namespace arris::laws {

inline constexpr double chipping_reference_side_hardness_N = 6450.0;  ///< sugar maple

template <class T>
struct Chipping {
  T limit_um;        ///< c∞
  T length_m;        ///< L_ch
  T nicks_um_per_m;  ///< ν·J

  /// z_c in µm.
  [[nodiscard]] static T deepest_um(const T& load_N_per_m, const T& wood, const T& hardness_Pa,
                                    const T& carbide_um, const T& half_angle) {
    using std::pow;
    using std::tan;
    const T slope    = tan(half_angle);
    const T strength = hardness_Pa / 3.0 * pow(carbide_um, -0.25);
    return 1e6 * 1.5 * load_N_per_m * wood / (strength * slope * slope);
  }
  /// c∞ in µm.
  [[nodiscard]] static T limit_of_um(const T& deepest_um, const T& least_um) {
    return smooth_positive(T(deepest_um - least_um), T(0.1 * least_um));
  }
  /// c in µm after a path in wood, in metres.
  [[nodiscard]] T after_um(const T& start_um, const T& path_m) const {
    using std::exp;
    using std::log;
    if (!(start_um < limit_um)) return start_um + nicks_um_per_m * path_m;
    const T towards = limit_um + nicks_um_per_m * length_m;  // c*
    const T missing = (towards - start_um) * exp(-path_m / length_m);
    if (missing > towards - limit_um || !(nicks_um_per_m > 0.0)) return towards - missing;
    const T reached_m = length_m * log((towards - start_um) / (towards - limit_um));
    return limit_um + nicks_um_per_m * (path_m - reached_m);
  }
};

/// c in µm of an edge that is honed by `honed_um` normal to its bevel.
template <class T>
[[nodiscard]] T chip_left_um(const T& start_um, const T& honed_um, const T& sin_bevel) {
  return start_um > 0.0 ? smooth_positive(T(start_um - honed_um / sin_bevel), T(0.1 * start_um)) : start_um;
}

}  // namespace arris::laws
