// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_kernel.hpp"

namespace arris::lanes {

const KernelSet& kernels_sse2() { return kernel_set_over<Lanes<xsimd::sse2, 2>>(); }

}  // namespace arris::lanes
