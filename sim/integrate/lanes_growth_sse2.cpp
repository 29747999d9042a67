// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_growth.hpp"

namespace arris::lanes {

template struct GrowthKernel<Lanes<xsimd::sse2, 2>>;

}  // namespace arris::lanes
