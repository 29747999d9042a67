// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/history/scenario.hpp"

namespace arris {

/// Where the collapse of a thin tip (laws/collapse.hpp) adds to the wear law, whichever that is: which of these edges (indices into
/// Scenario::edges) begin to cut with an apex below the radius that carries the load, and how to switch it off. A sentence; empty
/// where it acts on none. Of edges of one tool and route the first is looked at. Edges whose history fails are passed over.
[[nodiscard]] std::string collapse_said(const Scenario& scenario, const std::vector<int>& edges);

/// The same of all edges.
[[nodiscard]] std::string collapse_said(const Scenario& scenario);

}  // namespace arris
