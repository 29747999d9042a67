// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include "sim/input/workbook.hpp"
#include "sim/input/zip_xml.hpp"

/// The two kinds of workbooks, and what reading them has in common.
namespace arris {

/// Source: ECMA-376 part 1, chapter 18 (from memory).
[[nodiscard]] Workbook xlsx_workbook(ZipOfXml& zip);
/// Source: OpenDocument 1.2 part 1, chapter 9 (from memory).
[[nodiscard]] Workbook ods_workbook(ZipOfXml& zip);

/// What a workbook holds.
struct WorkbookSize {
  long long cells = 0, bytes = 0;  ///< of all sheets so far
};

/// A sheet while its cells come in. Cells may come in any order within a row.
class SheetBuilder {
 public:
  SheetBuilder(WorkbookSheet& sheet, WorkbookSize& size) : sheet_(sheet), size_(size) {}

  /// Empty texts are no cells. Stops the listener beyond the limits.
  void put(int row, int column, std::string text, XmlListener& listener);
  void note_formula(int row, int column, bool has_value);
  /// Stops the listener beyond the limits.
  void note_merged(MergedCells cells, XmlListener& listener);
  /// Sorts the cells of the rows.
  void finish();

 private:
  WorkbookSheet& sheet_;
  WorkbookSize&  size_;
};

/// A number as it is shortest: "0.1" for 0.1000000000000000055; the text itself where it is none.
[[nodiscard]] std::string shortest(const std::string& text);

/// Adds to a text of a cell; stops the listener where it grows beyond what a cell holds.
void append_text(std::string& to, std::string_view text, XmlListener& listener);

}  // namespace arris
