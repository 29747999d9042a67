// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "validation/closures/fit.hpp"

/// What a fit of the constants came to, for the sources and for readers.
namespace arris::closures {

/// sim/laws/outline_constants.hpp.
[[nodiscard]] std::string header_of(const Values& values);

/// configs/closures/RESULT.md.
[[nodiscard]] std::string result_of(const Values& values, const std::vector<Miss>& misses);

}  // namespace arris::closures
