// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/simulate/readings.hpp"

namespace arris {

/// Sentences on readings that are all equal, and so were not measured; on those that look as if they stood in another unit than the rest of their column (newton among gram-force: a factor
/// of 102), or with the point in the wrong place (a factor of 10); none where nothing looks so.
///
/// Readings of one moment are ordered; where they fall into two clusters with a gap of more than 4 times between them, and the
/// medians of the clusters are 102 (50 to 200) or 10 (7.4 to 13.5) times apart, the smaller cluster is pointed at. A factor of 10
/// counts only where edges of one route lie in both clusters: routes may differ by as much. Bounds are estimates: readings of one
/// moment rarely differ by 4 times. Excluded readings do not count.
[[nodiscard]] std::vector<std::string> slips_of_unit(const Scenario&             scenario,
                                                     const std::vector<Reading>& readings);

}  // namespace arris
