// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "sim/input/csv.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/statistics/designs.hpp"

/// Inputs of a design, from text or from a table.
///
///     backing.soft hide.modulus_MPa=1:100:log      equal ratios from 1 to 100 are equally likely
///     step.5.laps=0:60                             so are equal steps from 0 to 60
///     step.5.laps=0|10|20                          and these values
///     step.7.cut=white oak|teak                    or these materials
namespace arris {

struct DesignInput {
  SweepAxis                  axis;   ///< of the two ends of the range, or of the choices
  std::optional<DesignRange> range;  ///< empty: choices
};

/// One input. Throws Error (Exit::usage) as sweep_axis does.
[[nodiscard]] DesignInput design_input(const std::string& input, const Loaded& loaded, const EdgePlan& plan);

/// The input with a value for each row, `unit` in [0, 1).
[[nodiscard]] SweepAxis with_rows(const DesignInput& input, const std::vector<double>& unit);

/// Inputs at points of a unit cube, point by point, each coordinate an input.
[[nodiscard]] std::vector<SweepAxis> at_points(const std::vector<DesignInput>& inputs,
                                               const std::vector<double>&      points);

/// A table whose heads are paths of inputs, and whose rows give each a value.
class DesignTable {
 public:
  /// Throws Error (Exit::data): as parse_csv does; "bad-rows" where there are no rows, or a row has not as many cells as the header.
  DesignTable(std::string file, std::string_view text);

  [[nodiscard]] std::size_t rows() const { return table_.rows.size(); }
  /// The columns as inputs with all their values, as materials_in takes them.
  [[nodiscard]] std::vector<std::string> inputs() const;
  /// Each input with its value in each row. Throws Error as sweep_axis does, and (Exit::data) "not-a-number" with its place.
  [[nodiscard]] std::vector<SweepAxis> axes(const Loaded& loaded, const EdgePlan& plan) const;

 private:
  [[nodiscard]] const std::string& path(std::size_t column) const { return table_.header.cells[column].text; }
  /// Numbers of a column; nothing where it is of materials.
  [[nodiscard]] std::optional<std::vector<double>> numbers(std::size_t column) const;
  [[noreturn]] void refuse(const CsvRow& row, const CsvCell* cell, const char* code, std::string what,
                           std::string allowed) const;

  std::string file_;
  CsvTable    table_;
};

}  // namespace arris
