// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <utility>
#include <vector>

#include <boost/numeric/odeint.hpp>

#include "sim/history/stages.hpp"
#include "sim/laws/wear/wear_law.hpp"

/// A history as somebody would write it who has the laws and any solver: radius, scratch, burr and depth as one system per
/// step, every rate worked out where it is needed; the dub of the tip, which follows from laps and depth, behind each step. Honing, stropping, and cutting under the shared-load law.
namespace arris::bench {

/// r, s, b, h
template <class T>
using PlainStateOf = std::array<T, 4>;
using PlainState   = PlainStateOf<double>;

/// What the benchmarks of derivatives differentiate by.
template <class T>
std::array<T*, 12> twelve_parameters(Model<T>& model) {
  auto& c = model.coefficients;
  return {&c.abrasion,       &c.size_exponent,         &c.radius_per_scratch, &c.carbide_share,
          &c.burr_growth,    &c.burr_loss_one_sided,   &c.burr_limit_um,      &c.burr_loss_strop,
          &c.silica_per_pct, &c.collapse_load_N_per_m, &c.collapse_length_m,  &model.steels[0].hardness_GPa};
}

/// Rates of the components of PlainStateOf per stroke, `n` strokes into a step.
template <class T>
struct PlainHoning {
  FaceStage<T> stage;
  Blade<T>     blade;

  template <class X, class D>
  void operator()(const X& x, D& dx, double n) const {
    const auto& f   = stage;
    const T     a   = f.land.removal_um(x[3]) * f.glaze.share(T(f.used + n));
    const T     inf = f.floor.radius_um(x[1]);
    const T     met = a * f.tip_share(T(x[3]));
    dx[0]           = f.floor.rate(x[0], inf, T(0.5 * met), blade.sin_half);
    dx[1]           = laws::scratch_rate(a, x[1], f.own_scratch(x[3]));
    dx[2]           = f.burr.rate(x[2], met, laws::burr_opening(x[0], inf));
    dx[3]           = a;
  }
};

/// The same per lap of a strop. While a dubbed tip is not met nothing moves, so that a solver comes upon it in a stride and tries
/// radii and scratches below nothing, where the pressure is no number; there the rates are those of next to nothing, and it
/// turns back by itself.
template <class T>
struct PlainStropping {
  StropStage<T> stage;
  Blade<T>      blade;

  static constexpr double least_um = 1e-4;

  [[nodiscard]] static T at_least(const T& x) { return x > least_um ? x : T(least_um); }

  template <class X, class D>
  void operator()(const X& x, D& dx, double n) const {
    const auto& f = stage;
    const T     r = at_least(x[0]), s = at_least(x[1]);
    const T     worked = f.tip.share(f.worn_down_um(T(n))) * f.per_MPa *
                     f.pad.tip_pressure_MPa(f.worn_in_um(f.laps_at_tip(T(n))), r);
    dx[0] = f.floor.rate(r, f.equilibrium_um(s), worked, blade.sin_half);
    dx[1] = laws::scratch_rate(worked, s, f.own_scratch_um);
    dx[2] = -f.burr_loss * x[2];
    dx[3] = T(0.0);
  }
};

/// The same per pass in wood.
template <class T>
struct PlainCutting {
  CutStage<T, laws::SharedLoad<T>> stage;
  double                           pass_m;

  template <class X, class D>
  void operator()(const X& x, D& dx, double) const {
    const auto& f = stage;
    dx[0] = pass_m * (f.wear.rate(T(x[0] + f.borne_um), T(0.0)) + f.collapse.rate(T(x[0] + f.borne_um)));
    dx[1] = T(0.0);
    dx[2] = -pass_m * x[2] / f.burr_break_off_m;
    dx[3] = T(0.0);
  }
};

/// Calls `integrate(rates, y, count)` for every step of the plan, and `after(y)` behind it. `rates(y, dy, n)`, y and dy indexed.
template <class T, class Integrate, class After>
void run_plain(const Model<T>& model, const EdgePlan& plan, Integrate&& integrate, After&& after) {
  const auto& steel =
      model.steels[static_cast<std::size_t>(model.steel_of_tool[static_cast<std::size_t>(plan.tool)])];
  const auto&     tool  = model.tools[static_cast<std::size_t>(plan.tool)];
  const auto      blade = assemble_blade(tool, steel.hardness_GPa, steel.carbide_um,
                                         model.coefficients.carbide_share, steel.wear_ratio);
  const auto      start = initial_state(tool, blade, model.tester.contact_distance_um);
  PlainStateOf<T> y{start.apex_radius_um, start.scratch_um, start.burr_um, start.bevel_depth_um};
  EdgeState<T>    e = start;
  Ledger<T>       ledger;
  ledger.reset(model.media.size());
  for (const Step& step : plan.steps) {
    e.apex_radius_um = y[0];
    e.scratch_um     = y[1];
    e.burr_um        = y[2];
    e.bevel_depth_um = y[3];
    if (const auto* hone = std::get_if<HoneStep>(&step)) {
      const PlainHoning<T> rates{assemble(*hone, model, blade, e, ledger), blade};
      y[3] = rates.stage.start_depth_um;
      integrate(rates, y, hone->strokes);
      e = rates.stage.finish_at(e, {y[0], y[1], T(0.0)}, T(hone->strokes), y[3]);
      ledger.strokes_on_medium[static_cast<std::size_t>(hone->medium)] += hone->strokes;
    } else if (const auto* strop = std::get_if<StropStep>(&step)) {
      const PlainStropping<T> rates{assemble(*strop, model, blade, e, ledger), blade};
      integrate(rates, y, strop->laps);
      e = rates.stage.finish(e, {y[0], y[1]}, T(strop->laps));
    } else if (const auto* cut = std::get_if<CutStep>(&step)) {
      const PlainCutting<T> rates{
          assemble(*cut, std::get<laws::SharedLoad<T>>(model.wear->law), model, blade, e, ledger),
          cut->pass_m};
      integrate(rates, y, cut->passes);
    }
    after(y);
  }
}

/// By Boost.Odeint, the obvious way: Dormand–Prince with step-size control.
template <class After>
void run_plain_odeint(const Model<double>& model, const EdgePlan& plan, double absolute, double relative,
                      After&& after) {
  namespace odeint   = boost::numeric::odeint;
  const auto stepper = odeint::make_controlled<odeint::runge_kutta_dopri5<PlainState>>(absolute, relative);
  run_plain(
      model, plan,
      [&](const auto& rates, PlainState& y, double count) {
        odeint::integrate_adaptive(stepper, std::cref(rates), y, 0.0, count, 1.0);
      },
      after);
}

/// The same over numbers with derivatives, which the step size has to look at too: where a value has come to rest, steps
/// that look at it alone grow until the derivatives blow up. As exact as the project asks its own to be (jet.hpp).
template <class Jet>
struct ErrorOfJets {
  using value_type      = double;
  using algebra_type    = boost::numeric::odeint::array_algebra;
  using operations_type = boost::numeric::odeint::default_operations;

  double absolute = 1e-6, relative = 1e-6;

  template <class State, class Slope>
  double error(algebra_type&, const State& y, const Slope& dy, State& off, double dt) const {
    double worst = 0.0;
    for (std::size_t i = 0; i < y.size(); ++i) {
      const double largest = y[i].v.cwiseAbs().maxCoeff() + std::abs(dt) * dy[i].v.cwiseAbs().maxCoeff();
      worst                = std::max(
                         {worst, std::abs(off[i].a) / (absolute + relative * (std::abs(y[i].a) + std::abs(dt * dy[i].a))),
                          off[i].v.cwiseAbs().maxCoeff() / (4.0 * (absolute + relative * largest))});
    }
    return worst;
  }
};
template <class Jet, class After>
void run_plain_odeint_jets(const Model<Jet>& model, const EdgePlan& plan, double absolute, double relative,
                           After&& after) {
  namespace odeint = boost::numeric::odeint;
  using State      = PlainStateOf<Jet>;
  using Stepper    = odeint::runge_kutta_dopri5<State, double, State, double, odeint::array_algebra>;
  const odeint::controlled_runge_kutta<Stepper, ErrorOfJets<Jet>> stepper(
      ErrorOfJets<Jet>{absolute, relative});
  run_plain(
      model, plan,
      [&](const auto& rates, State& y, double count) {
        odeint::integrate_adaptive(stepper, std::cref(rates), y, 0.0, count, 1.0);
      },
      after);
}

}  // namespace arris::bench
