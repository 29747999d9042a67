// SPDX-License-Identifier: MIT
#include "sim/input/names.hpp"

#include "sim/text.hpp"

namespace arris {

bool is_printable_name(std::string_view text) { return text == printable(text) && characters(text) <= 80; }

std::string trimmed(std::string_view text, const char* blanks) {
  const auto first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(blanks) - first + 1));
}

}  // namespace arris
