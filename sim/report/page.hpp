// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "sim/report/section.hpp"
#include "sim/report/verdict.hpp"

/// A page of results: one HTML file that needs nothing else, for screen, telephone and paper.
namespace arris::report {

struct Page {
  std::string              title;
  std::vector<Section>     sections;
  std::optional<Verdict>   verdict;  ///< before all, where several results stand together
  std::vector<std::string> notes;    ///< what was left out and why, where several results stand together
};

/// What a fit misses stands whole in its own section; verdict and sections that rest on it only refer to that. Without a section on a fit
/// nothing is changed.
void say_misses_once(Page& page);

/// What a page may weigh unless all of it was asked for (Extent::whole), bytes.
inline constexpr std::size_t most_of_a_page = 3'000'000;

/// Unless all of it was asked for, a page keeps below `most_of_a_page`: long tables show some of their rows, and where that is not
/// enough, parts of less weight are left out, and the page says so.
///
/// In this order: the answer in a sentence, the figure that shows it, how sure it is, what it rests on, what to do next; then, once
/// for all sections, cautions, and how to repeat it. Everything that comes from a file is text, never markup.
[[nodiscard]] std::string html_of(const Page& page);

/// A table that a page shows in part: all of it as CSV.
struct TableFile {
  std::string name;
  std::string csv;
};
struct PageAndTables {
  std::string            html;
  std::vector<TableFile> tables;
};
/// As html_of, with a link to each table that is shown in part, in `folder` as it is seen from the page.
[[nodiscard]] PageAndTables html_and_tables(const Page& page, const std::string& folder);

/// The beginning of an answer, one sentence or, where that is short, two: for a list of answers.
[[nodiscard]] std::string in_short(const std::string& answer);

/// The cautions of all sections, each once, and the usual one, also where nothing but a number was asked for.
[[nodiscard]] std::vector<std::string> cautions_of(const std::vector<Section>& sections);

}  // namespace arris::report
