// SPDX-License-Identifier: MIT
#ifdef ARRIS_WITH_WORKBOOKS

#include <algorithm>
#include <charconv>
#include <functional>
#include <set>
#include <string>

#include <fmt/format.h>

#include "sim/input/dates.hpp"
#include "sim/input/workbook_parts.hpp"

namespace arris {
namespace {

// how often a row or a cell stands one after the other
int times(const char** attributes, const char* name) {
  const char* text = attribute(attributes, name);
  if (text == nullptr) return 1;
  const std::string_view all(text);
  int                    value = 1;
  const auto [end, error]      = std::from_chars(all.data(), all.data() + all.size(), value);
  const bool is_count          = error == std::errc{} && end == all.data() + all.size() && value >= 1;
  return is_count ? std::min(value, workbook_limits::rows) : 1;
}

/// content.xml
class OdsContent : public XmlListener {
 public:
  explicit OdsContent(Workbook& book) : book_(book) {}

  void begin(std::string_view name, const char** attributes) override {
    if (name == "annotation") ++in_remark_;  // what somebody says of a cell is not in it
    if (in_remark_ > 0) return;
    if (name == "null-date") {
      read_zero_day(attribute(attributes, "date-value"));
    } else if (name == "style") {
      const char* style = attribute(attributes, "name");
      style_            = style == nullptr ? "" : style;
    } else if (name == "table-properties") {
      const char* display = attribute(attributes, "display");
      if (display != nullptr && std::string_view(display) == "false") hidden_styles_.insert(style_);
    } else if (name == "table") {
      begin_table(attribute(attributes, "name"), attribute(attributes, "style-name"));
    } else if (name == "table-row") {
      row_repeats_ = times(attributes, "number-rows-repeated");
      column_      = 0;
      cells_of_row_.clear();
    } else if (name == "table-cell" || name == "covered-table-cell") {
      begin_cell(attributes);
    } else if (in_cell_ && name == "p") {
      if (paragraphs_++ > 0) append_text(text_, " ", *this);
      ++in_paragraph_;
    } else if (in_cell_ && (name == "s" || name == "tab" || name == "line-break")) {
      append_text(text_, " ", *this);
    }
  }

  void end(std::string_view name) override {
    if (name == "annotation") --in_remark_;
    if (in_remark_ > 0) return;
    if (name == "p" && in_paragraph_ > 0) --in_paragraph_;
    if (name == "table-cell" || name == "covered-table-cell") end_cell();
    if (name == "table-row") end_row();
  }

  void text(std::string_view text) override {
    if (in_cell_ && in_paragraph_ > 0 && in_remark_ == 0) append_text(text_, text, *this);
  }

 private:
  struct Cell {
    int         column = 0;
    std::string text;
    bool        has_formula = false;
  };

  void read_zero_day(const char* value) {
    if (value == nullptr) return;
    const std::string_view day(value);
    if (day == "1904-01-01") book_.zero_day = zero_day_1904;
    if (day == "1900-01-01") book_.zero_day = zero_day_1900 + 2;
  }

  // styles stand before the sheets that have them; one of them may hide its sheets
  void begin_table(const char* name, const char* style) {
    if (book_.sheets.size() >= static_cast<std::size_t>(workbook_limits::parts))
      return stop("too large: there are more sheets than a workbook may have");
    book_.sheets.push_back(
        {name == nullptr ? "" : name, style != nullptr && hidden_styles_.count(style) > 0, {}, {}, {}});
    row_ = 0;
  }

  void begin_cell(const char** attributes) {
    in_cell_      = true;
    in_paragraph_ = 0;
    paragraphs_   = 0;
    text_.clear();
    note_merged(attributes);
    cell_repeats_     = times(attributes, "number-columns-repeated");
    has_formula_      = attribute(attributes, "formula") != nullptr;
    const char* type  = attribute(attributes, "value-type");
    const auto  of    = [&](const char* name) { return attribute(attributes, name); };
    type_             = type == nullptr ? "" : type;
    const char* value = type_ == "date"      ? of("date-value")
                        : type_ == "boolean" ? of("boolean-value")
                        : type_ == "string"  ? of("string-value")
                        : type_ == "time"    ? nullptr
                                             : of("value");
    has_value_        = value != nullptr;
    value_            = value == nullptr ? "" : value;
    if (value_.size() > static_cast<std::size_t>(workbook_limits::cell_bytes))
      stop("too large: a cell holds more text than a spreadsheet lets one write");
  }

  void note_merged(const char** attributes) {
    const int rows    = times(attributes, "number-rows-spanned"),
              columns = times(attributes, "number-columns-spanned");
    if ((rows == 1 && columns == 1) || book_.sheets.empty()) return;
    SheetBuilder(book_.sheets.back(), size_)
        .note_merged({row_ + 1, row_ + rows, column_ + 1, column_ + columns}, *this);
  }

  void end_cell() {
    in_cell_ = false;
    if (column_ > workbook_limits::columns) return;
    std::string shown = has_value_ ? value_ : text_;
    if (type_ == "date") {
      const auto        date  = written_date(shown);
      const std::string plain = date && date->year_first ? date_text(*date, DateOrder::unstated, {}) : "";
      if (!plain.empty()) shown = plain;
    } else if (has_value_ && type_ != "string" && type_ != "boolean") {
      shown = shortest(shown);
    }
    const bool is_kept = !shown.empty() || has_formula_;
    // one text that stands in all cells of a row is that text many times
    if (is_kept &&
        size_.bytes + static_cast<long long>(shown.size()) * cell_repeats_ > workbook_limits::text_bytes)
      return stop(
          fmt::format("too large: its cells hold more than {} MB", workbook_limits::text_bytes / 1'000'000));
    for (int i = 0; is_kept && i < cell_repeats_; ++i) {
      if (column_ + i + 1 > workbook_limits::columns)
        return stop(fmt::format("too large: a row has more than {} cells", workbook_limits::columns));
      cells_of_row_.push_back({column_ + i + 1, shown, has_formula_});
    }
    column_ = std::min(column_ + cell_repeats_, workbook_limits::columns + 1);
  }

  void end_row() {
    if (book_.sheets.empty()) return;
    SheetBuilder builder(book_.sheets.back(), size_);
    // rows without anything in them are only counted: a sheet ends with a million of them
    for (int i = 0; !cells_of_row_.empty() && i < row_repeats_ && stopped().empty(); ++i) {
      for (const Cell& cell : cells_of_row_) {
        builder.put(row_ + i + 1, cell.column, cell.text, *this);
        if (cell.has_formula) builder.note_formula(row_ + i + 1, cell.column, !cell.text.empty());
        if (!stopped().empty()) return;
      }
    }
    row_ = std::min(row_ + row_repeats_, workbook_limits::rows);
  }

  Workbook&                          book_;
  WorkbookSize                       size_;
  int                                row_ = 0, column_ = 0, row_repeats_ = 1, cell_repeats_ = 1;
  int                                in_remark_ = 0, in_paragraph_ = 0, paragraphs_ = 0;
  bool                               in_cell_ = false, has_formula_ = false, has_value_ = false;
  std::string                        type_, value_, text_;
  std::vector<Cell>                  cells_of_row_;
  std::string                        style_;
  std::set<std::string, std::less<>> hidden_styles_;
};

}  // namespace

Workbook ods_workbook(ZipOfXml& zip) {
  Workbook   book{{}, zero_day_1900};
  OdsContent content(book);
  zip.read("content.xml", content);
  if (book.sheets.empty()) zip.fail("not-a-workbook", "the workbook has no sheet");
  return book;
}

}  // namespace arris

#endif
