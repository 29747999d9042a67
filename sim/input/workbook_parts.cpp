// SPDX-License-Identifier: MIT
#ifdef ARRIS_WITH_WORKBOOKS

#include "sim/input/workbook_parts.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/input/names.hpp"
#include "sim/read_number.hpp"

namespace arris {

std::string_view without_prefix(std::string_view name) {
  const std::size_t colon = name.find(':');
  return colon == std::string_view::npos ? name : name.substr(colon + 1);
}

const char* attribute(const char** attributes, std::string_view name) {
  for (; *attributes != nullptr; attributes += 2) {
    if (without_prefix(*attributes) == name) return attributes[1];
  }
  return nullptr;
}

void ZipOfXml::fail(std::string code, std::string what) const {
  throw Error(Exit::data, {.code = std::move(code),
                           .what = std::move(what),
                           .next = "Save it anew as xlsx or ods in a spreadsheet, or as CSV in UTF-8.",
                           .file = file_});
}

void SheetBuilder::put(int row, int column, std::string text, XmlListener& listener) {
  text = trimmed(text, " \t\r\n");
  std::replace(text.begin(), text.end(), '\n', ' ');
  if (text.empty()) return;
  if (row < 1 || row > workbook_limits::rows || column < 1 || column > workbook_limits::columns)
    return listener.stop(fmt::format("too large: there is a cell in row {}, column {}", row, column));
  size_.bytes += static_cast<long long>(text.size());
  if (size_.bytes > workbook_limits::text_bytes)
    return listener.stop(
        fmt::format("too large: its cells hold more than {} MB", workbook_limits::text_bytes / 1'000'000));
  if (++size_.cells > workbook_limits::cells)
    return listener.stop(fmt::format("too large: there are more than {} cells", workbook_limits::cells));
  if (sheet_.rows.empty() || sheet_.rows.back().line != row) sheet_.rows.push_back({{}, row, {}, 0});
  CsvCell cell{std::move(text), 1};
  cell.sheet_column = column;
  sheet_.rows.back().cells.push_back(std::move(cell));
}

void SheetBuilder::note_formula(int row, int column, bool has_value) {
  constexpr std::size_t most = 100;
  if (column < 1 || column > workbook_limits::columns) return;
  ++sheet_.formulas[column];
  if (!has_value && sheet_.unworked.size() < most) sheet_.unworked.emplace_back(row, column);
}

void SheetBuilder::note_merged(MergedCells cells, XmlListener& listener) {
  if (sheet_.merged.size() >= static_cast<std::size_t>(workbook_limits::merged))
    return listener.stop(
        fmt::format("too large: there are more than {} merged cells", workbook_limits::merged));
  sheet_.merged.push_back(cells);
}

void SheetBuilder::finish() {
  const auto before = [](const CsvCell& a, const CsvCell& b) { return a.sheet_column < b.sheet_column; };
  for (CsvRow& row : sheet_.rows) {
    if (!std::is_sorted(row.cells.begin(), row.cells.end(), before))
      std::stable_sort(row.cells.begin(), row.cells.end(), before);
  }
}

std::string shortest(const std::string& text) {
  double value            = 0.0;
  const auto [end, error] = read_number(text.data(), text.data() + text.size(), value);
  if (text.empty() || error != std::errc{} || end != text.data() + text.size()) return text;
  return fmt::format("{}", value);
}

void append_text(std::string& to, std::string_view text, XmlListener& listener) {
  if (to.size() + text.size() > static_cast<std::size_t>(workbook_limits::cell_bytes))
    return listener.stop("too large: a cell holds more text than a spreadsheet lets one write");
  to += text;
}

}  // namespace arris

#endif
