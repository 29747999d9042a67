// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <vector>

#include "validation/closures/row.hpp"

/// Constants of the reduced law that come nearest to the outline, by the least squares of the library.
namespace arris::closures {

/// A constant of laws::of_outline.
struct Constant {
  const char* name;
  const char* symbol;
  double      start, lower, upper;  ///< of the search
};
/// In the order of Varied (fit.cpp).
inline constexpr std::array<Constant, 12> constants{{{"angle", "A₁", 1.5, 0.1, 20},
                                                     {"reach", "c_w", 1.5, 0.05, 50},
                                                     {"mean_share", "c_∞", 0.25, 0.01, 5},
                                                     {"steepest", "c_m", 0.9, 0.3, 0.97},
                                                     {"onset", "c_L", 6, 0.3, 100},
                                                     {"even_share", "c_y", 2, 0.05, 50},
                                                     {"land_share", "c_ℓ", 0.1, 0.005, 5},
                                                     {"worn_in_share", "c_b", 0.3, 0.02, 5},
                                                     {"depth", "c_h", 2, 0.2, 20},
                                                     {"depth_onset", "c_d", 6, 0.3, 100},
                                                     {"hand", "c_σ", 0.8, 0.1, 5},
                                                     {"borne", "c_n", 7.5, 0.1, 100}}};

/// Values of the constants, to three figures.
using Values = std::array<double, constants.size()>;

/// Throws std::runtime_error where the search does not converge.
[[nodiscard]] Values fit(const std::vector<Case>& cases);

/// One row of a case, and the errors there.
struct Miss {
  const Row*            row;
  std::array<double, 4> error;  ///< at ½, 1 and 2 µm, and of h, which is 0 in wood
};
[[nodiscard]] std::vector<Miss> misses_of(const std::vector<Case>& cases, const Values& values);

}  // namespace arris::closures
