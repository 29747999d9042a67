// SPDX-License-Identifier: MIT
#include "sim/simulate/simulate.hpp"

#include <algorithm>
#include <cmath>
#include <deque>
#include <mutex>

#include <fmt/format.h>

#include "sim/integrate/lanes.hpp"
#include "sim/laws/shaving.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/beside_model.hpp"
#include "sim/simulate/life.hpp"
#include "sim/simulate/outline_history.hpp"

namespace arris {
namespace {

/// Turns states into points of a track for one edge.
class Gauge {
 public:
  Gauge(const Model<double>& model, const EdgePlan& plan) : tester_(tester_law(model.tester)) {
    const auto& tool = model.tools[static_cast<std::size_t>(plan.tool)];
    const auto& steel =
        model.steels[static_cast<std::size_t>(model.steel_of_tool[static_cast<std::size_t>(plan.tool)])];
    blade_ = assemble_blade(tool, steel.hardness_GPa, steel.carbide_um, model.coefficients.carbide_share,
                            steel.wear_ratio);
    start_ = initial_state(tool, blade_, model.tester.contact_distance_um);
  }

  [[nodiscard]] TrackPoint point(std::size_t step, double count, const EdgeState<double>& e,
                                 const Ledger<double>& ledger) const {
    TrackPoint p;
    p.step           = static_cast<int>(step);
    p.count          = count;
    p.strokes        = ledger.strokes;
    p.passes         = ledger.passes;
    p.path_m         = ledger.path_m;
    p.apex_radius_um = e.apex_radius_um;
    p.scratch_um     = e.scratch_um;
    p.burr_um        = std::max(0.0, e.burr_um);  // an integration may leave less than none by its tolerance
    p.met_radius_um  = e.met_radius_um();
    p.chip_um        = e.chip_um;
    p.dub_um         = e.met_dub_um();
    p.dub_depth_um   = e.dub_depth_um;
    p.land_mm =
        blade_.land_per_depth > 0.0 ? 1e-3 * blade_.land_per_depth * e.bevel_depth_um : blade_.full_land_mm;
    p.blade_loss_um  = blade_.loss_per_depth * (e.bevel_depth_um - start_.bevel_depth_um);
    p.tip_setback_um = laws::Wedge<double>{blade_.included}.tip_setback(e.apex_radius_um);
    p.mass_loss_mg   = mass_loss_mg(ledger, blade_.width_m);
    p.reading_N      = tester_.reading_N(e.met_radius_um(), p.burr_um, blade_.half_angle);
    return p;
  }
  [[nodiscard]] const Blade<double>& blade() const { return blade_; }
  [[nodiscard]] TrackPoint           start() const {
              const Ledger<double> empty;
              return point(0, 0.0, start_, empty);
  }
  [[nodiscard]] double mg(double section_um_mm) const { return steel_mg(section_um_mm, blade_.width_m); }
  /// As it was given: without what a turn into radians and back rounds.
  [[nodiscard]] double included_angle_deg() const {
    return std::round(1e9 * blade_.included / laws::degree) / 1e9;
  }

 private:
  laws::TesterLaw<double> tester_;
  Blade<double>           blade_;
  EdgeState<double>       start_;
};

/// Pass of a cut from which an apex is too round for a shaving; NaN where it never is.
double first_too_thin(const std::vector<TrackPoint>& track, int step, double shaving_um) {
  for (const TrackPoint& p : track) {
    if (p.step == step && laws::thinnest_shaving_um(p.apex_radius_um) > shaving_um) return p.count;
  }
  return not_given;
}

/// Records the whole track and a summary of every step.
class Recorder final : public HistoryObserver<double> {
 public:
  Recorder(const Gauge& gauge, const EdgePlan& plan, int points_per_step) : gauge_(gauge), plan_(plan) {
    for (const Step& step : plan.steps) points_.push_back(record_at(step, points_per_step));
    before_ = gauge.start();
  }

  [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
    return points_[i];
  }

  void at(std::size_t i, double count, const EdgeState<double>& e, const Ledger<double>& ledger) override {
    track.push_back(gauge_.point(i, count, e, ledger));
  }
  void after(std::size_t i, const StepOutcome<double>& outcome, const EdgeState<double>& e,
             const Ledger<double>& ledger) override {
    const Step& step = plan_.steps[i];
    StepSummary s;
    s.index            = static_cast<int>(i);
    s.verb             = verb_of(step);
    s.subject          = subject_of(step);
    s.count            = std::holds_alternative<ReadStep>(step) || std::holds_alternative<DressStep>(step)
                             ? not_given
                             : outcome.count;
    s.strokes_to_burr  = outcome.strokes_to_burr;
    s.steel_removed_mg = gauge_.mg(ledger.steel_removed_um_mm - removed_before_);
    s.before           = before_;
    s.after            = gauge_.point(i, outcome.count, e, ledger);
    if (const auto* cut = std::get_if<CutStep>(&step)) {
      s.thinnest_shaving_um = laws::thinnest_shaving_um(e.apex_radius_um);
      if (!std::isnan(cut->shaving_um))
        s.skates_after_passes = first_too_thin(track, s.index, cut->shaving_um);
    }
    if (track.empty() || track.back().step != s.index || track.back().count < outcome.count)
      track.push_back(s.after);
    before_         = s.after;
    removed_before_ = ledger.steel_removed_um_mm;
    steps.push_back(std::move(s));
  }

  std::vector<TrackPoint>  track;
  std::vector<StepSummary> steps;

 private:
  const Gauge&                     gauge_;
  const EdgePlan&                  plan_;
  std::vector<std::vector<double>> points_;
  TrackPoint                       before_;
  double                           removed_before_ = 0.0;
};

/// Moments by the steps they lie in.
struct MomentsByStep {
  std::vector<std::vector<double>> counts;
  std::vector<int>                 ends;  ///< how often the end of each step is asked for

  MomentsByStep(const EdgePlan& plan, const std::vector<Moment>& moments)
      : counts(plan.steps.size()), ends(plan.steps.size()) {
    for (const Moment& m : moments) {
      const auto i = static_cast<std::size_t>(m.step);
      if (std::isnan(m.count)) {
        ++ends[i];
      } else {
        counts[i].push_back(m.count);
      }
    }
  }
};

/// Records only the moments asked for.
class Sampler final : public HistoryObserver<double> {
 public:
  Sampler(const Gauge& gauge, const MomentsByStep& moments) : gauge_(gauge), moments_(moments) {}
  [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
    return moments_.counts[i];
  }
  void at(std::size_t i, double count, const EdgeState<double>& e, const Ledger<double>& ledger) override {
    points_seen.push_back(gauge_.point(i, count, e, ledger));
  }
  void after(std::size_t i, const StepOutcome<double>& outcome, const EdgeState<double>& e,
             const Ledger<double>& ledger) override {
    for (int n = 0; n < moments_.ends[i]; ++n)
      points_seen.push_back(gauge_.point(i, outcome.count, e, ledger));
  }

  std::vector<TrackPoint> points_seen;

 private:
  const Gauge&         gauge_;
  const MomentsByStep& moments_;
};

/// Puts what an outline says in the place of what the reduced law says.
class OutlineOnTrack {
 public:
  OutlineOnTrack(const OutlineHistory& history, double included_angle)
      : history_(history), wedge_{included_angle} {}

  /// Of points in order those that the outline came to.
  void take_points(std::vector<TrackPoint>& points) const {
    const auto beyond =
        std::find_if(points.begin(), points.end(), [this](TrackPoint& p) { return !take(p); });
    points.erase(beyond, points.end());
  }
  /// What steps tell, once the track is that of the outline.
  void take_steps(std::vector<StepSummary>& steps, const std::vector<TrackPoint>& track,
                  const EdgePlan& plan) const {
    steps.resize(std::min(steps.size(), history_.steps.size()));
    for (std::size_t i = 0; i < steps.size(); ++i) {
      StepSummary& s = steps[i];
      if (i > 0) s.before = steps[i - 1].after;
      (void)take(s.after);
      const auto* cut = std::get_if<CutStep>(&plan.steps[i]);
      if (cut == nullptr) continue;
      s.thinnest_shaving_um = laws::thinnest_shaving_um(s.after.apex_radius_um);
      if (!std::isnan(cut->shaving_um))
        s.skates_after_passes = first_too_thin(track, s.index, cut->shaving_um);
    }
  }

 private:
  /// False where the outline did not come so far.
  [[nodiscard]] bool take(TrackPoint& p) const {
    const auto step = static_cast<std::size_t>(p.step);
    if (step >= history_.steps.size()) return false;
    const auto& points = history_.steps[step];
    const auto  found =
        std::find_if(points.begin(), points.end(), [&](const OutlinePoint& o) { return o.count == p.count; });
    if (found == points.end()) return false;
    const double edge_um = found->outline.met_radius_um - laws::chip_radius_share * p.chip_um;
    p.met_radius_um      = found->outline.met_radius_um;
    p.reading_N          = found->outline.reading_N;
    // what is met is apex and dub; an outline that is keener than the reduced apex has no dub
    p.apex_radius_um = std::min(p.apex_radius_um, edge_um);
    p.dub_um         = edge_um - p.apex_radius_um;
    p.dub_depth_um   = std::max(found->outline.depth_to_flat_um - found->arc_depth_um, 0.0);
    p.tip_setback_um = wedge_.tip_setback(p.apex_radius_um);
    return true;
  }

  const OutlineHistory& history_;
  laws::Wedge<double>   wedge_;
};

/// The part of an outline that pictures show.
std::vector<OutlineVertex> vertices_of(int step, const outline::Outline& edge) {
  constexpr double           reach_um = 50.0;
  const double               end_um   = edge.tip_setback_um() + reach_um;
  std::vector<OutlineVertex> vertices;
  const auto&                back  = edge.flank(outline::Side::back);
  const auto&                bevel = edge.flank(outline::Side::bevel);
  for (std::size_t i = back.size(); i-- > 1;)
    if (back.y[i] < end_um) vertices.push_back({step, -back.x[i], back.y[i]});
  for (std::size_t i = 0; i < bevel.size(); ++i)
    if (bevel.y[i] < end_um) vertices.push_back({step, bevel.x[i], bevel.y[i]});
  return vertices;
}

/// Of the outlines after steps those that have a dub to show.
std::vector<OutlineVertex> dubbed(const std::vector<std::vector<OutlineVertex>>& after,
                                  const OutlineHistory&                          history) {
  constexpr double           least_um = 0.02;
  std::vector<OutlineVertex> out;
  for (std::size_t i = 0; i < std::min(after.size(), history.steps.size()); ++i) {
    const OutlinePoint& end = history.steps[i].back();
    if (end.outline.depth_to_flat_um - end.arc_depth_um > least_um)
      out.insert(out.end(), after[i].begin(), after[i].end());
  }
  return out;
}

/// Follows the outline of an edge that was simulated by the reduced law, and lets it speak. `state` is that at the end.
void follow_outline(EdgeResult& edge, const Scenario& scenario, const EdgePlan& plan,
                    const Blade<double>& blade, EdgeState<double>& state) {
  std::vector<std::vector<double>> counts;
  for (const Step& step : plan.steps) counts.push_back(record_at(step, scenario.output.points_per_step));
  std::vector<std::vector<OutlineVertex>> after;
  const OutlineHistory                    history =
      outline_history(scenario, plan, counts, [&](std::size_t step, const outline::Outline& now) {
        after.push_back(vertices_of(static_cast<int>(step), now));
      });
  edge.outline         = dubbed(after, history);
  edge.status          = history.status;
  edge.message         = history.message;
  edge.outline_points  = history.points;
  edge.outline_presses = history.presses;
  const OutlineOnTrack outline(history, blade.included);
  outline.take_points(edge.track);
  outline.take_steps(edge.steps, edge.track, plan);
  if (!edge.track.empty()) state.dub_depth_um = edge.track.back().dub_depth_um;
}

/// The cases of a batch as lanes see them.
class BatchOfCases final : public HistoryBatch {
 public:
  explicit BatchOfCases(PredictionCases& cases) : cases_(cases) {
    const std::size_t size = cases.size();
    gauges_.reserve(size);
    samplers_.reserve(size);
    const EdgePlan*            plan    = nullptr;
    const std::vector<Moment>* moments = nullptr;
    for (std::size_t i = 0; i < size; ++i) {
      // cases often share plan and moments
      if (plan != &cases.plan(i) || moments != &cases.moments(i)) {
        plan    = &cases.plan(i);
        moments = &cases.moments(i);
        moments_.emplace_back(*plan, *moments);
      }
      gauges_.emplace_back(cases.model(i), *plan);
      samplers_.emplace_back(gauges_.back(), moments_.back());
    }
  }
  [[nodiscard]] std::size_t              size() const override { return samplers_.size(); }
  const Model<double>&                   model(std::size_t i) override { return cases_.model(i); }
  const EdgePlan&                        plan(std::size_t i) override { return cases_.plan(i); }
  HistoryObserver<double>&               observer(std::size_t i) override { return samplers_[i]; }
  [[nodiscard]] std::vector<TrackPoint>& points_of(std::size_t i) { return samplers_[i].points_seen; }

 private:
  PredictionCases&          cases_;
  std::deque<MomentsByStep> moments_;
  std::vector<Gauge>        gauges_;
  std::vector<Sampler>      samplers_;
};

/// The life of an edge as it is used: of each stretch in wood (cuts with nothing but readings between them), in order, by the
/// rule of life.hpp; the track is interpolated linearly in the reading between its points.
Life life_of(const EdgeResult& edge, const EdgePlan& plan, double limit_N) {
  Life life;
  life.asked = !std::isnan(limit_N);
  if (!life.asked) return life;
  std::vector<double> passes, readings;  // of the present stretch
  const auto          ends = [&] {
    if (passes.empty()) return false;
    const double first = passes.front();
    for (double& p : passes) p -= first;
    const auto reading = [&](double x) {
      const auto above = std::lower_bound(passes.begin(), passes.end(), x);
      const auto i     = static_cast<std::size_t>(above - passes.begin());
      if (i == 0) return readings.front();
      const double share = (x - passes[i - 1]) / (passes[i] - passes[i - 1]);
      return readings[i - 1] + share * (readings[i] - readings[i - 1]);
    };
    const double count = passes_to_limit(passes, reading, limit_N);
    passes.clear();
    readings.clear();
    if (std::isinf(count)) return false;
    life.reached    = true;
    life.passes     = first + count;
    life.from_start = life.passes == 0.0;
    return true;
  };
  int              stretch = 0;  // number of the stretch that a step belongs to
  std::vector<int> of_step;
  for (const Step& step : plan.steps) {
    const bool reads = std::holds_alternative<ReadStep>(step) || std::holds_alternative<DressStep>(step);
    if (!std::holds_alternative<CutStep>(step) && !reads) ++stretch;
    of_step.push_back(std::holds_alternative<CutStep>(step) ? stretch : -1);
  }
  int present = -1;
  for (const TrackPoint& p : edge.track) {
    const int at = of_step[static_cast<std::size_t>(p.step)];
    if (at < 0) continue;
    if (at != present && ends()) return life;
    present = at;
    if (!passes.empty() && !(p.passes > passes.back()))
      continue;  // the end of a cut is the start of the next
    passes.push_back(p.passes);
    readings.push_back(p.reading_N);
  }
  (void)ends();
  return life;
}

}  // namespace

bool SimulationResult::usable() const {
  return std::all_of(edges.begin(), edges.end(), [](const EdgeResult& e) { return e.status.usable(); });
}

Tolerances tolerances_of(const Scenario& scenario) {
  Tolerances t;
  t.relative    = scenario.numerics.relative_tolerance;
  t.absolute_um = 0.01 * t.relative;
  t.max_steps   = scenario.numerics.max_steps;
  return t;
}

std::vector<double> record_at(const Step& step, int points) {
  if (std::holds_alternative<ReadStep>(step) || std::holds_alternative<DressStep>(step)) return {0.0};
  double count = count_of(step);
  if (const auto* hone = std::get_if<HoneStep>(&step); hone != nullptr && hone->after_burr) {
    // the end is not known beforehand: evenly to 20 strokes a point, and as far as it may go
    std::vector<double> at;
    const double        spacing = std::max(1.0, std::ceil(count / points));
    for (double n = 0.0; n <= hone->max_strokes + 2.0 * count; n += spacing) at.push_back(n);
    return at;
  }
  std::vector<double> at{0.0};
  const bool          early = std::holds_alternative<CutStep>(step);
  for (int i = 1; i <= points && count > 0.0; ++i) {
    const double share = static_cast<double>(i) / points;
    double       n     = count * (early ? share * share : share);
    if (i == points) n = count;
    if (n > at.back()) at.push_back(n);
  }
  return at;
}

namespace {

// readings as they are where something is known beside the model
void read_beside_model(EdgeResult& edge, const Scenario& scenario, const EdgePlan& plan) {
  if (scenario.beside.is_empty()) return;
  const ReadBeside  beside(scenario, plan);
  ReadBeside::Fresh fresh;
  for (TrackPoint& point : edge.track) beside.put_right(point, fresh);
  for (std::size_t i = 0; i < edge.steps.size(); ++i) {
    beside.put_right(edge.steps[i].after, fresh);
    if (i > 0) edge.steps[i].before = edge.steps[i - 1].after;
  }
}

// what comes after the last point that a blade can have is no edge
void end_where_it_fits(std::vector<TrackPoint>& track, const Blade<double>& blade) {
  const auto beyond = std::find_if(track.begin(), track.end(), [&](const TrackPoint& p) {
    // a radius that is no number is none either: far beyond the blade the laws come to that
    return !(p.apex_radius_um <= blade.half_thickness_um) ||
           (blade.land_per_depth > 0.0 && p.land_mm > blade.widest_land_mm);
  });
  track.erase(beyond, track.end());
}

}  // namespace

EdgeResult simulate_edge(const Scenario& scenario, const EdgePlan& plan, const EdgePlan* sharpened_as) {
  stop_if_wished();
  const Gauge       gauge(scenario.model, plan);
  Recorder          recorder(gauge, plan, scenario.output.points_per_step);
  EdgeState<double> state;
  Ledger<double>    ledger;
  EdgeResult        edge;
  edge.name               = plan.name;
  edge.tool               = plan.tool_name;
  edge.route              = plan.route;
  edge.included_angle_deg = gauge.included_angle_deg();
  edge.status  = run_history(scenario.model, plan, tolerances_of(scenario), state, ledger, recorder);
  edge.message = describe(edge.status, plan);
  edge.track   = std::move(recorder.track);
  if (!edge.status.usable()) end_where_it_fits(edge.track, gauge.blade());
  edge.steps = std::move(recorder.steps);
  if (scenario.numerics.follows_outline()) follow_outline(edge, scenario, plan, gauge.blade(), state);
  read_beside_model(edge, scenario, sharpened_as != nullptr ? *sharpened_as : plan);
  edge.life = life_of(edge, plan, laws::in_newton(scenario.output.reading_limit_gf));
  if (edge.status.usable()) edge.next_honing = next_honing(scenario.model, plan, gauge.blade(), state);
  return edge;
}

SimulationResult simulate(const Scenario& scenario, int threads,
                          const std::function<void(std::size_t, std::size_t)>& progress) {
  SimulationResult result;
  result.edges.resize(scenario.edges.size());
  std::mutex  speaking;
  std::size_t done = 0;
  for_each_index(scenario.edges.size(), threads, [&](std::size_t i) {
    result.edges[i] = simulate_edge(scenario, scenario.edges[i]);
    if (progress) {
      const std::scoped_lock lock(speaking);
      progress(++done, scenario.edges.size());
    }
  });
  return result;
}

Prediction predict(const Scenario& scenario, const EdgePlan& plan, const std::vector<Moment>& moments,
                   const EdgePlan* sharpened_as) {
  stop_if_wished();
  const Gauge         gauge(scenario.model, plan);
  const MomentsByStep by_step(plan, moments);
  Sampler             sampler(gauge, by_step);
  EdgeState<double>   state;
  Ledger<double>      ledger;
  Prediction          prediction;
  prediction.status = run_history(scenario.model, plan, tolerances_of(scenario), state, ledger, sampler);
  if (!prediction.status.usable()) return prediction;
  if (scenario.numerics.follows_outline()) {
    const OutlineHistory history = outline_history(scenario, plan, by_step.counts);
    prediction.status            = history.status;
    if (!history.status.usable()) return prediction;
    OutlineOnTrack(history, gauge.blade().included).take_points(sampler.points_seen);
  }
  prediction.points = std::move(sampler.points_seen);
  if (!scenario.beside.is_empty()) {
    const ReadBeside beside(scenario, sharpened_as != nullptr ? *sharpened_as : plan);
    beside.put_right(prediction.points);
  }
  return prediction;
}

std::vector<Prediction> predict(PredictionCases& cases, const Tolerances& tolerances) {
  stop_if_wished();
  BatchOfCases            batch(cases);
  std::vector<LaneResult> results;
  run_batch(batch, tolerances, results);
  std::vector<Prediction> out(results.size());
  for (std::size_t i = 0; i < results.size(); ++i) {
    out[i].status = results[i].status;
    if (out[i].status.usable()) out[i].points = std::move(batch.points_of(i));
  }
  return out;
}

std::string describe(const RunStatus& status, const EdgePlan& plan) {
  if (status.usable()) return {};
  const Step&       step  = plan.steps[static_cast<std::size_t>(status.step)];
  const std::string where = fmt::format("edge \"{}\", step {} ({} {}), after {:.4g}", plan.name,
                                        status.step + 1, verb_of(step), subject_of(step), status.count);
  switch (status.code) {
    case RunStatus::Code::no_burr:
      return where +
             fmt::format(
                 ": no burr in {:.0f} strokes. The medium is too fine for so blunt an apex, or the land too wide. Start on a coarser medium, or raise max_strokes.",
                 status.count);
    case RunStatus::Code::too_many_steps:
      return where +
             ": the integration gave up after numerics.max_steps steps. A rate is very fast against the length of the step. Check sizes and forces of this step, or raise max_steps.";
    case RunStatus::Code::not_finite:
      return where +
             ": a rate became infinite or undefined. A size, hardness or force of this step is probably far outside what the laws are for. Check them with `arris check`.";
    case RunStatus::Code::beyond_blade:
      return where +
             ": the edge has left what a blade can be: its apex is rounder than half the thickness of the blade, or its land wider than the blade is across. The laws hold for an edge; what was done here is too much for this blade. Check counts, forces and thickness_mm.";
    case RunStatus::Code::done:
      break;
  }
  return {};
}

}  // namespace arris
