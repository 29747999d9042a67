// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <functional>
#include <span>
#include <string>
#include <vector>

#include "sim/history/scenario.hpp"
#include "sim/integrate/lanes.hpp"
#include "sim/studies/costs.hpp"
#include "sim/studies/upkeep/renewal.hpp"
#include "sim/studies/upkeep/upkeep_miss.hpp"
#include "sim/studies/workshop.hpp"

/// What one honing, and the work and the stroppings after it, do to an edge and cost.
///
/// Each honing begins on dressed media, as every history does; what keeps them so is in the prices (`flatten_every_strokes`).
/// A stropping leaves the land as it is, and grinding stops at the edge: it takes the land away and leaves the apex.
namespace arris {

/// Which steps of an edge are its upkeep.
struct UpkeepSteps {
  std::string       edge;
  std::string       tool_name;
  int               tool = -1;
  std::vector<Step> honing;  ///< hone, back, strop and dress steps before the first cut
  std::vector<Step>
      stropping;  ///< the first strop steps after the first cut, up to the next cut; empty: it is never stropped
  CutStep work;                    ///< the first cut
  bool    borrowed_strop = false;  ///< none follows the first cut: it is the last strop step of the honing
  std::vector<double>
      as_written;  ///< passes of each stretch of work as the steps stand, a stropping between two; empty
                   ///< where other work, or anything but stropping, lies between
};

/// Sorts the steps of an edge. Throws Error (Exit::usage): "no-cut" without a cut step of a pass at least, "no-honing"
/// without a hone step before the first cut.
[[nodiscard]] UpkeepSteps upkeep_steps(const EdgePlan& plan);

/// The use of an edge since it was honed, added up stretch by stretch.
struct Use {
  double passes         = 0.0;
  double minutes        = 0.0;
  double money          = 0.0;
  double worst_N        = 0.0;
  double reading_passes = 0.0;  ///< sum of reading times passes
  double passes_within  = 0.0;
};

/// Adds the use of an edge to what its honing came to.
void add_use(Cycle& cycle, const Use& use);

class UpkeepCycle;

/// One of several edges that are honed and used abreast, so that they fill the registers of lanes.hpp. All of a call have the same
/// tolerances.
struct EdgeInUse {
  const UpkeepCycle*      cycle = nullptr;
  EdgeState<double>       state;
  std::span<const double> stretches{};    ///< passes of each, a stropping between two
  Cycle                   made{};         ///< what a honing and its use come to
  RunStatus               status{};       ///< of the last history that was run
  std::size_t             histories = 0;  ///< that were run
};
using EdgesInUse = std::span<EdgeInUse* const>;
/// Follows stretch j of an edge, with what has added up; its work ends there when this returns false.
using AfterStretch =
    std::function<bool(const EdgeInUse& edge, std::size_t edge_index, std::size_t j, const Use& sum)>;

/// Hones each; minutes, money, depth and the reading after it go into `made`.
void hone_each(EdgesInUse edges);

/// Works each in its stretches, with a stropping between two.
void use_each(EdgesInUse edges, const AfterStretch& after);

/// A honing and its use, each from a worn state, which is left worn again.
void cycle_each(EdgesInUse edges);

/// Of each, the cycle that repeats itself when each honing begins at the depths of its state. Starts from the rest of it, and leaves
/// there what repeats. `closeness`: relative change of the reading after honing at which it counts as repeating; the last of
/// 50 cycles is taken otherwise. Where from cycle to cycle nothing but nicks and chips grows, evenly, since a honing takes less off than
/// work adds, those between are passed over.
void steady_each(EdgesInUse edges, double closeness);

class UpkeepCycle {
 public:
  static constexpr std::size_t closest_looks =
      32;  ///< intervals of a stretch between two looks at the reading

  /// Keeps a reference to `model`. `limit_N`: what counts as within the limit. `looks`: intervals of a stretch, an even number up
  /// to `closest_looks`. `miss`: what the model misses of readings.
  UpkeepCycle(const Model<double>& model, UpkeepSteps steps, const Workshop& workshop,
              const Tolerances& tolerances, double limit_N, std::size_t looks = closest_looks,
              UpkeepMiss miss = {});

  [[nodiscard]] const UpkeepSteps&   steps() const { return steps_; }
  [[nodiscard]] const Blade<double>& blade() const { return blade_; }
  [[nodiscard]] bool                 has_strop() const { return !steps_.stropping.empty(); }
  /// `passes`: made since it was sharpened.
  [[nodiscard]] double reading_N(const EdgeState<double>& state, double passes = 0.0) const;
  /// The state in which the tool begins, its apex so round that it reads `reading_N` without a burr.
  [[nodiscard]] EdgeState<double> worn_to(double reading_N) const;
  [[nodiscard]] double            stropping_minutes() const { return strop_minutes_; }
  [[nodiscard]] double            stropping_money() const { return strop_money_; }

  /// As hone_each, for one edge.
  RunStatus hone(EdgeState<double>& state, Cycle& cycle) const;

  /// As use_each, for one edge. `after(j, use, state)` follows stretch j.
  RunStatus use(EdgeState<double>& state, std::span<const double> stretches,
                const std::function<bool(std::size_t, const Use&, const EdgeState<double>&)>& after) const;

  /// As cycle_each, for one edge.
  RunStatus cycle(EdgeState<double>& worn, std::span<const double> stretches, Cycle& cycle) const;

  /// As steady_each, for one edge.
  RunStatus steady(EdgeState<double>& worn, std::span<const double> stretches, double closeness,
                   Cycle& out) const;

  /// Most passes without stropping after which the edge still reads `limit_N` or less; `most` when it does even then, 0
  /// when it does not after one.
  [[nodiscard]] int passes_within(const EdgeState<double>& honed, double limit_N, int most) const;

  /// Materials of the routine that have no price.
  [[nodiscard]] const std::vector<std::string>& unpriced() const { return unpriced_; }
  /// Whether anything costs money: a wage, or a price with a life.
  [[nodiscard]] bool   costs_money() const { return costs_money_; }
  [[nodiscard]] double wage_per_minute() const { return wage_per_minute_; }

  [[nodiscard]] const Model<double>& model() const { return model_; }
  [[nodiscard]] const Tolerances&    tolerances() const { return tolerances_; }
  [[nodiscard]] double               limit_N() const { return limit_N_; }
  [[nodiscard]] std::size_t          looks() const { return looks_; }
  [[nodiscard]] const EdgePlan&      honing() const { return honing_; }
  [[nodiscard]] const EdgePlan&      stropping() const { return stropping_; }
  /// The work in so many passes.
  [[nodiscard]] EdgePlan work(double passes) const;

  /// What a honing came to that took `counts` of strokes and laps, step by step, and left `after` of `before`.
  [[nodiscard]] Cycle honed(const std::vector<double>& counts, const EdgeState<double>& before,
                            const EdgeState<double>& after) const;

 private:
  const Model<double>&        model_;
  UpkeepSteps                 steps_;
  Tolerances                  tolerances_;
  double                      limit_N_;
  std::size_t                 looks_;
  UpkeepMiss                  miss_;
  Blade<double>               blade_;
  laws::TesterAtAngle<double> tester_;
  EdgePlan                    honing_, stropping_;
  std::vector<StepCost>       honing_costs_;
  double                      hone_minutes_    = 0.0;  ///< before the first stroke
  double                      strop_minutes_   = 0.0;  ///< of one stropping
  double                      strop_money_     = 0.0;
  double                      wage_per_minute_ = 0.0;
  bool                        costs_money_     = false;
  std::vector<std::string>    unpriced_;
};

}  // namespace arris
