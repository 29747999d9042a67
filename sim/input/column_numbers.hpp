// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/input/csv.hpp"

/// Whether the numbers of a column have a decimal point or a decimal comma.
namespace arris {

/// How one number is written.
enum class NumberMark { none, whole, point, comma, both };  ///< none: it is no number

struct WrittenNumber {
  NumberMark mark             = NumberMark::none;
  bool       may_be_thousands = false;  ///< "1,234", "12.000": the mark may part thousands
};

[[nodiscard]] WrittenNumber written_number(std::string_view text);

/// What the numbers of a column have in common.
struct ColumnMarks {
  const CsvCell* comma            = nullptr;  ///< the first with a comma, and its row
  const CsvRow*  comma_row        = nullptr;
  const CsvCell* point            = nullptr;
  const CsvRow*  point_row        = nullptr;
  const CsvCell* both             = nullptr;  ///< with a comma and a point
  const CsvRow*  both_row         = nullptr;
  bool           is_sure_of_comma = false;  ///< there is a comma that parts no thousands
  bool           is_sure_of_point = false;
};

[[nodiscard]] ColumnMarks marks_of(const std::vector<CsvRow>& rows, std::size_t column);

/// A number with a point in place of its comma; anything else as it is.
[[nodiscard]] std::string with_point(const std::string& text);

}  // namespace arris
