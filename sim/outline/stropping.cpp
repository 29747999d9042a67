// SPDX-License-Identifier: MIT
#include "sim/outline/stropping.hpp"

#include <algorithm>
#include <cmath>
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

Recession times(double factor, Recession recession) {
  for (double& depth : recession) depth *= factor;
  return recession;
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
      // no sliver before the end: two like steps instead
      const double n     = left < step_ ? left : left < 2.0 * step_ ? 0.5 * left : step_;
      const Step   step  = attempt(n, held_steeper(how_, lap));
      const double share = step.off_um / step.limit_um;
      if (share > too_much) {
        step_ = n * aim / share;
        continue;
      }
      edge_ = std::move(tried_);
      done_ += n;
      ++effort_.steps;
      step_ = std::min(n * std::clamp(aim / share, 0.5, 1.6), 1.0);
    }
  }

  [[nodiscard]] Effort effort() const {
    Effort all    = effort_;
    all.solutions = bevel_.solutions() + back_.solutions();
    return all;
  }

 private:
  /// The most that a step would take off at a point, and what it may.
  struct Step {
    double off_um, limit_um;
  };
  static constexpr double aim = 0.9, too_much = 1.2;  // of what a step may take off
  /// Pressures are those at this share of a step: a little behind its middle, which is of second order, so that what is stiff dies away.
  static constexpr double implicit = 0.6;

  /// A step of n laps on a copy, left undone where it would take off too much.
  Step attempt(double n, double steeper) {
    const Mesh& mesh = edge_.mesh();
    Step        step{0.0,
              std::max(mesh.share_of_radius * edge_.tip_radius_um(), mesh.share_of_spacing * mesh.finest_um)};
    const bool  both = edge_.symmetric() && how_.worked == Worked::both;
    const Press press{how_.force_N_per_m, implicit * n * removal_um_, steeper, both};
    tried_ = edge_;
    // in turn, so that neither side is favoured
    const Side first = effort_.steps % 2 == 0 ? Side::bevel : Side::back;
    for (Side side : {first, other(first)}) {
      if (how_.worked == (side == Side::bevel ? Worked::back : Worked::bevel)) continue;
      ++effort_.presses;
      const Contact&  contact = (side == Side::bevel ? bevel_ : back_).press(tried_, side, press);
      const Recession near    = times(1.0 / implicit, both ? both_sides(contact) : contact.near),
                      far     = times(1.0 / implicit, contact.far);
      step.off_um             = std::max({step.off_um, largest(near), largest(far)});
      if (step.off_um > too_much * step.limit_um) return step;
      if (both) {
        tried_.recede(near);
        return step;
      }
      side == Side::bevel ? tried_.recede(near, far) : tried_.recede(far, near);
    }
    return step;
  }

  Outline&   edge_;
  Outline    tried_ = edge_;
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
