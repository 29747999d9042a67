// SPDX-License-Identifier: MIT
#pragma once

#include <limits>

#include "sim/integrate/lanes_array.hpp"
#include "sim/laws/burr.hpp"
#include "sim/laws/collapse.hpp"
#include "sim/laws/glazing.hpp"
#include "sim/laws/honing_floor.hpp"
#include "sim/laws/scratch.hpp"

/// The kernels that are integrals: the burr of an edge that has settled, and the radius in wood (growth.hpp). For the files that
/// lanes_kernel.hpp is included by.
namespace arris::lanes {

/// ∫ f over [a, b] by 15 nodes; lanes in which 7 of them disagree, or f is not finite, are put into `lost`. The bounds X may be
/// plain; what f returns may have derivatives, which the integral then has.
template <class X, class Mask, class F>
auto integral(const F& f, const X& a, const X& b, const Rules& rules, double allowed, Mask& lost) {
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

template <class T>
void rest_of_burr(Abrasion<T::slopes>* const* tasks, std::size_t count, const Rules& rules) {
  using V                 = typename T::Value;
  using Mask              = typename T::Mask;
  using Task              = Abrasion<T::slopes>;
  constexpr auto   lanes  = static_cast<std::size_t>(T::size);
  constexpr double window = 26.0;  // in units of 1/λ; what was raised before is worn off to 5e-12
  constexpr double panel  = 6.5;
  for (std::size_t first = 0; first < count; first += lanes) {
    const std::size_t              here = count - first < lanes ? count - first : lanes;
    LaneArray<T, Task::constants>  constant;
    LaneArray<T, Task::components> y;
    LaneArray<T, 2>                more;  // D, s
    LaneArray<V, 1>                rests;
    for (std::size_t i = 0; i < lanes; ++i) {
      const int   lane = static_cast<int>(i);
      const Task& task = *tasks[first + (i < here ? i : 0)];
      for (int k = 0; k < Task::constants; ++k) constant.load(k, lane, task.constant[k]);
      for (int k = 0; k < Task::components; ++k) y.load(k, lane, task.y[k]);
      more.load(0, lane, task.removed);
      more.load(1, lane, task.scratch);
      rests.at[0][0][i] = task.outcome == Outcome::settled ? 1.0 : 0.0;
    }
    const auto                 c = [&](int k) { return constant.get(k); };
    const laws::Glazing<T>     glaze{c(Task::glaze_floor), T(1.0 / c(Task::glaze_rate))};
    const laws::HoningFloor<T> floor{c(Task::per_scratch), T(0.0), T(0.0), T(2.0), c(Task::least_um2)};
    const T    land_start = c(Task::land_start), slope = c(Task::land_slope), pace = c(Task::pace);
    const T    fresh_start = c(Task::fresh_start), loss = c(Task::loss);
    const auto fresh_at     = [&](const T& n) { return T(fresh_start * glaze.freshness(n)); };
    const auto effective_at = [&](const T& n, const T& fresh) {
      return glaze.effective_between(n, fresh_start, fresh);
    };

    // strokes so far, by the depth: the freshness that was integrated is a start, Newton's method does the rest
    const T depth     = more.get(0);
    const T effective = pace * depth * (land_start + 0.5 * slope * depth);
    T       n =
        (effective - glaze.strokes * ((1.0 - glaze.floor) * fresh_start - y.get(Task::fresh))) / glaze.floor;
    n = max(n, T(0.0));
    for (int i = 0; i < 2; ++i) {
      const T fresh = fresh_at(n);
      n -= (effective_at(n, fresh) - effective) / glaze.share_when(fresh);
    }
    const Mask settled = rests.get(0) > 0.5;
    const T    given   = c(Task::count);
    const Mask counted = given < 0.0;
    const T    to      = select(counted, n + select(settled, y.get(Task::left), T(0.0)), given);

    const T raise =
        c(Task::growth) / pace * laws::burr_opening(y.get(Task::radius), floor.radius_um(more.get(1)));
    const auto growth = [&](const T& at) {
      const T fresh = fresh_at(at);
      const T land  = sqrt(land_start * land_start + 2.0 * slope / pace * effective_at(at, fresh));
      return T(raise * glaze.share_when(fresh) / land * exp(-loss * (to - at)));
    };
    Mask    lost   = V::nowhere();
    const T from   = select(settled, max(n, to - window / loss), to);
    T       burr   = y.get(Task::burr) * exp(-loss * select(settled, to - n, T(0.0)));
    const V panels = max(V(1.0), ceil((to - from).value() * loss.value() / panel));
    T       grown(0.0);
    for (double p = 0.0; any(settled & (V(p) < panels)); p += 1.0) {
      const T    width = (to - from) / panels;
      Mask       off   = V::nowhere();
      const T    piece = integral(growth, T(from + p * width), T(from + (p + 1.0) * width), rules,
                                  rules.burr_difference, off);
      const Mask mine  = settled & (V(p) < panels);
      grown            = select(mine, grown + piece, grown);
      lost             = lost | (mine & off & (raise > 0.0));
    }
    burr += grown;
    y.set(Task::burr, burr);
    more.set(0, to);
    rests.set(0, select(lost | !(abs(burr.value()) + abs(to.value()) < 1e300), V(1.0), V(0.0)));
    for (std::size_t i = 0; i < here; ++i) {
      const int lane = static_cast<int>(i);
      Task&     task = *tasks[first + i];
      y.store(Task::burr, lane, task.y[Task::burr]);
      more.store(0, lane, task.strokes);
      if (task.outcome == Outcome::settled && task.constant[Task::count].value() < 0.0)
        task.y[Task::left] = 0.0;
      task.outcome = rests.at[0][0][i] != 0.0 ? Outcome::given_up : Outcome::finished;
    }
  }
}

/// A law with its parameters from `numbers`, in the order of its fields.
template <class Law, class Numbers>
Law law_of(const Numbers& numbers) {
  Law law;
  int k = 0;
  Law::fields([&](const auto&, auto& member) { member = numbers(k++); }, law);
  return law;
}

template <class T, template <class> class Law>
void growth_in_wood(Growth<T::slopes>* const* tasks, std::size_t count, const Rules& rules) {
  using V                = typename T::Value;
  using Mask             = typename T::Mask;
  using Task             = Growth<T::slopes>;
  constexpr auto lanes   = static_cast<std::size_t>(T::size);
  constexpr int  numbers = Task::most_numbers;
  const V        infinity(std::numeric_limits<double>::infinity());
  for (std::size_t first = 0; first < count; first += lanes) {
    const std::size_t         here = count - first < lanes ? count - first : lanes;
    LaneArray<T, numbers + 3> varying;  // those of the law, r_c, L_c, the radius
    LaneArray<V, 3>           other;    // joints and path
    for (std::size_t i = 0; i < lanes; ++i) {
      const int   lane = static_cast<int>(i);
      const Task& task = *tasks[first + (i < here ? i : 0)];
      for (int k = 0; k < numbers; ++k) varying.load(k, lane, task.law[k]);
      varying.load(numbers, lane, task.critical_radius);
      varying.load(numbers + 1, lane, task.collapse_length);
      varying.load(numbers + 2, lane, task.radius);
      other.at[0][0][i] = task.joint[0];
      other.at[1][0][i] = task.joint[1];
      other.at[2][0][i] = task.path;
    }
    const auto              value = [&](int k) { return V::load(varying.at[k][0]); };
    const Law<V>            law   = law_of<Law<V>>(value);
    const laws::Collapse<V> collapse{value(numbers), value(numbers + 1)};
    const V                 path = other.get(2), start = value(numbers + 2);
    const auto              rate     = [&](const V& r) { return V(law.rate(r, V(0.0)) + collapse.rate(r)); };
    const auto              slowness = [&](const V& r) { return V(1.0 / rate(r)); };

    Mask lost = !((start > 0.0) & (rate(start) > 0.0));
    V    at = start, spent(0.0), before = infinity;
    Mask found = V::nowhere();  // in which interval between joints it ends
    V    passed[2];             // joints that are behind it, or where it starts
    for (int j = 0; j < 2; ++j) {
      const V    joint = other.get(j);
      const Mask goes  = (joint > at) & (!found);
      passed[j]        = at;
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
      passed[j]        = at;
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
    T radius(end);
    if constexpr (T::slopes > 0) {
      // dr = ρ(r)·( dr₀/ρ(r₀) − d∫ ), the integral from r₀ to r by pieces between joints (growth.hpp)
      const auto              number = [&](int k) { return varying.get(k); };
      const Law<T>            moving = law_of<Law<T>>(number);
      const laws::Collapse<T> giving{number(numbers), number(numbers + 1)};
      const auto slow = [&](const V& x) { return T(1.0 / (moving.rate(T(x), T(0.0)) + giving.rate(T(x)))); };
      T          sum(0.0);
      V          from = start;
      for (const V& to : {passed[0], passed[1], end}) {
        Mask       off  = V::nowhere();
        const Mask some = (to > from) & !lost;
        if (any(some)) {
          const T piece = integral_in_pieces(slow, from, to, rules, rules.growth_difference, some, off);
          sum           = select(some, sum + piece, sum);
          lost          = lost | (some & off);
        }
        from = to;
      }
      const T change = number(numbers + 2) * slowness(start) - sum;
      radius         = with_slopes_of<T>(end, change * rate(end));
    }
    varying.set(numbers + 2, radius);
    other.set(0, select(lost, V(1.0), V(0.0)));
    for (std::size_t i = 0; i < here; ++i) {
      Task& task = *tasks[first + i];
      varying.store(numbers + 2, static_cast<int>(i), task.radius);
      task.outcome = other.at[0][0][i] != 0.0 ? Outcome::given_up : Outcome::finished;
    }
  }
}

}  // namespace arris::lanes
