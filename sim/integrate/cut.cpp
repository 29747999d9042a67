// SPDX-License-Identifier: MIT
#include "sim/integrate/cut_run.hpp"

namespace arris {

template StageEnd<double, 1> integrate_cut(const Cut<double>&, const std::array<double, 1>&, double,
                                           std::span<const double>, const CutVisit<double>&,
                                           const Tolerances&);

}  // namespace arris
