// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "sim/history/steps.hpp"

namespace arris {

/// What is done with an edge up to a moment, readings left out.
struct WaySteps {
  std::string       route;            ///< that it follows first; empty: none
  std::size_t       route_steps = 0;  ///< how many of the steps are those of the route
  std::vector<Step> steps;
  std::string       edge;  ///< one that follows it
  std::string       tool;  ///< its blade; empty where all are taken to have the same
};

/// The steps of an edge before step `end` of its plan, readings left out.
[[nodiscard]] WaySteps steps_before(const EdgePlan& plan, std::size_t end);

/// Whether all of it is the same, remarks aside.
[[nodiscard]] bool same_steps(const std::vector<Step>& a, const std::vector<Step>& b);

/// The name of each way by the shortest words that tell it from the others: its route (or else its last medium), the media that
/// are used beside the route, the strops; then, only among ways that are still called alike, the wood, the blade, the laps, the
/// force on the strop, the compounds, the angle it is held at, the media, the strokes on these and the force there; and the name of
/// an edge where nothing else helps.
///
///     "plates + thin hide on wood", "plates then vitrified ceramic, 1 µm + thin hide on wood", "plates + thin hide on wood at 10 N"
[[nodiscard]] std::vector<std::string> way_names(const std::vector<WaySteps>& ways);

}  // namespace arris
