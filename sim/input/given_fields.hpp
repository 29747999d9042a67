// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>
#include <string>
#include <type_traits>

#include "sim/laws/field.hpp"

namespace arris {

/// Calls `visit(field, member)` for each field of a table or a step that has a value: no number that is NaN, no text that is empty.
template <class S, class Visit>
void for_each_given(const S& table, Visit&& visit) {
  S::fields(
      [&]<class M>(const Field& field, const M& member) {
        if constexpr (std::is_same_v<M, double>) {
          if (std::isnan(member)) return;
        }
        if constexpr (std::is_same_v<M, std::string>) {
          if (member.empty()) return;
        }
        visit(field, member);
      },
      table);
}

}  // namespace arris
