// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "sim/history/steps.hpp"
#include "sim/integrate/lanes.hpp"
#include "sim/simulate/readings.hpp"

/// Histories that begin alike, run once as far as they are alike: edges honed on the same route with the same blade part
/// only where one is stropped otherwise, or cuts another wood. What is seen of each is what its own run would show: bit for bit
/// where a run is told to stay out of lanes (InstructionSet::none), to their tolerance in them.
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

  /// Runs all of them on `count` models at once, in lanes (lanes.hpp), over the numbers that lanes.hpp has; all of it on this
  /// thread. What a model gives does not depend on the others. `model_of(m)` need only stay as it is until the next is asked for.
  /// `see(m, place, state, ledger)` is called once for each moment; after a failure some have not been. One failure for each model.
  template <class T, class ModelOf, class See>
  [[nodiscard]] std::vector<Failure> run(std::size_t count, ModelOf&& model_of, const Tolerances& tolerances,
                                         See&& see, InstructionSet set = InstructionSet::best) const;

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

  /// The branches of one depth, on several models.
  template <class T, class ModelOf, class See>
  class Level final : public HistoryBatchOf<T> {
   public:
    struct Member {
      std::size_t       model;
      const Branch*     branch;
      HistoryStartOf<T> start;
    };
    Level(const std::vector<Member>& members, ModelOf& model_of, See& see)
        : members_(members), model_of_(model_of) {
      looks_.reserve(members.size());
      watchers_.reserve(members.size());
      for (const Member& m : members) {
        looks_.push_back({see, m.model});
        watchers_.emplace_back(*m.branch, looks_.back());
      }
    }
    [[nodiscard]] std::size_t size() const override { return members_.size(); }
    const Model<T>&           model(std::size_t i) override { return model_of_(members_[i].model); }
    const EdgePlan&           plan(std::size_t i) override { return members_[i].branch->part; }
    HistoryObserver<T>&       observer(std::size_t i) override { return watchers_[i]; }
    HistoryStartOf<T>         start(std::size_t i) override { return members_[i].start; }

   private:
    struct Look {
      See&        see;
      std::size_t model;
      void        operator()(std::size_t place, const EdgeState<T>& s, const Ledger<T>& l) const {
               see(model, place, s, l);
      }
    };
    const std::vector<Member>&    members_;
    ModelOf&                      model_of_;
    std::vector<Look>             looks_;
    std::vector<Watcher<T, Look>> watchers_;
  };

  template <class StatusOf>
  [[nodiscard]] Failure first_failure(const StatusOf& status_of) const {
    Failure failure;
    for (std::size_t b = 0; b < branches_.size(); ++b) {
      const RunStatus& status = status_of(b);
      if (!status.usable() && (failure.plan < 0 || branches_[b].plan < failure.plan))
        failure = {branches_[b].plan, status};
    }
    return failure;
  }

  void grow(const std::vector<EdgePlan>& plans, const std::vector<std::vector<Moment>>& moments,
            std::vector<int> along, std::size_t step, int parent, std::size_t depth);

  std::vector<Branch>                   branches_;
  std::vector<std::vector<std::size_t>> by_depth_;              ///< branches whose parents are all run before
  std::vector<std::size_t>              first_place_, length_;  ///< by plan
  std::size_t                           steps_alone_ = 0;
};

template <class T, class ModelOf, class See>
std::vector<HistoryTree::Failure> HistoryTree::run(std::size_t count, ModelOf&& model_of,
                                                   const Tolerances& tolerances, See&& see,
                                                   InstructionSet set) const {
  using OneLevel = Level<T, std::remove_reference_t<ModelOf>, std::remove_reference_t<See>>;
  const std::size_t                         B = branches_.size();
  std::vector<std::vector<LaneResultOf<T>>> results(by_depth_.size());
  std::vector<const LaneResultOf<T>*> of(B * count, nullptr);  // by branch and model; null beyond a failure
  std::vector<RunStatus>              status(B * count);
  std::vector<typename OneLevel::Member> members;
  for (std::size_t depth = 0; depth < by_depth_.size(); ++depth) {
    members.clear();
    for (const std::size_t b : by_depth_[depth]) {
      const Branch& branch = branches_[b];
      for (std::size_t m = 0; m < count; ++m) {
        typename OneLevel::Member member{m, &branch, {}};
        if (branch.parent >= 0) {
          const std::size_t parent = static_cast<std::size_t>(branch.parent) * count + m;
          status[b * count + m]    = status[parent];
          if (!status[parent].usable()) continue;
          member.start = {&of[parent]->state, &of[parent]->ledger, 0};
        }
        members.push_back(member);
      }
    }
    OneLevel level(members, model_of, see);
    run_batch(level, tolerances, results[depth], set);
    for (std::size_t i = 0; i < members.size(); ++i) {
      const auto        b  = static_cast<std::size_t>(members[i].branch - branches_.data());
      const std::size_t at = b * count + members[i].model;
      of[at]               = &results[depth][i];
      status[at]           = results[depth][i].status;
      if (!status[at].usable()) status[at].step += static_cast<int>(branches_[b].first_step);
    }
  }
  std::vector<Failure> out;
  for (std::size_t m = 0; m < count; ++m)
    out.push_back(first_failure([&](std::size_t b) -> const RunStatus& { return status[b * count + m]; }));
  return out;
}

}  // namespace arris
