// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Comma-separated values (RFC 4180) with the position of every cell, which the libraries at hand do not keep.
namespace arris {

struct CsvCell {
  std::string
      text;    ///< without quotes, surrounding blanks, and the apostrophe that csv_row puts before a formula
  int column;  ///< of its first character in the line, from 1
  int sheet_column = 0;  ///< of a workbook, from 1; 0: of a line of text
};

struct CsvRow {
  std::vector<CsvCell> cells;
  int                  line = 0;    ///< from 1; in a workbook the number of the row
  std::string          text;        ///< the line as it stands; empty in a workbook
  int                  source = 0;  ///< index into CsvTable::sources
};

/// Where rows of a table came from.
struct CsvSource {
  std::string file;
  std::string sheet;  ///< of a workbook; empty for text
  std::optional<int>
      zero_day;  ///< which day a date that is kept as the number 0 is, in days since 1970-01-01
};

struct CsvTable {
  CsvRow                 header;
  std::vector<CsvRow>    rows;
  std::vector<CsvSource> sources;  ///< at least one
};

/// Lines that are empty or begin with `#` are passed over; a UTF-8 byte order mark too, and a line `sep=X`, by which some spreadsheets
/// state the separator. Quoted cells stay within their line. Throws Error (Exit::data): "unclosed-quote", "no-readings" for a text
/// without a header, "not-text" for bytes that are no UTF-8 text.
[[nodiscard]] CsvTable parse_csv(const std::string& file, std::string_view text, char separator = ',');

/// The cells of the first line that parse_csv takes for the header; empty where there is none, or it cannot be read.
[[nodiscard]] CsvRow csv_header(std::string_view text, char separator);

/// One row with its line end; cells are quoted where they need it. A spreadsheet takes what begins with = + - @ for a formula and works
/// it out when the file is opened, so that a text that begins so gets an apostrophe before it, which `parse_csv` takes away again (and
/// one that begins with apostrophes and then so gets one more). Numbers stay numbers.
[[nodiscard]] std::string csv_row(const std::vector<std::string>& cells, char separator = ',');

}  // namespace arris
