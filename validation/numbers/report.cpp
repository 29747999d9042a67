// SPDX-License-Identifier: MIT
// The report of all checks as a page, by the writer and the style sheet of the pages of results.
#include <algorithm>
#include <string_view>

#include <fmt/format.h>

#include "sim/report/html.hpp"
#include "sim/report/sheet.hpp"
#include "validation/numbers/numbers.hpp"

namespace arris::numbers {

namespace {

using report::element;
using report::Html;

/// Text with `code`, **bold** and *italics*.
Html marked_up(std::string_view text) {
  Html out;
  for (;;) {
    const auto begin = text.find_first_of("`*");
    if (begin == std::string_view::npos) return out + text;
    const std::string_view sign = text.substr(begin, text.substr(begin, 2) == "**" ? 2 : 1);
    const auto             from = begin + sign.size(), end = text.find(sign, from);
    if (end == std::string_view::npos) return out + text;
    const std::string_view within = text.substr(from, end - from);
    out += text.substr(0, begin);
    out += sign == "`" ? element("code", within) : element(sign == "**" ? "b" : "i", marked_up(within));
    text.remove_prefix(end + sign.size());
  }
}

Html marked_up(const Json& text) { return marked_up(std::string_view(text.get_ref<const std::string&>())); }

/// Each text as such an element.
Html each_as(std::string_view name, const Json& texts) {
  Html out;
  for (const Json& text : texts) out += element(name, marked_up(text)) + "\n";
  return out;
}

/// How a cell looks: as a number where its column has numbers and it is short. What is longer is words, which need lines.
report::Attributes look_of(const Json& text, bool of_numbers) {
  const bool number = of_numbers && text.get_ref<const std::string&>().size() < 24;
  return number ? report::Attributes{{"class", "n"}} : report::Attributes{};
}

Html table_row(std::string_view cell, const Json& texts, const std::vector<std::size_t>& numbers) {
  Html cells;
  for (std::size_t i = 0; i < texts.size(); ++i) {
    const bool of_numbers = std::find(numbers.begin(), numbers.end(), i) != numbers.end();
    cells += element(cell, look_of(texts[i], of_numbers), marked_up(texts[i]));
  }
  return element("tr", cells);
}

Html table(const Json& grid) {
  const auto caption = grid.at("caption").get<std::string>();
  const auto numbers = grid.at("numbers").get<std::vector<std::size_t>>();
  Html       rows    = "\n";
  for (const Json& row : grid.at("rows")) rows += table_row("td", row, numbers) + "\n";
  return report::scrolling_table(caption, element("caption", marked_up(std::string_view(caption))) + "\n" +
                                              element("thead", table_row("th", grid.at("columns"), numbers)) +
                                              "\n" + element("tbody", rows)) +
         "\n";
}

/// A picture as an address that holds all of it, so that its names are apart from those of the page.
Html picture(const Json& figure) {
  const auto caption = figure.at("caption").get<std::string>();
  return element("figure", report::void_element("img", {{"src", figure.at("image").get<std::string>()},
                                                        {"alt", caption},
                                                        {"width", "100%"}}) +
                               element("figcaption", marked_up(std::string_view(caption)))) +
         "\n";
}

Html section(const Json& part, const std::string& id) {
  constexpr std::size_t longest = 60;  // table of checks that is shown unfolded
  Html                  content = each_as("p", part.at("text"));
  for (const Json& grid : part.at("tables")) content += table(grid);
  for (const Json& figure : part.at("figures")) content += picture(figure);
  const Json&       checks = part.at("checks");
  const std::size_t count  = checks.at("rows").size();
  content += count > longest ? report::folded("table", fmt::format("all {} checks", count), table(checks))
                             : table(checks);
  return report::titled_section(id, part.at("title").get<std::string>(), content);
}

}  // namespace

std::string page_of_checks(const Json& checks) {
  report::Sheet sheet{.title  = checks.at("title").get<std::string>(),
                      .main   = each_as("p", checks.at("introduction")) + table(checks.at("summary")),
                      .footer = "Written by ./dev validate."};
  const Json&   failures = checks.at("failures");
  sheet.main += report::titled_section(
      "fails", "What fails",
      failures.empty() ? element("p", "Nothing.") : element("ul", "\n" + each_as("li", failures)));
  int count = 0;
  for (const Json& part : checks.at("sections")) sheet.main += section(part, fmt::format("s{}", count++));
  return report::html_of(sheet);
}

}  // namespace arris::numbers
