// SPDX-License-Identifier: MIT
#pragma once

#include <limits>

#include "sim/integrate/lanes_integrals.hpp"
#include "sim/laws/collapse.hpp"
#include "sim/laws/wear/registry.hpp"

/// The kernel of edges in wood (growth.hpp), one law after the other. Included by one file per instruction set, to which holds what
/// lanes_kernel.hpp says.
namespace arris::lanes {

/// A law with its parameters from `numbers`, in the order of its fields.
template <class Law, class Numbers>
Law law_of(const Numbers& numbers) {
  Law law;
  int k = 0;
  Law::fields([&](const auto&, auto& member) { member = numbers(k++); }, law);
  return law;
}

/// An edge in wood by a law that depends on the radius alone, for as many tasks as there are lanes (growth.hpp).
template <class T, template <class> class Law>
class GrowthInWood {
  using V                       = typename T::Value;
  using Mask                    = typename V::Mask;
  using Task                    = Growth<T::slopes>;
  static constexpr auto lanes   = static_cast<std::size_t>(T::size);
  static constexpr auto numbers = static_cast<int>(laws::parameters_of<Law>);

 public:
  static void run(Task* const* tasks, std::size_t count, const Rules& rules) {
    for (std::size_t first = 0; first < count; first += lanes)
      GrowthInWood(tasks + first, count - first < lanes ? count - first : lanes, rules).work();
  }

 private:
  GrowthInWood(Task* const* tasks, std::size_t here, const Rules& rules)
      : tasks_(tasks), here_(here), rules_(rules) {
    for (std::size_t i = 0; i < lanes; ++i) {
      const int   lane = static_cast<int>(i);
      const Task& task = *tasks[i < here ? i : 0];
      for (int k = 0; k < numbers; ++k) varying_.load(k, lane, task.law[k]);
      varying_.load(numbers, lane, task.critical_radius);
      varying_.load(numbers + 1, lane, task.collapse_length);
      varying_.load(numbers + 2, lane, task.radius);
      other_.at[0][0][i] = task.joint[0];
      other_.at[1][0][i] = task.joint[1];
      other_.at[2][0][i] = task.path;
    }
    law_      = law_of<Law<V>>([&](int k) { return value(k); });
    collapse_ = {value(numbers), value(numbers + 1)};
    start_    = value(numbers + 2);
  }

  [[nodiscard]] V value(int k) const { return V::load(varying_.at[k][0]); }
  [[nodiscard]] V rate(const V& r) const { return V(law_.rate(r, V(0.0)) + collapse_.rate(r)); }
  [[nodiscard]] V slowness(const V& r) const { return V(1.0 / rate(r)); }
  [[nodiscard]] V path_between(const V& from, const V& to, const Mask& wanted, Mask& off) const {
    return integral_in_pieces([this](const V& r) { return slowness(r); }, from, to, rules_,
                              rules_.growth_difference, wanted, off);
  }

  /// The interval between joints in which the path ends.
  struct Interval {
    V at, before;  // its ends; `before` may be infinite
    V spent{0.0};  // path up to its beginning
    V passed[2];   // joints that are behind it, or where it starts
  };

  [[nodiscard]] Interval interval_of_end(Mask& lost) const {
    const V  path = other_.get(2);
    Interval out;
    out.at     = start_;
    out.before = V(std::numeric_limits<double>::infinity());
    Mask found = V::nowhere();
    for (int j = 0; j < 2; ++j) {
      const V    joint = other_.get(j);
      const Mask goes  = (joint > out.at) & (!found);
      out.passed[j]    = out.at;
      if (!any(goes)) continue;
      Mask       off   = V::nowhere();
      const V    piece = path_between(out.at, select(goes, joint, out.at), goes, off);
      const Mask ends  = goes & (out.spent + piece >= path);
      out.before       = select(ends, joint, out.before);
      found            = found | ends;
      lost             = lost | (goes & off);
      out.spent        = select(goes & (!ends), out.spent + piece, out.spent);
      out.at           = select(goes & (!ends), joint, out.at);
      out.passed[j]    = out.at;
    }
    return out;
  }

  // About the radius at the end of a path, by a step of Runge and Kutta's for the section r², which grows more evenly than r does
  [[nodiscard]] V first_guess(const V& from, const V& path) const {
    const V    section = from * from;
    const auto growth  = [&](const V& y) {
      const V r = V(sqrt(y));
      return V(2.0 * path * r * rate(r));
    };
    const V first = growth(section), second = growth(section + 0.5 * first),
            third = growth(section + 0.5 * second), fourth = growth(section + third);
    return V(sqrt(section + (first + 2.0 * (second + third) + fourth) * (1.0 / 6.0)));
  }

  // the radius up to which the path is spent: Newton's method on the integral, within its bracket
  [[nodiscard]] V radius_at_end(const Interval& in, Mask& lost) const {
    const V left = other_.get(2) - in.spent;
    V       low = in.at, high = in.before;
    V       r       = min(first_guess(in.at, left), in.before);
    V       end     = r;
    Mask    arrived = lost;
    for (int i = 0; i < 12 && !all(arrived); ++i) {
      Mask       off      = V::nowhere();
      const V    behind   = left - path_between(in.at, r, !arrived, off);
      V          next     = r + behind * rate(r);
      const Mask short_of = behind > 0.0;
      low                 = select(short_of, r, low);
      high                = select(short_of, high, r);
      const Mask there    = (!arrived) & (abs(next - r) <= rules_.growth_newton * r);
      lost                = lost | (there & off);
      end                 = select(there, next, end);
      arrived             = arrived | there;
      next                = select(next > low, next, 0.5 * (low + r));
      next                = select(next < high, next, 0.5 * (high + r));
      r                   = next;
    }
    lost = lost | !arrived | !((end > 0.0) & (end < std::numeric_limits<double>::infinity()));
    return end;
  }

  // dr = ρ(r)·( dr₀/ρ(r₀) − d∫ ), the integral from r₀ to r by pieces between joints (growth.hpp)
  [[nodiscard]] T with_slopes(const V& end, const Interval& in, Mask& lost) const {
    const auto              number = [&](int k) { return varying_.get(k); };
    const Law<T>            moving = law_of<Law<T>>(number);
    const laws::Collapse<T> giving{number(numbers), number(numbers + 1)};
    const auto slow = [&](const V& x) { return T(1.0 / (moving.rate(T(x), T(0.0)) + giving.rate(T(x)))); };
    T          sum(0.0);
    V          from = start_;
    for (const V& to : {in.passed[0], in.passed[1], end}) {
      Mask       off  = V::nowhere();
      const Mask some = (to > from) & !lost;
      if (any(some)) {
        const T piece = integral_in_pieces(slow, from, to, rules_, rules_.growth_difference, some, off);
        sum           = select(some, sum + piece, sum);
        lost          = lost | (some & off);
      }
      from = to;
    }
    const T change = number(numbers + 2) * slowness(start_) - sum;
    return with_slopes_of<T>(end, change * rate(end));
  }

  void work() {
    Mask           lost     = !((start_ > 0.0) & (rate(start_) > 0.0));
    const Interval interval = interval_of_end(lost);
    const V        end      = radius_at_end(interval, lost);
    T              radius(end);
    if constexpr (T::slopes > 0) radius = with_slopes(end, interval, lost);
    give_back(radius, lost);
  }

  void give_back(const T& radius, const Mask& lost) {
    varying_.set(numbers + 2, radius);
    other_.set(0, select(lost, V(1.0), V(0.0)));
    for (std::size_t i = 0; i < here_; ++i) {
      Task& task = *tasks_[i];
      varying_.store(numbers + 2, static_cast<int>(i), task.radius);
      task.outcome = other_.at[0][0][i] != 0.0 ? Outcome::given_up : Outcome::finished;
    }
  }

  Task* const*              tasks_;
  std::size_t               here_;
  const Rules&              rules_;
  LaneArray<T, numbers + 3> varying_;  // those of the law, r_c, L_c, the radius
  LaneArray<V, 3>           other_;    // joints and path
  Law<V>                    law_;
  laws::Collapse<V>         collapse_;
  V                         start_;
};

/// The tasks of the law that stands at `law` in `Laws`; none are made of a law that depends on the path.
template <class T, template <class> class... Laws>
void growth_of(laws::WearLawList<Laws...>, Growth<T::slopes>* const* tasks, std::size_t count,
               std::size_t law, const Rules& rules) {
  std::size_t at  = 0;
  const auto  one = [&]<template <class> class Law>() {
    if constexpr (Law<typename T::Value>::by_radius_alone()) {
      if (at == law) GrowthInWood<T, Law>::run(tasks, count, rules);
    }
    ++at;
  };
  (one.template operator()<Laws>(), ...);
}

template <class T>
void GrowthKernel<T>::run(Growth<T::slopes>* const* tasks, std::size_t count, std::size_t law,
                          const Rules& rules) {
  growth_of<T>(laws::BuiltInWearLaws{}, tasks, count, law, rules);
}

}  // namespace arris::lanes
