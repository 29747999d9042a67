// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/studies/upkeep/search_task.hpp"

/// First step of the search: hones on ever wider land and works to the limit, without stropping. It shows whether honing
/// reaches the limit, up to which land, and how long an edge lasts.
namespace arris::upkeep_search {

struct Leading {
  std::vector<EdgeState<double>> worn;     ///< before each honing; the first is ground anew
  std::vector<double>            honed_N;  ///< reading after it
  Sharpest                       sharpest;
  double                         narrow_honed_N = never;  ///< right after honing, freshly ground
  double                         depth_limit_um = never;  ///< grind at the first honing that reaches it
  bool limit_ends_land = false;  ///< on wider land the honing no longer reaches the limit
  int  longest         = 1;      ///< most passes between stroppings that are looked at
};

/// Has one honing at least. Throws Error: "limit-never-reached", "limit-out-of-reach" (Exit::usage); "integration"
/// (Exit::integration).
[[nodiscard]] Leading lead(const Task& task);

}  // namespace arris::upkeep_search
