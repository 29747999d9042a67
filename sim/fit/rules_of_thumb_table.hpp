// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <string_view>

/// What facts of the trade say of all parameters together (rules_of_thumb.hpp): common practice, no source. Written by `./dev
/// calibrate` from configs/calibration. One row per parameter: its default, and by how many spreads of each fact the log of
/// that reading moves per width of its prior.
// clang-format off
namespace arris::rules_of_thumb {

inline constexpr std::size_t facts = 0;

struct Row {
  std::string_view          path;
  double                    value;
  std::array<double, facts> by_fact;
};

inline constexpr std::array<Row, 0> table{};

}  // namespace arris::rules_of_thumb
