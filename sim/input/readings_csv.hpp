// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/input/csv.hpp"
#include "sim/simulate/readings.hpp"

/// The readings file: comma-separated values (RFC 4180), UTF-8, decimal points, `#` lines are remarks.
///
/// Columns, in any order: `edge` or, on a blind run sheet, `code` (that of an edge); `step` (name of a read step) or `passes` (cumulative passes of the edge), one of the
/// two in each row; `reading_gf` or `reading_N`; optional `replicate` (whole number), `operator`, `filament_lot`, `date` (YYYY-MM-DD),
/// `test_day` (any name of the day; the date where it is left empty), `note`, `excluded` (a reason; the reading then does not count), `apex_radius_um` (microscope) and `recession_um` (ideal
/// apex to tip), each with `…_sd_um`, its standard deviation. An empty cell is missing, not zero.
namespace arris {

/// Every fault is reported in one Error (Exit::data) with file, line and column; nothing is dropped silently.
[[nodiscard]] std::vector<Reading> parse_readings(const std::string& file, std::string_view text,
                                                  const Scenario& scenario);

/// The same of a table that is read already; `file` stands in faults of no row.
[[nodiscard]] std::vector<Reading> parse_readings(const std::string& file, CsvTable table,
                                                  const Scenario& scenario);

/// The columns that a readings file may have.
[[nodiscard]] const std::vector<std::string>& readings_columns();

/// The same format, written; `remarks` become `#` lines at the top.
[[nodiscard]] std::string readings_text(const std::vector<Reading>& readings, const Scenario& scenario,
                                        const std::vector<std::string>& remarks);

}  // namespace arris
