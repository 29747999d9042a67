// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

/// What the readings say of the wear laws beside each other: one wording for all answers that rest on several.
namespace arris {

/// "the readings do not tell which of the 5 holds", or "the readings speak against power and sigmoid". `left`: how many laws are not ruled out.
[[nodiscard]] std::string laws_said(std::size_t left, const std::vector<std::string>& ruled_out);

}  // namespace arris
