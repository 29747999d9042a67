// SPDX-License-Identifier: MIT
#pragma once

#include <limits>
#include <utility>

#include "sim/integrate/lanes_number.hpp"
#include "sim/integrate/lanes_tasks.hpp"
#include "sim/laws/burr.hpp"
#include "sim/laws/collapse.hpp"
#include "sim/laws/glazing.hpp"
#include "sim/laws/honing_floor.hpp"
#include "sim/laws/scratch.hpp"
#include "sim/laws/wear/constant_rate.hpp"
#include "sim/laws/wear/power.hpp"
#include "sim/laws/wear/shared_load.hpp"
#include "sim/laws/wear/square_root.hpp"

/// The kernels of lanes_tasks.hpp over a register type. Included by one file per instruction set, compiled for that set:
/// only templates over the register type may come out of such a file, since the linker keeps one copy of anything else.
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

/// Where tasks sit while they are worked on: number k of lane i at [k][i].
template <class V, int Count>
struct Seats {
  alignas(64) double at[Count][V::size];

  [[nodiscard]] V get(int k) const { return V::load(at[k]); }
  void            set(int k, const V& x) { x.store(at[k]); }
};

/// The components of an abrasion task that are integrated.
template <BurrIn burr>
inline constexpr int integrated = burr == BurrIn::closed_form  ? 1
                                  : burr == BurrIn::integrated ? 3
                                                               : 4;

template <class V, BurrIn burr>
class AbrasionKernel {
 public:
  static void run(Abrasion* const* tasks, std::size_t count, const Rules& rules) {
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
    V scratch;        // s
    V depth_rate;     // dD/dτ
    V goal;           // r∞
    V per_goal;       // 1/r∞
    V fresh_strokes;  // dn/dτ on a fresh medium
  };
  // at τ, where e^(−τ) is `left`
  Place place(const V& tau, const V& left) const {
    const auto                   c = [this](int k) { return constant_.get(k); };
    const laws::ScratchMemory<V> memory{c(Abrasion::own_scratch), c(Abrasion::excess_scratch)};
    const laws::HoningFloor<V>   floor{c(Abrasion::per_scratch), V(0.0), V(0.0), V(2.0),
                                     c(Abrasion::least_um2)};
    Place                        p;
    p.scratch    = memory.scratch_um(left);
    p.depth_rate = memory.depth_rate(p.scratch);
    p.goal       = floor.radius_um(p.scratch);
    p.per_goal   = 1.0 / p.goal;
    if constexpr (N > 1) {
      const V land    = c(Abrasion::land_start) + c(Abrasion::land_slope) * memory.depth_um(tau, left);
      p.fresh_strokes = p.depth_rate * land * c(Abrasion::pace);
    }
    return p;
  }
  void rates(const Place& p, const V (&y)[N], V (&dy)[N]) const {
    const auto c = [this](int k) { return constant_.get(k); };
    // distance and opening depend on r/r∞ alone; a division costs as much as ten products, so that one serves two
    const V times_goal = y[0] * p.per_goal;
    V       share(1.0);
    if constexpr (N > 1) share = laws::Glazing<V>{c(Abrasion::glaze_floor), V(1.0)}.share_when(y[2]);
    const V both = 1.0 / (times_goal * share);
    dy[0]        = c(Abrasion::fall) * p.depth_rate * laws::HoningFloor<V>::distance_of(both * share);
    if constexpr (N > 1) {
      const V strokes = p.fresh_strokes * (both * times_goal);
      dy[1]           = c(Abrasion::growth) * p.depth_rate * laws::burr_opening_at(times_goal) -
              c(Abrasion::loss) * strokes * y[1];
      dy[2] = -strokes * y[2] * c(Abrasion::glaze_rate);
      if constexpr (N > 3) dy[3] = -strokes * laws::burr_raised(y[0], c(Abrasion::own_floor));
    }
  }

  // the end in τ, the first rates and the first step of up to a register of tasks
  void prepare(Abrasion* const* tasks, std::size_t count) {
    const int here = count < V::size ? static_cast<int>(count) : lanes;
    for (int lane = 0; lane < lanes; ++lane) seat(*tasks[lane < here ? lane : 0], lane);
    const V                      depth = constant_.get(Abrasion::depth);
    const laws::ScratchMemory<V> memory{constant_.get(Abrasion::own_scratch),
                                        constant_.get(Abrasion::excess_scratch)};
    // D(τ) is monotone, and concave or convex: Newton's method converges from either end
    V    tau   = depth / memory.depth_rate(memory.scratch_um(V(1.0)));
    Mask found = V::nowhere();
    for (int i = 0; i < 60 && !all(found); ++i) {
      const V left   = exp(-tau);
      const V change = (depth - memory.depth_um(tau, left)) / memory.depth_rate(memory.scratch_um(left));
      tau            = select(found, tau, tau + change);
      found          = found | (abs(change) <= 1e-13 * tau);
    }
    V y[N], dy[N];
    for (int k = 0; k < N; ++k) y[k] = y_.get(k);
    const Place here_now = place(V(0.0), V(1.0));
    rates(here_now, y, dy);
    V step = min(V(0.3), 0.2 * (y[0] + 1e-3) / abs(dy[0]));
    if constexpr (N > 1)
      step = min(step, 0.5 / (here_now.fresh_strokes * constant_.get(Abrasion::loss) + 1e-3));
    alignas(64) double end[V::size], first[V::size], s[V::size], slope[N][V::size];
    tau.store(end);
    step.store(first);
    here_now.scratch.store(s);
    for (int k = 0; k < N; ++k) dy[k].store(slope[k]);
    for (int lane = 0; lane < here; ++lane) {
      Abrasion& task = *tasks[lane];
      task.tau       = 0.0;
      task.tau_end   = end[lane];
      task.step      = first[lane];
      task.steps     = 0;
      task.scratch   = s[lane];
      for (int k = 0; k < N; ++k) task.slope[k] = slope[k][lane];
    }
  }

  void seat(const Abrasion& task, int lane) {
    for (int k = 0; k < Abrasion::constants; ++k) constant_.at[k][lane] = task.constant[k];
    for (int k = 0; k < N; ++k) {
      y_.at[k][lane]     = task.y[k];
      slope_.at[k][lane] = task.slope[k];
    }
    tau_.at[0][lane]     = task.tau;
    tau_end_.at[0][lane] = task.tau_end;
    step_.at[0][lane]    = task.step;
    left_.at[0][lane]    = 1.0;
    steps_.at[0][lane]   = 0.0;
  }
  void rise(Abrasion& task, int lane, Outcome outcome) const {
    for (int k = 0; k < N; ++k) task.y[k] = y_.at[k][lane];
    task.tau     = tau_.at[0][lane];
    task.scratch = scratch_.at[0][lane];
    task.steps   = static_cast<int>(steps_.at[0][lane]);
    task.outcome = outcome;
  }

  template <int Stage, int... J>
  static V along(const V (&k)[Pair::stages][N], int i, std::integer_sequence<int, J...>) {
    V sum = V(Pair::row[Stage][0]) * k[0][i];
    ((Pair::row[Stage][J + 1] != 0.0 ? void(sum = fma(V(Pair::row[Stage][J + 1]), k[J + 1][i], sum))
                                     : void()),
     ...);
    return sum;
  }
  template <int Stage>
  void stage(const Place& there, const V& h, const V (&y)[N], V (&k)[Pair::stages][N], V (&at)[N]) const {
    for (int i = 0; i < N; ++i)
      at[i] = fma(h, along<Stage>(k, i, std::make_integer_sequence<int, Stage - 1>{}), y[i]);
    rates(there, at, k[Stage]);
  }

  void work(Abrasion* const* tasks, std::size_t count) {
    Abrasion*   seated[V::size];
    std::size_t next = 0;
    int         open = 0;
    for (int lane = 0; lane < lanes; ++lane) {
      seated[lane] = next < count ? tasks[next++] : nullptr;
      open += seated[lane] != nullptr ? 1 : 0;
      seat(seated[lane] != nullptr ? *seated[lane] : *tasks[0], lane);
    }
    while (open > 0) {
      const V tau = tau_.get(0), rest = tau_end_.get(0) - tau;
      V       y[N], k[Pair::stages][N], to[N];
      for (int i = 0; i < N; ++i) {
        y[i]    = y_.get(i);
        k[0][i] = slope_.get(i);
      }
      V h = step_.get(0);
      // as in stepper.hpp: a fine apex that blunts falls behind the estimate of the error
      h = select(k[0][0] > 0.0, min(h, blunting_step * (y[0] + 1e-3) / k[0][0]), h);
      h = select(h >= rest, rest, min(h, 0.5 * rest));
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

      V over[N], of[N];
      for (int i = 0; i < N; ++i) {
        V error = V(Pair::error[0]) * k[0][i];
        for (int j = 2; j < Pair::stages; ++j) error = fma(V(Pair::error[j]), k[j][i], error);
        V allowed = absolute_ + relative_ * max(abs(y[i]), abs(to[i]));
        if (i == 0) allowed = select(k[0][0] > 0.0, blunting_share * allowed, allowed);
        if (i == 2) {  // freshness: what matters is the share of the cut
          allowed = relative_ * (to[i] + constant_.get(Abrasion::least_fresh));
        }
        if (i == 1) allowed = 0.5 * allowed;  // its growth has joints, where the estimate is too low
        over[i] = abs(h * error);
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
      Mask good = (worst <= 1.0) & (sum < 1e9);
      // h·0.9·error^(−1/5), between a fifth and five times as long
      V wish =
          h * select(sum < 1e9, 0.9 * fifth_root_of_inverse(min(max(worst, V(2e-4)), V(1800.0))), V(0.1));
      Mask ended   = V::nowhere();
      V    scratch = end.scratch;
      if constexpr (N > 3) {
        // no strokes are left: once more to where the last one ends, until a straight line will do
        const Mask past = good & (to[3] < 1e-3);
        if (any(past)) {
          const V shift =
              -to[3] / k[6][3];  // in τ; k[6][3] < 0 there, and so is the shift where it went too far
          ended = past & (abs(to[3]) <= 1e-3);
          for (int i = 0; i < N; ++i) to[i] = select(ended, to[i] + shift * k[6][i], to[i]);
          scratch =
              select(ended, scratch - shift * (scratch - constant_.get(Abrasion::own_scratch)), scratch);
          good = good & ((!past) | ended);
          wish = select(past, max(h + shift, 0.05 * h), wish);
          h    = select(ended, h + shift, h);
        }
      }
      const auto close = [this](const V& value, const V& goal) {
        return abs(value - goal) <= 0.5 * (absolute_ + relative_ * goal);
      };
      const Mask settled =
          good & close(to[0], end.goal) & close(end.scratch, constant_.get(Abrasion::own_scratch));
      const Mask finished = good & (h >= rest);
      for (int i = 0; i < N; ++i) {
        y_.set(i, select(good, to[i], y[i]));
        slope_.set(i, select(good, k[6][i], k[0][i]));
      }
      tau_.set(0, select(good, select(finished, tau_end_.get(0), tau + h), tau));
      step_.set(0, wish);
      scratch_.set(0, scratch);
      left_.set(0, select(good, left * x90, left));
      const V steps = steps_.get(0) + 1.0;
      steps_.set(0, steps);
      const Mask tired = steps >= static_cast<double>(rules_.max_steps);
      if (!any(settled | finished | ended | tired)) continue;

      // 1 settled, 2 finished, 4 ended
      alignas(64) double what[V::size];
      (select(settled, V(1.0), V(0.0)) + select(finished, V(2.0), V(0.0)) + select(ended, V(4.0), V(0.0)))
          .store(what);
      for (int lane = 0; lane < lanes; ++lane) {
        if (seated[lane] == nullptr) continue;
        Abrasion& task    = *seated[lane];
        Outcome   outcome = Outcome::open;
        if (what[lane] >= 4.0)
          outcome = Outcome::ended;
        else if (what[lane] >= 2.0)
          outcome = Outcome::finished;
        else if (what[lane] >= 1.0)
          outcome = Outcome::settled;
        else if (steps_.at[0][lane] >= rules_.max_steps)
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

  const Rules&                  rules_;
  double                        relative_, absolute_;
  Seats<V, Abrasion::constants> constant_;
  Seats<V, N>                   y_, slope_;
  Seats<V, 1>                   tau_, tau_end_, step_, scratch_, left_, steps_;
};

/// ∫ f over [a, b] by 15 nodes; lanes in which 7 of them disagree, or f is not finite, are put into `lost`.
template <class V, class Mask, class F>
V integral(const F& f, const V& a, const V& b, const Rules& rules, double allowed, Mask& lost) {
  const V middle = 0.5 * (a + b), half = 0.5 * (b - a);
  const V centre = f(middle);
  V       fine   = rules.weight[0] * centre;
  V       coarse = rules.weight_7[0] * centre;
  for (int i = 1; i < 8; ++i) {
    const V both = f(V(middle - half * rules.node[i])) + f(V(middle + half * rules.node[i]));
    fine += rules.weight[i] * both;
    if (i % 2 == 0) coarse += rules.weight_7[i / 2] * both;
  }
  lost = lost | !(abs(fine - coarse) <= allowed * abs(fine));
  return half * fine;
}

/// The same in 2, 4 or 8 pieces in those lanes of `wanted` that it takes; what it takes is for each lane to say.
template <class V, class Mask, class F>
V integral_in_pieces(const F& f, const V& a, const V& b, const Rules& rules, double allowed,
                     const Mask& wanted, Mask& lost) {
  Mask off = V::nowhere();
  V    sum = integral(f, a, b, rules, allowed, off);
  for (double pieces = 2.0; pieces <= 8.0 && any(wanted & off); pieces *= 2.0) {
    const V width = (b - a) * (1.0 / pieces);
    Mask    still = V::nowhere();
    V       finer(0.0);
    for (double p = 0.0; p < pieces; p += 1.0)
      finer += integral(f, V(a + p * width), V(a + (p + 1.0) * width), rules, allowed, still);
    sum = select(off, finer, sum);
    off = off & still;
  }
  lost = lost | off;
  return sum;
}

template <class V>
void rest_of_burr(Abrasion* const* tasks, std::size_t count, const Rules& rules) {
  using Mask              = typename V::Mask;
  constexpr auto   lanes  = static_cast<std::size_t>(V::size);
  constexpr double window = 26.0;  // in units of 1/λ; what was raised before is worn off to 5e-12
  constexpr double panel  = 6.5;
  for (std::size_t first = 0; first < count; first += lanes) {
    const std::size_t              here = count - first < lanes ? count - first : lanes;
    Seats<V, Abrasion::constants>  constant;
    Seats<V, Abrasion::components> y;
    Seats<V, 3>                    more;  // τ, s, settled
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      const Abrasion& task = *tasks[first + (lane < here ? lane : 0)];
      for (int k = 0; k < Abrasion::constants; ++k) constant.at[k][lane] = task.constant[k];
      for (int k = 0; k < Abrasion::components; ++k) y.at[k][lane] = task.y[k];
      more.at[0][lane] = task.tau;
      more.at[1][lane] = task.scratch;
      more.at[2][lane] = task.outcome == Outcome::settled ? 1.0 : 0.0;
    }
    const auto                   c = [&](int k) { return constant.get(k); };
    const laws::ScratchMemory<V> memory{c(Abrasion::own_scratch), c(Abrasion::excess_scratch)};
    const laws::Glazing<V>       glaze{c(Abrasion::glaze_floor), V(1.0 / c(Abrasion::glaze_rate))};
    const laws::HoningFloor<V>   floor{c(Abrasion::per_scratch), V(0.0), V(0.0), V(2.0),
                                     c(Abrasion::least_um2)};
    const V land_start = c(Abrasion::land_start), slope = c(Abrasion::land_slope), pace = c(Abrasion::pace);
    const V fresh_start = c(Abrasion::fresh_start), loss = c(Abrasion::loss);
    const auto fresh_at     = [&](const V& n) { return V(fresh_start * glaze.freshness(n)); };
    const auto effective_at = [&](const V& n, const V& fresh) {
      return glaze.effective_between(n, fresh_start, fresh);
    };

    // strokes so far, by the depth: the freshness that was integrated is a start, Newton's method does the rest
    const V tau       = more.get(0);
    const V depth     = memory.depth_um(tau, V(exp(-tau)));
    const V effective = pace * depth * (land_start + 0.5 * slope * depth);
    V       n = (effective - (1.0 - glaze.floor) * glaze.strokes * (fresh_start - y.get(Abrasion::fresh))) /
          glaze.floor;
    n = max(n, V(0.0));
    for (int i = 0; i < 2; ++i) {
      const V fresh = fresh_at(n);
      n -= (effective_at(n, fresh) - effective) / glaze.share_when(fresh);
    }
    const Mask settled = more.get(2) > 0.5;
    const V    given   = c(Abrasion::count);
    const Mask counted = given < 0.0;
    const V    to      = select(counted, n + select(settled, y.get(Abrasion::left), V(0.0)), given);

    const V raise = c(Abrasion::growth) / pace *
                    laws::burr_opening(y.get(Abrasion::radius), floor.radius_um(more.get(1)));
    const auto growth = [&](const V& at) {
      const V fresh = fresh_at(at);
      const V land  = sqrt(land_start * land_start + 2.0 * slope / pace * effective_at(at, fresh));
      return V(raise * glaze.share_when(fresh) / land * exp(-loss * (to - at)));
    };
    Mask    lost   = V::nowhere();
    const V from   = select(settled, max(n, to - window / loss), to);
    V       burr   = y.get(Abrasion::burr) * exp(-loss * select(settled, to - n, V(0.0)));
    const V panels = max(V(1.0), ceil((to - from) * loss / panel));
    V       grown(0.0);
    for (double p = 0.0; any(settled & (V(p) < panels)); p += 1.0) {
      const V    width = (to - from) / panels;
      Mask       off   = V::nowhere();
      const V    piece = integral(growth, V(from + p * width), V(from + (p + 1.0) * width), rules,
                                  rules.burr_difference, off);
      const Mask mine  = settled & (V(p) < panels);
      grown            = select(mine, grown + piece, grown);
      lost             = lost | (mine & off & (raise > 0.0));
    }
    burr += grown;
    alignas(64) double b[lanes], strokes[lanes], failed[lanes];
    burr.store(b);
    to.store(strokes);
    select(lost | !(abs(burr) + abs(to) < 1e300), V(1.0), V(0.0)).store(failed);
    for (std::size_t lane = 0; lane < here; ++lane) {
      Abrasion& task         = *tasks[first + lane];
      task.y[Abrasion::burr] = b[lane];
      task.strokes           = strokes[lane];
      if (task.outcome == Outcome::settled && task.constant[Abrasion::count] < 0.0)
        task.y[Abrasion::left] = 0.0;
      task.outcome = failed[lane] != 0.0 ? Outcome::given_up : Outcome::finished;
    }
  }
}

/// A law with its parameters from `numbers`, in the order of its fields.
template <class Law, class Numbers>
Law law_of(const Numbers& numbers) {
  Law law;
  int k = 0;
  Law::fields([&](const auto&, auto& member) { member = numbers.get(k++); }, law);
  return law;
}

template <class V, template <class> class Law>
void growth_in_wood(Growth* const* tasks, std::size_t count, const Rules& rules) {
  using Mask             = typename V::Mask;
  constexpr auto lanes   = static_cast<std::size_t>(V::size);
  constexpr int  numbers = Growth::most_numbers;
  const V        infinity(std::numeric_limits<double>::infinity());
  for (std::size_t first = 0; first < count; first += lanes) {
    const std::size_t here = count - first < lanes ? count - first : lanes;
    Seats<V, numbers> of_law;
    Seats<V, 6>       other;
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      const Growth& task = *tasks[first + (lane < here ? lane : 0)];
      for (int k = 0; k < numbers; ++k) of_law.at[k][lane] = task.law[k];
      other.at[0][lane] = task.critical_radius;
      other.at[1][lane] = task.collapse_length;
      other.at[2][lane] = task.joint[0];
      other.at[3][lane] = task.joint[1];
      other.at[4][lane] = task.path;
      other.at[5][lane] = task.radius;
    }
    const Law<V>            law = law_of<Law<V>>(of_law);
    const laws::Collapse<V> collapse{other.get(0), other.get(1)};
    const V                 path = other.get(4), start = other.get(5);
    const auto              rate     = [&](const V& r) { return V(law.rate(r, V(0.0)) + collapse.rate(r)); };
    const auto              slowness = [&](const V& r) { return V(1.0 / rate(r)); };

    Mask lost = !((start > 0.0) & (rate(start) > 0.0));
    V    at = start, spent(0.0), before = infinity;
    Mask found = V::nowhere();  // in which interval between joints it ends
    for (int j = 2; j < 4; ++j) {
      const V    joint = other.get(j);
      const Mask goes  = (joint > at) & (!found);
      if (!any(goes)) continue;
      Mask       off   = V::nowhere();
      const V    piece = integral_in_pieces(slowness, at, select(goes, joint, at), rules,
                                            rules.growth_difference, goes, off);
      const Mask ends  = goes & (spent + piece >= path);
      before           = select(ends, joint, before);
      found            = found | ends;
      lost             = lost | (goes & off);
      spent            = select(goes & (!ends), spent + piece, spent);
      at               = select(goes & (!ends), joint, at);
    }
    // the radius up to which the path is spent: Newton's method on the integral, within its bracket
    const V left = path - spent;
    V       low = at, high = before;
    V       r       = min(V(sqrt(at * at + 2.0 * at * rate(at) * left)), before);
    V       end     = r;
    Mask    arrived = lost;
    for (int i = 0; i < 12 && !all(arrived); ++i) {
      Mask    off = V::nowhere();
      const V behind =
          left - integral_in_pieces(slowness, at, r, rules, rules.growth_difference, !arrived, off);
      V          next     = r + behind * rate(r);
      const Mask short_of = behind > 0.0;
      low                 = select(short_of, r, low);
      high                = select(short_of, high, r);
      const Mask there    = (!arrived) & (abs(next - r) <= rules.growth_newton * r);
      lost                = lost | (there & off);
      end                 = select(there, next, end);
      arrived             = arrived | there;
      next                = select(next > low, next, 0.5 * (low + r));
      next                = select(next < high, next, 0.5 * (high + r));
      r                   = next;
    }
    lost = lost | !arrived | !((end > 0.0) & (end < infinity));
    alignas(64) double radius[lanes], failed[lanes];
    end.store(radius);
    select(lost, V(1.0), V(0.0)).store(failed);
    for (std::size_t lane = 0; lane < here; ++lane) {
      Growth& task = *tasks[first + lane];
      task.radius  = radius[lane];
      task.outcome = failed[lane] != 0.0 ? Outcome::given_up : Outcome::finished;
    }
  }
}

template <class V>
void abrasion_by(Abrasion* const* tasks, std::size_t count, BurrIn burr, const Rules& rules) {
  if (count == 0) return;
  switch (burr) {
    case BurrIn::closed_form:
      return AbrasionKernel<V, BurrIn::closed_form>::run(tasks, count, rules);
    case BurrIn::integrated:
      return AbrasionKernel<V, BurrIn::integrated>::run(tasks, count, rules);
    case BurrIn::counted:
      return AbrasionKernel<V, BurrIn::counted>::run(tasks, count, rules);
  }
}

template <class V>
void growth_by(Growth* const* tasks, std::size_t count, std::size_t law, const Rules& rules) {
  // the order of BuiltInWearLaw, as lanes.cpp asserts
  if (law == 0) growth_in_wood<V, laws::SharedLoad>(tasks, count, rules);
  if (law == 1) growth_in_wood<V, laws::ConstantRate>(tasks, count, rules);
  if (law == 2) growth_in_wood<V, laws::SquareRoot>(tasks, count, rules);
  if (law == 3) growth_in_wood<V, laws::Power>(tasks, count, rules);
}

template <class V>
[[nodiscard]] const Kernels& kernels_over() {
  static const Kernels kernels{static_cast<int>(V::size), abrasion_by<V>, rest_of_burr<V>, growth_by<V>};
  return kernels;
}

}  // namespace arris::lanes
