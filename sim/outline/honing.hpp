// SPDX-License-Identifier: MIT
#pragma once

#include "sim/outline/outline.hpp"

/// Honing of an outline on a flat stone: a cut by a plane.
///
///     z = x·cos(α + ε) − y·sin(α + ε) ≤ max z − d      on each face that is honed
///
/// | symbol | C++        | meaning                                                                    | unit | range | default |
/// |--------|------------|----------------------------------------------------------------------------|------|-------|---------|
/// | d      | `depth_um` | how far the plane goes in, normal to itself, from where it touches         | µm   | ≥ 0   | –       |
/// | ε      | `steeper`  | how much steeper than the half angle the blade is held; below 0: lower     | rad  | –     | 0       |
/// | α      | –          | half of the included angle                                                 | rad  | –     | –       |
///
/// A stone held at the half angle meets the tip when d is `Outline::depth_to_flat_um`; short of that it leaves the tip as it is. Beyond that
/// the tip is where planes cross: perfectly keen, since scratches and burr are not of the outline. With `worked = bevel`, or `back` for a
/// blade that is turned over, one face is honed and the other stays.
/// Source: geometry. Throws std::invalid_argument where a number is out of its range.
///
///     hone_flat(edge, {.depth_um = 1.1 * edge.depth_to_flat_um()});
namespace arris::outline {

struct Honing {
  double depth_um;
  double steeper = 0.0;
  Worked worked  = Worked::both;
};

void hone_flat(Outline& edge, const Honing& how);

}  // namespace arris::outline
