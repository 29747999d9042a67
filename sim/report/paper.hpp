// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/report/page.hpp"

namespace arris::report {

struct PaperPage {
  std::string svg;      ///< a file of its own (figures::standalone)
  std::string heading;  ///< of the section that begins on it, for an outline; empty: none does
};

/// The same page set for paper: sheets of A4 with the verdict, each answer, its figures and tables, how sure it is and what to do next,
/// the cautions and the commands. Of tables longer than `longest_on_paper` some rows are printed, evenly chosen. Figures that a page
/// folds up are left to the page; the last sheet says so.
[[nodiscard]] std::vector<PaperPage> paper_of(const Page& page);

}  // namespace arris::report
