// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_kernel.hpp"

namespace arris::lanes {

const KernelSet& kernels_avx512() { return kernel_set_over<Lanes<xsimd::avx512dq, 1>>(); }

}  // namespace arris::lanes
