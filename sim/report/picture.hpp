// SPDX-License-Identifier: MIT
#pragma once

#include <string>

/// Pictures for files.
namespace arris::report {

/// An SVG file (figures::standalone) as PNG, `dots` to each of its pixels. Throws Error (Exit::usage, "no-png") where the program
/// was built without librsvg.
[[nodiscard]] std::string png_of(const std::string& svg_file, double dots = 2.0);

}  // namespace arris::report
