// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <string>
#include <string_view>

/// A readings file that grows by a row at a time, as it is written: its separator, its decimal mark, its line ends, its columns.
namespace arris {

/// The header of a new log, with readings in "gf" or "N".
[[nodiscard]] std::string new_log(const std::string& unit);

/// The text with one row behind it; what was there stays byte for byte. `values` are by column of a readings file, numbers with a decimal
/// point; the reading stands under "reading_gf" or "reading_N". Where the log has a column `replicate` and none is given, it is the next
/// one of that edge, moment, operator and day. Throws Error (Exit::data): "no-column" for a value that the log has no column for, "two-units",
/// "not-a-log" for a workbook, a table with a column for each moment, or one whose columns are not those of a readings file; and what
/// import_readings throws.
[[nodiscard]] std::string with_row(const std::string& file, const std::string& text,
                                   std::map<std::string, std::string> values);

}  // namespace arris
