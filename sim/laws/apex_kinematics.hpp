// SPDX-License-Identifier: MIT
#pragma once

/// How the apex radius changes when the faces and the tip recede.
///
///     dr/dt = ( v_t·sin α − n̄ ) / ( 1 − sin α ),    n̄ = (n₁ + n₂)/2
///
/// | symbol | C++             | meaning                                        | unit          | range | default |
/// |--------|-----------------|------------------------------------------------|---------------|-------|---------|
/// | v_t    | `tip_recession` | recession of the tip along the bisector        | length / time | ℝ     | –       |
/// | n̄      | `face_recession`| mean normal recession of the two faces (one face honed: half of its own) | length / time | ℝ | – |
/// | sin α  | `sin_half`      | sine of half the included angle                | –             | 0 … 1 | –       |
///
/// "Time" is whatever the recession is counted over: strokes, laps or metres. Exact for straight faces and a
/// circular arc. Consequences: v_t = 0 gives a straight fall of r; blunting needs v_t > n̄/sin α; removing δ from
/// the whole outline (v_t = n̄ = δ̇) gives r → r − δ.
/// Source: derived here, exact. Throws nothing.
///
///     radius_rate(0.0, 0.1, 0.2588);   // −0.1349: honing sharpens
///     radius_rate(0.1, 0.1, 0.2588);   // −0.1: uniform removal
namespace arris::laws {

template <class T>
[[nodiscard]] T radius_rate(const T& tip_recession, const T& face_recession, const T& sin_half) {
  return (tip_recession * sin_half - face_recession) / (1.0 - sin_half);
}

}  // namespace arris::laws
