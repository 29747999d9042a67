// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include "sim/studies/upkeep/screening.hpp"

/// Fourth step of the search: routines worked out honing by honing, as the search itself only interpolates between lands.
namespace arris::upkeep_search {

/// How far a routine is followed.
enum class Until {
  limit,  ///< the first period that breaks a limit that is always to be kept
  end     ///< the land at which it is ground
};

/// Every period of each routine, honing by honing from a fresh grinding. `stretches`: of each routine.
[[nodiscard]] std::vector<std::vector<Period>> worked_out(const Task& task, const Lands& lands,
                                                          const std::vector<std::vector<double>>& stretches,
                                                          Until                                   until);

/// What a routine is looked for.
struct Wanted {
  std::string       name;
  std::vector<Pick> picks;  ///< from which it comes
  Least             least     = Least::minutes;
  double            margin    = 0.0;    ///< all are worked out whose value lies so close to the least
  bool              wide_only = false;  ///< only ground at the widest land
};

struct Found {
  std::optional<Routine> routine;         ///< the least that keeps the limit
  std::size_t            worked_out = 0;  ///< routines
  double error = 0.0;  ///< largest relative error of their picks, in value and in the highest reading
};

/// The least of all that were worked out: those within the margin, or within twice the error of the search that shows.
[[nodiscard]] Found truly_least(const Task& task, const Lands& lands, const Wanted& wanted);

/// Never honed again: the stropping alone, on the land of the first honing, as seldom as keeps the limit.
[[nodiscard]] std::optional<Routine> stropped_only(const Task& task, const Leading& leading,
                                                   const Lands& lands);

}  // namespace arris::upkeep_search
