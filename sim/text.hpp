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

/// The known name nearest to `word`, when it is near enough to be meant; empty otherwise.
[[nodiscard]] std::string nearest(std::string_view word, const std::vector<std::string>& known);

/// Text made safe for a terminal: control characters (C0, DEL, C1) become \xNN, those that hide or turn what stands around them
/// (writing from right to left) \uNNNN, a tab a blank, so that a name cannot move the cursor or look like another.
[[nodiscard]] std::string printable(std::string_view text);

}  // namespace arris
