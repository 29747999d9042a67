// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "sim/studies/answer.hpp"

/// What a table shows on a page or on paper: which columns, under which heads, and its numbers as text.
namespace arris::report {

/// Rows of a table that is printed whole.
inline constexpr std::size_t longest_on_paper = 40;

/// A column that is shown, and what stands over it.
using HeadedColumn = std::pair<const AnswerColumn*, std::string>;

/// Those with a head; all of them where none has one.
[[nodiscard]] std::vector<HeadedColumn> shown_columns(const AnswerTable& table);

/// A number in a cell: three digits, whole numbers whole; empty for NaN.
[[nodiscard]] std::string cell_text(double value);
[[nodiscard]] std::string cell_text(const AnswerColumn& column, std::size_t row);

/// No more than `most` rows, evenly over all of them, the first and the last among them.
[[nodiscard]] std::vector<std::size_t> shown_rows(const AnswerTable& table, std::size_t most);

/// Its title, which says so where only so many of its rows are shown.
[[nodiscard]] std::string title_of(const AnswerTable& table, std::size_t shown);

}  // namespace arris::report
