// SPDX-License-Identifier: MIT
#include "sim/integrate/lanes_kernel.hpp"

namespace arris::lanes {

const Kernels& kernels_avx512() { return kernels_over<xsimd::batch<double, xsimd::avx512dq>>("avx512"); }

}  // namespace arris::lanes
