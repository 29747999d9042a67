// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/diagnostic.hpp"

namespace arris {

/// Faults of one cause told once: of those with the same code and the same sentence in one file the first, with the lines of the
/// others in its cause. The order stays.
[[nodiscard]] std::vector<Diagnostic> by_cause(const std::vector<Diagnostic>& faults);

}  // namespace arris
