// SPDX-License-Identifier: MIT
#pragma once

#include <span>

#include "sim/outline/outline.hpp"
#include "sim/outline/stropping.hpp"

/// Wear of an outline in wood: steel goes in proportion to local pressure and path.
///
///     dz/dx = k·p,    h(θ) = (cos θ − sin α)₊/(1 − sin α)
///     p = σ·h + (1 − q)·f₀·h·v/∫h·v·cos θ ds + q·f₀·exp(−s²/2w²)/(w·√(2π)),    v(s) = 1/(1 + (s/s_v)⁴)
///
/// | symbol | C++                   | meaning                                                               | unit      | range | default |
/// |--------|-----------------------|-----------------------------------------------------------------------|-----------|-------|---------|
/// | x      | `path_m`              | path of the edge in the wood                                          | m         | ≥ 0   | –       |
/// | k      | `wear_um_per_MPa_m`   | depth per pressure and path                                           | µm/(MPa·m)| ≥ 0   | –       |
/// | σ      | `crushing_MPa`        | pressure that crushes the wood (Janka force over 100 mm²)             | MPa       | ≥ 0   | –       |
/// | f₀     | `parting_N_per_m`     | load that parts the fibres, whatever the tip is like                  | N/m       | ≥ 0   | –       |
/// | q      | `share_on_faces`      | share of parting that the faces behind the tip carry                  | –         | 0 … 1 | 0       |
/// | w      | `zone_um`             | standard deviation of where they carry it                             | µm        | > 0   | 2       |
/// | s_v    | `nose_um`             | how far behind the tip fibres part                                    | µm        | > 0   | 5       |
/// | θ, s   | –                     | angle of the normal to the way; distance from the tip                 | rad, µm   | –     | –       |
///
/// Both loads act on what faces the way more than the faces themselves do. The way is along the bisector, the integral over both faces. Fibres part at
/// the tip, over about the thickness of a cell wall: without that, a bevel that is a quarter of a degree steeper for half a millimetre would take
/// the load off its tip. A tip finer
/// than the mesh bears its load on the first segments, and so blunts to their size at once. Points move along the way, each by the slope on the side
/// of the tip, from where changes of the outline come: slopes in the middle of both sides let ripples grow.
/// Source: Archard; the loads as in section 6 of the model (crushing in proportion to radius, parting independent of it); q, w and s_v are estimates.
/// Throws what the outline throws, std::invalid_argument where a number is out of its range.
///
///     cut_wood(edge, {.crushing_MPa = 31.5, .parting_N_per_m = 300}, 2.8e-5, 100);
///     edge.equivalent_radius_um(1.0);   // 0.69 from 0.15
namespace arris::outline {

struct WoodLoad {
  double crushing_MPa;
  double parting_N_per_m;
  double share_on_faces = 0.0;
  double zone_um        = 2.0;
  double nose_um        = 5.0;
};

/// Cuts to the last of `path_m`, which rise, and shows the outline at each.
Effort cut_wood(Outline& edge, const WoodLoad& wood, double wear_um_per_MPa_m, std::span<const double> path_m,
                const Observer& at_each);
Effort cut_wood(Outline& edge, const WoodLoad& wood, double wear_um_per_MPa_m, double path_m);

}  // namespace arris::outline
