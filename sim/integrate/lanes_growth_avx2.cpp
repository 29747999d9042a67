// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_growth.hpp"

namespace arris::lanes {

template struct GrowthKernel<Lanes<xsimd::fma3<xsimd::avx2>, 1>>;
template struct GrowthKernel<LaneJet<Lanes<xsimd::fma3<xsimd::avx2>, 1>, 4>>;
template struct GrowthKernel<LaneJet<Lanes<xsimd::fma3<xsimd::avx2>, 1>, 8>>;

}  // namespace arris::lanes
