// SPDX-License-Identifier: MIT
#include "sim/simulate/outline_history.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <type_traits>
#include <variant>

#include <fmt/format.h>

#include "sim/history/stages.hpp"
#include "sim/laws/wear/shared_load.hpp"
#include "sim/outline/cutting.hpp"
#include "sim/outline/honing.hpp"
#include "sim/outline/stropping.hpp"
#include "sim/simulate/simulate.hpp"

namespace arris {
namespace {

using outline::Outline;
using outline::Side;
using outline::Worked;

/// A step of the reduced history: how it began, and its states at the counts that were asked for.
struct ReducedStep {
  EdgeState<double>              before;
  Ledger<double>                 ledger;  ///< before
  std::vector<double>            counts;
  std::vector<EdgeState<double>> states;  ///< one per count, the end of the step last
};

class ReducedRecorder final : public HistoryObserver<double> {
 public:
  ReducedRecorder(const std::vector<std::vector<double>>& counts, EdgeState<double> start, std::size_t media)
      : counts_(counts) {
    next_.before = start;
    next_.ledger.reset(media);
  }
  [[nodiscard]] std::span<const double> points(std::size_t i, const Step&) const override {
    return counts_[i];
  }
  void at(std::size_t, double count, const EdgeState<double>& e, const Ledger<double>&) override {
    next_.counts.push_back(count);
    next_.states.push_back(e);
  }
  void after(std::size_t, const StepOutcome<double>& outcome, const EdgeState<double>& e,
             const Ledger<double>& ledger) override {
    if (next_.counts.empty() || next_.counts.back() < outcome.count) {
      next_.counts.push_back(outcome.count);
      next_.states.push_back(e);
    }
    steps.push_back(std::move(next_));
    next_ = {e, ledger, {}, {}};
  }

  std::vector<ReducedStep> steps;

 private:
  const std::vector<std::vector<double>>& counts_;
  ReducedStep                             next_;
};

/// An outline as it is measured.
struct Shape {
  double met_radius_um, depth_to_flat_um;
};

/// Highest point of a face over the plane at an angle (rad) to the bisector, µm.
double height_over(const outline::Flank& f, double angle) {
  double highest = -infinity;
  for (std::size_t i = 0; i < f.size(); ++i)
    highest = std::max(highest, f.x[i] * std::cos(angle) - f.y[i] * std::sin(angle));
  return highest;
}

/// A hand on a flat stone: the land becomes an arc that turns by twice the scatter, its last micrometres steeper still.
struct HandShape {
  double scatter;    ///< rad
  double land_um;    ///< honed
  double behind_um;  ///< what the steepest strokes shape
  double share;      ///< of the shape that is there, 0 … 1
};

/// Cuts by planes that touch that arc, whose middle lies in the plane of the land.
void round_by_hand(Outline& edge, Worked worked, const HandShape& hand) {
  const Side   side  = worked == Worked::back ? Side::back : Side::bevel;
  const double alpha = edge.half_angle(), s = std::sin(alpha), c = std::cos(alpha);
  // the tip as the plane of the land sees it, before any of the cuts
  const double tip_x = edge.flank(side).x[0], tip_y = edge.flank(side).y[0];
  const double down    = height_over(edge.flank(side), alpha) - (tip_x * c - tip_y * s);
  const double front_x = tip_x + down * c, front_y = tip_y - down * s;
  struct Tangent {
    double turn,
        crosses_um;  ///< over the scatter; distance from the front at which it crosses the plane of the land
  };
  const auto on_arc = [&](double turn) { return Tangent{turn, 0.5 * hand.land_um * (1.0 - 0.5 * turn)}; };
  for (const Tangent& t :
       {on_arc(0.25), on_arc(0.5), on_arc(0.75), on_arc(1.0), Tangent{1.5, 3.0 * hand.behind_um}}) {
    const double steeper = t.turn * hand.scatter, along = hand.share * t.crosses_um;
    const double wanted =
        (front_x + along * s) * std::cos(alpha + steeper) - (front_y + along * c) * std::sin(alpha + steeper);
    const double depth = height_over(edge.flank(side), alpha + steeper) - wanted;
    if (depth > 0.0) outline::hone_flat(edge, {depth, steeper, worked});
  }
}

/// Takes an outline through the steps of a history.
class OutlineFollower {
 public:
  OutlineFollower(const Model<double>& model, const Blade<double>& blade, const EdgeState<double>& start)
      : model_(model), blade_(blade), edge_(fresh(start)) {
    look();
  }

  /// Its shape at each count of a step.
  [[nodiscard]] std::vector<Shape> take(const Step& step, const ReducedStep& reduced) {
    std::vector<Shape> shapes = std::visit([&](const auto& s) { return this->shapes_in(s, reduced); }, step);
    look();
    return shapes;
  }
  [[nodiscard]] const Outline& edge() const { return edge_; }
  [[nodiscard]] int            points() const { return points_; }
  [[nodiscard]] long           presses() const { return presses_; }

 private:
  /// An edge whose faces are flat up to the arc.
  [[nodiscard]] Outline fresh(const EdgeState<double>& e) const {
    const bool   stepped = blade_.land_per_depth > 0.0;
    const double full    = 1e3 * blade_.full_land_mm;
    // a land can be no shorter than the rounded apex that it ends in
    const double least = 2.1 * blade_.tangent_per_radius * e.apex_radius_um;
    const double land =
        std::max(stepped ? std::min(blade_.land_per_depth * e.bevel_depth_um, full) : full, least);
    const outline::Face face{std::max(land, 1.0), stepped ? blade_.step_angle : 0.0,
                             stepped ? std::max(full - land, 0.0) : 0.0};
    return Outline::fresh(blade_.included, e.apex_radius_um, face);
  }

  [[nodiscard]] Shape measured(const Outline& edge) const {
    return {met_radius_um(edge, model_.tester.contact_distance_um), edge.depth_to_flat_um(Side::bevel)};
  }
  /// The same where the tip is no finer than a radius.
  [[nodiscard]] Shape measured(Outline edge, double least_radius_um) const {
    edge.round_tip(least_radius_um);
    return measured(edge);
  }
  void look() { points_ = std::max(points_, static_cast<int>(edge_.flank(Side::bevel).size())); }

  [[nodiscard]] std::vector<Shape> shapes_in(const HoneStep& step, const ReducedStep& reduced) {
    const auto   stage   = assemble(step, model_, blade_, reduced.before, reduced.ledger);
    const double scatter = step.angle_scatter_deg * laws::degree;
    const double land_um = 1e3 * stage.land.land_mm(stage.start_depth_um);
    return honed(stage, blade_.both_sides ? Worked::both : Worked::bevel,
                 {scatter, land_um, model_.tester.contact_distance_um, 0.0}, reduced);
  }
  [[nodiscard]] std::vector<Shape> shapes_in(const BackStep& step, const ReducedStep& reduced) {
    return honed(assemble(step, model_, blade_, reduced.before, reduced.ledger), Worked::back, {}, reduced);
  }

  /// Every count from the outline before the step, so that cuts do not add up their errors.
  [[nodiscard]] std::vector<Shape> honed(const FaceStage<double>& stage, Worked worked, const HandShape& hand,
                                         const ReducedStep& reduced) {
    const Outline      before = edge_;
    std::vector<Shape> shapes;
    for (std::size_t i = 0; i < reduced.counts.size(); ++i) {
      const double depth = stage.depth_after(stage.glaze.effective(stage.used, reduced.counts[i]));
      const double off   = depth - stage.start_depth_um;
      edge_              = before;
      if (off > 0.0)
        hone(worked, off, hand, reduced.states[i], stage.floor.radius_um(reduced.states[i].scratch_um));
      shapes.push_back(measured(edge_));
    }
    return shapes;
  }

  void hone(Worked worked, double off_um, HandShape hand, const EdgeState<double>& now, double floor_um) {
    constexpr double flat_um  = 1e-3;
    const double     tip_um   = edge_.tip_setback_um();
    const double     round_um = edge_.depth_to_flat_um(worked == Worked::back ? Side::back : Side::bevel);
    outline::hone_flat(edge_, {off_um, 0.0, worked});
    bool met = edge_.tip_setback_um() > tip_um + 1e-9;
    // faces are flat but for what scratches leave
    const double tip_arc_um = 1.2 * floor_um * (1.0 - blade_.sin_half) + flat_um;
    if (std::max(edge_.depth_to_flat_um(Side::bevel), edge_.depth_to_flat_um(Side::back)) < tip_arc_um) {
      edge_ = fresh(now);
      met   = true;
    }
    const double arc_um = 0.25 * hand.scatter * hand.land_um;
    if (arc_um > 0.0) {
      // a land that was convex before stays so
      hand.share      = std::max(1.0 - std::exp(-off_um / arc_um), std::min(round_um / arc_um, 1.0));
      const double at = edge_.tip_setback_um();
      round_by_hand(edge_, worked, hand);
      met = met || edge_.tip_setback_um() > at + 1e-9;
    }
    if (met) edge_.round_tip(now.apex_radius_um);
  }

  [[nodiscard]] std::vector<Shape> shapes_in(const StropStep& step, const ReducedStep& reduced) {
    const auto               stage   = assemble(step, model_, blade_, reduced.before, reduced.ledger);
    const auto&              backing = model_.backings[static_cast<std::size_t>(step.backing)];
    const auto               on      = detail::touch(step, backing, blade_, reduced.before);
    const double             uneven  = backing.unevenness_um / (1e3 * on.land_mm);
    const outline::Stropping how{
        .force_N_per_m      = detail::force_on(step.force_N, usual_force::stropping, blade_) / blade_.width_m,
        .removal_um_per_MPa = stage.per_MPa,
        .steeper            = step.angle_offset_deg * laws::degree,
        .scatter            = std::hypot(step.angle_scatter_deg * laws::degree, uneven)};
    std::vector<Shape> shapes;
    const auto floor_um = [&](std::size_t i) { return stage.equilibrium_um(reduced.states[i].scratch_um); };
    const auto effort   = outline::strop(
          edge_, {1e6 * backing.modulus_MPa, 1e3 * backing.thickness_mm}, how, reduced.counts,
          [&](double, const Outline& now) { shapes.push_back(measured(now, floor_um(shapes.size()))); });
    presses_ += effort.presses;
    edge_.round_tip(floor_um(reduced.states.size() - 1));
    return shapes;
  }

  [[nodiscard]] std::vector<Shape> shapes_in(const CutStep& step, const ReducedStep& reduced) {
    if (const laws::SharedLoad<double>* const law = model_.wear.shared_load())
      return worn_by_loads(assemble(step, *law, model_, blade_, reduced.before, reduced.ledger), reduced);
    std::vector<Shape> shapes;
    const Outline      before = edge_;
    for (const EdgeState<double>& now : reduced.states) {
      edge_ = before;
      edge_.round_tip(now.apex_radius_um);
      shapes.push_back(measured(edge_));
    }
    return shapes;
  }

  [[nodiscard]] std::vector<Shape> worn_by_loads(const CutStage<double, laws::SharedLoad<double>>& stage,
                                                 const ReducedStep&                                reduced) {
    std::vector<Shape> shapes;
    double             done = 0.0, giving_way = stage.collapse.rate(stage.start(reduced.before)[0]);
    for (std::size_t i = 0; i < reduced.counts.size(); ++i) {
      const double before = giving_way;
      giving_way          = stage.collapse.rate(stage.start(reduced.states[i])[0]);
      wear_by_loads(stage.wear, 0.5 * (before + giving_way), stage.pass_m * (reduced.counts[i] - done));
      done = reduced.counts[i];
      shapes.push_back(measured(edge_));
    }
    return shapes;
  }

  /// An arc keeps its shape under these loads and grows by A/(2r) + B.
  void wear_by_loads(const laws::SharedLoad<double>& law, double giving_way_um_per_m, double path_m) {
    const double alpha = edge_.half_angle(), s = std::sin(alpha);
    const double tip_per_growth   = (1.0 - s) / s;
    const double width_per_radius = (0.5 * laws::pi - alpha - s * std::cos(alpha)) / (1.0 - s);
    outline::cut_wood(edge_,
                      {.crushing_MPa    = tip_per_growth * (law.crushing_um_per_m + giving_way_um_per_m),
                       .parting_N_per_m = tip_per_growth * 0.5 * law.parting_um2_per_m * width_per_radius},
                      1.0, path_m);
  }

  [[nodiscard]] std::vector<Shape> shapes_in(const ReadStep&, const ReducedStep& reduced) {
    return std::vector<Shape>(reduced.counts.size(), measured(edge_));
  }
  [[nodiscard]] std::vector<Shape> shapes_in(const DressStep&, const ReducedStep& reduced) {
    return std::vector<Shape>(reduced.counts.size(), measured(edge_));
  }

  const Model<double>& model_;
  const Blade<double>& blade_;
  Outline              edge_;
  int                  points_  = 0;
  long                 presses_ = 0;
};

/// Counts at which a step is followed: those asked for, and in wood so many more that a tip that gives way is followed closely.
std::vector<double> followed_at(const Step& step, const std::vector<double>& asked) {
  if (!std::holds_alternative<CutStep>(step)) return asked;
  constexpr int       steps_in_wood = 24;
  std::vector<double> all           = record_at(step, steps_in_wood);
  all.insert(all.end(), asked.begin(), asked.end());
  std::sort(all.begin(), all.end());
  all.erase(std::unique(all.begin(), all.end()), all.end());
  return all;
}

/// Puts reduced states and shapes of the outline side by side.
class SideBySide {
 public:
  SideBySide(const Model<double>& model, const Blade<double>& blade)
      : tester_(tester_law(model.tester)), blade_(blade) {}

  [[nodiscard]] OutlinePoint point(double count, const EdgeState<double>& e, const Shape& shape) const {
    const double chips = laws::chip_radius_share * e.chip_um;
    const double arc   = e.apex_radius_um * (1.0 - blade_.sin_half);
    return {count, measure(e.met_radius_um(), e.dub_depth_um + arc, e.burr_um),
            measure(shape.met_radius_um + chips, shape.depth_to_flat_um, e.burr_um), arc};
  }

 private:
  [[nodiscard]] EdgeMeasure measure(double radius_um, double depth_um, double burr_um) const {
    return {radius_um, depth_um, tester_.reading_N(radius_um, burr_um, blade_.half_angle)};
  }

  laws::TesterLaw<double> tester_;
  const Blade<double>&    blade_;
};

/// Of all that was followed, what was asked for and the end of the step.
std::vector<OutlinePoint> asked_for(const std::vector<double>& asked, const ReducedStep& reduced,
                                    const std::vector<Shape>& shapes, const SideBySide& side) {
  std::vector<OutlinePoint> points;
  for (std::size_t i = 0; i < reduced.counts.size(); ++i) {
    const double count = reduced.counts[i];
    if (i + 1 == reduced.counts.size() || std::binary_search(asked.begin(), asked.end(), count))
      points.push_back(side.point(count, reduced.states[i], shapes[i]));
  }
  return points;
}

void fail(OutlineHistory& history, const EdgePlan& plan, const char* fault) {
  const std::size_t at = history.steps.size();
  history.status       = {RunStatus::Code::not_finite, static_cast<int>(at), 0.0, 0};
  const Step& step     = plan.steps[at];
  history.message      = fmt::format(
           "edge \"{}\", step {} ({} {}): the outline cannot follow it: {}. Outlines are for apex angles below 90°, and for lands and pads that carry the force.",
           plan.name, at + 1, verb_of(step), subject_of(step), fault);
}

}  // namespace

double met_radius_um(const Outline& edge, double behind_um) {
  const double s = std::sin(edge.half_angle()), linear = edge.equivalent_radius_um(behind_um);
  if (linear * (1.0 - s) <= behind_um) return std::max(linear, 0.0);
  // the arc itself is met, not the faces behind it
  const double half = (linear * (1.0 / s - 1.0) + behind_um) * std::tan(edge.half_angle());
  return (half * half + behind_um * behind_um) / (2.0 * behind_um);
}

OutlineHistory outline_history(const Scenario& scenario, const EdgePlan& plan,
                               const std::vector<std::vector<double>>& counts, const OutlineEnd& at_end) {
  const Model<double>& model = scenario.model;
  const auto           tool  = static_cast<std::size_t>(plan.tool);
  const auto&          steel = model.steels[static_cast<std::size_t>(model.steel_of_tool[tool])];
  const auto           blade = assemble_blade(model.tools[tool], steel.hardness_GPa, steel.carbide_um,
                                              model.coefficients.carbide_share, steel.wear_ratio);
  const auto           start = initial_state(model.tools[tool], blade, model.tester.contact_distance_um);
  std::vector<std::vector<double>> followed;
  for (std::size_t i = 0; i < plan.steps.size(); ++i)
    followed.push_back(followed_at(plan.steps[i], counts[i]));

  ReducedRecorder   recorder(followed, start, model.media.size());
  EdgeState<double> state;
  Ledger<double>    ledger;
  OutlineHistory    history;
  history.status  = run_history(model, plan, tolerances_of(scenario), state, ledger, recorder);
  history.message = describe(history.status, plan);
  const SideBySide side(model, blade);
  try {
    OutlineFollower follower(model, blade, start);
    for (std::size_t i = 0; i < recorder.steps.size(); ++i) {
      const ReducedStep& reduced = recorder.steps[i];
      history.steps.push_back(asked_for(counts[i], reduced, follower.take(plan.steps[i], reduced), side));
      if (at_end) at_end(i, follower.edge());
      history.points  = follower.points();
      history.presses = follower.presses();
    }
  } catch (const std::logic_error& fault) {
    fail(history, plan, fault.what());
  } catch (const std::runtime_error& fault) {
    fail(history, plan, fault.what());
  }
  return history;
}

OutlineHistory outline_history(const Scenario& scenario, const EdgePlan& plan, const OutlineEnd& at_end) {
  return outline_history(scenario, plan, std::vector<std::vector<double>>(plan.steps.size()), at_end);
}

}  // namespace arris
