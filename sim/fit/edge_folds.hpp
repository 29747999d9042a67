// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/history/scenario.hpp"

namespace arris {

/// Edges (indices into Scenario::edges) in `count` groups that are left out of a fit one after the other; 1 … edges.size(). Edges that were
/// sharpened alike and cut the same wood are in as many different ones as may be, so that something is known of each way and wood
/// without a group.
[[nodiscard]] std::vector<std::vector<int>> edge_folds(const Scenario&         scenario,
                                                       const std::vector<int>& edges, std::size_t count);

}  // namespace arris
