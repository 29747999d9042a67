// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "validation/closures/row.hpp"

/// What the reduced law of stropping is held against: histories of the outline (sim/outline) over pads, forces, lands, angles, removal, hands,
/// cycles with wood and changes of the pad.
namespace arris::closures {

/// Groups of cases: several things differ at once; the pad changes; the blade is held so low that a pad does not reach the tip at first.
inline constexpr std::string_view unseen = "several at once", changes = "change of pad",
                                  lifted = "off the tip";

/// The histories, without shapes.
[[nodiscard]] std::vector<Case> histories();

/// Puts the shapes of the outline into the rows of a history: means over hands where the angle scatters, on a mesh finer than the default.
/// Throws what the outline throws.
void run_outline(Case& rows);

}  // namespace arris::closures
