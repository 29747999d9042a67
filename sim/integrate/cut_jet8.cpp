// SPDX-License-Identifier: MIT
#include "sim/integrate/cut_run.hpp"
#include "sim/integrate/jet.hpp"

namespace arris {

using Jet = ceres::Jet<double, 8>;

template StageEnd<Jet, 1> integrate_cut(const Cut<Jet>&, const std::array<Jet, 1>&, double,
                                        std::span<const double>, const CutVisit<Jet>&, const Tolerances&);

}  // namespace arris
