// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_kernel.hpp"

namespace arris::lanes {

const KernelSet& kernels_avx2() { return kernel_set_over<Lanes<xsimd::fma3<xsimd::avx2>, 1>>(); }

}  // namespace arris::lanes
