// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

#include "sim/laws/smooth.hpp"

/// Growth and loss of the burr.
///
///     db/dn = η_b·(a/sin β)·G(r) − λ·b,     G = exp[ −pos(r − r∞)/r∞ ]      on a medium
///     C     = step( ρ·r∞ − r; r∞/2 ),           ρ = 1 + ln 2               share of the edge with a burr on it
///     db/dn = −λ·b                                                         on the back, on a strop
///     b(x)  = b₀·exp(−x/L_b)                                               in wood, closed form
///
/// | symbol | C++            | meaning                                              | unit     | range      | default |
/// |--------|----------------|------------------------------------------------------|----------|------------|---------|
/// | η_b    | `growth`       | share of the removed steel that bends over           | –        | 0 … 1      | 0.3     |
/// | λ      | `loss`         | share of the burr lost per stroke                    | 1/stroke | 0.01 … 1   | 0.05 one-sided, 0.3 alternating |
/// | a      | `removal_um`   | removal from the face honed                          | µm/stroke| ≥ 0        | –       |
/// | sin β  | `sin_included` | sine of the included angle                           | –        | 0 … 1      | –       |
/// | r, r∞  | `apex_radius_um`, `floor_um` | apex radius and where honing would leave it | µm     | > 0        | –       |
/// | b      | `burr_um`      | length of the burr                                   | µm       | ≥ 0        | –       |
///
/// Once the faces meet (r near r∞) the foil at the apex bends away instead of being cut. G opens smoothly: the
/// positive part is the C² one of smooth.hpp with half-width r∞/10.
/// Source: the mechanism after Gillespie's work on burr formation; coefficients are estimates. Throws nothing.
///
///     burr_opening(0.5, 0.5);            // 0.981: the faces have met
///     burr_opening(2.0, 0.5);            // 0.050: still blunt, hardly a burr
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

/// Growth and loss coefficients of one step.
template <class T>
struct Burr {
  T growth;
  T loss;

  /// db/dn in µm per stroke.
  [[nodiscard]] T rate(const T& burr_um, const T& removal_um, const T& sin_included, const T& opening) const {
    return growth * removal_um / sin_included * opening - loss * burr_um;
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
