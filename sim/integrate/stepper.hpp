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

template <class T, class Stage, class Vector>
concept settles = requires(const Stage& stage, const Vector& y, const T& to) {
  stage.settled_at(y, 0.0, to);
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
    const double speed =
        (Scalar<T>::value(function(ahead, at + h)) - Scalar<T>::value(function(behind, at - h))) / (2.0 * h);
    T shift = -function(y, at) / speed;
    shift -= Scalar<T>::value(shift);  // derivatives only; the place itself is known
    n += shift;
    for (std::size_t i = 0; i < N; ++i) y[i] += shift * Scalar<T>::value(fall[i]);
  }
}

}  // namespace detail

/// No event.
struct Never {};

/// What to look for on the way: functions of the state and the count, positive before the event and zero at it.
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

namespace detail {

/// One stage on its way from n = 0 to `end`.
template <class T, std::size_t N, class Stage, class Visit, class EventsT>
class StageRun {
  using Vector  = std::array<T, N>;
  using Stepper = boost::numeric::odeint::runge_kutta_dopri5<Vector, double, Vector, double, ComponentAlgebra,
                                                             boost::numeric::odeint::default_operations,
                                                             boost::numeric::odeint::never_resizer>;
  using Controlled = boost::numeric::odeint::controlled_runge_kutta<
      Stepper, ErrorNorm<T>, boost::numeric::odeint::default_step_adjuster<double, double>,
      boost::numeric::odeint::never_resizer>;

 public:
  StageRun(const Stage& stage, double end, std::span<const double> points, Visit& visit,
           const EventsT& events, const Tolerances& tolerances)
      : stage_(stage),
        end_(end),
        points_(points),
        visit_(visit),
        events_(events),
        tolerances_(tolerances),
        control_(ErrorNorm<T>(tolerances)) {}

  StageEnd<T, N> run(const Vector& start) {
    result_.y = start;
    if (is_over_at(start)) return result_;
    Place at{start, {}, 0.0};
    rates_(at.y, at.slope, at.n);
    double dt = first_step(at);
    while (at.n < end_) {
      if (settles_at(at)) return result_;
      if (result_.steps++ >= tolerances_.max_steps) {
        result_.status = StageStatus::too_many_steps;
        break;
      }
      dt                = shortened(dt, at);
      const bool   last = dt >= end_ - at.n;
      const double step = dt;
      Place        next{{}, {}, at.n};
      if (control_.try_step(rates_, at.y, at.slope, next.n, next.y, next.slope, dt) ==
          boost::numeric::odeint::fail) {
        if (dt > 1e-14 * end_) continue;
        result_.status = StageStatus::not_finite;
        break;
      }
      if (last) next.n = end_;
      if (ends_between(at, next, step)) return result_;
      at = next;
    }
    return finish(at);
  }

 private:
  struct Place {
    Vector y, slope;
    double n;
  };

  template <class StateAt>
  void visit_until(double n, const StateAt& state_at) {
    for (; visited_ < points_.size() && points_[visited_] <= n; ++visited_)
      visit_(points_[visited_], state_at(points_[visited_]));
  }
  template <class F>
  [[nodiscard]] static bool met(const F& function, const Vector& at, double n) {
    return !(Scalar<T>::value(function(at, n)) > 0.0);
  }

  // looks at the start: is there anything to integrate?
  bool is_over_at(const Vector& y) {
    visit_until(0.0, [&](double) { return y; });
    if constexpr (EventsT::has_mark) {
      if (met(events_.mark, y, 0.0)) result_.mark_at = 0.0;
    }
    if constexpr (EventsT::has_end) {
      if (met(events_.end, y, 0.0)) {
        result_.status = StageStatus::ended;
        return true;
      }
    }
    return !(end_ > 0.0);
  }

  [[nodiscard]] double first_step(const Place& at) const {
    // a fifth of the time in which the fastest component would change by its own size
    double dt = end_;
    for (std::size_t i = 0; i < N; ++i) {
      const double speed = std::abs(Scalar<T>::value(at.slope[i]));
      const double size  = std::abs(Scalar<T>::value(at.y[i])) + 1e-3;
      if (speed > 0.0) dt = std::min(dt, 0.2 * size / speed);
    }
    // and no longer than the rates stay nearly as they are. The estimate of the error is far too low over steps in which a
    // rate falls off steeply, as it does on a land that begins hardly longer than the apex is round.
    Vector y_new, slope_new;
    for (int i = 0; i < 40; ++i) {
      for (std::size_t k = 0; k < N; ++k) y_new[k] = at.y[k] + dt * at.slope[k];
      rates_(y_new, slope_new, dt);
      double change = 0.0;
      for (std::size_t k = 0; k < N; ++k) {
        const double before = std::abs(Scalar<T>::value(at.slope[k]));
        const double by     = std::abs(std::abs(Scalar<T>::value(slope_new[k])) - before);
        const double size   = std::abs(Scalar<T>::value(at.y[k])) + 1e-3;
        if (dt * by > 10.0 * tolerances_.relative * size) change = std::max(change, by / before);
      }
      if (!(change > 0.3)) break;
      dt *= std::max(0.1, 0.15 / change);
    }
    return dt;
  }

  // to half of the tolerance, in value and derivatives; the steps before leave about as much
  [[nodiscard]] bool has_settled(const Place& at) const {
    return stage_.settled(at.y, at.n, [this](const T& x, const T& goal) {
      return Scalar<T>::error_ratio(T(x - goal), x, goal, tolerances_.absolute_um, tolerances_.relative) <
             0.5;
    });
  }
  // a stage that has settled is known to its end
  bool settles_at(const Place& at) {
    if constexpr (settles<T, Stage, Vector> &&
                  (!EventsT::has_end || requires { stage_.settled_left(at.y); })) {
      if (!has_settled(at)) return false;
      T to(end_);
      if constexpr (EventsT::has_end) {
        if (const T last = at.n + stage_.settled_left(at.y); Scalar<T>::value(last) <= end_) {
          to             = last;
          result_.status = StageStatus::ended;
        }
      }
      visit_until(Scalar<T>::value(to), [&](double n) { return stage_.settled_at(at.y, at.n, T(n)); });
      result_.y = stage_.settled_at(at.y, at.n, to);
      result_.n = to;
      return true;
    } else {
      (void)at;
      return false;
    }
  }

  [[nodiscard]] double shortened(double dt, const Place& at) const {
    // The radius, first of the components, may grow by a seventh: where a fine apex blunts its rate falls as r^−m, and over
    // steps of 0.2 to 0.4 of r/(dr/dn) the estimate of the error changes its sign.
    const double growth = Scalar<T>::value(at.slope[0]);
    if (growth > 0.0) dt = std::min(dt, 0.15 * (std::abs(Scalar<T>::value(at.y[0])) + 1e-3) / growth);
    if constexpr (requires { stage_.longest_step(at.y, at.slope, at.n); })
      dt = std::min(dt, stage_.longest_step(at.y, at.slope, at.n));
    // land on the end without a sliver of a last step
    const double left = end_ - at.n;
    return dt >= left ? left : (dt > 0.5 * left ? 0.5 * left : dt);
  }

  // looks for events on a step that was taken, and at the points along it
  bool ends_between(const Place& from, const Place& to, double step) {
    const auto between = [&](double at) {
      if (at >= to.n) return to.y;
      Vector out;
      control_.stepper().calc_state(at, out, from.y, from.slope, from.n, to.y, to.slope, from.n + step);
      return out;
    };
    const auto place_of = [&](const auto& function) {
      double above = from.n, below = to.n;
      for (int i = 0; i < 60 && below - above > 1e-13 * end_; ++i) {
        const double middle                                      = 0.5 * (above + below);
        (met(function, between(middle), middle) ? below : above) = middle;
      }
      return below;
    };
    if constexpr (EventsT::has_mark) {
      if (std::isnan(result_.mark_at) && met(events_.mark, to.y, to.n))
        result_.mark_at = place_of(events_.mark);
    }
    if constexpr (EventsT::has_end) {
      if (met(events_.end, to.y, to.n)) {
        const double at = place_of(events_.end);
        if (result_.mark_at > at) result_.mark_at = not_given;
        visit_until(at, between);
        result_.status = StageStatus::ended;
        result_.y      = between(at);
        result_.n      = T(at);
        carry_event_derivatives(rates_, events_.end, at, result_.y, result_.n);
        return true;
      }
    }
    visit_until(to.n, between);
    return false;
  }

  StageEnd<T, N> finish(const Place& at) {
    for (const T& component : at.y) {
      if (result_.status == StageStatus::done && !Scalar<T>::finite(component))
        result_.status = StageStatus::not_finite;
    }
    result_.y = at.y;
    result_.n = T(at.n);
    return result_;
  }

  struct Rates {
    const Stage& stage;
    void         operator()(const Vector& y, Vector& dy, double n) const { stage.rates(y, dy, n); }
  };

  const Stage&            stage_;
  double                  end_;
  std::span<const double> points_;
  Visit&                  visit_;
  const EventsT&          events_;
  const Tolerances&       tolerances_;
  Controlled              control_;
  Rates                   rates_{stage_};
  std::size_t             visited_ = 0;
  StageEnd<T, N>          result_{StageStatus::done, {}, T(0.0)};
};

}  // namespace detail

/// Integrates `stage` from `y` at n = 0 to `end`.
///
/// `points` (ascending): `visit(point, y)` is called at each that is reached.
/// Throws nothing of its own; a failure is in the status, and the values that come with it are not a result.
template <class T, std::size_t N, class Stage, class Visit, class EventsT>
StageEnd<T, N> integrate_stage(const Stage& stage, std::array<T, N> y, double end,
                               std::span<const double> points, Visit&& visit, const EventsT& events,
                               const Tolerances& tolerances) {
  return detail::StageRun<T, N, Stage, std::remove_reference_t<Visit>, EventsT>(stage, end, points, visit,
                                                                                events, tolerances)
      .run(y);
}

}  // namespace arris
