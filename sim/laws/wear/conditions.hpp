// SPDX-License-Identifier: MIT
#pragma once

/// What an edge meets in a wood, for wear laws that look at more than the severity of it (wood_severity.hpp).
///
/// | C++                 | meaning                                                         | unit | of the reference |
/// |---------------------|-----------------------------------------------------------------|------|------------------|
/// | `severity`          | how many times as fast as the reference case the blade wears    | –    | 1                |
/// | `hardness_GPa`      | indentation hardness of the blade                               | GPa  | 7.1              |
/// | `wear_ratio`        | wear of the steel relative to O1 at the same hardness           | –    | 1                |
/// | `half_angle`        | half of the included angle at the apex                          | rad  | 15°              |
/// | `side_hardness_N`   | Janka side hardness of the wood                                 | N    | 3150             |
/// | `silica_pct`        | silica in the wood, by dry mass                                 | %    | 0                |
/// | `extractive_factor` | wear beyond what hardness and silica give                       | –    | 1                |
///
/// The reference is radiata pine cut by O1 at 30°. Plain data; throws nothing.
namespace arris::laws {

template <class T>
struct WearConditions {
  T severity          = T(1.0);
  T hardness_GPa      = T(7.1);
  T wear_ratio        = T(1.0);
  T half_angle        = T(0.26179938779914943);
  T side_hardness_N   = T(3150.0);
  T silica_pct        = T(0.0);
  T extractive_factor = T(1.0);
};

/// A law as it is in a wood: of what it meets most laws look at the severity alone.
template <class T, class Law>
[[nodiscard]] Law in_wood(const Law& law, const WearConditions<T>& here) {
  if constexpr (requires { law.under(here); })
    return law.under(here);
  else
    return law.times(here.severity);
}

}  // namespace arris::laws
