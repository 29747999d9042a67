// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/simulate/stops.hpp"
#include "sim/studies/plan/plan.hpp"

/// What a plan compares: routes or edges, each by an edge that is the pattern of the rest.
namespace arris {

struct PlanGroup {
  std::string       name;
  bool              is_route = false;
  int               pattern  = -1;
  std::vector<Stop> candidates;
  int               comparison = 0;  ///< index of its candidate
};

/// Those that the settings ask for, or else every route, or an edge of each way of sharpening where none follows a route, on one tool where one is common to all (`same_tool`). Errors: "given-twice",
/// "too-few-groups", "unknown-group", "nothing-to-choose".
[[nodiscard]] std::vector<PlanGroup> groups_of(const Scenario& scenario, const PlanSettings& settings,
                                               bool& same_tool);

}  // namespace arris
