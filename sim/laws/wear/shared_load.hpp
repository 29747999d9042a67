// SPDX-License-Identifier: MIT
#pragma once

#include <string_view>

#include "sim/laws/calibrated.hpp"
#include "sim/laws/field.hpp"

/// Wear in wood by a load that is shared between parting the fibres and crushing them under the arc.
///
///     f = f₀ + f₁·r   (load per edge length),   worn section per path ∝ f   ⇒   dr/dx = A_w/(2r) + B_w
///     A_w = k_w·f₀/g,   B_w = k_w·f₁/(2g)
///
/// | symbol | C++                 | meaning                                           | unit  | range         | default |
/// |--------|---------------------|---------------------------------------------------|-------|---------------|---------|
/// | A_w    | `parting_um2_per_m` | from the load that parts fibres, whatever r is    | µm²/m | 1e-6 … 10     | fitted  |
/// | B_w    | `crushing_um_per_m` | from the load that crushes fibres under the arc   | µm/m  | 0 … 1         | fitted  |
/// | r      | `apex_radius_um`    | apex radius                                       | µm    | > 0           | –       |
///
/// Both are for radiata pine, O1 at 7.1 GPa and 30°; severity (wood_severity.hpp) scales them. Fast at first, slower
/// later, linear in the end, with no extra switch. Closed form: c = A_w/(2B_w),
/// r = c·(y − 1), y = −W₋₁(−exp[−1 − (r₀/c − ln(1 + r₀/c)) − B_w·x/c]).
/// Source: derived here from Archard 1953 and plane geometry; A_w after radiata planing, 65 µm recession in 30 000 m
/// (Bustos, Moya, Lisperguer, Viveros, Wood Fiber Sci.), which gives about 3.5e-3; the default is a third of it, since hand
/// planing to the practice of the trade asks for less. The split A_w/(2B_w) is computed by a finer model of the outline
/// (validation/profile): 6.7 µm, ×/÷ 2; the default is fitted to it and to facts of the trade.
/// Throws nothing.
///
///     const SharedLoad<double> law{3.5e-3, 1.2e-4};
///     law.rate(0.5, 0.0);     // 3.62e-3 µm per metre
namespace arris::laws {

template <class T>
struct SharedLoad {
  static constexpr std::string_view law_name = "shared-load";

  T parting_um2_per_m = T(calibrated::parting_um2_per_m);
  T crushing_um_per_m = T(calibrated::crushing_um_per_m);

  /// dr/dx in µm per metre.
  [[nodiscard]] T rate(const T& apex_radius_um, const T& /*path_m*/) const {
    return 0.5 * parting_um2_per_m / apex_radius_um + crushing_um_per_m;
  }
  /// Whether the rate depends on the radius alone, not on the path: a stage of it is then an integral.
  [[nodiscard]] static constexpr bool by_radius_alone() { return true; }
  [[nodiscard]] SharedLoad            times(const T& severity) const {
               return {parting_um2_per_m * severity, crushing_um_per_m * severity};
  }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("parting_um2_per_m").between(1e-6, 10).calibrated().prior(3)
          .says("wear by the load that parts fibres, in the reference wood"), s.parting_um2_per_m...);
    v(field("crushing_um_per_m").between(0, 1).calibrated().prior(3)
          .says("wear by the load that crushes fibres under the arc, in the reference wood"), s.crushing_um_per_m...);
    // clang-format on
  }
};

}  // namespace arris::laws
