// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

/// Names as input files have them: what can be one.
namespace arris {

/// Whether a text can name what rows of a file are matched by: 80 characters at most, all printable.
[[nodiscard]] bool is_printable_name(std::string_view text);

/// The same in words.
inline constexpr const char* printable_names = "1 … 80 printable characters";

/// The text without those characters at either end.
[[nodiscard]] std::string trimmed(std::string_view text, const char* blanks = " ");

}  // namespace arris
