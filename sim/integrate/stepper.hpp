// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>
#include <type_traits>

#include <boost/numeric/odeint/algebra/default_operations.hpp>
#include <boost/numeric/odeint/stepper/controlled_runge_kutta.hpp>
#include <boost/numeric/odeint/stepper/runge_kutta_dopri5.hpp>

#include "sim/integrate/quadrature.hpp"
#include "sim/integrate/scalar.hpp"
#include "sim/integrate/tolerances.hpp"
#include "sim/laws/field.hpp"

/// Integration of one stage: Dormand–Prince 5(4) of Boost.Odeint with step-size control, over doubles or jets.
///
/// The last step lands on the end; points in between come from the stepper's continuous extension and never shorten a
/// step. An event is a function of the state that falls to zero, looked for by bisection: a mark is reported where it first
/// does, and an end ends the stage there.
namespace arris {

enum class StageStatus {
  done,
  ended,           ///< by its end event, before the last count
  too_many_steps,  ///< gave up after Tolerances::max_steps
  not_finite,      ///< a rate became infinite or NaN at the smallest step
};

template <class T, std::size_t N>
struct StageEnd {
  StageStatus      status;
  std::array<T, N> y;
  T                n;  ///< where it ended; carries derivatives where an event set the place
  int              steps   = 0;
  double           mark_at = not_given;  ///< where the mark was met; NaN if it was not
};

namespace detail {

template <class Stage, class Vector>
concept settles = requires(const Stage& stage, const Vector& y) {
  stage.settled_burr_growth(y, 0.0);
};

/// What follows once a stage has settled: radius and scratches stay, the burr tends to an equilibrium of its own,
///     db/dn = g(n) − λ·b    ⇒    b(n) = b·e^(−λ(n − n₀)) + ∫ g(n′)·e^(−λ(n − n′)) dn′
template <class T, class Stage, class Vector>
class Settled {
 public:
  Settled(const Stage& stage, const Tolerances& tolerances) : stage_(stage), tolerances_(tolerances) {}

  /// To half of the tolerance, in value and derivatives; the steps before leave about as much.
  [[nodiscard]] bool reached(const Vector& y) const {
    return stage_.settled(y, [this](const T& x, const T& goal) {
      return Scalar<T>::error_ratio(T(x - goal), x, goal, tolerances_.absolute_um, tolerances_.relative) <
             0.5;
    });
  }
  /// The state at `to`, settled since `from`. NaN where the integral is not found.
  [[nodiscard]] Vector from(const Vector& y, double from, const T& to) const {
    using std::exp;
    const double end    = Scalar<T>::value(to);
    const auto   growth = [&](double n) { return stage_.settled_burr_growth(y, n); };
    const T      loss   = stage_.settled_burr_loss();
    // what was raised longer ago than this is all but worn off
    const double first = std::max(from, end - 45.0 / Scalar<T>::value(loss));
    T            grown(0.0);
    if (end > first && Scalar<T>::value(growth(first)) > 0.0 &&
        !add_integral([&](double n) { return T(growth(n) * exp(-loss * (end - n))); }, first, end,
                      tolerances_.relative, grown))
      grown = T(not_given);
    Vector out = y;
    out[2]     = y[2] * exp(-loss * (end - from)) + grown;
    out[2] += (growth(end) - loss * out[2]) * (to - end);  // the end itself may move with the parameters
    if constexpr (requires { stage_.settled_left(y); }) out[3] -= to - from;
    return out;
  }

 private:
  const Stage&      stage_;
  const Tolerances& tolerances_;
};

/// Error norm for odeint's controlled stepper: the largest ratio over the components, never NaN.
template <class T>
class ErrorNorm {
 public:
  using value_type      = double;
  using algebra_type    = ComponentAlgebra;
  using operations_type = boost::numeric::odeint::default_operations;

  explicit ErrorNorm(const Tolerances& tolerances = {}) : tolerances_(tolerances) {}

  template <std::size_t N, class Deriv>
  double error(algebra_type&, const std::array<T, N>& before, const Deriv& slope, std::array<T, N>& error,
               double dt) const {
    double worst = 0.0;
    for (std::size_t i = 0; i < N; ++i) {
      const T      after = before[i] + dt * slope[i];
      const double ratio =
          Scalar<T>::error_ratio(error[i], before[i], after, tolerances_.absolute_um, tolerances_.relative);
      if (!(ratio < rejected)) return rejected;
      if (ratio > worst) worst = ratio;
    }
    return worst;
  }

 private:
  static constexpr double rejected = 1e6;
  Tolerances              tolerances_;
};

/// The place of an event moves with the parameters that set it: gives `n`, and the state there, that share of their
/// derivatives (implicit function theorem). Nothing to do for plain numbers.
template <class T, std::size_t N, class Rates, class F>
void carry_event_derivatives(const Rates& rates, const F& function, double at, std::array<T, N>& y, T& n) {
  if constexpr (!std::is_same_v<T, double>) {
    std::array<T, N> fall;
    rates(y, fall, at);
    // speed of the function by a difference over 1e-4 of the state on both sides, however slowly that moves
    double h = std::numeric_limits<double>::infinity();
    for (std::size_t i = 0; i < N; ++i) {
      const double speed = std::abs(Scalar<T>::value(fall[i]));
      if (speed > 0.0) h = std::min(h, 1e-4 * (std::abs(Scalar<T>::value(y[i])) + 1e-3) / speed);
    }
    std::array<T, N> ahead = y, behind = y;
    for (std::size_t i = 0; i < N; ++i) {
      ahead[i] += h * Scalar<T>::value(fall[i]);
      behind[i] -= h * Scalar<T>::value(fall[i]);
    }
    const double speed = (Scalar<T>::value(function(ahead)) - Scalar<T>::value(function(behind))) / (2.0 * h);
    T            shift = -function(y) / speed;
    shift -= Scalar<T>::value(shift);  // derivatives only; the place itself is known
    n += shift;
    for (std::size_t i = 0; i < N; ++i) y[i] += shift * Scalar<T>::value(fall[i]);
  }
}

}  // namespace detail

/// No event.
struct Never {};

/// What to look for on the way: functions of the state, positive before the event and zero at it.
template <class Mark = Never, class End = Never>
struct Events {
  Mark mark;
  End  end;

  static constexpr bool has_mark = !std::is_same_v<Mark, Never>;
  static constexpr bool has_end  = !std::is_same_v<End, Never>;
};
template <class F>
[[nodiscard]] Events<F> mark_where(F function) {
  return {function, {}};
}
template <class F>
[[nodiscard]] Events<Never, F> end_where(F function) {
  return {{}, function};
}
template <class F, class G>
[[nodiscard]] Events<F, G> mark_and_end_where(F mark, G end) {
  return {mark, end};
}

/// Integrates `stage` from `y` at n = 0 to `end`.
///
/// `points` (ascending): `visit(point, y)` is called at each that is reached.
/// Throws nothing of its own; a failure is in the status, and the values that come with it are not a result.
template <class T, std::size_t N, class Stage, class Visit, class EventsT>
StageEnd<T, N> integrate_stage(const Stage& stage, std::array<T, N> y, double end,
                               std::span<const double> points, Visit&& visit, const EventsT& events,
                               const Tolerances& tolerances) {
  namespace odeint = boost::numeric::odeint;
  using Vector     = std::array<T, N>;
  using Stepper    = odeint::runge_kutta_dopri5<Vector, double, Vector, double, ComponentAlgebra,
                                             odeint::default_operations, odeint::never_resizer>;
  using Controlled =
      odeint::controlled_runge_kutta<Stepper, detail::ErrorNorm<T>,
                                     odeint::default_step_adjuster<double, double>, odeint::never_resizer>;
  const auto rates = [&stage](const Vector& at, Vector& dy, double n) { stage.rates(at, dy, n); };

  StageEnd<T, N> result{StageStatus::done, y, T(0.0)};
  std::size_t    visited     = 0;
  const auto     visit_until = [&](double n, const auto& state_at) {
    for (; visited < points.size() && points[visited] <= n; ++visited) {
      visit(points[visited], state_at(points[visited]));
    }
  };
  const auto met = [](const auto& function, const Vector& at) {
    return !(Scalar<T>::value(function(at)) > 0.0);
  };
  visit_until(0.0, [&](double) { return result.y; });
  if constexpr (EventsT::has_mark) {
    if (met(events.mark, y)) result.mark_at = 0.0;
  }
  if constexpr (EventsT::has_end) {
    if (met(events.end, y)) {
      result.status = StageStatus::ended;
      return result;
    }
  }
  if (!(end > 0.0)) return result;

  Controlled control{detail::ErrorNorm<T>(tolerances)};
  Vector     slope, y_new, slope_new;
  rates(y, slope, 0.0);

  // first step: a fifth of the time in which the fastest component would change by its own size
  double dt = end;
  for (std::size_t i = 0; i < N; ++i) {
    const double speed = std::abs(Scalar<T>::value(slope[i]));
    const double size  = std::abs(Scalar<T>::value(y[i])) + 1e-3;
    if (speed > 0.0) dt = std::min(dt, 0.2 * size / speed);
  }

  // and no longer than the rates stay nearly as they are. The estimate of the error is far too low over steps in which a
  // rate falls off steeply, as it does on a land that begins hardly longer than the apex is round.
  for (int i = 0; i < 40; ++i) {
    for (std::size_t k = 0; k < N; ++k) y_new[k] = y[k] + dt * slope[k];
    rates(y_new, slope_new, dt);
    double change = 0.0;
    for (std::size_t k = 0; k < N; ++k) {
      const double before = std::abs(Scalar<T>::value(slope[k]));
      const double by     = std::abs(std::abs(Scalar<T>::value(slope_new[k])) - before);
      const double size   = std::abs(Scalar<T>::value(y[k])) + 1e-3;
      if (dt * by > 10.0 * tolerances.relative * size) change = std::max(change, by / before);
    }
    if (!(change > 0.3)) break;
    dt *= std::max(0.1, 0.15 / change);
  }

  double       n        = 0.0;
  const double smallest = 1e-14 * end;
  while (n < end) {
    if constexpr (detail::settles<Stage, Vector> &&
                  (!EventsT::has_end || requires { stage.settled_left(y); })) {
      const detail::Settled<T, Stage, Vector> rest(stage, tolerances);
      if (rest.reached(y)) {
        T to(end);
        if constexpr (EventsT::has_end) {
          if (const T last = n + stage.settled_left(y); Scalar<T>::value(last) <= end) {
            to            = last;
            result.status = StageStatus::ended;
          }
        }
        visit_until(Scalar<T>::value(to), [&](double at) { return rest.from(y, n, T(at)); });
        result.y = rest.from(y, n, to);
        result.n = to;
        return result;
      }
    }
    if (result.steps++ >= tolerances.max_steps) {
      result.status = StageStatus::too_many_steps;
      break;
    }
    // The radius, first of the components, may grow by a seventh: where a fine apex blunts its rate falls as r^−m, and over
    // steps of 0.2 to 0.4 of r/(dr/dn) the estimate of the error changes its sign.
    const double growth = Scalar<T>::value(slope[0]);
    if (growth > 0.0) dt = std::min(dt, 0.15 * (std::abs(Scalar<T>::value(y[0])) + 1e-3) / growth);
    if constexpr (requires { stage.longest_step(y, slope); }) dt = std::min(dt, stage.longest_step(y, slope));
    // land on the end without a sliver of a last step
    const double left = end - n;
    dt                = dt >= left ? left : (dt > 0.5 * left ? 0.5 * left : dt);
    const bool   last = dt >= left;
    const double from = n;
    const double step = dt;
    if (control.try_step(rates, y, slope, n, y_new, slope_new, dt) == odeint::fail) {
      if (!(dt > smallest)) {
        result.status = StageStatus::not_finite;
        break;
      }
      continue;
    }
    if (last) n = end;

    const auto between = [&](double at) {
      if (at >= n) return y_new;
      Vector out;
      control.stepper().calc_state(at, out, y, slope, from, y_new, slope_new, from + step);
      return out;
    };
    const auto place_of = [&](const auto& function) {
      double above = from, below = n;
      for (int i = 0; i < 60 && below - above > 1e-13 * end; ++i) {
        const double middle                              = 0.5 * (above + below);
        (met(function, between(middle)) ? below : above) = middle;
      }
      return below;
    };
    if constexpr (EventsT::has_mark) {
      if (std::isnan(result.mark_at) && met(events.mark, y_new)) result.mark_at = place_of(events.mark);
    }
    if constexpr (EventsT::has_end) {
      if (met(events.end, y_new)) {
        const double at = place_of(events.end);
        if (result.mark_at > at) result.mark_at = not_given;
        visit_until(at, between);
        result.status = StageStatus::ended;
        result.y      = between(at);
        result.n      = T(at);
        detail::carry_event_derivatives(rates, events.end, at, result.y, result.n);
        return result;
      }
    }
    visit_until(n, between);
    y     = y_new;
    slope = slope_new;
  }
  for (const T& component : y) {
    if (result.status == StageStatus::done && !Scalar<T>::finite(component))
      result.status = StageStatus::not_finite;
  }
  result.y = y;
  result.n = T(n);
  return result;
}

}  // namespace arris
