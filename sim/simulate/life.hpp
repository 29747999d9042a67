// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <vector>

#include "sim/history/steps.hpp"

/// How long an edge lasts: the one rule by which its life is counted.
///
/// The burr and a hair-thin apex go in the first passes, so that the reading of an edge in wood may fall before it rises. The
/// life ends where the reading last rises through the limit at or after its lowest point: what only a fresh edge reads does
/// not count against it.
namespace arris {

/// Passes at the last rise of a reading through `limit`, at or after its lowest point, to a millionth of a pass; 0 when even
/// the lowest point is above it, infinity when the end is still below. `reading(x)` for x in 0 … last, of which `grid`
/// (ascending, from 0 to last) are samples close enough to have one crossing between them at most.
[[nodiscard]] double passes_to_limit(const std::vector<double>&           grid,
                                     const std::function<double(double)>& reading, double limit);
/// The same where the readings at the points of the grid are known, for several limits on one edge.
[[nodiscard]] double passes_to_limit(const std::vector<double>& grid, const std::vector<double>& values,
                                     const std::function<double(double)>& reading, double limit);

/// Whether an edge cuts wood at all.
[[nodiscard]] bool cuts_wood(const EdgePlan& plan);

/// The steps of an edge up to its first cut, which goes on for `passes`. Throws std::invalid_argument when there is none.
[[nodiscard]] EdgePlan working_history(const EdgePlan& plan, double passes);

/// `points` + 1 counts from 0 to `last`, closer at the start, where an edge changes fastest: by the cube.
[[nodiscard]] std::vector<double> passes_grid(double last, int points);

}  // namespace arris
