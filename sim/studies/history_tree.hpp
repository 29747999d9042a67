// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "sim/history/steps.hpp"
#include "sim/integrate/run.hpp"
#include "sim/studies/parallel.hpp"
#include "sim/studies/readings.hpp"

/// Histories that begin alike, run once as far as they are alike: edges honed on the same route with the same blade part
/// only where one is stropped otherwise, or cuts another wood. What is seen of each is what its own run would show, bit for
/// bit.
namespace arris {

/// Whether two steps do the same to an edge; notes, and what is only read, make no difference.
[[nodiscard]] bool same_work(const Step& a, const Step& b);

class HistoryTree {
 public:
  HistoryTree() = default;
  /// `moments[e]`, ascending, are those to be seen of plan e. Each plan is followed up to its last moment, one without any
  /// not at all. Moments are numbered through, plan after plan: that number is the place of each.
  HistoryTree(const std::vector<EdgePlan>& plans, const std::vector<std::vector<Moment>>& moments);

  struct Failure {
    int       plan = -1;  ///< a plan that fails; −1 if none does
    RunStatus status;
  };

  /// Runs all of them on `model`, on up to `threads` threads (0: all cores). `see(place, state, ledger)` is called once for
  /// each moment, from several threads, each with places of its own; after a failure some have not been called.
  template <class T, class See>
  [[nodiscard]] Failure run(const Model<T>& model, const Tolerances& tolerances, int threads,
                            See&& see) const;

  /// Steps that are run, and those that separate runs would take.
  [[nodiscard]] std::size_t steps_run() const;
  [[nodiscard]] std::size_t steps_alone() const { return steps_alone_; }

 private:
  struct Branch {
    int                                                parent     = -1;
    int                                                plan       = -1;  ///< one that goes along it
    std::size_t                                        first_step = 0;
    EdgePlan                                           part;    ///< the steps along it
    std::vector<std::vector<double>>                   points;  ///< by step, ascending
    std::vector<std::vector<std::vector<std::size_t>>> places;  ///< by step and point
  };
  template <class T, class See>
  class Watcher final : public HistoryObserver<T> {
   public:
    Watcher(const Branch& branch, See& see) : branch_(branch), see_(see) {}
    [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
      return branch_.points[i];
    }
    void at(std::size_t i, double count, const EdgeState<T>& state, const Ledger<T>& ledger) override {
      const auto& counts = branch_.points[i];
      const auto  k =
          static_cast<std::size_t>(std::lower_bound(counts.begin(), counts.end(), count) - counts.begin());
      for (const std::size_t place : branch_.places[i][k]) see_(place, state, ledger);
    }

   private:
    const Branch& branch_;
    See&          see_;
  };

  void grow(const std::vector<EdgePlan>& plans, const std::vector<std::vector<Moment>>& moments,
            std::vector<int> along, std::size_t step, int parent, std::size_t depth);

  std::vector<Branch>                   branches_;
  std::vector<std::vector<std::size_t>> by_depth_;              ///< branches whose parents are all run before
  std::vector<std::size_t>              first_place_, length_;  ///< by plan
  std::size_t                           steps_alone_ = 0;
};

template <class T, class See>
HistoryTree::Failure HistoryTree::run(const Model<T>& model, const Tolerances& tolerances, int threads,
                                      See&& see) const {
  std::vector<EdgeState<T>> states(branches_.size());
  std::vector<Ledger<T>>    ledgers(branches_.size());
  std::vector<RunStatus>    status(branches_.size());
  for (const auto& level : by_depth_) {
    for_each_index(level.size(), threads, [&](std::size_t k) {
      const std::size_t                        b      = level[k];
      const Branch&                            branch = branches_[b];
      Watcher<T, std::remove_reference_t<See>> watcher(branch, see);
      if (branch.parent < 0) {
        status[b] = run_history(model, branch.part, tolerances, states[b], ledgers[b], watcher);
        return;
      }
      const auto parent = static_cast<std::size_t>(branch.parent);
      status[b]         = status[parent];
      if (!status[b].usable()) return;
      states[b]  = states[parent];
      ledgers[b] = ledgers[parent];
      status[b]  = continue_history(model, branch.part, tolerances, states[b], ledgers[b], watcher);
      if (!status[b].usable()) status[b].step += static_cast<int>(branch.first_step);
    });
  }
  Failure failure;
  for (std::size_t b = 0; b < branches_.size(); ++b) {
    if (!status[b].usable() && (failure.plan < 0 || branches_[b].plan < failure.plan))
      failure = {branches_[b].plan, status[b]};
  }
  return failure;
}

}  // namespace arris
