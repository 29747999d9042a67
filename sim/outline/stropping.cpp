// SPDX-License-Identifier: MIT
#include "sim/outline/stropping.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <stdexcept>

#include <boost/math/special_functions/erf.hpp>

namespace arris::outline {

namespace {

double largest(const Recession& recession) {
  return recession.empty() ? 0.0 : *std::max_element(recession.begin(), recession.end());
}

/// Both sides of a lap take from the segments near the tip: what this side takes from the face and, mirrored, what the other does.
Recession both_sides(const Contact& contact) {
  Recession sum = contact.near;
  for (std::size_t i = 0; i < std::min(sum.size(), contact.far.size()); ++i) sum[i] += contact.far[i];
  return sum;
}

/// Angle of a lap, counted from 0.
double held_steeper(const Stropping& how, long lap) {
  if (!(how.scatter > 0.0)) return how.steeper;
  constexpr double golden = 0.61803398874989485;
  const double     at     = how.first_quantile + static_cast<double>(lap) * golden;
  const double     share  = std::clamp(at - std::floor(at), 1e-9, 1.0 - 1e-9);
  return how.steeper - how.scatter * std::sqrt(2.0) * boost::math::erfc_inv(2.0 * share);
}

class Strop {
 public:
  Strop(Outline& edge, const Pad& pad, const Stropping& how)
      : edge_(edge),
        how_(how),
        removal_um_(1e-6 * how.removal_um_per_MPa * pad.modulus_Pa),
        bevel_(pad),
        back_(pad) {}

  void to(double laps) {
    while (done_ < laps - 1e-9) {
      // a lap has one angle
      const auto   lap  = static_cast<long>(std::floor(done_ + 1e-9));
      const double left = std::min(laps, how_.scatter > 0.0 ? static_cast<double>(lap + 1) : laps) - done_;
      const double n    = std::min(step_, left);
      if (!take(n, held_steeper(how_, lap))) {
        step_ = 0.5 * n;
        continue;
      }
      done_ += n;
      ++effort_.steps;
      step_ = std::min({1.3 * step_, 1.0});
    }
  }

  [[nodiscard]] Effort effort() const {
    Effort all    = effort_;
    all.solutions = bevel_.solutions() + back_.solutions();
    return all;
  }

 private:
  /// A step of n laps; false, with the outline as it was, where that would take off too much at once.
  bool take(double n, double steeper) {
    const double limit = std::max(edge_.mesh().share_of_radius * edge_.tip_radius_um(),
                                  edge_.mesh().share_of_spacing * edge_.mesh().finest_um);
    if (edge_.symmetric() && how_.worked == Worked::both) {
      ++effort_.presses;
      const Recession off =
          both_sides(bevel_.press(edge_, Side::bevel, {how_.force_N_per_m, n * removal_um_, steeper, true}));
      if (largest(off) > limit) return false;
      edge_.recede(off);
      return true;
    }
    Outline tried = edge_;
    for (Side side : {Side::bevel, Side::back}) {
      if (how_.worked == (side == Side::bevel ? Worked::back : Worked::bevel)) continue;
      ++effort_.presses;
      PadContact&    contact = side == Side::bevel ? bevel_ : back_;
      const Contact& pressed =
          contact.press(tried, side, {how_.force_N_per_m, n * removal_um_, steeper, false});
      if (std::max(largest(pressed.near), largest(pressed.far)) > limit) return false;
      side == Side::bevel ? tried.recede(pressed.near, pressed.far) : tried.recede(pressed.far, pressed.near);
    }
    edge_ = std::move(tried);
    return true;
  }

  Outline&   edge_;
  Stropping  how_;
  double     removal_um_;  // by a pressure of one modulus in a lap
  PadContact bevel_, back_;
  double     done_ = 0.0, step_ = 0.02;
  Effort     effort_;
};

}  // namespace

Effort strop(Outline& edge, const Pad& pad, const Stropping& how, std::span<const double> laps,
             const Observer& at_each) {
  if (!(how.removal_um_per_MPa >= 0.0 && how.scatter >= 0.0))
    throw std::invalid_argument("removal and scatter are not negative");
  Strop work(edge, pad, how);
  for (double goal : laps) {
    work.to(goal);
    if (at_each) at_each(goal, edge);
  }
  return work.effort();
}

Effort strop(Outline& edge, const Pad& pad, const Stropping& how, double laps) {
  return strop(edge, pad, how, std::span(&laps, 1), {});
}

}  // namespace arris::outline
