// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/input/csv.hpp"

/// Readings as an xlsx workbook, by libxlsxwriter: a sheet "readings", and a sheet "columns" that says what each column is.
namespace arris {

/// Writes it whole or not at all. Numbers and dates stand as such, everything else as text, so that nothing in it is ever a formula.
/// `said` are sentences that stand below the columns: what was taken for what. Throws Error (Exit::usage, "cannot-write"; Exit::data,
/// "too-large" for more rows than a sheet has or a text longer than a cell holds, "no-workbooks" where the program was built without
/// libxlsxwriter).
void write_readings_workbook(const std::string& path, const CsvTable& table,
                             const std::vector<std::string>& said);

}  // namespace arris
