// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <limits>
#include <type_traits>

/// Numbers that stand for something.
namespace arris {

/// "Not given": the default of a value that has none.
inline constexpr double not_given = std::numeric_limits<double>::quiet_NaN();
inline constexpr double infinity  = std::numeric_limits<double>::infinity();

/// Whether two values are the same; numbers that are both not given are.
template <class X>
[[nodiscard]] bool same_value(const X& a, const X& b) {
  if constexpr (std::is_floating_point_v<X>) {
    if (std::isnan(a) && std::isnan(b)) return true;
  }
  return a == b;
}

}  // namespace arris
