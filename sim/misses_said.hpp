// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <string>
#include <vector>

namespace arris {

/// How the sentences on what a fit misses begin, at the end of the answer to a question that rests on it.
inline constexpr const char* misses_lead = "The fit behind this does not fit everywhere.";

/// What stands for them where the fit itself is on the same page.
inline constexpr const char* misses_elsewhere =
    "The fit behind this does not fit everywhere; the section on the fit says what it misses.";

/// How a sentence on a miss ends that leaves nothing to say of what rests on these readings.
inline constexpr const char* correct_them    = "Correct them, or give a reason under excluded.";
inline constexpr const char* not_measured    = "so these were not measured";
inline constexpr const char* believe_nothing = "believe nothing below on wear.";

/// What stands before an answer then.
inline constexpr const char* readings_first =
    "Look at the readings first, as some cannot be right: what follows rests on them.";

[[nodiscard]] inline bool leaves_nothing(const std::string& miss) {
  return miss.find(correct_them) != std::string::npos || miss.find(believe_nothing) != std::string::npos ||
         miss.find(not_measured) != std::string::npos;
}

/// An answer with them behind it, and a word before it where they leave nothing of it; as it is where there are none.
[[nodiscard]] inline std::string with_misses(std::string answer, const std::vector<std::string>& misses) {
  if (misses.empty()) return answer;
  if (std::any_of(misses.begin(), misses.end(), leaves_nothing))
    answer = std::string(readings_first) + " " + answer;
  answer += std::string(" ") + misses_lead;
  for (const std::string& miss : misses) answer += " " + miss;
  return answer;
}

}  // namespace arris
