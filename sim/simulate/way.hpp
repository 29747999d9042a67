// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/history/steps.hpp"
#include "sim/simulate/readings.hpp"

namespace arris {

/// How an edge was sharpened up to a moment, wood and readings left out: "plates + thin hide on wood, chromium oxide 0.5 µm, 20 laps".
/// Once it has cut wood, a stone or strop that it has met before changes nothing of that, however many laps: such an edge was touched up. A
/// `moment` in a step counts that step as done.
[[nodiscard]] std::string way_at(const EdgePlan& plan, const Moment& moment);

/// The wood that an edge has cut up to a moment since it met a stone or a strop; empty where it has cut none, or more than one. A count of
/// 0 passes in a cut is before it.
[[nodiscard]] std::string wood_at(const EdgePlan& plan, const Moment& moment);

/// Passes that an edge has made since it last met a stone or a strop; a count that is NaN is the end of its step.
[[nodiscard]] double passes_since_sharpened(const EdgePlan& plan, const Moment& moment);

}  // namespace arris
