// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <utility>
#include <vector>

#include <boost/numeric/odeint.hpp>

#include "sim/history/stages.hpp"

/// A history as somebody would write it who has the laws and any solver: radius, scratch, burr and depth as one system per
/// step, every rate worked out where it is needed. Honing, stropping, and cutting under the shared-load law.
namespace arris::bench {

/// r, s, b, h
using PlainState = std::array<double, 4>;

/// Calls `integrate(rates, y, count)` for every step of the plan, and `after(y)` behind it. `rates(y, dy, n)`, y and dy indexed.
template <class Integrate, class After>
void run_plain(const Model<double>& model, const EdgePlan& plan, Integrate&& integrate, After&& after) {
  const auto& steel =
      model.steels[static_cast<std::size_t>(model.steel_of_tool[static_cast<std::size_t>(plan.tool)])];
  const auto&       tool  = model.tools[static_cast<std::size_t>(plan.tool)];
  const auto        blade = assemble_blade(tool, steel.hardness_GPa, steel.carbide_um,
                                           model.coefficients.carbide_share, steel.wear_ratio);
  const auto        start = initial_state(tool, blade);
  PlainState        y{start.apex_radius_um, start.scratch_um, start.burr_um, start.bevel_depth_um};
  EdgeState<double> e;
  Ledger<double>    ledger;
  ledger.reset(model.media.size());
  for (const Step& step : plan.steps) {
    e = {y[0], y[1], y[2], y[3], 0.0};
    if (const auto* hone = std::get_if<HoneStep>(&step)) {
      const auto f     = assemble(*hone, model, blade, e, ledger);
      y[3]             = f.start_depth_um;
      const auto rates = [&](const auto& x, auto& dx, double n) {
        const double a   = f.land.removal_um(x[3]) * f.glaze.share(f.used + n);
        const double inf = f.floor.radius_um(x[1]);
        dx[0]            = f.floor.rate(x[0], inf, 0.5 * a, blade.sin_half);
        dx[1]            = laws::scratch_rate(a, x[1], f.own_scratch(x[3]));
        dx[2]            = f.burr.rate(x[2], a, f.sin_included, laws::burr_opening(x[0], inf));
        dx[3]            = a;
      };
      integrate(rates, y, hone->strokes);
      ledger.strokes_on_medium[static_cast<std::size_t>(hone->medium)] += hone->strokes;
    } else if (const auto* strop = std::get_if<StropStep>(&step)) {
      const auto f     = assemble(*strop, model, blade, e, ledger);
      const auto rates = [&](const auto& x, auto& dx, double) {
        dx[0] = f.floor.rate(x[0], f.equilibrium_um(x[1]), f.reach * f.removal_um, blade.sin_half);
        dx[1] = laws::scratch_rate(f.reach * f.removal_um, x[1], f.own_scratch_um);
        dx[2] = -f.reach * f.burr_loss * x[2];
        dx[3] = 0.0;
      };
      integrate(rates, y, strop->laps);
    } else if (const auto* cut = std::get_if<CutStep>(&step)) {
      const auto f     = assemble(*cut, std::get<laws::SharedLoad<double>>(model.wear), model, blade, ledger);
      const auto rates = [&](const auto& x, auto& dx, double) {
        dx[0] = cut->pass_m * (f.wear.rate(x[0], 0.0) + f.collapse.rate(x[0]));
        dx[1] = 0.0;
        dx[2] = -cut->pass_m * x[2] / f.burr_break_off_m;
        dx[3] = 0.0;
      };
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
        odeint::integrate_adaptive(stepper, rates, y, 0.0, count, 1.0);
      },
      after);
}

}  // namespace arris::bench
