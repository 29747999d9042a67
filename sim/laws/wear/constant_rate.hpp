// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

#include "sim/laws/field.hpp"

/// Wear in wood at a constant rate: the tip recedes at a constant speed.
///
///     dr/dx = k    ⇒    r = r₀ + k·x
///
/// | symbol | C++             | meaning                            | unit | range    | default |
/// |--------|-----------------|------------------------------------|------|----------|---------|
/// | k      | `rate_um_per_m` | growth of the radius in the reference wood | µm/m | 0 … 1 | 5e-4 |
///
/// The simplest rival: what the shared-load law tends to once r is large. Has no fast start.
/// Source: derived here (constant v_t in apex_kinematics.hpp); k is an estimate. Throws nothing.
///
///     ConstantRate<double>{5e-4}.rate(0.5, 100.0);     // 5e-4 µm per metre
namespace arris::laws {

template <class T>
struct ConstantRate {
  static constexpr std::string_view law_name = "constant-rate";

  T rate_um_per_m = T(5e-4);

  /// dr/dx in µm per metre.
  [[nodiscard]] T rate(const T& /*apex_radius_um*/, const T& /*path_m*/) const { return rate_um_per_m; }
  /// Whether the rate depends on the radius alone, not on the path: a stage of it is then an integral.
  [[nodiscard]] static constexpr bool by_radius_alone() { return true; }
  [[nodiscard]] ConstantRate          times(const T& severity) const { return {rate_um_per_m * severity}; }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("rate_um_per_m").between(0, 1).estimate().prior(3).says("growth of the radius in the reference wood"),
      s.rate_um_per_m...);
    // clang-format on
  }
};

}  // namespace arris::laws
