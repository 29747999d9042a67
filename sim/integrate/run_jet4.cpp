// SPDX-License-Identifier: MIT
#include "sim/integrate/history_run.hpp"
#include "sim/integrate/jet.hpp"

namespace arris {

using Jet = ceres::Jet<double, 4>;

template RunStatus run_history(const Model<Jet>&, const EdgePlan&, const Tolerances&, EdgeState<Jet>&,
                               Ledger<Jet>&, HistoryObserver<Jet>&);
template RunStatus continue_history(const Model<Jet>&, const EdgePlan&, const Tolerances&, EdgeState<Jet>&,
                                    Ledger<Jet>&, HistoryObserver<Jet>&, std::size_t);

}  // namespace arris
