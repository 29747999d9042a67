// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/studies/upkeep/screening.hpp"

/// Last step of the search: the routines that were compared, and what the offers of all pairs say beside them.
namespace arris::upkeep_search {

/// All of the result but `members` and `caution`. Throws Error (Exit::usage): "limit-out-of-reach" where no routine keeps the
/// limit.
[[nodiscard]] UpkeepResult result_of(const Task& task, const Leading& leading, const Lands& lands,
                                     const Screened& screened);

}  // namespace arris::upkeep_search
