// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include "sim/integrate/lanes_array.hpp"
#include "sim/laws/glazing.hpp"

/// Integrals over several lanes at once, and the strokes that they give of a depth.
namespace arris::lanes {

/// ∫ f over [a, b] by 15 nodes; lanes in which 7 of them disagree, or f is not finite, are put into `lost`. The bounds X may be
/// plain; what f returns may have derivatives, which the integral then has.
template <class X, class Mask, class F>
[[gnu::always_inline]] inline auto integral(const F& f, const X& a, const X& b, const Rules& rules,
                                            double allowed, Mask& lost) {
  const X    middle = 0.5 * (a + b), half = 0.5 * (b - a);
  const auto centre = f(middle);
  auto       fine   = centre * rules.weight[0];
  auto       coarse = rules.weight_7[0] * centre.value();
  for (int i = 1; i < 8; ++i) {
    const auto both = f(X(middle - half * rules.node[i])) + f(X(middle + half * rules.node[i]));
    fine += both * rules.weight[i];
    if (i % 2 == 0) coarse += rules.weight_7[i / 2] * both.value();
  }
  lost = lost | !(abs(fine.value() - coarse) <= allowed * abs(fine.value()));
  return fine * half;
}

/// The same in 2, 4 or 8 pieces in those lanes of `wanted` that it takes; what it takes is for each lane to say.
template <class X, class Mask, class F>
auto integral_in_pieces(const F& f, const X& a, const X& b, const Rules& rules, double allowed,
                        const Mask& wanted, Mask& lost) {
  Mask off = X::Value::nowhere();
  auto sum = integral(f, a, b, rules, allowed, off);
  for (double pieces = 2.0; pieces <= 8.0 && any(wanted & off); pieces *= 2.0) {
    const X       width = (b - a) * (1.0 / pieces);
    Mask          still = X::Value::nowhere();
    decltype(sum) finer(0.0);
    for (double p = 0.0; p < pieces; p += 1.0)
      finer += integral(f, X(a + p * width), X(a + (p + 1.0) * width), rules, allowed, still);
    sum = select(off, finer, sum);
    off = off & still;
  }
  lost = lost | off;
  return sum;
}

/// The strokes so far of tasks that count them from the burr on, by the depth they came to, for as many tasks as there are lanes.
template <class T>
class StrokesSoFar {
  using Task                  = Abrasion<T::slopes>;
  static constexpr auto lanes = static_cast<std::size_t>(T::size);

 public:
  static void run(Task* const* tasks, std::size_t count) {
    for (std::size_t first = 0; first < count; first += lanes)
      StrokesSoFar(tasks + first, count - first < lanes ? count - first : lanes).work();
  }

 private:
  StrokesSoFar(Task* const* tasks, std::size_t here) : tasks_(tasks), here_(here) {
    for (std::size_t i = 0; i < lanes; ++i) {
      const int   lane = static_cast<int>(i);
      const Task& task = *tasks[i < here ? i : 0];
      for (int k = 0; k < Task::constants; ++k) constant_.load(k, lane, task.constant[k]);
      more_.load(0, lane, task.removed);
      more_.load(1, lane, task.y[Task::fresh]);
    }
  }

  // the freshness that was integrated is a start, Newton's method does the rest
  [[nodiscard]] T strokes() const {
    const auto             c = [this](int k) { return constant_.get(k); };
    const laws::Glazing<T> glaze{c(Task::glaze_floor), T(1.0 / c(Task::glaze_rate))};
    const T                start = c(Task::fresh_start), depth = more_.get(0);
    const T effective = c(Task::pace) * depth * (c(Task::land_start) + 0.5 * c(Task::land_slope) * depth);
    T       n = (effective - glaze.strokes * ((1.0 - glaze.floor) * start - more_.get(1))) / glaze.floor;
    n         = max(n, T(0.0));
    for (int i = 0; i < 2; ++i) {
      const T fresh = start * glaze.freshness(n);
      n -= (glaze.effective_between(n, start, fresh) - effective) / glaze.share_when(fresh);
    }
    return n;
  }

  void work() {
    more_.set(0, strokes());
    for (std::size_t i = 0; i < here_; ++i) more_.store(0, static_cast<int>(i), tasks_[i]->strokes);
  }

  Task* const*                  tasks_;
  std::size_t                   here_;
  LaneArray<T, Task::constants> constant_;
  LaneArray<T, 2>               more_;  // D, then strokes; share of the cut beyond its floor
};

/// Edges in wood (lanes_growth.hpp), compiled in files of their own: so a law of wear that changes compiles no abrasion again.
template <class T>
struct GrowthKernel {
  /// `law`: place in BuiltInWearLaws; nothing happens for a law that depends on the path.
  static void run(Growth<T::slopes>* const* tasks, std::size_t count, std::size_t law, const Rules& rules);
};

}  // namespace arris::lanes
