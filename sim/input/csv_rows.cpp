// SPDX-License-Identifier: MIT
#include "sim/input/csv_rows.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "sim/input/by_cause.hpp"
#include "sim/input/document.hpp"
#include "sim/laws/field.hpp"
#include "sim/read_number.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

// the cells of a row of a workbook as one line, and the place of one of them in it
std::string workbook_line(const CsvRow& row, const CsvCell* cell, int& column) {
  std::string line;
  for (const CsvCell& c : row.cells) {
    if (!line.empty()) line += ", ";
    if (&c == cell) column = characters(line) + 1;
    line += printable(c.text);
  }
  return line;
}

}  // namespace

std::string sheet_column_name(int column) {
  std::string name;
  for (; column > 0; column = (column - 1) / 26)
    name.insert(name.begin(), static_cast<char>('A' + (column - 1) % 26));
  return name;
}

CsvRows::CsvRows(std::string file, std::string_view text)
    : file_(std::move(file)), table_(parse_csv(file_, text)) {}

void CsvRows::throw_if_any() {
  if (more_)
    faults_.push_back({.code = "more-faults",
                       .what = "there are more faults than these",
                       .next = "Mend the first ones and try again.",
                       .file = file_});
  if (!faults_.empty()) throw Error(Exit::data, by_cause(faults_));
}

void CsvRows::add(const CsvRow& row, const CsvCell* cell, Diagnostic d) {
  if (faults_.size() >= Findings::most_told) {
    more_ = true;
    return;
  }
  const auto source = static_cast<std::size_t>(row.source);
  d.file            = source < table_.sources.size() ? table_.sources[source].file : file_;
  d.line            = row.line;
  d.column          = cell != nullptr ? cell->column : 1;
  d.width           = cell != nullptr ? std::max(1, characters(cell->text)) : 1;
  if (source < table_.sources.size() && !table_.sources[source].sheet.empty()) {
    const std::string text = workbook_line(row, cell, d.column);
    const std::string at   = cell != nullptr && cell->sheet_column > 0
                                 ? fmt::format("cell {}{} of", sheet_column_name(cell->sheet_column), row.line)
                                 : std::string("in");
    d.what = fmt::format("{} sheet \"{}\": {}", at, printable(table_.sources[source].sheet), d.what);
    d.show_line(text);
  } else {
    d.show_line(printable(row.text));
  }
  faults_.push_back(std::move(d));
}

bool CsvRows::read_header(const std::vector<std::string>& known) {
  for (std::size_t i = 0; i < table_.header.cells.size() && !more_; ++i) {
    const CsvCell& cell = table_.header.cells[i];
    if (cell.text.find(';') != std::string::npos) {
      add(table_.header, &cell,
          {.code  = "semicolons",
           .what  = "the columns are separated by semicolons",
           .cause = "Spreadsheets of some countries export so.",
           .next  = "Export with commas between columns and a decimal point in numbers."});
      return false;
    }
    if (std::find(known.begin(), known.end(), cell.text) == known.end()) {
      const bool unitless = cell.text == "reading";
      add(table_.header, &cell,
          {.code    = unitless ? "missing-unit" : "unknown-column",
           .what    = unitless ? "the readings have no unit"
                               : fmt::format("there is no column \"{}\"", printable(cell.text)),
           .allowed = unitless ? "reading_gf or reading_N" : or_list(known),
           .next    = unitless ? std::string{} : did_you_mean(cell.text, known)});
    } else if (!at_.emplace(cell.text, i).second) {
      add(table_.header, &cell,
          {.code = "given-twice", .what = fmt::format("the column \"{}\" appears twice", cell.text)});
    }
  }
  return faults_.empty();
}

void CsvRows::need_column(bool there, const char* what, const char* allowed) {
  if (!there && faults_.empty())
    add(table_.header, nullptr, {.code = "missing-column", .what = what, .allowed = allowed});
}

void CsvRows::need_one_unit() {
  if (has("reading_gf") && has("reading_N")) {
    add(table_.header, nullptr,
        {.code = "given-twice",
         .what = "the readings are given in two units",
         .next = "Keep reading_gf or reading_N."});
  }
}

void CsvRows::need_readings(bool there, const char* cause, const char* next) {
  if (!there && faults_.empty())
    add(table_.header, nullptr,
        {.code = "no-readings", .what = "the file holds no readings", .cause = cause, .next = next});
}

const CsvCell* CsvRows::cell(const CsvRow& row, const std::string& column) const {
  const auto found = at_.find(column);
  return found == at_.end() ? nullptr : &row.cells[found->second];
}

std::string CsvRows::text(const CsvRow& row, const std::string& column) const {
  const CsvCell* c = cell(row, column);
  return c == nullptr ? std::string{} : c->text;
}

bool CsvRows::is_whole(const CsvRow& row) {
  if (row.cells.size() == table_.header.cells.size()) return true;
  const auto [cause, next] = [&]() -> std::pair<const char*, const char*> {
    if (row.cells.size() > table_.header.cells.size()) {
      return {"A decimal comma splits a number into two cells.",
              "Write numbers with a decimal point, and text with commas in \"quotes\"."};
    }
    if (row.cells.front().text.find(';') != std::string::npos)
      return {"This row has semicolons between its cells.", "Separate cells by commas, as in the header."};
    return {"", "End the row with as many commas as the header has."};
  }();
  add(row, nullptr,
      {.code = "wrong-count",
       .what =
           fmt::format("{} where the header has {}",
                       counted(static_cast<long long>(row.cells.size()), "cell"), table_.header.cells.size()),
       .cause = cause,
       .next  = next});
  return false;
}

double CsvRows::number(const CsvRow& row, const CsvCell& c, const char* what) {
  if (c.text.empty()) return not_given;
  double value            = 0.0;
  const auto [end, error] = read_number(c.text.data(), c.text.data() + c.text.size(), value);
  const bool whole        = error == std::errc{} && end == c.text.data() + c.text.size();
  if (!whole) {
    const bool comma = c.text.find(',') != std::string::npos;
    add(row, &c,
        {.code  = comma ? "decimal-comma" : "not-a-number",
         .what  = fmt::format("\"{}\" is not a number: {}", printable(c.text), what),
         .cause = comma ? "Numbers here have a decimal point." : "",
         .next  = comma ? "Export with a decimal point."
                        : "Leave the cell empty where a reading is missing; put remarks under note."});
    return not_given;
  }
  if (!std::isfinite(value)) {
    add(row, &c,
        {.code = "not-finite",
         .what = fmt::format("\"{}\" is not a finite number: {}", printable(c.text), what),
         .next = "Leave the cell empty where a reading is missing."});
    return not_given;
  }
  return value;
}

int CsvRows::replicate(const CsvRow& row) {
  const CsvCell* c = cell(row, "replicate");
  if (c == nullptr || c->text.empty()) return 0;
  const double value = number(row, *c, "the number of the replicate");
  if (std::isnan(value)) return 0;
  if (value < 1 || value != std::floor(value) || value > 1e6) {
    add(row, c,
        {.code    = "not-an-integer",
         .what    = fmt::format("replicate {} must be a whole number", c->text),
         .allowed = "1, 2, 3 …"});
    return 0;
  }
  return static_cast<int>(value);
}

void CsvRows::add_second_replicate(const CsvRow& row, int replicate, const std::string& of) {
  add(row, cell(row, "replicate"),
      {.code = "duplicate-replicate",
       .what = fmt::format("replicate {} of {} stands twice", replicate, of),
       .next = "Number the replicates of one operator 1, 2, 3 …"});
}

void CsvRows::add_no_date(const CsvRow& row, const CsvCell& cell) {
  add(row, &cell,
      {.code    = "not-a-date",
       .what    = fmt::format("\"{}\" is no date that there is", printable(cell.text)),
       .allowed = "year, month and day, such as 2025-06-03",
       .next    = "Correct it, or leave it empty."});
}

void CsvRows::add_no_force(const CsvRow& row, const CsvCell& cell) {
  add(row, &cell,
      {.code    = "negative-force",
       .what    = fmt::format("a reading of {} is no force", cell.text),
       .allowed = "above 0",
       .cause   = "An empty cell means missing; zero would mean that no force was needed.",
       .next    = "Correct it, or leave it empty."});
}

}  // namespace arris
