// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/diagnostic.hpp"
#include "sim/input/csv.hpp"
#include "sim/stop.hpp"

/// What readers of readings share: named columns, numbers, and faults that are all reported at once with their place.
namespace arris {

/// "A" for 1, "AB" for 28: how spreadsheets name their columns.
[[nodiscard]] std::string sheet_column_name(int column);

class CsvRows {
 public:
  /// Throws Error (Exit::data) as parse_csv does.
  CsvRows(std::string file, std::string_view text);
  /// A table that is read already; `file` stands in faults of no row.
  CsvRows(std::string file, CsvTable table) : file_(std::move(file)), table_(std::move(table)) {}

  [[nodiscard]] const CsvTable& table() const { return table_; }
  [[nodiscard]] CsvTable&       table() { return table_; }

  /// Finds the columns, all of which must be among `known`; false after a fault. A column "reading" is told to lack its
  /// unit where `known` has "reading_gf".
  bool read_header(const std::vector<std::string>& known);
  /// A fault of the header, unless there is one already or `there`.
  void need_column(bool there, const char* what, const char* allowed);
  /// A fault where the readings stand in two units.
  void need_one_unit();

  /// What `read_row(row, reading)` makes of the rows for which it returns true. Ends early where there are more faults than will be
  /// told; throws Stopped as stop_if_wished does.
  template <class Reading, class ReadRow>
  [[nodiscard]] std::vector<Reading> read_rows(ReadRow&& read_row) {
    std::vector<Reading> readings;
    for (const CsvRow& row : table_.rows) {
      if (is_full()) break;
      stop_if_wished();
      if (Reading reading; read_row(row, reading)) readings.push_back(std::move(reading));
    }
    return readings;
  }
  /// A fault of the file where no reading is `there`, unless there is one already.
  void need_readings(bool there, const char* cause, const char* next);

  [[nodiscard]] bool has(const std::string& column) const { return at_.count(column) > 0; }
  /// nullptr where there is no such column.
  [[nodiscard]] const CsvCell* cell(const CsvRow& row, const std::string& column) const;
  /// Empty where there is no such column.
  [[nodiscard]] std::string text(const CsvRow& row, const std::string& column) const;

  /// Whether a row has as many cells as the header; a fault where it has not.
  bool is_whole(const CsvRow& row);
  /// NaN after a fault or where the cell is empty; `what` says what the number is.
  double number(const CsvRow& row, const CsvCell& cell, const char* what);
  /// The whole number under `replicate`; 0 after a fault or where there is none.
  int replicate(const CsvRow& row);
  /// The fault of a replicate that another row of the same has already.
  void add_second_replicate(const CsvRow& row, int replicate, const std::string& of);
  /// The fault of a date that is none.
  void add_no_date(const CsvRow& row, const CsvCell& cell);
  /// The fault of a reading that is not above 0.
  void add_no_force(const CsvRow& row, const CsvCell& cell);

  /// Notes a fault; its place is that of the cell, or the beginning of the row.
  void                      add(const CsvRow& row, const CsvCell* cell, Diagnostic diagnostic);
  [[nodiscard]] std::size_t faults() const { return faults_.size(); }
  /// Whether there are more faults than will be reported, so that it is of no use to look for others.
  [[nodiscard]] bool is_full() const { return more_; }
  /// Throws all that was found as one Error (Exit::data).
  void throw_if_any();

 private:
  std::string                        file_;
  CsvTable                           table_;
  std::map<std::string, std::size_t> at_;
  std::vector<Diagnostic>            faults_;
  bool                               more_ = false;
};

}  // namespace arris
