// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "validation/closures/row.hpp"

/// What the reduced law of stropping is held against: histories of the outline (sim/outline) over pads, forces, lands, angles, removal, hands,
/// cycles with wood and changes of the pad.
namespace arris::closures {

/// The histories, without shapes.
[[nodiscard]] std::vector<Case> histories();

/// Puts the shapes of the outline into the rows of a history: means over hands where the angle scatters, on a mesh finer than the default.
/// Throws what the outline throws.
void run_outline(Case& rows);

}  // namespace arris::closures
