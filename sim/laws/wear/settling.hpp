// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string_view>

#include "sim/laws/field.hpp"

/// Wear in wood that settles in exponentially and then follows a slow line.
///
///     dr/dx = k + (Δ/L)·exp(−x/L)    ⇒    r = r₀ + k·x + Δ·(1 − e^(−x/L))
///
/// | symbol | C++             | meaning                                            | unit | range     | default |
/// |--------|-----------------|----------------------------------------------------|------|-----------|---------|
/// | k      | `line_um_per_m` | slope of the line, reference wood                  | µm/m | 0 … 1     | 5e-4    |
/// | Δ      | `settle_um`     | radius gained while settling, reference wood       | µm   | 0 … 20    | 0.05    |
/// | L      | `settle_m`      | path over which it settles                         | m    | 0.1 … 500 | 20      |
/// | x      | `path_m`        | path since the edge last met an abrasive           | m    | ≥ 0       | –       |
///
/// An empirical rival to the shared-load law: the first passes cost most, whatever radius they start from.
/// Source: estimate; the shape is that of running-in wear curves (common practice, no source). Throws nothing.
///
///     Settling<double>{5e-4, 0.05, 20.0}.rate(0.3, 0.0);     // 3e-3 µm per metre
namespace arris::laws {

template <class T>
struct Settling {
  static constexpr std::string_view law_name = "settling";

  T line_um_per_m = T(5e-4);
  T settle_um     = T(0.05);
  T settle_m      = T(20.0);

  /// dr/dx in µm per metre.
  [[nodiscard]] T rate(const T& /*apex_radius_um*/, const T& path_m) const {
    using std::exp;
    return line_um_per_m + settle_um / settle_m * exp(-path_m / settle_m);
  }
  /// Whether the rate depends on the radius alone, not on the path: a stage of it is then an integral.
  [[nodiscard]] static constexpr bool by_radius_alone() { return false; }
  [[nodiscard]] Settling              times(const T& severity) const {
                 return {line_um_per_m * severity, settle_um * severity, settle_m};
  }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("line_um_per_m").between(0, 1).estimate().prior(3).says("slope of the line, in the reference wood"),
      s.line_um_per_m...);
    v(field("settle_um").between(0, 20).estimate().prior(3)
          .says("radius gained while settling in, in the reference wood"), s.settle_um...);
    v(field("settle_m").between(0.1, 500).estimate().prior(3).says("path over which the edge settles in"),
      s.settle_m...);
    // clang-format on
  }
};

}  // namespace arris::laws
