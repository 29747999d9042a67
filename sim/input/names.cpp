// SPDX-License-Identifier: MIT
#include "sim/input/names.hpp"

#include <fmt/format.h>

#include "sim/text.hpp"

namespace arris {

bool is_printable_name(std::string_view text) { return text == printable(text) && characters(text) <= 80; }

std::string did_you_mean(std::string_view word, const std::vector<std::string>& known,
                         std::string_view else_do) {
  const std::string close = nearest(word, known);
  if (close.empty()) return std::string(else_do);
  return fmt::format("Did you mean \"{}\"?{}{}", close, else_do.empty() ? "" : " ", else_do);
}

std::string trimmed(std::string_view text, const char* blanks) {
  const auto first = text.find_first_not_of(blanks);
  if (first == std::string_view::npos) return {};
  return std::string(text.substr(first, text.find_last_not_of(blanks) - first + 1));
}

}  // namespace arris
