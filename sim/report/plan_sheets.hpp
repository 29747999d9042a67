// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/report/paper.hpp"

namespace arris {
struct Plan;
}

/// A planned experiment as sheets of A4 to print: what hangs on the wall, lies on the bench and sticks to the edges.
namespace arris::report {

/// In this order: labels with codes to cut out, one for each edge; the run sheet, a box to write in for every reading, for the one who
/// reads; then, for the one who sharpens and not for the one who reads, which code is which edge, and for each group its steps in large
/// letters, up to the last reading.
[[nodiscard]] std::vector<PaperPage> sheets_of(const Plan& plan);

}  // namespace arris::report
