// SPDX-License-Identifier: MIT
#include "sim/studies/laws_said.hpp"

#include <fmt/format.h>

#include "sim/wording.hpp"

namespace arris {

std::string laws_said(std::size_t left, const std::vector<std::string>& ruled_out) {
  return ruled_out.empty() ? fmt::format("the readings do not tell which of the {} holds", left)
                           : fmt::format("the readings speak against {}", and_list(ruled_out));
}

}  // namespace arris
