// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

/// How a medium loses its cut as its surface loads and glazes, until it is dressed again.
///
///     f(n) = f_res + (1 − f_res)·exp(−n/n_glaze)            K → K·f
///     ν(n₀, n) = ∫ f = f_res·n + (1 − f_res)·n_glaze·e^(−n₀/n_glaze)·(1 − e^(−n/n_glaze))
///
/// | symbol  | C++           | meaning                                        | unit    | range   | default |
/// |---------|---------------|------------------------------------------------|---------|---------|---------|
/// | f_res   | `floor`       | share of the cut that a loaded surface keeps   | –       | 0 … 1   | by medium |
/// | n_glaze | `strokes`     | strokes over which it loads                    | strokes | > 0     | by medium |
/// | n₀      | `used`        | strokes since it was last dressed              | strokes | ≥ 0     | 0       |
/// | ν       | `effective`   | fresh strokes that n strokes are worth         | strokes | ≥ 0     | –       |
///
/// Source: estimate (the shape is the simplest that has both limits). Throws nothing.
///
///     const Glazing<double> film{0.3, 60.0};
///     film.share(0.0);             // 1
///     film.effective(0.0, 60.0);   // 44.5 fresh strokes
namespace arris::laws {

template <class T>
struct Glazing {
  T floor;
  T strokes;

  /// e^(−n/n_glaze): what is left of the fresh surface after `used` strokes, 1 … 0.
  [[nodiscard]] T freshness(const T& used) const {
    using std::exp;
    return exp(-used / strokes);
  }
  /// f: share of the fresh cut, floor … 1, where `fresh` is left of the surface.
  [[nodiscard]] T share_when(const T& fresh) const { return floor + (1.0 - floor) * fresh; }
  /// ν of n strokes, over which the freshness went from `before` to `after`.
  [[nodiscard]] T effective_between(const T& n, const T& before, const T& after) const {
    return floor * n + (1.0 - floor) * strokes * (before - after);
  }
  /// f: share of the fresh cut after `used` strokes, floor … 1.
  [[nodiscard]] T share(const T& used) const { return share_when(freshness(used)); }
  /// ν: fresh strokes that `n` more strokes are worth on a medium already `used`.
  [[nodiscard]] T effective(const T& used, const T& n) const {
    return effective_between(n, freshness(used), freshness(T(used + n)));
  }
};

}  // namespace arris::laws
