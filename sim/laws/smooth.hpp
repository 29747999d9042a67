// SPDX-License-Identifier: MIT
#pragma once

#include "sim/laws/number.hpp"

/// A positive part that can be differentiated twice, and the step that is its slope.
///
///     pos(x; w) = 0                      for x ≤ −w
///               = 2w·(t³ − t⁴/2)         with t = (x + w)/(2w), for −w < x < w
///               = x                      for x ≥ w
///
/// | symbol | C++     | meaning                     | unit      | range | default |
/// |--------|---------|-----------------------------|-----------|-------|---------|
/// | x      | `x`     | the quantity to be cut at 0 | any       | ℝ     | –       |
/// | w      | `width` | half-width of the blend     | that of x | > 0   | –       |
///
///     step(x; w) = d pos/dx = 3t² − 2t³ in between, 0 and 1 outside
///
/// Value, first and second derivative are continuous; outside ±w it is exactly max(x, 0), so that a term
/// that should be absent is absent. At x = 0 it is 3w/16. Laws with a switch use it so that step-size control
/// and derivatives see no kink.
/// Source: derived here (integral of the cubic smooth step). Throws nothing.
///
///     smooth_positive(-1.0, 0.1);  // 0
///     smooth_positive( 0.0, 0.1);  // 0.01875
///     smooth_positive( 1.0, 0.1);  // 1
///     smooth_step(0.0, 0.1);       // 0.5
namespace arris::laws {

template <class T>
[[nodiscard]] T smooth_positive(const T& x, const T& width) {
  const auto blend = [&] {
    const T t = (x + width) / (2.0 * width);
    return T(2.0 * width * t * t * t * (1.0 - 0.5 * t));
  };
  return choose(
      x <= -width, [] { return T(0.0); },
      [&] {
        return choose(
            x >= width, [&] { return x; }, blend);
      });
}

template <class T>
[[nodiscard]] T smooth_step(const T& x, const T& width) {
  const auto blend = [&] {
    const T t = (x + width) / (2.0 * width);
    return T(t * t * (3.0 - 2.0 * t));
  };
  return choose(
      x <= -width, [] { return T(0.0); },
      [&] {
        return choose(
            x >= width, [] { return T(1.0); }, blend);
      });
}

}  // namespace arris::laws
