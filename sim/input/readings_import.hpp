// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "sim/input/csv.hpp"
#include "sim/input/readings_form.hpp"

/// Readings as people keep them, made into the columns of a readings file (readings_csv.hpp).
///
/// A file is text (CSV with commas, semicolons or tabs) or a workbook (xlsx, ods). Heads may be written with blanks, capitals and units in
/// brackets; numbers of a column may all have a decimal comma; a table may have a column for each moment, where the form says which; dates
/// may be written in any order that the whole column settles. What is taken for something is said in a line each; what has two readings is
/// an error (Exit::data, "ambiguous") that shows both.
namespace arris {

/// A file of readings as it lies on disk.
struct ReadingsBytes {
  std::string name;
  std::string bytes;
};

struct ImportedReadings {
  CsvTable                 table;     ///< columns of a readings file, each row with the place it came from
  std::vector<std::string> said;      ///< what was taken for what, a sentence each
  bool                     is_plain;  ///< one text file that is a readings file already, cell by cell
};

/// One file or several, as one table. Throws Error (Exit::data): "ambiguous", "wide-table", "no-sheet", "not-a-workbook", "too-large",
/// "not-a-date", and what parse_csv throws; (Exit::usage, "bad-form") where the form has a choice that there is not.
[[nodiscard]] ImportedReadings import_readings(const std::vector<ReadingsBytes>& files,
                                               const ReadingsForm&               form);

/// The heads of the columns that the files have, each once, as they are written. Throws as import_readings does where a file cannot be
/// read, or its separator or sheet is not known.
[[nodiscard]] std::vector<std::string> heads_of(const std::vector<ReadingsBytes>& files,
                                                const ReadingsForm&               form);

/// The readings of edges: without the rows of the check edge that the form names, which `said` is told of (may be null).
[[nodiscard]] CsvTable without_check_edge(CsvTable table, const ReadingsForm& form,
                                          std::vector<std::string>* said = nullptr);

/// The sign that separates the columns of a text: ',', ';' or a tab. Throws Error (Exit::data, "ambiguous").
[[nodiscard]] char separator_in(const std::string& file, std::string_view text, const ReadingsForm& form);

/// The table as a readings file.
[[nodiscard]] std::string csv_text(const CsvTable& table);

}  // namespace arris
