// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_kernel.hpp"

namespace arris::lanes {

const Kernels& kernels_sse2() { return kernels_over<Lanes<xsimd::sse2, 2>>(); }

}  // namespace arris::lanes
