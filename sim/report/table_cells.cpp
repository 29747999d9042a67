// SPDX-License-Identifier: MIT
#include "sim/report/table_cells.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/svg.hpp"

namespace arris::report {

std::vector<HeadedColumn> shown_columns(const AnswerTable& table) {
  const bool                named = std::any_of(table.columns.begin(), table.columns.end(),
                                                [](const AnswerColumn& c) { return !c.head.empty(); });
  std::vector<HeadedColumn> columns;
  for (const AnswerColumn& c : table.columns) {
    if (named && c.head.empty()) continue;
    columns.emplace_back(&c, named ? c.head : (c.says.empty() ? c.name : c.says));
  }
  return columns;
}

std::string cell_text(double value) {
  if (std::isnan(value)) return "";
  if (value == std::round(value) && std::fabs(value) < 1e7) return figures::figure_number(value, 8);
  return figures::figure_number(value, 3);
}

std::string cell_text(const AnswerColumn& column, std::size_t row) {
  if (column.is_text()) return column.texts[row];
  // strokes and the like are said whole, as on a terminal
  const std::string& name = column.name;
  const bool         whole =
      name == "count" || name == "strokes" || name == "strokes_to_burr" || name == "sharpenings";
  return cell_text(whole ? std::round(column.numbers[row]) : column.numbers[row]);
}

std::vector<std::size_t> shown_rows(const AnswerTable& table, std::size_t most) {
  const std::size_t        all = table.rows(), shown = std::min(all, most);
  std::vector<std::size_t> rows;
  for (std::size_t k = 0; k < shown; ++k)
    rows.push_back(shown == all || shown < 2 ? k : k * (all - 1) / (shown - 1));
  return rows;
}

std::string title_of(const AnswerTable& table, std::size_t shown) {
  const std::string& title = table.says.empty() ? table.name : table.says;
  if (shown >= table.rows()) return title;
  return title +
         fmt::format(" ({} of {} rows, evenly chosen; all are in the result file)", shown, table.rows());
}

}  // namespace arris::report
