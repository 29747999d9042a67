// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <type_traits>

#include "sim/laws/field.hpp"

namespace arris {

/// Whether a member of a table or a step has a value: no number that is NaN, no text that is empty.
template <class M>
[[nodiscard]] bool is_given(const M& member) {
  if constexpr (std::is_same_v<M, double>) {
    return !std::isnan(member);
  } else if constexpr (std::is_same_v<M, std::string>) {
    return !member.empty();
  } else {
    return true;
  }
}

/// Calls `visit(field, member)` for each field of a table or a step that has a value.
template <class S, class Visit>
void for_each_given(const S& table, Visit&& visit) {
  S::fields(
      [&](const Field& field, const auto& member) {
        if (is_given(member)) visit(field, member);
      },
      table);
}

}  // namespace arris
