// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "sim/input/csv.hpp"
#include "sim/studies/gauge/gauge.hpp"

/// Readings of a gauge study: those of a campaign, or without a model comma-separated values (RFC 4180), UTF-8, decimal points, `#` lines are
/// remarks, one row for each reading in the order in which they were taken.
///
/// Columns, in any order: `part` or `edge`; `reading_gf` or `reading_N`; optional `operator`, `replicate` (whole number),
/// `filament_lot`, `date`, `test_day`, `note`, `excluded` (a reason; the reading then does not count). A readings file of a campaign can be read
/// too: `step` or `passes` then tell the moments of an edge apart, and microscope columns are passed over. An empty reading is
/// missing, not zero.
namespace arris {

struct Reading;
struct Scenario;

/// Every fault is reported in one Error (Exit::data) with file, line and column; nothing is dropped silently. Readings must be
/// above 0 unless `any_sign`: a force is, and so is every number that has a logarithm.
[[nodiscard]] std::vector<GaugeReading> parse_gauge_readings(const std::string& file, std::string_view text,
                                                             bool any_sign = false);

/// The same of a table that is read already; `file` stands in faults of no row.
[[nodiscard]] std::vector<GaugeReading> parse_gauge_readings(const std::string& file, CsvTable table,
                                                             bool any_sign = false);

/// The columns that such a file may have.
[[nodiscard]] const std::vector<std::string>& gauge_columns();

/// The tester readings of a campaign, in its order; rows without a force are passed over.
[[nodiscard]] std::vector<GaugeReading> gauge_readings(const Scenario&             scenario,
                                                       const std::vector<Reading>& readings);

}  // namespace arris
