// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_kernel.hpp"

namespace arris::lanes {

const Kernels& kernels_avx2() { return kernels_over<Lanes<xsimd::fma3<xsimd::avx2>, 1>>(); }

}  // namespace arris::lanes
