// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string_view>

namespace arris {

/// Bytes of the UTF-8 character at the beginning of `text`; 0 where there is none (bytes of another encoding, half a character, no text).
[[nodiscard]] inline std::size_t utf8_length(std::string_view text) {
  const auto byte = [&](std::size_t at) {
    return at < text.size() ? static_cast<unsigned char>(text[at]) : 0U;
  };
  const auto        first = byte(0), second = byte(1);
  const std::size_t length = text.empty()                    ? 0
                             : first < 0x80                  ? 1
                             : first >= 0xC2 && first < 0xE0 ? 2
                             : first >= 0xE0 && first < 0xF0 ? 3
                             : first >= 0xF0 && first < 0xF5 ? 4
                                                             : 0;
  // too long a form of a short character, halves of a pair, beyond the last
  if ((first == 0xE0 && second < 0xA0) || (first == 0xED && second > 0x9F) ||
      (first == 0xF0 && second < 0x90) || (first == 0xF4 && second > 0x8F))
    return 0;
  for (std::size_t k = 1; k < length; ++k) {
    if ((byte(k) & 0xC0U) != 0x80U) return 0;
  }
  return length;
}

}  // namespace arris
