// SPDX-License-Identifier: MIT
#pragma once

#include <limits>

/// Numbers that stand for something.
namespace arris {

/// "Not given": the default of a value that has none.
inline constexpr double not_given = std::numeric_limits<double>::quiet_NaN();
inline constexpr double infinity  = std::numeric_limits<double>::infinity();

}  // namespace arris
