// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/report/paper.hpp"

namespace arris {
struct EdgePlan;
struct Plan;
}  // namespace arris

/// A planned experiment as sheets of A4 to print: what hangs on the wall, lies on the bench and sticks to the edges.
namespace arris::report {

/// In this order: labels with codes to cut out, one for each edge; the run sheet, a box to write in for every reading, for the one who
/// reads; then, for the one who sharpens and not for the one who reads, which code is which edge, and for each group its steps in large
/// letters, up to the last reading.
[[nodiscard]] std::vector<PaperPage> sheets_of(const Plan& plan);

/// What is done with one edge, step by step in large letters, for the wall.
[[nodiscard]] std::vector<PaperPage> wall_sheets_of(const EdgePlan& edge);
/// Labels with these codes to cut out.
[[nodiscard]] std::vector<PaperPage> label_sheets_of(std::vector<std::string> codes);

/// Sheets as one HTML page that a browser prints, each on an A4 of its own; no script, nothing from a network.
[[nodiscard]] std::string printable_html(const std::vector<PaperPage>& pages, const std::string& title);

}  // namespace arris::report
