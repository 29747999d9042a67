// SPDX-License-Identifier: MIT
#include "sim/input/column_numbers.hpp"

namespace arris {

WrittenNumber written_number(std::string_view text) {
  if (!text.empty() && (text.front() == '-' || text.front() == '+')) text.remove_prefix(1);
  constexpr std::string_view digits = "0123456789";
  if (text.empty() || text.find_first_not_of("0123456789.,") != std::string_view::npos) return {};
  const std::size_t mark = text.find_first_of(".,");
  if (mark == std::string_view::npos) return {NumberMark::whole, false};
  const std::string_view behind = text.substr(mark + 1);
  if (behind.find_first_of(".,") != std::string_view::npos) return {NumberMark::both, false};
  if (text.size() == 1) return {};
  const bool thousands = mark >= 1 && mark <= 3 && behind.size() == 3 && text.front() != '0' &&
                         digits.find(text.front()) != std::string_view::npos;
  return {text[mark] == ',' ? NumberMark::comma : NumberMark::point, thousands};
}

ColumnMarks marks_of(const std::vector<CsvRow>& rows, std::size_t column) {
  ColumnMarks marks;
  const auto  note = [](const CsvRow& row, const CsvCell& cell, const CsvRow*& first_row,
                       const CsvCell*& first) {
    if (first != nullptr) return;
    first_row = &row;
    first     = &cell;
  };
  for (const CsvRow& row : rows) {
    if (column >= row.cells.size()) continue;
    const CsvCell&      cell   = row.cells[column];
    const WrittenNumber number = written_number(cell.text);
    switch (number.mark) {
      case NumberMark::comma:
        note(row, cell, marks.comma_row, marks.comma);
        marks.is_sure_of_comma |= !number.may_be_thousands;
        break;
      case NumberMark::point:
        note(row, cell, marks.point_row, marks.point);
        marks.is_sure_of_point |= !number.may_be_thousands;
        break;
      case NumberMark::both:
        note(row, cell, marks.both_row, marks.both);
        break;
      case NumberMark::none:
      case NumberMark::whole:
        break;
    }
  }
  return marks;
}

std::string with_point(const std::string& text) {
  if (written_number(text).mark != NumberMark::comma) return text;
  std::string out    = text;
  out[out.find(',')] = '.';
  return out;
}

}  // namespace arris
