// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_kernel.hpp"

namespace arris::lanes {

const Kernels& kernels_avx512() { return kernels_over<Lanes<xsimd::avx512dq, 1>>(); }

}  // namespace arris::lanes
