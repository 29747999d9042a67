// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <span>

#include "sim/history/stages.hpp"
#include "sim/integrate/cut.hpp"
#include "sim/integrate/run.hpp"
#include "sim/integrate/stepper.hpp"

/// What run.hpp declares, for numbers that run.cpp does not cover, together with cut_run.hpp. Slow to compile: every stage is in it.
namespace arris {

namespace detail {

template <class T>
class HistoryRun {
 public:
  HistoryRun(const Model<T>& model, const EdgePlan& plan, const Tolerances& tolerances, EdgeState<T>& state,
             Ledger<T>& ledger, HistoryObserver<T>& observer)
      : model_(model),
        plan_(plan),
        tolerances_(tolerances),
        state_(state),
        ledger_(ledger),
        observer_(observer) {
    const auto  tool  = static_cast<std::size_t>(plan.tool);
    const auto& steel = model.steels[static_cast<std::size_t>(model.steel_of_tool[tool])];
    blade_            = assemble_blade(model.tools[tool], steel.hardness_GPa, steel.carbide_um,
                                       model.coefficients.carbide_share, steel.wear_ratio);
  }

  /// The state in which the tool begins, and nothing done yet.
  void begin() {
    state_ = initial_state(model_.tools[static_cast<std::size_t>(plan_.tool)], blade_,
                           model_.tester.contact_distance_um);
    ledger_.reset(model_.media.size());
  }

  RunStatus run(std::size_t first_step = 0) {
    for (index_ = first_step; index_ < plan_.steps.size() && status_.usable(); ++index_) {
      outcome_ = {};
      std::visit([this](const auto& step) { this->take(step); }, plan_.steps[index_]);
      if (status_.usable() && !fits_on(blade_, state_))
        fail(RunStatus::Code::beyond_blade, Scalar<T>::value(outcome_.count));
      if (status_.usable()) observer_.after(index_, outcome_, state_, ledger_);
    }
    if (!status_.usable()) {
      EdgeState<T>::components([](const char*, T& component) { component = T(not_given); }, state_);
    }
    return status_;
  }

 private:
  template <class Stage, class Tally, class EventsT = Events<>>
  auto advance(const Stage& stage, double end, Tally&& tally, const EventsT& events = {}) {
    return advance_by(stage, tally, [&](std::span<const double> points, const auto& visit) {
      return integrate_stage<T>(stage, stage.start(state_), end, points, visit, events, tolerances_);
    });
  }

  // a stage from the present state, integrated by `integrate(points, visit)`; the ledger shown at points is that of the point
  template <class Stage, class Tally, class Integrate>
  auto advance_by(const Stage& stage, Tally&& tally, const Integrate& integrate) {
    const auto         points        = observer_.points(index_, plan_.steps[index_]);
    const EdgeState<T> before        = state_;
    const Ledger<T>    ledger_before = points.empty() ? Ledger<T>{} : ledger_;
    const auto         count_worn    = [&](const EdgeState<T>& now) {
      if constexpr (requires { stage.worn(before, now); })
        ledger_.steel_worn_um_mm += stage.worn(before, now);
    };
    const auto visit = [&](double point, const auto& y) {
      ledger_                = ledger_before;
      const EdgeState<T> now = stage.finish(before, y, T(point));
      tally(T(point));
      count_worn(now);
      observer_.at(index_, point, now, ledger_);
    };
    auto end_of = integrate(points, visit);
    if (!points.empty()) ledger_ = ledger_before;
    status_.integration_steps += end_of.steps;
    if (end_of.status == StageStatus::too_many_steps || end_of.status == StageStatus::not_finite) {
      fail(end_of.status == StageStatus::not_finite ? RunStatus::Code::not_finite
                                                    : RunStatus::Code::too_many_steps,
           Scalar<T>::value(end_of.n));
      return end_of;
    }
    tally(end_of.n);
    state_ = stage.finish(before, end_of.y, end_of.n);
    count_worn(state_);
    outcome_.count = end_of.n;
    return end_of;
  }

  void fail(RunStatus::Code code, double count) {
    status_.code  = code;
    status_.step  = static_cast<int>(index_);
    status_.count = count;
  }

  template <class Stage>
  auto tally_strokes(const Stage& stage, int medium) {
    return [this, &stage, medium](const T& n) {
      count_strokes(ledger_, medium, n, Scalar<T>::value(n), stage.removed(n));
    };
  }

  void take(const HoneStep& step) {
    const auto stage   = assemble(step, model_, blade_, state_, ledger_);
    const auto tally   = tally_strokes(stage, step.medium);
    const auto to_burr = [&stage](const auto& y, double n) { return stage.to_burr(y, n); };
    if (!step.after_burr) {
      outcome_.strokes_to_burr = advance(stage, step.strokes, tally, mark_where(to_burr)).mark_at;
      return;
    }
    const CountedStage<T> counted{stage, step.strokes};
    const auto            left = [](const auto& y, double) { return y[3]; };
    const auto            end =
        advance(counted, counted.latest(step.max_strokes), tally, mark_and_end_where(to_burr, left));
    if (!status_.usable()) return;
    if (end.status != StageStatus::ended || end.mark_at > step.max_strokes)
      return fail(RunStatus::Code::no_burr, step.max_strokes);
    outcome_.strokes_to_burr = end.mark_at;
  }
  void take(const BackStep& step) {
    const auto stage = assemble(step, model_, blade_, state_, ledger_);
    advance(stage, step.strokes, tally_strokes(stage, step.medium));
  }
  void take(const StropStep& step) {
    const auto stage = assemble(step, model_, blade_, state_, ledger_);
    advance(stage, step.laps, tally_strokes(stage, -1));
  }
  void take(const CutStep& step) {
    const auto tally = [this, &step](const T& n) { count_passes(ledger_, Scalar<T>::value(n), step.pass_m); };
    const auto stage = assemble(step, model_, blade_, state_, ledger_);
    advance_by(stage, tally, [&](std::span<const double> points, const auto& visit) {
      return integrate_cut<T>({stage, model_.wear, wear_conditions(step, model_, blade_)},
                              stage.start(state_), step.passes, points, std::cref(visit), tolerances_);
    });
  }
  void take(const ReadStep&) {
    for (const double point : observer_.points(index_, plan_.steps[index_]))
      observer_.at(index_, point, state_, ledger_);
  }
  void take(const DressStep& step) {
    ledger_.strokes_on_medium[static_cast<std::size_t>(step.medium)] = T(0.0);
  }

  const Model<T>&     model_;
  const EdgePlan&     plan_;
  const Tolerances&   tolerances_;
  EdgeState<T>&       state_;
  Ledger<T>&          ledger_;
  HistoryObserver<T>& observer_;
  Blade<T>            blade_;
  std::size_t         index_ = 0;
  StepOutcome<T>      outcome_;
  RunStatus           status_;
};

}  // namespace detail

template <class T>
RunStatus run_history(const Model<T>& model, const EdgePlan& plan, const Tolerances& tolerances,
                      EdgeState<T>& state, Ledger<T>& ledger, HistoryObserver<T>& observer) {
  detail::HistoryRun<T> history(model, plan, tolerances, state, ledger, observer);
  history.begin();
  return history.run();
}

template <class T>
RunStatus continue_history(const Model<T>& model, const EdgePlan& plan, const Tolerances& tolerances,
                           EdgeState<T>& state, Ledger<T>& ledger, HistoryObserver<T>& observer,
                           std::size_t first_step) {
  return detail::HistoryRun<T>(model, plan, tolerances, state, ledger, observer).run(first_step);
}

}  // namespace arris
