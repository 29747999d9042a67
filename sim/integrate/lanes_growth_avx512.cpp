// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_growth.hpp"

namespace arris::lanes {

template struct GrowthKernel<Lanes<xsimd::avx512dq, 1>>;
template struct GrowthKernel<LaneJet<Lanes<xsimd::avx512dq, 1>, 4>>;
template struct GrowthKernel<LaneJet<Lanes<xsimd::avx512dq, 1>, 8>>;

}  // namespace arris::lanes
