// SPDX-License-Identifier: MIT
#pragma once

#include <utility>

#include "sim/integrate/lanes_seats.hpp"
#include "sim/laws/burr.hpp"
#include "sim/laws/glazing.hpp"
#include "sim/laws/honing_floor.hpp"
#include "sim/laws/scratch.hpp"

/// The kernel of edges on a medium or a strop: Dormand–Prince 5(4) over τ (lanes_tasks.hpp), for the files that lanes_kernel.hpp
/// is included by.
///
/// Every lane has a step size, an error estimate and an end of its own. As soon as one has finished, the next task takes its
/// place. Nothing that a lane holds touches another.
namespace arris::lanes {

/// Dormand and Prince's 5(4) pair.
struct DormandPrince {
  static constexpr int    stages              = 7;  ///< the last is the first of the next step
  static constexpr double row[stages][stages] = {
      {},
      {1.0 / 5},
      {3.0 / 40, 9.0 / 40},
      {44.0 / 45, -56.0 / 15, 32.0 / 9},
      {19372.0 / 6561, -25360.0 / 2187, 64448.0 / 6561, -212.0 / 729},
      {9017.0 / 3168, -355.0 / 33, 46732.0 / 5247, 49.0 / 176, -5103.0 / 18656},
      {35.0 / 384, 0.0, 500.0 / 1113, 125.0 / 192, -2187.0 / 6784, 11.0 / 84}};
  /// the result of fifth order less that of fourth
  static constexpr double error[stages] = {35.0 / 384 - 5179.0 / 57600,
                                           0.0,
                                           500.0 / 1113 - 7571.0 / 16695,
                                           125.0 / 192 - 393.0 / 640,
                                           -2187.0 / 6784 + 92097.0 / 339200,
                                           11.0 / 84 - 187.0 / 2100,
                                           -1.0 / 40};
};

/// The components of an abrasion task that are integrated.
template <BurrIn burr>
inline constexpr int integrated = burr == BurrIn::closed_form  ? 1
                                  : burr == BurrIn::integrated ? 3
                                                               : 4;

template <class T, BurrIn burr>
class AbrasionKernel {
  using V    = typename T::Value;
  using Task = Abrasion<T::slopes>;

 public:
  static void run(Task* const* tasks, std::size_t count, const Rules& rules) {
    AbrasionKernel kernel(rules);
    for (std::size_t i = 0; i < count; i += V::size) kernel.prepare(tasks + i, count - i);
    kernel.work(tasks, count);
  }

 private:
  using Mask                 = typename V::Mask;
  static constexpr int N     = integrated<burr>;
  static constexpr int lanes = static_cast<int>(V::size);
  using Pair                 = DormandPrince;

  explicit AbrasionKernel(const Rules& rules)
      : rules_(rules),
        relative_(rules.relative * (burr == BurrIn::counted ? rules.counted : 1.0)),
        absolute_(rules.absolute_um * (burr == BurrIn::counted ? rules.counted : 1.0)) {}

  static constexpr double blunting_share = 0.05, blunting_step = 0.1;

  // what a place in τ fixes, whatever the radius and the burr are
  struct Place {
    T scratch;        // s
    T depth_rate;     // dD/dτ
    T goal;           // r∞
    T per_goal;       // 1/r∞
    T fresh_strokes;  // dn/dτ on a fresh medium
  };
  // at τ, where e^(−τ) is `left`
  Place place(const V& tau, const V& left) const {
    const auto                   c = [this](int k) { return constant_.get(k); };
    const laws::ScratchMemory<T> memory{c(Task::own_scratch), c(Task::excess_scratch)};
    const laws::HoningFloor<T>   floor{c(Task::per_scratch), T(0.0), T(0.0), T(2.0), c(Task::least_um2)};
    Place                        p;
    p.scratch    = memory.scratch_um(T(left));
    p.depth_rate = memory.depth_rate(p.scratch);
    p.goal       = floor.radius_um(p.scratch);
    p.per_goal   = 1.0 / p.goal;
    if constexpr (N > 1) {
      const T land    = c(Task::land_start) + c(Task::land_slope) * memory.depth_um(T(tau), T(left));
      p.fresh_strokes = p.depth_rate * land * c(Task::pace);
    }
    return p;
  }
  void rates(const Place& p, const T (&y)[N], T (&dy)[N]) const {
    const auto c = [this](int k) { return constant_.get(k); };
    // distance and opening depend on r/r∞ alone; a division costs as much as ten products, so that one serves two
    const T times_goal = y[0] * p.per_goal;
    T       share(1.0);
    if constexpr (N > 1) share = laws::Glazing<T>{c(Task::glaze_floor), T(1.0)}.share_when(y[2]);
    const T both = 1.0 / (times_goal * share);
    dy[0]        = c(Task::fall) * p.depth_rate * laws::HoningFloor<T>::distance_of(both * share);
    if constexpr (N > 1) {
      const T strokes = p.fresh_strokes * (both * times_goal);
      dy[1]           = c(Task::growth) * p.depth_rate *
                  of_one(times_goal, [](const auto& x) { return laws::burr_opening_at(x); }) -
              c(Task::loss) * strokes * y[1];
      dy[2] = -strokes * y[2] * c(Task::glaze_rate);
      if constexpr (N > 3) dy[3] = -strokes * laws::burr_raised(y[0], c(Task::own_floor));
    }
  }

  // the end in τ, the first rates and the first step of up to a register of tasks
  void prepare(Task* const* tasks, std::size_t count) {
    const int here = count < V::size ? static_cast<int>(count) : lanes;
    for (int lane = 0; lane < lanes; ++lane) seat(*tasks[lane < here ? lane : 0], lane);
    const auto                   value = [this](int k) { return constant_.get(k).value(); };
    const V                      depth = value(Task::depth);
    const laws::ScratchMemory<V> memory{value(Task::own_scratch), value(Task::excess_scratch)};
    // D(τ) is monotone, and concave or convex: Newton's method converges from either end
    V    tau   = depth / memory.depth_rate(memory.scratch_um(V(1.0)));
    Mask found = V::nowhere();
    for (int i = 0; i < 60 && !all(found); ++i) {
      const V left   = exp(-tau);
      const V change = (depth - memory.depth_um(tau, left)) / memory.depth_rate(memory.scratch_um(left));
      tau            = select(found, tau, tau + change);
      found          = found | (abs(change) <= 1e-13 * tau);
    }
    T end(tau);
    if constexpr (T::slopes > 0) {  // one more step tells how the end moves
      const laws::ScratchMemory<T> moving{constant_.get(Task::own_scratch),
                                          constant_.get(Task::excess_scratch)};
      const T                      left(exp(-tau));
      end = with_slopes_of<T>(tau, (constant_.get(Task::depth) - moving.depth_um(T(tau), left)) /
                                       moving.depth_rate(moving.scratch_um(left)));
    }
    T y[N], dy[N];
    for (int k = 0; k < N; ++k) y[k] = y_.get(k);
    const Place here_now = place(V(0.0), V(1.0));
    rates(here_now, y, dy);
    V step = min(V(0.3), 0.2 * (y[0].value() + 1e-3) / abs(dy[0].value()));
    if constexpr (N > 1) step = min(step, 0.5 / (here_now.fresh_strokes.value() * value(Task::loss) + 1e-3));
    tau_end_.set(0, end);
    step_.set(0, step);
    scratch_.set(0, here_now.scratch);
    for (int k = 0; k < N; ++k) slope_.set(k, dy[k]);
    for (int lane = 0; lane < here; ++lane) {
      Task& task = *tasks[lane];
      task.tau   = 0.0;
      task.step  = step_.at[0][0][lane];
      task.steps = 0;
      tau_end_.rise(0, lane, task.tau_end);
      scratch_.rise(0, lane, task.scratch);
      for (int k = 0; k < N; ++k) slope_.rise(k, lane, task.slope[k]);
    }
  }

  void seat(const Task& task, int lane) {
    for (int k = 0; k < Task::constants; ++k) constant_.seat(k, lane, task.constant[k]);
    for (int k = 0; k < N; ++k) {
      y_.seat(k, lane, task.y[k]);
      slope_.seat(k, lane, task.slope[k]);
    }
    tau_.at[0][0][lane] = task.tau.value();
    tau_end_.seat(0, lane, task.tau_end);
    step_.at[0][0][lane]  = task.step;
    left_.at[0][0][lane]  = 1.0;
    steps_.at[0][0][lane] = 0.0;
  }
  void rise(Task& task, int lane, Outcome outcome) const {
    for (int k = 0; k < N; ++k) y_.rise(k, lane, task.y[k]);
    task.tau = tau_.at[0][0][lane];
    for (int j = 1; j <= T::slopes; ++j) task.tau.of[j] = moved_.at[0][j][lane];
    scratch_.rise(0, lane, task.scratch);
    task.steps   = static_cast<int>(steps_.at[0][0][lane]);
    task.outcome = outcome;
  }

  template <int Stage, int... J>
  static T along(const T (&k)[Pair::stages][N], int i, std::integer_sequence<int, J...>) {
    T sum = k[0][i] * V(Pair::row[Stage][0]);
    ((Pair::row[Stage][J + 1] != 0.0 ? void(sum = fma(V(Pair::row[Stage][J + 1]), k[J + 1][i], sum))
                                     : void()),
     ...);
    return sum;
  }
  template <int Stage>
  void stage(const Place& there, const V& h, const T (&y)[N], T (&k)[Pair::stages][N], T (&at)[N]) const {
    for (int i = 0; i < N; ++i)
      at[i] = fma(h, along<Stage>(k, i, std::make_integer_sequence<int, Stage - 1>{}), y[i]);
    rates(there, at, k[Stage]);
  }

  void work(Task* const* tasks, std::size_t count) {
    Task*       seated[V::size];
    std::size_t next = 0;
    int         open = 0;
    for (int lane = 0; lane < lanes; ++lane) {
      seated[lane] = next < count ? tasks[next++] : nullptr;
      open += seated[lane] != nullptr ? 1 : 0;
      seat(seated[lane] != nullptr ? *seated[lane] : *tasks[0], lane);
    }
    while (open > 0) {
      const V tau = tau_.get(0), rest = tau_end_.get(0).value() - tau;
      T       y[N], k[Pair::stages][N], to[N];
      for (int i = 0; i < N; ++i) {
        y[i]    = y_.get(i);
        k[0][i] = slope_.get(i);
      }
      V h = step_.get(0);
      // as in stepper.hpp: a fine apex that blunts falls behind the estimate of the error
      const V    growth = k[0][0].value();
      const Mask blunts = growth > 0.0;
      h                 = select(blunts, min(h, blunting_step * (y[0].value() + 1e-3) / growth), h);
      h                 = select(h >= rest, rest, min(h, 0.5 * rest));
      // e^(−τ) at the nodes of the pair, 1/5, 3/10, 4/5, 8/9 and 1, all from the ninetieth of the step
      const V     left = left_.get(0);
      const V     x = exp(h * (-1.0 / 90.0)), x2 = x * x, x4 = x2 * x2, x8 = x4 * x4, x9 = x8 * x;
      const V     x18 = x9 * x9, x36 = x18 * x18, x72 = x36 * x36, x90 = x72 * x18;
      const Place fifth = place(tau + 0.2 * h, left * x18), third = place(tau + 0.3 * h, left * (x18 * x9));
      const Place most     = place(tau + 0.8 * h, left * x72),
                  near_end = place(tau + h * (8.0 / 9.0), left * (x72 * x8));
      const Place end      = place(tau + h, left * x90);
      stage<1>(fifth, h, y, k, to);
      stage<2>(third, h, y, k, to);
      stage<3>(most, h, y, k, to);
      stage<4>(near_end, h, y, k, to);
      stage<5>(end, h, y, k, to);
      stage<6>(end, h, y, k, to);

      V over[N], of[N], slopes_over(0.0);
      for (int i = 0; i < N; ++i) {
        T error = k[0][i] * V(Pair::error[0]);
        for (int j = 2; j < Pair::stages; ++j) error = fma(V(Pair::error[j]), k[j][i], error);
        V allowed = absolute_ + relative_ * max(abs(y[i].value()), abs(to[i].value()));
        if (i == 2) {  // freshness: what matters is the share of the cut
          allowed = relative_ * (to[i].value() + constant_.get(Task::least_fresh).value());
        }
        if constexpr (T::slopes > 0) {
          // as in jet.hpp: derivatives to four times the tolerance, a small one to that of the largest
          V largest(0.0), off(0.0);
          for (int j = 1; j <= T::slopes; ++j) {
            largest = max(largest, max(abs(y[i].part(j)), abs(to[i].part(j))));
            off     = max(off, abs(error.part(j)));
          }
          const V of_slopes = 4.0 * ((i == 2 ? allowed : V(absolute_)) + relative_ * largest);
          slopes_over       = max(slopes_over, abs(h) * off / of_slopes);
        }
        if (i == 0) allowed = select(blunts, blunting_share * allowed, allowed);
        if (i == 1) allowed = 0.5 * allowed;  // its growth has joints, where the estimate is too low
        over[i] = abs(h * error.value());
        of[i]   = allowed;
      }
      V worst, sum;
      if constexpr (N == 1) {
        worst = sum = over[0] / of[0];
      } else {
        const V first = of[0] * of[1], rest_of = N > 3 ? of[2] * of[N - 1] : of[2];
        const V per = 1.0 / (first * rest_of);
        const V a = over[0] * of[1] * (rest_of * per), b = over[1] * of[0] * (rest_of * per);
        const V c = over[2] * (N > 3 ? of[N - 1] : V(1.0)) * (first * per);
        worst     = max(max(a, b), c);
        sum       = a + b + c;
        if constexpr (N > 3) {
          const V d = over[3] * of[2] * (first * per);
          worst     = max(worst, d);
          sum += d;
        }
      }
      if constexpr (T::slopes > 0) {
        worst = max(worst, slopes_over);
        sum += slopes_over;
      }
      Mask good = (worst <= 1.0) & (sum < 1e9);
      // h·0.9·error^(−1/5), between a fifth and five times as long
      V wish =
          h * select(sum < 1e9, 0.9 * fifth_root_of_inverse(min(max(worst, V(2e-4)), V(1800.0))), V(0.1));
      Mask ended   = V::nowhere();
      T    scratch = end.scratch;
      T    beyond(0.0);  // by which the end of a lane lies behind τ, with its derivatives
      if constexpr (N > 3) {
        // no strokes are left: once more to where the last one ends, until a straight line will do
        const Mask past = good & (to[3] < 1e-3);
        if (any(past)) {
          const T shift =
              -to[3] / k[6][3];  // in τ; k[6][3] < 0 there, and so is the shift where it went too far
          ended  = past & (abs(to[3].value()) <= 1e-3);
          beyond = select(ended, shift, beyond);
          for (int i = 0; i < N; ++i) to[i] = select(ended, to[i] + shift * k[6][i], to[i]);
          scratch = select(ended, scratch - shift * (scratch - constant_.get(Task::own_scratch)), scratch);
          good    = good & ((!past) | ended);
          wish    = select(past, max(h + shift.value(), 0.05 * h), wish);
          h       = select(ended, h + shift.value(), h);
        }
      }
      const auto close = [this](const T& value, const T& goal) {
        const T from = value - goal;
        Mask    near = abs(from.value()) <= 0.5 * (absolute_ + relative_ * goal.value());
        if constexpr (T::slopes > 0) {
          V largest(0.0), off(0.0);
          for (int j = 1; j <= T::slopes; ++j) {
            largest = max(largest, abs(goal.part(j)));
            off     = max(off, abs(from.part(j)));
          }
          near = near & (off <= 2.0 * (absolute_ + relative_ * largest));
        }
        return near;
      };
      const Mask settled =
          good & close(to[0], end.goal) & close(end.scratch, constant_.get(Task::own_scratch));
      const Mask finished = good & (h >= rest);
      for (int i = 0; i < N; ++i) {
        y_.set(i, select(good, to[i], y[i]));
        slope_.set(i, select(good, k[6][i], k[0][i]));
      }
      tau_.set(0, select(good, select(finished, tau_end_.get(0).value(), tau + h), tau));
      step_.set(0, wish);
      scratch_.set(0, scratch);
      left_.set(0, select(good, left * x90, left));
      const V steps = steps_.get(0) + 1.0;
      steps_.set(0, steps);
      const Mask tired = steps >= static_cast<double>(rules_.max_steps);
      if (!any(settled | finished | ended | tired)) continue;

      if constexpr (T::slopes > 0) {
        // where the end is given it moves with the parameters
        const Mask given = finished & (!ended);
        const T    moves = with_slopes_of<T>(V(0.0), tau_end_.get(0));
        beyond           = select(given, moves, beyond);
        scratch_.set(0,
                     select(given, scratch - moves * (scratch - constant_.get(Task::own_scratch)), scratch));
        for (int i = 0; i < N; ++i) y_.set(i, select(given, y_.get(i) + moves * k[6][i], y_.get(i)));
        moved_.set(0, beyond);
      }
      // 1 settled, 2 finished, 4 ended
      alignas(64) double what[V::size];
      (select(settled, V(1.0), V(0.0)) + select(finished, V(2.0), V(0.0)) + select(ended, V(4.0), V(0.0)))
          .store(what);
      for (int lane = 0; lane < lanes; ++lane) {
        if (seated[lane] == nullptr) continue;
        Task&   task    = *seated[lane];
        Outcome outcome = Outcome::open;
        if (what[lane] >= 4.0)
          outcome = Outcome::ended;
        else if (what[lane] >= 2.0)
          outcome = Outcome::finished;
        else if (what[lane] >= 1.0)
          outcome = Outcome::settled;
        else if (steps_.at[0][0][lane] >= rules_.max_steps)
          outcome = Outcome::given_up;
        if (outcome == Outcome::open) continue;
        rise(task, lane, outcome);
        if (next < count) {
          seated[lane] = tasks[next++];
          seat(*seated[lane], lane);
        } else {
          seated[lane] = nullptr;
          --open;
        }
      }
    }
  }

  const Rules&              rules_;
  double                    relative_, absolute_;
  Seats<T, Task::constants> constant_;
  Seats<T, N>               y_, slope_;
  Seats<T, 1>               tau_end_, scratch_, moved_;
  Seats<V, 1>               tau_, step_, left_, steps_;
};

}  // namespace arris::lanes
