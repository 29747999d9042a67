// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <optional>
#include <utility>
#include <vector>

#include "sim/studies/upkeep/upkeep_cycle.hpp"

/// Edges abreast: each step of upkeep is a batch of histories, one to an edge.
namespace arris {
namespace {

/// Readings along one stretch of work.
class Along final : public HistoryObserver<double> {
 public:
  // closer at the start, where an edge changes fastest
  Along(const UpkeepCycle& cycle, double passes) : cycle_(&cycle), intervals_(cycle.looks()) {
    for (std::size_t i = 0; i <= intervals_; ++i) {
      const double u = static_cast<double>(i) / static_cast<double>(intervals_);
      at_pass_[i]    = i == intervals_ ? passes : passes * u * u;
    }
  }
  [[nodiscard]] std::span<const double> points(std::size_t, const Step&) const override {
    return std::span(at_pass_).first(intervals_ + 1);
  }
  [[nodiscard]] std::span<const double> readings_N() const {
    return std::span(reading_N_).first(intervals_ + 1);
  }
  void at(std::size_t, double passes, const EdgeState<double>& e, const Ledger<double>&) override {
    if (seen_ <= intervals_) reading_N_[seen_++] = cycle_->reading_N(e, passes);
  }

 private:
  const UpkeepCycle*                                 cycle_;
  std::size_t                                        intervals_, seen_ = 0;
  std::array<double, UpkeepCycle::closest_looks + 1> at_pass_{}, reading_N_{};
};

/// Counts of strokes and laps, step by step.
class StrokeCounts final : public HistoryObserver<double> {
 public:
  void after(std::size_t, const StepOutcome<double>& outcome, const EdgeState<double>&,
             const Ledger<double>&) override {
    done.push_back(outcome.count);
  }
  std::vector<double> done;
};

/// One history to an edge.
struct EdgeHistory {
  EdgeInUse*               edge = nullptr;
  const EdgePlan*          plan = nullptr;
  HistoryObserver<double>* observer;
  Ledger<double>*          ledger = nullptr;  ///< goes on; null: one that is forgotten
};

class EdgeBatch final : public HistoryBatch {
 public:
  explicit EdgeBatch(std::span<const EdgeHistory> all) : all_(all) {}
  [[nodiscard]] std::size_t size() const override { return all_.size(); }
  const Model<double>&      model(std::size_t i) override { return all_[i].edge->cycle->model(); }
  const EdgePlan&           plan(std::size_t i) override { return *all_[i].plan; }
  HistoryObserver<double>&  observer(std::size_t i) override { return *all_[i].observer; }
  HistoryStart start(std::size_t i) override { return {&all_[i].edge->state, all_[i].ledger, 0}; }

 private:
  std::span<const EdgeHistory> all_;
};

/// Runs them; states, ledgers and status of the edges are those at the end.
void run_histories(std::span<const EdgeHistory> all) {
  if (all.empty()) return;
  EdgeBatch               batch(all);
  std::vector<LaneResult> results;
  run_batch(batch, all.front().edge->cycle->tolerances(), results);
  for (std::size_t i = 0; i < all.size(); ++i) {
    all[i].edge->state  = results[i].state;
    all[i].edge->status = results[i].status;
    ++all[i].edge->histories;
    if (all[i].ledger != nullptr) *all[i].ledger = std::move(results[i].ledger);
  }
}

bool nearly_same(const EdgeState<double>& a, const EdgeState<double>& b, double closeness) {
  bool same = true;
  EdgeState<double>::components(
      [&](const char*, double x, double y) {
        same = same && std::abs(x - y) <= closeness * (std::abs(y) + 1e-3);
      },
      a, b);
  return same;
}

/// What a stretch of work came to.
struct Stretch {
  double            worst_N, mean_N, within;
  EdgeState<double> worn;
};

Stretch stretch_along(const Along& along, double limit_N, const EdgeState<double>& worn) {
  // mean of F over passes n = a·u²: ∫ F·2u du by Simpson's rule
  const auto        F = along.readings_N(), at_pass = along.points(0, {});
  const std::size_t intervals = F.size() - 1;
  double            mean = 0.0, within = 0.0;
  for (std::size_t i = 0; i <= intervals; ++i) {
    const double u      = static_cast<double>(i) / static_cast<double>(intervals);
    const double weight = i == 0 || i == intervals ? 1.0 : (i % 2 == 1 ? 4.0 : 2.0);
    mean += weight * F[i] * 2.0 * u / (3.0 * static_cast<double>(intervals));
    if (i == 0) continue;
    const double passed = at_pass[i] - at_pass[i - 1];
    const double low = std::min(F[i - 1], F[i]), high = std::max(F[i - 1], F[i]);
    within += passed * (high <= limit_N ? 1.0 : low > limit_N ? 0.0 : (limit_N - low) / (high - low));
  }
  return {*std::max_element(F.begin(), F.end()), mean, within / at_pass.back(), worn};
}

/// An edge on its way through its stretches.
struct OnTheWay {
  EdgeInUse*              edge  = nullptr;
  std::size_t             index = 0;  ///< among those of the call
  Ledger<double>          ledger{};
  EdgePlan                work{};
  EdgeState<double>       start{};
  Stretch                 last{};
  Use                     sum{};
  std::optional<Along>    along{};  ///< in the stretch at hand; nothing where it only repeats the last
  HistoryObserver<double> nobody{};
};

void strop_all(const std::vector<OnTheWay*>& going) {
  std::vector<EdgeHistory> histories;
  for (OnTheWay* const way : going)
    histories.push_back({way->edge, &way->edge->cycle->stropping(), &way->nobody, &way->ledger});
  run_histories(histories);
  for (OnTheWay* const way : going) {
    way->sum.minutes += way->edge->cycle->stropping_minutes();
    way->sum.money += way->edge->cycle->stropping_money();
  }
}

void work_all(const std::vector<OnTheWay*>& going, std::size_t j) {
  std::vector<EdgeHistory> histories;
  for (OnTheWay* const way : going) {
    EdgeInUse&   edge   = *way->edge;
    const double passes = edge.stretches[j];
    way->along.reset();
    if (j > 1 && passes == edge.stretches[j - 1] && nearly_same(edge.state, way->start, 1e-8)) {
      edge.state = way->last.worn;  // it has come to repeat itself
      continue;
    }
    way->start                                        = edge.state;
    std::get<CutStep>(way->work.steps.front()).passes = passes;
    way->along.emplace(*edge.cycle, passes);
    histories.push_back({&edge, &way->work, &*way->along, &way->ledger});
  }
  run_histories(histories);
}

void add_up(OnTheWay& way, double passes) {
  if (way.along) way.last = stretch_along(*way.along, way.edge->cycle->limit_N(), way.edge->state);
  way.sum.passes += passes;
  way.sum.worst_N = std::max(way.sum.worst_N, way.last.worst_N);
  way.sum.reading_passes += passes * way.last.mean_N;
  way.sum.passes_within += passes * way.last.within;
}

void erase_failed(std::vector<OnTheWay*>& going) {
  std::erase_if(going, [](const OnTheWay* way) { return !way->edge->status.usable(); });
}

std::vector<EdgeInUse*> those_usable(EdgesInUse edges) {
  std::vector<EdgeInUse*> out;
  std::copy_if(edges.begin(), edges.end(), std::back_inserter(out),
               [](const EdgeInUse* edge) { return edge->status.usable(); });
  return out;
}

/// What all stretches of each come to.
std::vector<Use> use_to_the_end(EdgesInUse edges) {
  std::vector<Use> totals(edges.size());
  use_each(edges, [&](const EdgeInUse&, std::size_t i, std::size_t, const Use& sum) {
    totals[i] = sum;
    return true;
  });
  return totals;
}

/// An edge whose cycle is to repeat itself.
struct Repeating {
  EdgeInUse*        edge  = nullptr;
  double            bevel = 0.0, back = 0.0;  ///< depths at which each honing begins
  double            honed_N = not_given;      ///< after the last honing
  Use               use{};                    ///< after it
  int               left = 50;                ///< cycles at most
  EdgeState<double> worn[2]{};                ///< after the two uses before

  [[nodiscard]] static std::vector<EdgeInUse*> edges_of(const std::vector<Repeating*>& some) {
    std::vector<EdgeInUse*> out;
    for (Repeating* const r : some) out.push_back(r->edge);
    return out;
  }
};

/// Whether from cycle to cycle nothing but nicks and chips grows, and they grow evenly.
bool only_chips_grow(const EdgeState<double>& first, const EdgeState<double>& second,
                     const EdgeState<double>& third, double closeness) {
  const double      grown = third.chip_um - second.chip_um, before = second.chip_um - first.chip_um;
  EdgeState<double> level = second;
  level.chip_um           = third.chip_um;
  return grown > 0.0 && std::abs(grown - before) <= closeness * grown &&
         nearly_same(third, level, 0.1 * closeness);
}

/// Counts a cycle, and those that only bring as much of nicks and chips as this one did: all but the last.
void count_cycle(Repeating& r, double closeness) {
  EdgeState<double>& now = r.edge->state;
  --r.left;
  if (r.left < 48 && r.left > 1 && only_chips_grow(r.worn[0], r.worn[1], now, closeness)) {
    now.chip_um += (r.left - 1) * (now.chip_um - r.worn[1].chip_um);
    r.left = 1;
  }
  r.worn[0] = std::exchange(r.worn[1], now);
}

/// Hones each; of those whose reading is that of the honing before, the use would be too: they are left as it left them and, as
/// those that fail, are no longer among `going`.
void hone_again(std::vector<Repeating*>& going, double closeness) {
  std::vector<EdgeState<double>> worn;
  for (const Repeating* r : going) worn.push_back(r->edge->state);
  hone_each(Repeating::edges_of(going));
  std::vector<Repeating*> others;
  for (std::size_t i = 0; i < going.size(); ++i) {
    EdgeInUse&   edge   = *going[i]->edge;
    const double before = std::exchange(going[i]->honed_N, edge.made.honed_N);
    if (!edge.status.usable()) continue;
    if (std::abs(edge.made.honed_N - before) <= closeness * edge.made.honed_N) {
      edge.state = worn[i];
    } else {
      others.push_back(going[i]);
    }
  }
  going = std::move(others);
}

/// Uses each; those that fail or have made all their cycles are no longer among `going`.
void use_again(std::vector<Repeating*>& going, double closeness) {
  const auto uses = use_to_the_end(Repeating::edges_of(going));
  for (std::size_t i = 0; i < going.size(); ++i) {
    Repeating& r                 = *going[i];
    r.use                        = uses[i];
    r.edge->state.bevel_depth_um = r.bevel;
    r.edge->state.back_depth_um  = r.back;
    r.edge->made.usable          = r.edge->status.usable();
  }
  std::erase_if(going, [](const Repeating* r) { return !r->edge->made.usable; });
  for (Repeating* const r : going) count_cycle(*r, closeness);
  std::erase_if(going, [](const Repeating* r) { return r->left == 0; });
}

}  // namespace

void add_use(Cycle& cycle, const Use& use) {
  cycle.passes = use.passes;
  cycle.minutes += use.minutes;
  cycle.money += use.money;
  cycle.worst_N = use.worst_N;
  cycle.mean_N  = use.reading_passes / use.passes;
  cycle.within  = use.passes_within / use.passes;
}

void hone_each(EdgesInUse edges) {
  std::vector<StrokeCounts>      counts(edges.size());
  std::vector<EdgeState<double>> before;
  std::vector<EdgeHistory>       histories;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    before.push_back(edges[i]->state);
    histories.push_back({edges[i], &edges[i]->cycle->honing(), &counts[i], nullptr});
  }
  run_histories(histories);
  for (std::size_t i = 0; i < edges.size(); ++i) {
    EdgeInUse& edge = *edges[i];
    if (edge.status.usable()) edge.made = edge.cycle->honed(counts[i].done, before[i], edge.state);
    edge.made.usable = edge.status.usable();
  }
}

void use_each(EdgesInUse edges, const AfterStretch& after) {
  std::vector<OnTheWay>  ways(edges.size());
  std::vector<OnTheWay*> going;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    OnTheWay& way = ways[i];
    way.edge      = edges[i];
    way.index     = i;
    way.work      = edges[i]->cycle->work(0.0);
    way.ledger.reset(edges[i]->cycle->model().media.size());
    edges[i]->status = {};
    going.push_back(&way);
  }
  for (std::size_t j = 0;; ++j) {
    std::erase_if(going, [&](const OnTheWay* way) { return j >= way->edge->stretches.size(); });
    if (going.empty()) return;
    if (j > 0) {
      strop_all(going);
      erase_failed(going);
    }
    work_all(going, j);
    erase_failed(going);
    std::erase_if(going, [&](OnTheWay* way) {
      add_up(*way, way->edge->stretches[j]);
      return !after(*way->edge, way->index, j, way->sum);
    });
  }
}

void cycle_each(EdgesInUse edges) {
  hone_each(edges);
  const auto honed  = those_usable(edges);
  const auto totals = use_to_the_end(honed);
  for (std::size_t i = 0; i < honed.size(); ++i) {
    Cycle& made = honed[i]->made;
    made.usable = honed[i]->status.usable();
    if (made.usable) add_use(made, totals[i]);
  }
}

void steady_each(EdgesInUse edges, double closeness) {
  std::vector<Repeating> all;
  for (EdgeInUse* const edge : edges)
    all.push_back({edge, edge->state.bevel_depth_um, edge->state.back_depth_um});
  std::vector<Repeating*> going;
  for (Repeating& r : all) going.push_back(&r);
  while (!going.empty()) {
    hone_again(going, closeness);
    use_again(going, closeness);
  }
  for (Repeating& r : all) {
    if (r.edge->made.usable) add_use(r.edge->made, r.use);
  }
}

RunStatus UpkeepCycle::hone(EdgeState<double>& state, Cycle& cycle) const {
  EdgeInUse        edge{this, state};
  EdgeInUse* const one = &edge;
  hone_each({&one, 1});
  state = edge.state;
  cycle = edge.made;
  return edge.status;
}

RunStatus UpkeepCycle::use(
    EdgeState<double>& state, std::span<const double> stretches,
    const std::function<bool(std::size_t, const Use&, const EdgeState<double>&)>& after) const {
  EdgeInUse        edge{this, state, stretches};
  EdgeInUse* const one = &edge;
  use_each({&one, 1}, [&](const EdgeInUse& e, std::size_t, std::size_t j, const Use& sum) {
    return after(j, sum, e.state);
  });
  state = edge.state;
  return edge.status;
}

RunStatus UpkeepCycle::cycle(EdgeState<double>& worn, std::span<const double> stretches, Cycle& cycle) const {
  EdgeInUse        edge{this, worn, stretches};
  EdgeInUse* const one = &edge;
  cycle_each({&one, 1});
  worn  = edge.state;
  cycle = edge.made;
  return edge.status;
}

RunStatus UpkeepCycle::steady(EdgeState<double>& worn, std::span<const double> stretches, double closeness,
                              Cycle& out) const {
  EdgeInUse        edge{this, worn, stretches};
  EdgeInUse* const one = &edge;
  steady_each({&one, 1}, closeness);
  worn = edge.state;
  out  = edge.made;
  return edge.status;
}

}  // namespace arris
