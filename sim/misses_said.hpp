// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

namespace arris {

/// How the sentences on what a fit misses begin, at the end of the answer to a question that rests on it.
inline constexpr const char* misses_lead = "The fit behind this does not fit everywhere.";

/// What stands for them where the fit itself is on the same page.
inline constexpr const char* misses_elsewhere =
    "The fit behind this does not fit everywhere; the section on the fit says where.";

/// An answer with them behind it; as it is where there are none.
[[nodiscard]] inline std::string with_misses(std::string answer, const std::vector<std::string>& misses) {
  if (misses.empty()) return answer;
  answer += std::string(" ") + misses_lead;
  for (const std::string& miss : misses) answer += " " + miss;
  return answer;
}

}  // namespace arris
