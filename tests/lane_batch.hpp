// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/integrate/lanes.hpp"
#include "tests/fixture.hpp"

namespace arris::bench {

/// Histories with a model each, run abreast; `witnesses` hold what the last run showed.
template <class T>
struct LaneBatch final : HistoryBatchOf<T> {
  std::vector<Model<T>>          models;
  std::vector<EdgePlan>          plans;
  std::vector<Witness<T>>        witnesses;
  std::vector<HistoryStartOf<T>> starts;  ///< empty: each from its tool

  void add(const Model<T>& model, const EdgePlan& plan, const std::vector<double>& points = {}) {
    models.push_back(model);
    plans.push_back(plan);
    witnesses.emplace_back().wanted = points;
  }
  [[nodiscard]] std::size_t size() const override { return plans.size(); }
  const Model<T>&           model(std::size_t i) override { return models[i]; }
  const EdgePlan&           plan(std::size_t i) override { return plans[i]; }
  HistoryObserver<T>&       observer(std::size_t i) override { return witnesses[i]; }
  HistoryStartOf<T> start(std::size_t i) override { return starts.empty() ? HistoryStartOf<T>{} : starts[i]; }
  [[nodiscard]] std::vector<LaneResultOf<T>> run(const Tolerances& tolerances = {},
                                                 InstructionSet    set        = InstructionSet::best) {
    std::vector<LaneResultOf<T>> out;
    for (auto& w : witnesses) w.seen.clear(), w.outcomes.clear(), w.after_step.clear();
    run_batch(*this, tolerances, out, set);
    return out;
  }
};

}  // namespace arris::bench
