// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <span>

#include "sim/outline/contact.hpp"
#include "sim/outline/outline.hpp"

/// Stropping of an outline: pressed on a pad lap by lap, steel goes in proportion to pressure and sliding.
///
///     dz/dn = κ·p·cos φ     at every point, from each side that is worked on
///     ε_i   = ε̄ + σ·Φ⁻¹(frac(u + i·(√5 − 1)/2))
///
/// | symbol | C++                   | meaning                                                              | unit       | range | default |
/// |--------|-----------------------|----------------------------------------------------------------------|------------|-------|---------|
/// | n      | `laps`                | laps; each goes over both sides where both are worked on             | –          | ≥ 0   | –       |
/// | κ      | `removal_um_per_MPa`  | depth per pressure and lap: a₀/40 kPa·(L/0.2 m)·(7.1 GPa/H)          | µm/MPa     | ≥ 0   | 0.075   |
/// | F/w_b  | `force_N_per_m`       | force per width of the blade                                         | N/m        | > 0   | –       |
/// | p, φ   | –                     | pressure of the pad, slope of the outline against the face           | MPa, rad   | –     | –       |
/// | ε̄      | `steeper`             | how much steeper than the land the hand holds the blade; below 0: lower | rad     | –     | 0       |
/// | σ      | `scatter`             | standard deviation of that from lap to lap                           | rad        | ≥ 0   | 0       |
/// | u      | `first_quantile`      | where the sequence of angles begins; another value is another hand   | –          | 0 … 1 | 0.5     |
///
/// The angles of the laps are quantiles of the normal distribution in an even order (steps of the golden section), so that the same numbers
/// give the same edge, which changes smoothly with σ.
///
/// A step is implicit (`contact.hpp`), with the pressures a little behind its middle. It takes off no more than the mesh allows at any point, is at
/// most one lap long, and is begun again shorter where it would take off more. What a step is off by is in proportion to that limit: from lap 4 on
/// the equivalent radius is within 2 % of a fine mesh with short steps (4 % on a soft hide), and half the limit halves that. Faces
/// that differ are worked on one after the other within a step.
/// Source: Archard, as in stropping.hpp of the laws; the pad as in pad_layer.hpp. Valid for slopes that a linear pad can follow, up to
/// some 20°. Throws what contact and outline throw, std::invalid_argument where a number is out of its range.
///
///     strop(edge, {34.6e6, 1000}, {.force_N_per_m = 200}, 20);
///     edge.equivalent_radius_um(1.0);   // 0.110
namespace arris::outline {

struct Stropping {
  double force_N_per_m;
  double removal_um_per_MPa = 0.075;
  double steeper            = 0.0;
  double scatter            = 0.0;
  double first_quantile     = 0.5;
  Worked worked             = Worked::both;
};

/// What it cost.
struct Effort {
  long steps     = 0;  ///< taken
  long presses   = 0;  ///< with those that were too long
  long solutions = 0;  ///< of linear systems
};

/// Receives the laps done and the outline then.
using Observer = std::function<void(double, const Outline&)>;

/// Strops to the last of `laps`, which rise, and shows the outline at each.
Effort strop(Outline& edge, const Pad& pad, const Stropping& how, std::span<const double> laps,
             const Observer& at_each);
Effort strop(Outline& edge, const Pad& pad, const Stropping& how, double laps);

}  // namespace arris::outline
