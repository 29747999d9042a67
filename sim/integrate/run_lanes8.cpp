// SPDX-License-Identifier: MIT
#include "sim/integrate/jet.hpp"
#include "sim/integrate/lanes_run.hpp"

namespace arris {

using Jet = ceres::Jet<double, 8>;

extern template RunStatus continue_history(const Model<Jet>&, const EdgePlan&, const Tolerances&,
                                           EdgeState<Jet>&, Ledger<Jet>&, HistoryObserver<Jet>&, std::size_t);
template void             run_batch(HistoryBatchOf<Jet>&, const Tolerances&, std::vector<LaneResultOf<Jet>>&,
                                    InstructionSet);

}  // namespace arris
