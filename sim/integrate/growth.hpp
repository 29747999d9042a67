// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <limits>
#include <span>
#include <vector>

#include "sim/integrate/quadrature.hpp"
#include "sim/integrate/stepper.hpp"

/// Integration of a stage whose radius grows at a rate that depends on the radius alone: n(r) is then an integral, and the
/// end of the stage the root of one equation,
///     ∫ dr/ρ(r) = n   from r₀ to r,     dr = ρ(r)·( dr₀/ρ(r₀) − d∫ )
/// which is many times cheaper than steps of a solver, and as exact for derivatives as for values.
namespace arris {

namespace detail {

/// Walks along n(r) from one radius to the next. `Stage` has `growth(r)`, the rate ρ, and `joints()`, ascending radii where
/// ρ is less smooth than elsewhere.
template <class T, class Stage>
class GrowthWalk {
 public:
  GrowthWalk(const Stage& stage, const T& radius, const Tolerances& tolerances)
      : stage_(stage), radius_(radius), relative_(0.1 * tolerances.relative) {}

  /// Goes on by `count`; false where the rate is not positive or the integral not found. The walk is then over.
  [[nodiscard]] bool advance(double count) {
    const T      start = radius_;
    const T      rate  = stage_.growth(start);
    const double from  = Scalar<T>::value(start);
    if (!(from > 0.0) || !(Scalar<T>::value(rate) > 0.0)) return false;
    if (!(count > 0.0)) return true;

    T      spent(0.0);  // the integral so far, as far as `at`
    double at = from;
    for (const double joint : stage_.joints()) {
      if (!(joint > at)) continue;
      T piece(0.0);
      if (!strokes_between(at, joint, piece)) return false;
      if (Scalar<T>::value(spent) + Scalar<T>::value(piece) >= count)
        return finish(start, rate, at, joint, spent, count);
      spent += piece;
      at = joint;
    }
    return finish(start, rate, at, std::numeric_limits<double>::infinity(), spent, count);
  }

  [[nodiscard]] const T& radius() const { return radius_; }

 private:
  [[nodiscard]] bool strokes_between(double a, double b, T& sum) const {
    const auto slowness = [this](double r) {
      const T rate = stage_.growth(T(r));
      return Scalar<T>::value(rate) > 0.0 ? T(1.0 / rate) : T(not_given);
    };
    return add_integral(slowness, a, b, relative_, sum);
  }

  // the radius within [at, before] up to which `count` is spent: Newton's method on the integral, kept within its bracket
  [[nodiscard]] bool finish(const T& start, const T& start_rate, double at, double before, const T& spent,
                            double count) {
    const double left = count - Scalar<T>::value(spent);
    const double rate = Scalar<T>::value(stage_.growth(T(at)));
    if (!(rate > 0.0)) return false;
    double low = at, high = before;
    double r =
        std::min(std::sqrt(at * at + 2.0 * at * rate * left), before);  // exact if the section grows evenly
    for (int i = 0; i < 60; ++i) {
      T piece(0.0);
      if (!strokes_between(at, r, piece)) {  // there is no way there: look nearer
        high = r;
        r    = 0.5 * (low + r);
        continue;
      }
      const double behind = left - Scalar<T>::value(piece);
      double       next   = r + behind * Scalar<T>::value(stage_.growth(T(r)));
      if (!std::isfinite(next)) return false;
      (behind > 0.0 ? low : high) = r;
      // Newton's error is the square of the step before it
      if (std::abs(next - r) <= 0.01 * std::sqrt(relative_) * r)
        return arrive(start, start_rate, at, next, spent);
      if (!(next > low)) next = 0.5 * (low + r);
      if (!(next < high)) next = 0.5 * (high + r);
      r = next;
    }
    return false;
  }

  // `end` is the radius; what the parameters do to it follows from the integral up to there
  [[nodiscard]] bool arrive(const T& start, const T& start_rate, double at, double end, const T& spent) {
    radius_ = T(end);
    if constexpr (!std::is_same_v<T, double>) {
      T piece(0.0);
      if (!strokes_between(at, end, piece)) return false;
      const T change = (start - Scalar<T>::value(start)) / start_rate - spent - piece;
      radius_ += stage_.growth(T(end)) * (change - Scalar<T>::value(change));
    }
    return true;
  }

  const Stage& stage_;
  T            radius_;
  double       relative_;
};

}  // namespace detail

/// Integrates `stage` over `end` counts from `start`, as `integrate_stage` does and with the same meaning of `points` and
/// `visit`, where the rate depends on the radius alone. False where that way is not open, since the rate is not positive
/// throughout; nothing has been visited then, and `integrate_stage` has to do it. Looking at points does not change the end.
template <class T, class Stage, class Visit>
[[nodiscard]] bool integrate_growth(const Stage& stage, const std::array<T, 1>& start, double end,
                                    std::span<const double> points, Visit&& visit,
                                    const Tolerances& tolerances, StageEnd<T, 1>& result) {
  detail::GrowthWalk<T, Stage> whole(stage, start[0], tolerances);
  if (!whole.advance(end)) return false;
  if (!Scalar<T>::finite(whole.radius())) return false;
  detail::GrowthWalk<T, Stage> walk(stage, start[0], tolerances);
  std::vector<T>               radii;  // all of them before any is visited
  double                       at = 0.0;
  for (const double point : points) {
    if (point > end) break;
    if (point < end && !walk.advance(point - at)) return false;
    radii.push_back(point < end ? walk.radius() : whole.radius());
    at = point;
  }
  for (std::size_t i = 0; i < radii.size(); ++i) visit(points[i], std::array<T, 1>{radii[i]});
  result = {StageStatus::done, {whole.radius()}, T(end), 1};
  return true;
}

}  // namespace arris
