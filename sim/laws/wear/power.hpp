// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string_view>

#include "sim/laws/field.hpp"

/// Wear in wood that slows, or speeds up, as a power of the radius.
///
///     dr/dx = k·(r₁/r)^q, r₁ = 1 µm    ⇒    r^(q+1) = r₀^(q+1) + (q + 1)·k·r₁^q·x
///
/// | symbol | C++             | meaning                                          | unit | range    | default |
/// |--------|-----------------|--------------------------------------------------|------|----------|---------|
/// | k      | `rate_um_per_m` | growth of the radius at r = 1 µm, reference wood | µm/m | 1e-6 … 10 | 1.8e-3 |
/// | q      | `exponent`      | how it slows (0 constant rate, 1 square root; below 0 it speeds up) | –    | −1 … 6    | 0.7     |
/// | r      | `apex_radius_um`| apex radius                                      | µm   | > 0      | –       |
///
/// For long paths r ∝ x^(1/(q+1)); chipper knives suggest a growth exponent of 0.5–0.85, q between 0.2 and 1
/// (Ghosh, Heidari, Hernández, Blais, black spruce). A blunt edge that presses harder, or heats, wears ever faster: q < 0, as in the last
/// stage of tool-wear curves (common practice, no source); at −1 growth is exponential, and below that the radius would be infinite after a
/// finite path.
/// Source: derived here; k and q are estimates. Throws nothing.
///
///     Power<double>{1.8e-3, 1.0}.rate(0.5, 0.0);     // 3.6e-3 µm per metre
namespace arris::laws {

template <class T>
struct Power {
  static constexpr std::string_view law_name = "power";

  T rate_um_per_m = T(1.8e-3);
  T exponent      = T(0.7);

  /// dr/dx in µm per metre.
  [[nodiscard]] T rate(const T& apex_radius_um, const T& /*path_m*/) const {
    using std::pow;
    return rate_um_per_m * pow(apex_radius_um, -exponent);
  }
  /// Whether the rate depends on the radius alone, not on the path: a stage of it is then an integral.
  [[nodiscard]] static constexpr bool by_radius_alone() { return true; }
  [[nodiscard]] Power times(const T& severity) const { return {rate_um_per_m * severity, exponent}; }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("rate_um_per_m").between(1e-6, 10).estimate().prior(3)
          .says("growth of the radius at 1 µm, in the reference wood"), s.rate_um_per_m...);
    v(field("exponent").between(-1, 6).estimate().prior(1.5).says("how growth slows with the radius; below 0 it speeds up"), s.exponent...);
    // clang-format on
  }
};

}  // namespace arris::laws
