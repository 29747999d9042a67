// SPDX-License-Identifier: MIT
#include "sim/integrate/run.hpp"

#include "sim/integrate/history_run.hpp"

namespace arris {

template RunStatus run_history(const Model<double>&, const EdgePlan&, const Tolerances&, EdgeState<double>&,
                               Ledger<double>&, HistoryObserver<double>&);
template RunStatus continue_history(const Model<double>&, const EdgePlan&, const Tolerances&,
                                    EdgeState<double>&, Ledger<double>&, HistoryObserver<double>&,
                                    std::size_t);
}  // namespace arris
