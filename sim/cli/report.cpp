// SPDX-License-Identifier: MIT
#include <cmath>
#include <filesystem>
#include <system_error>

#include <fmt/format.h>

#include "sim/ask/arguments.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/output_files.hpp"
#include "sim/figures/svg.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/report/page.hpp"
#include "sim/report/picture.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris::cli {

Exit report(const Arguments& arguments) {
  const auto out = arguments.text("out");
  if (!out)
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = "a report needs a file",
                              .next = "Give --out page.html, or with --figure NAME --out picture.svg."});
  const auto           held = hold_output(arguments, *out);
  report::Page         page;
  std::size_t          count = 0;
  const report::Extent extent{.whole = arguments.has("whole"),
                              .edges = names_in(arguments.text("edge").value_or(""))};
  for (const std::string& file : arguments.texts("RESULT")) {
    std::error_code error;
    if (*out != "-" && std::filesystem::equivalent(file, *out, error) && !error)
      throw Error(Exit::usage, {.code = "would-overwrite",
                                .what = "--out would overwrite the result",
                                .next = "Give the report another name.",
                                .file = *out});
    const StoredResult result = read_result(file);
    if (page.title.empty()) page.title = result.title;
    page.sections.push_back(report::section_of(result, extent));
    for (const auto& figure : page.sections.back().figures) count += figure.on_page ? 1 : 0;
  }
  if (page.title.empty())
    page.title = std::filesystem::path(arguments.texts("RESULT").front()).filename().string();

  const std::string ending = std::filesystem::path(*out).extension().string();
  if (const auto name = arguments.text("figure")) {
    if (ending != ".svg" && ending != ".png" && *out != "-")
      throw Error(Exit::usage, {.code    = "bad-option",
                                .what    = fmt::format("--out {} is no name of a picture", printable(*out)),
                                .allowed = "a name that ends in .svg or .png"});
    const auto  width   = static_cast<double>(arguments.integer("width", 720, 240, 4000));
    const auto& figure  = report::figure_named(page.sections, *name);
    const auto  picture = arris::figures::standalone(figure.draw(width, "figure"));
    write_text(*out, ending == ".png" ? report::png_of(picture) : picture);
    if (!arguments.has("quiet") && *out != "-") fmt::print("{}: {}\n", printable(*out), figure.title);
    return Exit::done;
  }
  if (arguments.has("width"))
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = "--width is for --figure; a page fits its screen",
                              .next = "Leave it out, or name a figure."});
  if (ending == ".svg" || ending == ".png")
    throw Error(Exit::usage,
                {.code = "bad-option",
                 .what = fmt::format("--out {} is the name of a picture", printable(*out)),
                 .next = "Say which with --figure NAME, or end the name in .html for the page."});
  const std::string html = report::html_of(page);
  write_text(*out, html);
  if (!arguments.has("quiet") && *out != "-")
    fmt::print("{}: {}, {:.0f} kB, opens without a network\n", printable(*out),
               counted(static_cast<long long>(count), "figure"),
               std::ceil(static_cast<double>(html.size()) / 1000.0));
  return Exit::done;
}

}  // namespace arris::cli
