// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/studies/upkeep/leading.hpp"

/// Second step of the search: the lands on which cycles are worked out, closer where the reading after honing changes fast.
namespace arris::upkeep_search {

struct Lands {
  std::vector<double>            depths_um;             ///< ascending; the first is 0, freshly ground
  std::vector<EdgeState<double>> worn;                  ///< on each, as it comes to the honing
  std::vector<EdgeState<double>> honed;                 ///< on each, right after it
  double                         back_per_depth = 0.0;  ///< depth of a back bevel over that of the bevel
  PeriodRules rules;  ///< those of the shop, with the depth beyond which honing no longer reaches the limit
};

/// Throws Error (Exit::integration): "integration".
[[nodiscard]] Lands lands_of(const Task& task, const Leading& leading);

}  // namespace arris::upkeep_search
