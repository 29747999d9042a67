// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sim/studies/sweep/sweep.hpp"

/// What the answers of sweeps share: rows of results, tables of them, and the words for inputs and outputs.
namespace arris::sweep_parts {

using Get = std::function<SweepBlock(std::size_t)>;

inline constexpr std::size_t most_shown  = 40;      // rows of a table on a terminal
inline constexpr std::size_t most_listed = 100000;  // rows of a table in a file; beyond, evenly spaced ones

/// Readings apart by less than this share are alike: a tester repeats no better than a few per cent (common practice, no
/// source).
inline constexpr double alike = 0.02;

/// One row of results.
class Row {
 public:
  Row(const SweepBlock& block, std::size_t at, std::size_t columns)
      : block_(block), at_(at), columns_(columns) {}

  [[nodiscard]] std::size_t columns() const { return columns_; }
  [[nodiscard]] double      value(int output, std::size_t column) const {
         return block_.values[static_cast<std::size_t>(output)][at_ + column];
  }
  /// Column of the least value, or of the largest; the first of equals. Nothing where all are missing.
  [[nodiscard]] std::optional<std::size_t> best(int output, bool largest = false) const {
    std::optional<std::size_t> at;
    for (std::size_t c = 0; c < columns_; ++c) {
      const double v = value(output, c);
      if (std::isnan(v)) continue;
      if (!at || (largest ? v > value(output, *at) : v < value(output, *at))) at = c;
    }
    return at;
  }
  /// Linear between columns whose positions are `x`; NaN outside and beside missing values.
  [[nodiscard]] double at(int output, const std::vector<double>& x, double place) const {
    if (!(place >= x.front() && place <= x.back())) return not_given;
    const auto high = static_cast<std::size_t>(std::lower_bound(x.begin(), x.end(), place) - x.begin());
    if (x[high] == place) return value(output, high);
    const double share = (place - x[high - 1]) / (x[high] - x[high - 1]);
    return value(output, high - 1) + share * (value(output, high) - value(output, high - 1));
  }
  /// Where the value first rises through `limit`: x there, NaN when it stays below.
  [[nodiscard]] double crossing(int output, const std::vector<double>& x, double limit) const {
    for (std::size_t c = 0; c < columns_; ++c) {
      if (!(value(output, c) > limit)) continue;
      if (c == 0) return x.front();
      const double share = (limit - value(output, c - 1)) / (value(output, c) - value(output, c - 1));
      return x[c - 1] + share * (x[c] - x[c - 1]);
    }
    return not_given;
  }

 private:
  const SweepBlock& block_;
  std::size_t       at_, columns_;
};

template <class Visit>
void for_each_row(const SweepGrid& grid, const Get& get, Visit&& visit) {
  for (std::size_t chunk = 0; chunk < grid.chunks(); ++chunk) {
    const SweepBlock block = get(chunk);
    for (std::size_t r = 0; r < grid.rows_in(chunk); ++r)
      visit(grid.first_row(chunk) + r, Row(block, r * grid.columns, grid.columns));
  }
}

/// Adds the values of an axis at these places.
void add_axis(AnswerTable& table, const SweepAxis& axis, const std::vector<std::size_t>& at);
/// 0 … count − 1.
[[nodiscard]] std::vector<std::size_t> everything(std::size_t count);
[[nodiscard]] std::string              value_text(const SweepAxis& axis, std::size_t i);
/// Adds a table; where it has more rows than a screen, another that shows some of them.
void add_table(Answer& answer, AnswerTable table);
/// Head of an output's column: its name without what only files need.
[[nodiscard]] std::string head_of(const SweepOutput& output);
/// What an output is in a sentence.
[[nodiscard]] std::string subject(const SweepOutput& output);
/// A value of it with its unit.
[[nodiscard]] std::string amount(const SweepOutput& output, double value);
[[nodiscard]] bool        more_is_better(const SweepOutput& output);
/// "back bevel 5°" and "land 0.5 mm" of heads "back bevel °" and "land mm"; "laps 20"; of names the name alone.
[[nodiscard]] std::string said_of(const SweepAxis& axis, std::size_t i);

// ---- answers, by what was swept; each adds its sentences and tables ----

/// A grid of one input: its curve.
void one_input(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);
/// A grid of two inputs: what is best in each row, and all combinations.
void two_inputs(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);
/// A grid of three inputs or more.
void many_inputs(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);
/// A design, or a table of rows.
void design_rows(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);

/// Those of the questions, each with the inputs and outputs that define_question gave it.
void soft_strop_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);
void bevel_angle_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);
void wood_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);
void strokes_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);
void skip_grits_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get);

}  // namespace arris::sweep_parts
