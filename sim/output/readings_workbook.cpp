// SPDX-License-Identifier: MIT
#include "sim/output/readings_workbook.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include <fmt/format.h>
#ifdef ARRIS_WITH_WORKBOOKS
#include <xlsxwriter.h>
#endif

#include "sim/diagnostic.hpp"
#include "sim/input/dates.hpp"
#include "sim/input/readings_columns.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/read_number.hpp"
#include "sim/text.hpp"

namespace arris {

#ifdef ARRIS_WITH_WORKBOOKS
namespace {

const ReadingsColumn* column_named(const std::string& name) {
  const auto& list  = readings_column_list();
  const auto  found = std::find_if(list.begin(), list.end(), [&](const auto& c) { return c.name == name; });
  return found == list.end() ? nullptr : &*found;
}

/// The workbook while it is written.
class ReadingsWorkbook {
 public:
  ReadingsWorkbook(std::string target, const std::string& temporary)
      : target_(std::move(target)), book_(workbook_new(temporary.c_str())) {
    if (book_ == nullptr) cannot_write(target_, "not enough memory");
    head_ = workbook_add_format(book_);
    format_set_bold(head_);
    date_ = workbook_add_format(book_);
    format_set_num_format(date_, "yyyy-mm-dd");
  }
  ReadingsWorkbook(const ReadingsWorkbook&)            = delete;
  ReadingsWorkbook& operator=(const ReadingsWorkbook&) = delete;
  ~ReadingsWorkbook() {
    if (book_ != nullptr) (void)workbook_close(book_);
  }

  void put_readings(const CsvTable& table) {
    lxw_worksheet* sheet = workbook_add_worksheet(book_, "readings");
    worksheet_freeze_panes(sheet, 1, 0);
    std::vector<const ReadingsColumn*> columns;
    for (std::size_t i = 0; i < table.header.cells.size(); ++i) {
      put_text(sheet, 0, i, table.header.cells[i].text, head_);
      columns.push_back(column_named(table.header.cells[i].text));
    }
    for (std::size_t r = 0; r < table.rows.size(); ++r) {
      const auto row = static_cast<lxw_row_t>(r + 1);
      for (std::size_t i = 0; i < table.rows[r].cells.size(); ++i)
        put_cell(sheet, row, i, table.rows[r].cells[i].text, i < columns.size() ? columns[i] : nullptr);
    }
  }

  void put_columns(const CsvTable& table, const std::vector<std::string>& said) {
    lxw_worksheet* sheet = workbook_add_worksheet(book_, "columns");
    worksheet_set_column(sheet, 0, 0, 20, nullptr);
    worksheet_set_column(sheet, 2, 2, 80, nullptr);
    put_text(sheet, 0, 0, "name", head_);
    put_text(sheet, 0, 1, "in", head_);
    put_text(sheet, 0, 2, "what it is", head_);
    lxw_row_t row = 0;
    for (const CsvCell& head : table.header.cells) {
      const ReadingsColumn* column = column_named(head.text);
      if (column == nullptr) continue;
      ++row;
      put_text(sheet, row, 0, std::string(column->name), nullptr);
      put_text(sheet, row, 1, unit_in_words(*column), nullptr);
      put_text(sheet, row, 2, std::string(column->says), nullptr);
    }
    ++row;
    for (const std::string& sentence : said) put_text(sheet, ++row, 2, sentence, nullptr);
  }

  void close() {
    const lxw_error error = workbook_close(book_);
    book_                 = nullptr;
    if (error != LXW_NO_ERROR) cannot_write(target_, lxw_strerror(error));
  }

 private:
  void check(lxw_error error, std::size_t row) const {
    if (error == LXW_NO_ERROR) return;
    throw Error(Exit::data,
                {.code = "too-large",
                 .what = fmt::format("row {} does not go into a workbook: {}", row + 1, lxw_strerror(error)),
                 .next = "Write it as CSV.",
                 .file = target_});
  }
  void put_text(lxw_worksheet* sheet, lxw_row_t row, std::size_t column, const std::string& text,
                lxw_format* format) {
    // XML has no room for control characters, and none of them is seen in a sheet
    std::string plain = text;
    std::replace_if(
        plain.begin(), plain.end(), [](char c) { return c >= 0 && c < ' '; }, ' ');
    check(worksheet_write_string(sheet, row, static_cast<lxw_col_t>(column), plain.c_str(), format), row);
  }
  void put_cell(lxw_worksheet* sheet, lxw_row_t row, std::size_t column, const std::string& text,
                const ReadingsColumn* meaning) {
    if (text.empty()) return;
    const auto at = static_cast<lxw_col_t>(column);
    if (meaning != nullptr && meaning->is_number) {
      double value            = 0.0;
      const auto [end, error] = read_number(text.data(), text.data() + text.size(), value);
      if (error == std::errc{} && end == text.data() + text.size() && std::isfinite(value))
        return check(worksheet_write_number(sheet, row, at, value, nullptr), row);
    }
    if (meaning != nullptr && meaning->name == "date" && is_iso_date(text)) {
      const WrittenDate day  = *written_date(text);
      lxw_datetime      date = {day.year, day.first, day.second, 0, 0, 0.0};
      return check(worksheet_write_datetime(sheet, row, at, &date, date_), row);
    }
    put_text(sheet, row, column, text, nullptr);
  }

  std::string   target_;
  lxw_workbook* book_;
  lxw_format *  head_ = nullptr, *date_ = nullptr;
};

}  // namespace
#endif

void write_readings_workbook(const std::string& path, const CsvTable& table,
                             const std::vector<std::string>& said) {
#ifdef ARRIS_WITH_WORKBOOKS
  SafeFile file(path);
  {
    ReadingsWorkbook book(path, file.temporary().string());
    book.put_readings(table);
    book.put_columns(table, said);
    book.close();
  }
  file.keep();
#else
  (void)table;
  (void)said;
  throw Error(Exit::usage, {.code = "no-workbooks",
                            .what = "this program was built without workbooks",
                            .next = "Give --out a name that ends in .csv.",
                            .file = path});
#endif
}

}  // namespace arris
