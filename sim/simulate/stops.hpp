// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/history/steps.hpp"

/// Moments of a history at which its edge could be taken out and read.
namespace arris {

/// Which moments may be chosen beside that of the comparison.
enum class ReadAt { passes_and_laps, passes, laps };

/// After `count` laps or passes of step `step`, or at the end of that step; step −1: before everything.
struct Stop {
  int    step  = -1;
  double count = 0.0;
};

/// The end of step `step`, or of the last one before it that does more than read.
[[nodiscard]] Stop end_of_step(const EdgePlan& plan, int step);

/// Whether nothing of the stop's step is left to do.
[[nodiscard]] bool is_end(const EdgePlan& plan, const Stop& stop);

/// Where groups are compared: at the end of the route where that is the group, or before the first wood.
[[nodiscard]] Stop comparison_stop(const EdgePlan& plan, bool is_route);

/// Where a history may be read, in order, each moment once: at the comparison, and before, after and at easily kept whole
/// counts of every cut or strop.
[[nodiscard]] std::vector<Stop> candidate_stops(const EdgePlan& plan, const Stop& comparison, ReadAt at);

/// "off the stones", where the configuration reads there too; else "after 60 passes in white oak".
[[nodiscard]] std::string describe_stop(const EdgePlan& plan, const Stop& stop);

/// The history of `plan` with its own read steps taken out, a read step "stage 1", "stage 2" … at each of `stops` (in order),
/// strops and cuts parted where they must be, and nothing behind the last of them. It follows the route only where that is
/// left as it was.
[[nodiscard]] EdgePlan read_at(const EdgePlan& plan, const std::vector<Stop>& stops, int replicates);

}  // namespace arris
