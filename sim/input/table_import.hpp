// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/input/column_numbers.hpp"
#include "sim/input/csv_rows.hpp"
#include "sim/input/dates.hpp"
#include "sim/input/readings_form.hpp"

/// One table of readings as somebody keeps it, made into the columns of a readings file, step by step.
namespace arris {

class TableImport : private CsvRows {
 public:
  /// `separator` is that of text, 0 of a workbook; `where` stands before what is said: "june.csv".
  TableImport(std::string file, CsvTable table, const ReadingsForm& form, char separator, std::string where)
      : CsvRows(std::move(file), std::move(table)),
        form_(form),
        separator_(separator),
        where_(std::move(where)) {}

  /// The table; what was taken for what goes to `said`. Throws Error (Exit::data).
  [[nodiscard]] CsvTable import(std::vector<std::string>& said);
  /// Whether the table is now as it was.
  [[nodiscard]] bool is_unchanged() const { return !is_changed_; }

 private:
  /// What a column of the table is.
  struct Column {
    std::string is;      ///< column of a readings file; empty where it is none
    std::string moment;  ///< the moment whose readings it holds; empty where it does not
    std::string unit;    ///< of these: "gf" or "N"
    std::string kept;    ///< the head under which it is kept in the note; empty where it is not
  };

  [[nodiscard]] bool               is_exact() const;
  std::vector<Column>              meanings();
  Column                           meaning_of(const CsvCell& cell);
  Column                           stated_column(const CsvCell& head, const std::string& target);
  void                             check_twice(const std::vector<Column>& columns);
  void                             find_days(std::vector<Column>& columns);
  void                             guess_date(std::vector<Column>& columns);
  void                             guess_reading(std::vector<Column>& columns);
  void                             check_needed(const std::vector<Column>& columns);
  [[nodiscard]] bool               is_all_dates(std::size_t column) const;
  [[nodiscard]] bool               is_kept_as_stated(std::size_t column) const;
  void                             find_units(std::vector<Column>& columns);
  void                             check_wide(const std::vector<Column>& columns);
  void                             read_decimals(const std::vector<Column>& columns);
  void                             add_mixed_marks(const ColumnMarks& marks);
  void                             add_unclear_mark(const CsvRow& row, const CsvCell& cell);
  void                             read_dates(const std::vector<Column>& columns);
  DateOrder                        order_of_dates(std::size_t column);
  void                             write_dates(std::size_t column, DateOrder order);
  [[nodiscard]] std::optional<int> zero_day(DateOrder order) const;
  void                             keep_free_columns(std::vector<Column>& columns);
  void                             name_columns(const std::vector<Column>& columns);
  void                             turn_long(const std::vector<Column>& columns);
  void                             add_test_days();
  void say(const std::string& sentence) { said_->push_back(where_ + ": " + sentence); }

  ReadingsForm              form_;
  char                      separator_;
  std::string               where_;
  bool                      is_changed_ = false;
  std::vector<std::string>* said_       = nullptr;
};

}  // namespace arris
