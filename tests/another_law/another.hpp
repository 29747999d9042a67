// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string_view>

#include "sim/laws/field.hpp"

/// Wear in wood that slows with the logarithm of the radius: a law for the tests, added as DEVELOPERS.md says.
///
///     dr/dx = k/(1 + ln(1 + r/r₁)), r₁ = 1 µm
///
/// Source: invented for the tests. Throws nothing.
namespace arris::laws {

template <class T>
struct Another {
  static constexpr std::string_view law_name = "another";

  T rate_um_per_m = T(8e-4);

  /// dr/dx in µm per metre.
  [[nodiscard]] T rate(const T& apex_radius_um, const T& /*path_m*/) const {
    using std::log;
    return rate_um_per_m / (1.0 + log(1.0 + apex_radius_um));
  }
  [[nodiscard]] static constexpr bool by_radius_alone() { return true; }
  [[nodiscard]] Another               times(const T& severity) const { return {rate_um_per_m * severity}; }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    v(field("rate_um_per_m")
          .between(0, 1)
          .estimate()
          .prior(3)
          .says("growth of a keen edge in the reference wood"),
      s.rate_um_per_m...);
  }
};

}  // namespace arris::laws
