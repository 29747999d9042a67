// SPDX-License-Identifier: MIT
#include "sim/input/readings_log.hpp"

#include <algorithm>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/input/column_numbers.hpp"
#include "sim/input/csv_rows.hpp"
#include "sim/input/readings_columns.hpp"
#include "sim/input/readings_heads.hpp"
#include "sim/input/readings_import.hpp"
#include "sim/input/workbook.hpp"
#include "sim/read_number.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

bool is_log_number(const std::string& column) {
  const auto& list = readings_column_list();
  return std::any_of(list.begin(), list.end(),
                     [&](const ReadingsColumn& c) { return c.name == column && c.is_number; });
}

// the columns of a log as it stands, in its order
std::vector<std::string> log_columns(const std::string& file, const CsvRow& header) {
  std::vector<std::string> columns;
  for (const CsvCell& cell : header.cells) {
    const Head head = head_of(cell.text);
    columns.push_back(head.column);
  }
  const bool has_reading = std::any_of(columns.begin(), columns.end(), [](const std::string& c) {
    return c == "reading_gf" || c == "reading_N";
  });
  if (has_reading) return columns;
  Diagnostic d{.code   = "not-a-log",
               .what   = "there is no column of readings with a unit, so that no row can be added",
               .next   = "Bring it into form first: arris import FILE --out log.csv.",
               .file   = file,
               .line   = header.line,
               .column = 1};
  throw Error(Exit::data, std::move(d));
}

// whether numbers of the log have a decimal comma; where none has a mark, as its separator makes likely
bool has_decimal_comma(const CsvTable& table, const std::vector<std::string>& columns, char separator) {
  bool point = false;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (!is_log_number(columns[i])) continue;
    const ColumnMarks marks = marks_of(table.rows, i);
    if (marks.comma != nullptr) return true;
    point = point || marks.point != nullptr;
  }
  return !point && separator == ';';
}

// the next replicate of the same edge, moment, operator and day
int next_replicate(const CsvTable& table, const std::map<std::string, std::string>& values) {
  std::map<std::string, std::size_t> at;
  for (std::size_t i = 0; i < table.header.cells.size(); ++i) at.emplace(table.header.cells[i].text, i);
  const auto replicate = at.find("replicate");
  if (replicate == at.end()) return 1;
  double most = 0.0;
  for (const CsvRow& row : table.rows) {
    bool same = true;
    for (const char* key : {"part", "edge", "code", "step", "passes", "operator", "date", "test_day"}) {
      const auto column = at.find(key);
      const auto value  = values.find(key);
      if (column != at.end())
        same = same && row.cells[column->second].text == (value == values.end() ? "" : value->second);
    }
    const std::string& text  = row.cells[replicate->second].text;
    double             count = 0.0;
    (void)read_number(text.data(), text.data() + text.size(), count);
    if (same) most = std::max(most, count);
  }
  return static_cast<int>(std::min(most, 1e6)) + 1;
}

void check_columns(const std::string& file, const std::vector<std::string>& columns,
                   const std::map<std::string, std::string>& values) {
  const auto has = [&](const std::string& column) {
    return std::find(columns.begin(), columns.end(), column) != columns.end();
  };
  std::vector<std::string> known;
  for (const std::string& column : columns) {
    if (!column.empty()) known.push_back(column);
  }
  for (const auto& [column, value] : values) {
    if (has(column)) continue;
    const bool other_unit = column == "reading_gf" || column == "reading_N";
    throw Error(Exit::data,
                {.code    = other_unit ? "two-units" : "no-column",
                 .what    = other_unit ? fmt::format("the log is in {}",
                                                  column == "reading_gf" ? "newtons" : "gram-force")
                                       : fmt::format("the log has no column for {}", column),
                 .allowed = or_list(known, 40),
                 .next    = other_unit ? "Give the reading in that unit."
                                       : "Add the column to the log, or put it under note.",
                 .file    = file});
  }
}

// the whole log must be readable before it grows: import_readings lets a file that is in form already pass as it is
CsvTable readable_log(const std::string& file, const std::string& text) {
  CsvRows rows(file, import_readings({{file, text}}, {}).table);
  for (const CsvRow& row : rows.table().rows) (void)rows.is_whole(row);
  rows.throw_if_any();
  return std::move(rows.table());
}

}  // namespace

std::string new_log(const std::string& unit) {
  return csv_row({"edge", "step", "passes", "reading_" + unit, "replicate", "operator", "filament_lot",
                  "date", "test_day", "note", "excluded"});
}

std::string with_row(const std::string& file, const std::string& text,
                     std::map<std::string, std::string> values) {
  if (is_workbook(text))
    throw Error(Exit::data, {.code = "not-a-log",
                             .what = "this is a workbook, and rows are added to text only",
                             .next = "Make a log of it: arris import FILE --out log.csv.",
                             .file = file});
  const ReadingsForm form;
  const char         separator = separator_in(file, text, form);
  const CsvTable     as_is     = parse_csv(file, text, separator);
  const auto         columns   = log_columns(file, as_is.header);
  check_columns(file, columns, values);
  const CsvTable table          = readable_log(file, text);
  const bool     has_replicates = std::find(columns.begin(), columns.end(), "replicate") != columns.end();
  if (has_replicates && values.count("replicate") == 0)
    values["replicate"] = std::to_string(next_replicate(table, values));
  const bool               comma = has_decimal_comma(as_is, columns, separator);
  std::vector<std::string> cells;
  for (const std::string& column : columns) {
    const auto  found = values.find(column);
    std::string cell  = found == values.end() || column.empty() ? std::string{} : found->second;
    if (comma && is_log_number(column)) std::replace(cell.begin(), cell.end(), '.', ',');
    cells.push_back(std::move(cell));
  }
  const bool  dos = text.find("\r\n") != std::string::npos;
  std::string row = csv_row(cells, separator);
  if (dos) row.insert(row.size() - 1, "\r");
  const bool ends = !text.empty() && text.back() == '\n';
  return text + (ends ? "" : dos ? "\r\n" : "\n") + row;
}

}  // namespace arris
