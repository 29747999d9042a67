// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/report/html.hpp"

/// What all pages share, of results or not: one file with its style sheet and scripts in it, that needs nothing else.
namespace arris::report {

struct Sheet {
  std::string title;
  Html        main;          ///< sections, one below the other
  std::string footer;        ///< a sentence or two
  bool        live = false;  ///< has charts that answer the pointer, and needs the scripts for them
};

/// The whole page, from its document type to its end.
[[nodiscard]] std::string html_of(const Sheet& sheet);

/// A section under a heading that names it, for readers who jump from one to the next. `id`: unlike any other of the page.
[[nodiscard]] Html titled_section(const std::string& id, const std::string& heading, const Html& content);

/// A table in a box that scrolls where the screen is narrower; `says` names it to those who cannot see it.
[[nodiscard]] Html scrolling_table(const std::string& says, const Html& content);

/// What is folded up below its summary; `look` is a class of the style sheet, or empty.
[[nodiscard]] Html folded(const std::string& look, const std::string& summary, const Html& content);

}  // namespace arris::report
