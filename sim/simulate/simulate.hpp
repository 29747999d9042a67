// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/history/scenario.hpp"
#include "sim/integrate/run.hpp"
#include "sim/simulate/next_honing.hpp"

/// The life of each edge of a scenario, from its first step to its last.
namespace arris {

/// A point on the curve of an edge. Counts and path are cumulative; readings are those of the tester as the model has
/// it, of a typical edge, without noise.
struct TrackPoint {
  int    step           = 0;    ///< index of the step it belongs to, from 0
  double count          = 0.0;  ///< strokes, laps or passes into that step
  double strokes        = 0.0;  ///< strokes and laps so far
  double passes         = 0.0;  ///< passes so far
  double path_m         = 0.0;  ///< path in wood so far
  double apex_radius_um = 0.0;
  double scratch_um     = 0.0;
  double burr_um        = 0.0;
  double met_radius_um  = 0.0;  ///< radius that a tester meets: apex, dub and chips
  double chip_um        = 0.0;
  double dub_um         = 0.0;  ///< what the dub adds to the radius that a tester meets
  double dub_depth_um   = 0.0;  ///< what flat honing takes off before it meets the tip
  double land_mm        = 0.0;
  double blade_loss_um  = 0.0;  ///< blade length honed away so far, along the back
  double tip_setback_um = 0.0;  ///< ideal apex to tip of the arc
  double mass_loss_mg   = 0.0;  ///< steel honed, stropped and worn away so far
  double reading_N      = 0.0;
};

/// What a step did: the state after it, and what it cost.
struct StepSummary {
  int         index = 0;
  std::string verb;
  std::string subject;
  double      count               = 0.0;  ///< strokes, laps or passes; NaN for readings and dressings
  double      strokes_to_burr     = not_given;
  double      steel_removed_mg    = 0.0;
  double      thinnest_shaving_um = not_given;  ///< after a cut
  double skates_after_passes = not_given;  ///< cut with a stated shaving: pass from which it no longer forms
  TrackPoint before;
  TrackPoint after;
};

/// Where the reading limit was crossed, by the rule of life.hpp: what only a fresh edge reads does not count.
struct Life {
  bool   asked      = false;
  bool   reached    = false;      ///< false: not within the passes simulated
  bool   from_start = false;      ///< never below the limit before it is sharpened again
  double passes     = not_given;  ///< passes since the first cut, cumulative, at the crossing
};

/// A point of an edge's outline: from the back over the tip to the bevel.
struct OutlineVertex {
  int    step = 0;    ///< after which it was so, from 0
  double x_um = 0.0;  ///< off the bisector, to the side of the bevel
  double y_um = 0.0;  ///< into the blade, from where fresh faces would meet
};

struct EdgeResult {
  std::string              name;
  std::string              tool;
  std::string              route;
  RunStatus                status;
  std::string              message;  ///< empty when usable
  double                   included_angle_deg = not_given;
  std::vector<TrackPoint>  track;
  std::vector<StepSummary> steps;
  Life                     life;
  NextHoning               next_honing;
  int  outline_points  = 0;            ///< of a face, where the outline was followed; 0: the reduced law
  long outline_presses = 0;            ///< of it on pads
  std::vector<OutlineVertex> outline;  ///< near the tip, after steps that left a dub
};

struct SimulationResult {
  std::vector<EdgeResult> edges;

  [[nodiscard]] bool usable() const;
};

/// A moment of an edge's history, as counted inside one of its steps; a count that is NaN is the end of the step.
struct Moment {
  int    step  = 0;
  double count = 0.0;
};

/// State and reading of an edge at given moments (ascending by step and count, the end of a step last).
struct Prediction {
  RunStatus               status;
  std::vector<TrackPoint> points;  ///< one per moment
};

/// The counts at which step `step` is recorded: 0, the end, and in between evenly for strokes and laps, closer at the
/// start for passes, where an edge changes fastest.
[[nodiscard]] std::vector<double> record_at(const Step& step, int points);

/// Simulates every edge. `threads` 0: all cores; results do not depend on it. `progress(done, all)` may be empty; it is
/// called from several threads, one call at a time. An edge that fails is marked and the rest stays. Where the scenario asks for
/// the outline (`numerics.fidelity`), what a tester meets, the reading, dub, depth to flat and what follows from them are those
/// of the outline (outline_history.hpp), here and where one case is predicted; many cases know the reduced law alone.
[[nodiscard]] SimulationResult simulate(const Scenario& scenario, int threads = 0,
                                        const std::function<void(std::size_t, std::size_t)>& progress = {});

/// One edge.
/// Where the scenario has something beside its model, how the edge is sharpened is that of `sharpened_as`, with the same steps, if it is
/// not null: for plans that differ from one that was read.
[[nodiscard]] EdgeResult simulate_edge(const Scenario& scenario, const EdgePlan& plan,
                                       const EdgePlan* sharpened_as = nullptr);

/// State and reading at `moments` of one edge. The points are empty unless the status is usable.
[[nodiscard]] Prediction predict(const Scenario& scenario, const EdgePlan& plan,
                                 const std::vector<Moment>& moments, const EdgePlan* sharpened_as = nullptr);

/// Cases to be predicted together. `model` is asked for one case at a time, and need only stay as it is until the next is;
/// plans and moments stay. Cases that share both say so by giving the same objects.
class PredictionCases {
 public:
  virtual ~PredictionCases()                                              = default;
  [[nodiscard]] virtual std::size_t                size() const           = 0;
  [[nodiscard]] virtual const Model<double>&       model(std::size_t i)   = 0;
  [[nodiscard]] virtual const EdgePlan&            plan(std::size_t i)    = 0;
  [[nodiscard]] virtual const std::vector<Moment>& moments(std::size_t i) = 0;
};

/// What the function above gives for each of many cases, without what a scenario has beside its model, worked out in lanes (lanes.hpp): to the tolerance, not to the last
/// bit. What a case comes to does not depend on the others; a few hundred at a time are best.
[[nodiscard]] std::vector<Prediction> predict(PredictionCases& cases, const Tolerances& tolerances);

/// A sentence for a run that failed: which step, when, likely cause, what to do.
[[nodiscard]] std::string describe(const RunStatus& status, const EdgePlan& plan);

[[nodiscard]] Tolerances tolerances_of(const Scenario& scenario);

}  // namespace arris
