// SPDX-License-Identifier: MIT
#pragma once

namespace arris::laws {

/// How much of the depth of chips (chipping.hpp) counts as radius to a tester: most of the edge stands between them. An estimate.
inline constexpr double chip_radius_share = 0.1;

}  // namespace arris::laws
