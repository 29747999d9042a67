// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/smooth.hpp"

/// Growth and loss of the burr.
///
///     db/dn = η_b·(a/sin β)·G(r)·( 1 − b/b∞ ) − λ′·(b − b∞),   G = exp[ −pos(r − r∞)/r∞ ]      on a medium
///     b∞    = b₁·(s_m/0.1 µm)^e
///     C     = step( ρ·r∞ − r; r∞/2 ),           ρ = 1 + ln 2               share of the edge with a burr on it
///     db/dn = −λ·b                                                         on the back, on a strop
///     b(x)  = b₀·exp(−x/L_b)                                               in wood, closed form
///
/// | symbol | C++            | meaning                                              | unit     | range      | default |
/// |--------|----------------|------------------------------------------------------|----------|------------|---------|
/// | η_b    | `growth`       | share of the removed steel that bends over           | –        | 0 … 1      | fitted  |
/// | b∞     | `limit_um`     | length that a foil can stand on this medium          | µm       | > 0        | –       |
/// | b₁     | `at_reference_um` | the same where scratches are 0.1 µm deep          | µm       | 0.2 … 100  | fitted  |
/// | e      | `exponent`     | how it grows with the scratches of the medium        | –        | 0 … 1      | 0.2     |
/// | λ      | `loss`         | share lost per stroke of what stands beyond b∞       | 1/stroke | 0.01 … 1   | fitted  |
/// | a      | `removal_um`   | removal from the face honed                          | µm/stroke| ≥ 0        | –       |
/// | s_m    | `own_scratch_um` | depth of scratches that the medium leaves          | µm       | > 0        | –       |
/// | sin β  | `sin_included` | sine of the included angle                           | –        | 0 … 1      | –       |
/// | r, r∞  | `apex_radius_um`, `floor_um` | apex radius and where honing would leave it | µm     | > 0        | –       |
/// | b      | `burr_um`      | length of the burr                                   | µm       | ≥ 0        | –       |
///
/// Once the faces meet (r near r∞) the foil at the apex bends away instead of being cut. G opens smoothly: the
/// positive part is the C² one of smooth.hpp with half-width r∞/10. A foil longer than b∞ breaks or bends back under its own
/// load, whatever the force on the blade: so a narrow chisel carries no longer a burr than a wide iron. b never passes b∞
/// within a stage, so that what is missing to it, b∞ − b, falls as an exponential of the depth removed:
///     b∞ − b = ( b∞ − b₀ )·exp( −η_b·B/(b∞·sin β) − λ′·n ),   dB/dn = a·G,   λ′ = λ·step( b₀ − 5·b∞/4; b∞/4 )
/// Source: the mechanism after Gillespie's work on burr formation; limit and coefficients are estimates. Throws nothing.
///
///     burr_opening(0.5, 0.5);            // 0.981: the faces have met
///     burr_opening(2.0, 0.5);            // 0.050: still blunt, hardly a burr
///     BurrLimit<double>{5.0, 0.2}.length_um(0.8);    // 7.6 µm
namespace arris::laws {

/// w of pos in G, over r∞: below 1 − w the burr grows fully, above 1 + w by the exponential, and there are joints between.
inline constexpr double burr_opening_half_width = 0.1;

/// G, 0 … 1.
template <class T>
[[nodiscard]] T burr_opening(const T& apex_radius_um, const T& floor_um) {
  using std::exp;
  return exp(-smooth_positive(T(apex_radius_um - floor_um), T(burr_opening_half_width * floor_um)) /
             floor_um);
}

/// The same by r/r∞, which it depends on alone: pos(k·x; k·w) = k·pos(x; w) with k·w = 1/2, which spares divisions.
template <class T>
[[nodiscard]] T burr_opening_at(const T& radius_per_floor) {
  using std::exp;
  constexpr double k = 0.5 / burr_opening_half_width;
  return exp(-1.0 / k * smooth_positive(T(k * (radius_per_floor - 1.0)), T(0.5)));
}

/// How long a burr can get.
template <class T>
struct BurrLimit {
  static constexpr double reference_scratch_um = 0.1;

  T at_reference_um;
  T exponent;

  /// b∞ in µm on a medium that leaves scratches of `own_scratch_um`.
  [[nodiscard]] T length_um(const T& own_scratch_um) const {
    using std::pow;
    return at_reference_um * pow(T(own_scratch_um / reference_scratch_um), exponent);
  }
};

/// Growth and loss of the burr in one stage.
template <class T>
struct Burr {
  T growth;    ///< η_b/sin β
  T limit_um;  ///< b∞; 0 on the back and on a strop, where none is raised
  T loss;      ///< λ
  T start_um;  ///< b at the start of the stage

  /// db/dn in µm per stroke, where the tip is met by `removal_um` and the burr is open to the share `opening`.
  [[nodiscard]] T rate(const T& burr_um, const T& removal_um, const T& opening) const {
    if (!(limit_um > 0.0)) return -loss * burr_um;
    const T grown = growth * removal_um * opening * (1.0 - burr_um / limit_um);
    return grown - lost_per_stroke() * (burr_um - limit_um);
  }
  /// Its solution: b in µm after `opened_um` of depth with the faces met, B, and n strokes.
  [[nodiscard]] T after(const T& opened_um, const T& n) const {
    using std::exp;
    if (!(limit_um > 0.0)) return start_um * exp(-loss * n);
    return limit_um - (limit_um - start_um) * exp(-growth * opened_um / limit_um - lost_per_stroke() * n);
  }

  static constexpr double half_width =
      0.25;  ///< of b∞, over which λ′ comes in from b∞ on, so that a fit meets no kink

  /// λ′.
  [[nodiscard]] T lost_per_stroke() const {
    return loss * smooth_step(T(start_um - (1.0 + half_width) * limit_um), T(half_width * limit_um));
  }
};

/// Burr left after a path in wood, µm; `path_m` and `break_off_m` in metres.
template <class T>
[[nodiscard]] T burr_after_path(const T& start_um, const T& path_m, const T& break_off_m) {
  using std::exp;
  return start_um * exp(-path_m / break_off_m);
}

/// The apex counts as reached, and a burr as raised all along the edge, when r is down to this multiple of the r∞ that
/// the medium leaves with its own scratches; there G = 1/2 once those of the medium before are gone. A definition of this
/// project, not of the trade, which feels for it with a thumb.
inline constexpr double apex_reached_ratio = 1.0 + 0.69314718055994530942;

/// Half of the range of r/r∞ over which the edge raises its burr. An estimate.
inline constexpr double burr_raised_half_width = 0.5;

/// C, 0 … 1: how much of the edge has raised a burr. Half of it where the apex counts as reached, none above 2.2 r∞, all
/// below 1.2 r∞: no edge is straight, and a burr is felt here before it is felt there. Strokes "from the burr on" are
/// counted by it, so that their number is a smooth function of everything it depends on. The width is an estimate.
template <class T>
[[nodiscard]] T burr_raised(const T& apex_radius_um, const T& floor_um) {
  return smooth_step(T(apex_reached_ratio * floor_um - apex_radius_um), T(burr_raised_half_width * floor_um));
}

}  // namespace arris::laws
