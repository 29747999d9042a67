// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_kernel.hpp"

namespace arris::lanes {

const Kernels& kernels_sse2() { return kernels_over<xsimd::batch<double, xsimd::sse2>>("sse2"); }

}  // namespace arris::lanes
