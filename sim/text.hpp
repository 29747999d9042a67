// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

/// Words for messages: what was meant, what there is, and what a terminal can bear.
namespace arris {

/// Characters (not bytes) of UTF-8 text.
[[nodiscard]] int characters(std::string_view text);

/// The parts of a list between separators, without blanks around them. What stands in "double quotes" is taken as it is, separators and
/// all, a quote inside them written twice.
[[nodiscard]] std::vector<std::string> parts_of_list(std::string_view list, char separator);

/// The known name nearest to `word`, when it is near enough to be meant; empty otherwise.
[[nodiscard]] std::string nearest(std::string_view word, const std::vector<std::string>& known);

/// Text made safe for a terminal: control characters (C0, DEL, C1) and bytes that are no UTF-8 become \xNN, those that hide or turn what stands around them
/// (writing from right to left) \uNNNN, a tab a blank, so that a name cannot move the cursor or look like another.
[[nodiscard]] std::string printable(std::string_view text);

}  // namespace arris
