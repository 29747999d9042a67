// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

#include "sim/laws/field.hpp"

/// Wear in wood by a constant load: the worn cross-section grows at a constant rate.
///
///     dr/dx = A/(2r)    ⇒    r = √(r₀² + A·x)
///
/// | symbol | C++                 | meaning                                  | unit  | range     | default |
/// |--------|---------------------|------------------------------------------|-------|-----------|---------|
/// | A      | `section_um2_per_m` | growth of r² in the reference wood       | µm²/m | 1e-6 … 10 | 3.5e-3  |
/// | r      | `apex_radius_um`    | apex radius                              | µm    | > 0       | –       |
///
/// What the shared-load law is without crushing.
/// Source: derived here from Archard 1953 and plane geometry; A is an estimate. Throws nothing.
///
///     SquareRoot<double>{3.5e-3}.rate(0.5, 0.0);     // 3.5e-3 µm per metre
namespace arris::laws {

template <class T>
struct SquareRoot {
  static constexpr std::string_view law_name = "square-root";

  T section_um2_per_m = T(3.5e-3);

  /// dr/dx in µm per metre.
  [[nodiscard]] T rate(const T& apex_radius_um, const T& /*path_m*/) const {
    return 0.5 * section_um2_per_m / apex_radius_um;
  }
  /// Whether the rate depends on the radius alone, not on the path: a stage of it is then an integral.
  [[nodiscard]] static constexpr bool by_radius_alone() { return true; }
  [[nodiscard]] SquareRoot times(const T& severity) const { return {section_um2_per_m * severity}; }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("section_um2_per_m").between(1e-6, 10).estimate().prior(3).says("growth of r² in the reference wood"),
      s.section_um2_per_m...);
    // clang-format on
  }
};

}  // namespace arris::laws
