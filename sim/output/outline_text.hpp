// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/simulate/outline_history.hpp"

/// The reduced law beside the outline of the edge, as text for a terminal.
namespace arris {

struct EdgePlan;

/// An edge that was followed both ways.
struct FollowedEdge {
  const EdgePlan* plan = nullptr;  ///< must outlive this
  OutlineHistory  history;
};

/// As far apart as two readings may be, over that of the reduced law, for a history to be trusted. A choice of this project: about
/// the scatter of readings that the defaults state.
inline constexpr double trusted_apart = 0.15;

/// How far apart the two are after any step, and whether to trust the reduced law; then what the outline was.
[[nodiscard]] std::string outline_answer(const std::vector<FollowedEdge>& edges);

/// Every step of one edge, by the reduced law and by the outline.
[[nodiscard]] std::string outline_table(const FollowedEdge& edge);

}  // namespace arris
