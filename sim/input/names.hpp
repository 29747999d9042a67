// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

/// Names as input files have them: what can be one, and which one was meant.
namespace arris {

/// Whether a text can name what rows of a file are matched by: 80 characters at most, all printable.
[[nodiscard]] bool is_printable_name(std::string_view text);

/// The same in words.
inline constexpr const char* printable_names = "1 … 80 printable characters";

/// `Did you mean "…"?` with the known name nearest to `word`, then what else there is to do; that alone where no name is near
/// enough.
[[nodiscard]] std::string did_you_mean(std::string_view word, const std::vector<std::string>& known,
                                       std::string_view else_do = {});

/// The text without those characters at either end.
[[nodiscard]] std::string trimmed(std::string_view text, const char* blanks = " ");

}  // namespace arris
