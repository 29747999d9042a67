// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

#include "sim/studies/upkeep/screening.hpp"

/// Fifth step of the search: the cheapest routine, and others that people may think of beside it.
namespace arris::upkeep_search {

/// Routines worked out, and what the search was worth beside them.
struct Compared {
  std::vector<NamedRoutine> routines;          ///< the cheapest first
  std::size_t               worked_out = 0;    ///< to find them
  double                    error      = 0.0;  ///< largest relative one of the search among these
};

/// Throws Error (Exit::usage): "limit-out-of-reach" where no routine keeps the limit.
[[nodiscard]] Compared compare(const Task& task, const Leading& leading, const Lands& lands,
                               const std::vector<Offer>& offers);

}  // namespace arris::upkeep_search
