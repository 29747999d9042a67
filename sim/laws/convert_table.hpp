// SPDX-License-Identifier: MIT
#pragma once

#include <type_traits>

#include "sim/laws/field.hpp"

namespace arris::detail {

/// A table with `fields` over another number type; derivatives, if To has them, start at zero.
template <class To, class From>
To convert_table(const From& from) {
  To to;
  if constexpr (requires { to.name; }) to.name = from.name;
  if constexpr (requires { to.shape_like(from); }) to.shape_like(from);
  To::fields([](const Field&, auto& target,
                const auto& source) { target = std::remove_reference_t<decltype(target)>(source); },
             to, from);
  return to;
}

}  // namespace arris::detail
