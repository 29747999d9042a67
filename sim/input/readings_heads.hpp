// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

/// Heads of columns as people write them, and the columns of a readings file that they are.
namespace arris {

/// What the head of a column means.
struct Head {
  std::string
      column;        ///< of a readings file; "reading" where its unit is not known; empty: none that is known
  std::string unit;  ///< "gf", "g" or "N", where the head ends with one
  std::string name;  ///< the head without that unit
  std::string near;  ///< a known column whose name is nearly this one; empty where there is none
};

/// "Reading (gf)" → reading_gf; "Filament lot" → filament_lot.
[[nodiscard]] Head head_of(std::string_view text);

/// How many of these heads mean a column of a readings file.
[[nodiscard]] int recognised(const std::vector<std::string>& heads);

}  // namespace arris
