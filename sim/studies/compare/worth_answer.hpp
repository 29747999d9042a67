// SPDX-License-Identifier: MIT
#pragma once

#include "sim/studies/compare/compare.hpp"

namespace arris {

/// Adds what ways cost, by the sharpening and in a year, which materials are worth keeping and whether a strop is worth its price:
/// tables "costs", "used_up", "materials" and "strops", and the sentences on them.
void add_worth(const Comparing& comparing, const Workshop& workshop, Answer& answer);

}  // namespace arris
