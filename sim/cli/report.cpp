// SPDX-License-Identifier: MIT
#include <algorithm>
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
namespace {

std::string ending_of(const std::string& path) { return std::filesystem::path(path).extension().string(); }

bool is_picture(const std::string& path) {
  const std::string ending = ending_of(path);
  return ending == ".svg" || ending == ".png";
}

void require_sound_options(const Arguments& arguments) {
  const auto fail = [](const std::string& what, const std::string& next) {
    throw Error(Exit::usage, {.code = "bad-option", .what = what, .next = next});
  };
  const auto out = arguments.text("out"), pdf = arguments.text("pdf");
  if (!out && !pdf)
    fail("a report needs a file",
         "Give --out page.html, --pdf page.pdf, or with --figure NAME --out picture.svg.");
  if (arguments.has("tables") && (!out || arguments.has("figure")))
    fail("--tables is for the page for the screen", "Give --out page.html with it, and no --figure.");
  if (arguments.has("figure")) {
    if (pdf) fail("--pdf is for the page", "Give the picture a name that ends in .pdf: --out picture.pdf.");
    if (!is_picture(*out) && ending_of(*out) != ".pdf" && *out != "-")
      throw Error(Exit::usage, {.code    = "bad-option",
                                .what    = fmt::format("--out {} is no name of a picture", printable(*out)),
                                .allowed = "a name that ends in .svg, .png or .pdf"});
    return;
  }
  if (arguments.has("width"))
    fail("--width is for --figure; a page fits its screen", "Leave it out, or name a figure.");
  if (out && is_picture(*out))
    fail(fmt::format("--out {} is the name of a picture", printable(*out)),
         "Say which with --figure NAME, or end the name in .html for the page.");
  if (out && ending_of(*out) == ".pdf")
    fail(fmt::format("--out {} would be a page for the screen", printable(*out)),
         "Give --pdf for the page on paper.");
}

void require_unlike(const Arguments& arguments, const std::string& result) {
  for (const char* option : {"out", "pdf"}) {
    const auto      path = arguments.text(option);
    std::error_code error;
    if (path && *path != "-" && std::filesystem::equivalent(result, *path, error) && !error)
      throw Error(Exit::usage, {.code = "would-overwrite",
                                .what = fmt::format("--{} would overwrite the result", option),
                                .next = "Give the report another name.",
                                .file = *path});
  }
}

// the sections of all results, and of several that compare ways the verdict
report::Page results_page(const Arguments& arguments) {
  report::Page                page;
  const report::Extent        extent{.whole = arguments.has("whole"),
                                     .edges = names_in(arguments.text("edge").value_or(""))};
  std::optional<StoredResult> compared, upkeep;
  for (const std::string& file : arguments.texts("RESULT")) {
    require_unlike(arguments, file);
    const StoredResult result = read_result(file);
    if (page.title.empty()) page.title = result.title;
    page.sections.push_back(report::section_of(result, extent));
    if (result.answer.kind == "compare" && !compared) compared = result;
    if (result.answer.kind == "upkeep" && !upkeep) upkeep = result;
  }
  if (page.title.empty())
    page.title = std::filesystem::path(arguments.texts("RESULT").front()).filename().string();
  if (compared && page.sections.size() > 1) {
    page.verdict = report::verdict_of(*compared, upkeep ? &*upkeep : nullptr);
    // what was read comes before what was made of it
    std::stable_partition(page.sections.begin(), page.sections.end(),
                          [](const report::Section& s) { return s.kind == "readings"; });
  }
  report::say_misses_once(page);
  return page;
}

void write_figure(const Arguments& arguments, const report::Page& page, const std::string& out) {
  const auto  width   = static_cast<double>(arguments.integer("width", 720, 240, 4000));
  const auto& figure  = report::figure_named(page.sections, *arguments.text("figure"));
  const auto  picture = arris::figures::standalone(figure.draw(width, "figure"));
  write_text(out, ending_of(out) == ".png"   ? report::png_of(picture)
                  : ending_of(out) == ".pdf" ? report::pdf_of({{picture, {}}}, figure.title)
                                             : picture);
  if (!arguments.has("quiet") && out != "-") fmt::print("{}: {}\n", printable(out), figure.title);
}

// a folder as it is seen from a page
std::string seen_from(const std::string& page, const std::string& folder) {
  const auto from =
      page == "-" ? std::filesystem::current_path() : std::filesystem::absolute(page).parent_path();
  return std::filesystem::absolute(folder)
      .lexically_normal()
      .lexically_relative(from.lexically_normal())
      .generic_string();
}

void write_screen_page(const Arguments& arguments, const report::Page& page, const std::string& out) {
  const auto         tables = arguments.text("tables");
  const auto         made   = tables ? report::html_and_tables(page, seen_from(out, *tables))
                                     : report::PageAndTables{report::html_of(page), {}};
  const std::string& html   = made.html;
  for (const report::TableFile& table : made.tables) {
    std::error_code error;
    std::filesystem::create_directories(*tables, error);  // where that fails, writing tells why
    write_text((std::filesystem::path(*tables) / table.name).string(), table.csv);
  }
  write_text(out, html);
  if (arguments.has("quiet") || out == "-") return;
  long long count = 0;
  for (const auto& section : page.sections) {
    for (const auto& figure : section.figures) count += figure.on_page ? 1 : 0;
  }
  fmt::print("{}: {}, {:.0f} kB, opens without a network\n", printable(out), counted(count, "figure"),
             std::ceil(static_cast<double>(html.size()) / 1000.0));
}

void write_paper(const Arguments& arguments, const report::Page& page, const std::string& out) {
  const auto        sheets = report::paper_of(page);
  const std::string pdf    = report::pdf_of(sheets, page.title);
  write_text(out, pdf);
  if (!arguments.has("quiet") && out != "-")
    fmt::print("{}: {} of A4, {:.0f} kB\n", printable(out),
               counted(static_cast<long long>(sheets.size()), "sheet"),
               std::ceil(static_cast<double>(pdf.size()) / 1000.0));
}

}  // namespace

Exit report(const Arguments& arguments) {
  require_sound_options(arguments);
  const auto            out = arguments.text("out"), pdf = arguments.text("pdf");
  std::vector<FileLock> held;
  for (const auto& path : {out, pdf}) {
    if (!path) continue;
    for (FileLock& lock : hold_output(arguments, *path)) held.push_back(std::move(lock));
  }
  const report::Page page = results_page(arguments);
  if (arguments.has("figure")) {
    write_figure(arguments, page, *out);
    return Exit::done;
  }
  if (out) write_screen_page(arguments, page, *out);
  if (pdf) write_paper(arguments, page, *pdf);
  return Exit::done;
}

}  // namespace arris::cli
