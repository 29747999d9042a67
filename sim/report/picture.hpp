// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/report/paper.hpp"

/// Pictures and pages for files.
namespace arris::report {

/// An SVG file (figures::standalone) as PNG, `dots` to each of its pixels. Throws Error (Exit::usage, "no-png") where the program
/// was built without librsvg.
[[nodiscard]] std::string png_of(const std::string& svg_file, double dots = 2.0);

/// SVG files (figures::standalone) as the pages of one PDF, each of its own size, 96 of its pixels to an inch; letters stay letters.
/// A page with a heading is named in the outline. Throws Error (Exit::usage, "no-pdf") where the program was built without librsvg.
[[nodiscard]] std::string pdf_of(const std::vector<PaperPage>& pages, const std::string& title);

}  // namespace arris::report
