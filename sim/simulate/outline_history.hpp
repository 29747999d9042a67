// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/history/scenario.hpp"
#include "sim/integrate/run.hpp"
#include "sim/outline/outline.hpp"

/// A history with the outline of its edge beside the reduced state.
///
/// The reduced history runs first. Then the outline (sim/outline) goes through the same steps:
///  - honing cuts it by a plane, as deep as the reduced law hones in that step; a hand that wobbles cuts by steeper planes too. Of a blade
///    with one honed side the bevel is cut and the back stays, until a step works on the back. Where planes have met the tip, it gets an
///    arc of the reduced apex radius, since an outline cut by planes is perfectly keen.
///  - a strop presses it, as hard, as far and as steadily as the reduced law has it. The pad works on both faces, the back taken to
///    bear over the same length as the bevel. Its tip gets no finer than the radius that the scratches leave.
///  - wood wears it under loads that give an arc the growth of the shared-load law: k·σ = B·(1 − sin α)/sin α, k·f₀ = A/2·w₁·(1 − sin α)/sin α,
///    w₁ = (π/2 − α − sin α·cos α)/(1 − sin α); what the reduced tip gives way by adds to σ. Under another wear law the tip gets an arc of the
///    reduced radius instead.
///
/// Scratches, burr, chips and counts are those of the reduced history.
namespace arris {

/// What the two ways of following an edge are compared by.
struct EdgeMeasure {
  double met_radius_um    = not_given;  ///< radius that a tester meets, chips included
  double depth_to_flat_um = not_given;  ///< normal to the bevel, from its plane down to the tip: dub and arc
  double reading_N        = not_given;
};

struct OutlinePoint {
  double      count = 0.0;  ///< strokes, laps or passes into its step
  EdgeMeasure reduced, outline;
  double arc_depth_um = 0.0;  ///< part of the depths that is the arc of the reduced apex: r·(1 − sin α)
};

struct OutlineHistory {
  RunStatus   status;   ///< of the reduced history; not_finite where the outline ended first
  std::string message;  ///< why there is no outline beyond the last point; empty where all went well
  std::vector<std::vector<OutlinePoint>> steps;  ///< of each step the counts asked for, and its end last
  int                                    points  = 0;  ///< of a face, the most there were
  long                                   presses = 0;  ///< on pads
};

/// Receives the outline as a step leaves it.
using OutlineEnd = std::function<void(std::size_t step, const outline::Outline&)>;

/// Runs `plan` both ways. `counts` says for each step where to look (ascending, within the step or beyond it); the end of a step
/// always follows. A strop pauses where one looks, which moves what comes after by some tenths of a per cent. Takes some 10 ms.
/// Throws nothing of the outline's: `status` and `message` say what failed.
[[nodiscard]] OutlineHistory outline_history(const Scenario& scenario, const EdgePlan& plan,
                                             const std::vector<std::vector<double>>& counts,
                                             const OutlineEnd&                       at_end = {});

/// The same with the ends of steps alone.
[[nodiscard]] OutlineHistory outline_history(const Scenario& scenario, const EdgePlan& plan,
                                             const OutlineEnd& at_end = {});

/// Radius of the arc, tangent to straight faces, that is as wide as the outline at `behind_um`, µm; 0 for a perfect edge. Unlike
/// `Outline::equivalent_radius_um` also where the arc reaches beyond that distance.
[[nodiscard]] double met_radius_um(const outline::Outline& edge, double behind_um);

}  // namespace arris
