// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/input/csv.hpp"

/// Workbooks of spreadsheets, read: xlsx (ECMA-376) and ods (OpenDocument), by libzip and expat.
///
/// A file from elsewhere may be made to take all memory, so that what is unpacked and kept is bounded, whatever it says of itself:
/// see the limits below. Formulas are never worked out: the value that the spreadsheet stored with one is taken. A document type, by which
/// XML can grow without end, is refused.
namespace arris {

/// Cells that a spreadsheet shows as one, which has the value of the first.
struct MergedCells {
  int first_row, last_row, first_column, last_column;
};

struct WorkbookSheet {
  std::string name;
  bool        is_hidden = false;
  std::vector<CsvRow>
      rows;  ///< those with something in them; cells with their sheet_column, ascending; dates as YYYY-MM-DD
  std::map<int, int> formulas;  ///< by column: how many cells have a formula
  std::vector<std::pair<int, int>>
      unworked;  ///< row and column of formulas without a stored value, the first hundred
  std::vector<MergedCells> merged;
};

struct Workbook {
  std::vector<WorkbookSheet> sheets;
  int                        zero_day = 0;  ///< of dates that are kept as numbers (dates.hpp)
};

/// What is taken of a workbook at most.
namespace workbook_limits {
inline constexpr long long unpacked_bytes = 400'000'000;  ///< of all parts that are read
inline constexpr long long cells          = 6'000'000;    ///< with something in them: a million rows of six
inline constexpr long long text_bytes     = 400'000'000;  ///< of all cells
inline constexpr int       parts          = 2000;
inline constexpr int       depth          = 200;      ///< of elements within elements
inline constexpr int       cell_bytes     = 131'072;  ///< of one text
inline constexpr int       merged         = 100'000;  ///< of one sheet
inline constexpr int       columns        = 16'384;
inline constexpr int       rows           = 1'048'576;
}  // namespace workbook_limits

/// Whether the first bytes are those of a workbook, an old one (xls) too.
[[nodiscard]] bool is_workbook(std::string_view bytes);

/// Throws Error (Exit::data): "not-a-workbook" for one that is damaged, encrypted or of another kind, "too-large" beyond the limits,
/// "no-workbooks" where the program was built without libzip and expat.
[[nodiscard]] Workbook read_workbook(const std::string& file, std::string_view bytes);

}  // namespace arris
