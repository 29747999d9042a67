// SPDX-License-Identifier: MIT
#pragma once

namespace arris {

/// How the sentences on what a fit misses begin, at the end of the answer to a question that rests on it.
inline constexpr const char* misses_lead = "The fit behind this does not fit everywhere.";

/// What stands for them where the fit itself is on the same page.
inline constexpr const char* misses_elsewhere =
    "The fit behind this does not fit everywhere; the section on the fit says where.";

}  // namespace arris
