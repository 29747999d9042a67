// SPDX-License-Identifier: MIT
#pragma once

#include <span>

#include "sim/history/model.hpp"
#include "sim/history/state.hpp"
#include "sim/history/steps.hpp"
#include "sim/integrate/tolerances.hpp"

/// A whole history: every step of an edge, in order, as events.
namespace arris {

/// How a run went. `usable()` is the one question to ask before looking at its numbers.
struct RunStatus {
  enum class Code { done, too_many_steps, not_finite, no_burr, beyond_blade };
  Code   code              = Code::done;
  int    step              = -1;   ///< index of the step that failed
  double count             = 0.0;  ///< strokes, laps or passes into that step
  int    integration_steps = 0;

  [[nodiscard]] bool usable() const { return code == Code::done; }
};

/// What became of one step.
template <class T>
struct StepOutcome {
  T      count{};                      ///< strokes, laps or passes that were done
  double strokes_to_burr = not_given;  ///< honing: when the apex was reached; NaN if it was not
};

/// Looks on while a history runs. By itself it sees nothing: for runs of which only the end matters.
template <class T>
class HistoryObserver {
 public:
  HistoryObserver()                                  = default;
  HistoryObserver(const HistoryObserver&)            = default;
  HistoryObserver& operator=(const HistoryObserver&) = default;
  virtual ~HistoryObserver()                         = default;

  /// The counts (ascending) within step `i` at which it wants to look.
  [[nodiscard]] virtual std::span<const double> points(std::size_t /*i*/, const Step&) const { return {}; }
  /// Called at each of them that is reached.
  virtual void at(std::size_t /*i*/, double /*count*/, const EdgeState<T>&, const Ledger<T>&) {}
  /// Called after each step that succeeded.
  virtual void after(std::size_t /*i*/, const StepOutcome<T>&, const EdgeState<T>&, const Ledger<T>&) {}
};

/// Runs the history `plan` on `model`. On return `state` and `ledger` are those at its end; if the status is not
/// usable, every component of `state` is NaN, so that a failure cannot pass for a result.
///
/// `state` and `ledger` are work space: reuse them and nothing is allocated after the first run. There for double and for
/// ceres::Jet<double, 4> and <double, 8>; over other numbers with history_run.hpp.
template <class T>
RunStatus run_history(const Model<T>& model, const EdgePlan& plan, const Tolerances& tolerances,
                      EdgeState<T>& state, Ledger<T>& ledger, HistoryObserver<T>& observer);

/// Goes on with a history: as `run_history`, from the `state` and `ledger` that are given. The ledger counts strokes on as
/// many media as the model has (`Ledger::reset`). Steps before `first_step` are passed over.
template <class T>
RunStatus continue_history(const Model<T>& model, const EdgePlan& plan, const Tolerances& tolerances,
                           EdgeState<T>& state, Ledger<T>& ledger, HistoryObserver<T>& observer,
                           std::size_t first_step = 0);

extern template RunStatus run_history(const Model<double>&, const EdgePlan&, const Tolerances&,
                                      EdgeState<double>&, Ledger<double>&, HistoryObserver<double>&);
extern template RunStatus continue_history(const Model<double>&, const EdgePlan&, const Tolerances&,
                                           EdgeState<double>&, Ledger<double>&, HistoryObserver<double>&,
                                           std::size_t);

}  // namespace arris
