// SPDX-License-Identifier: MIT
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "sim/studies/answer.hpp"

/// A result file of any command, read back whole.
namespace arris {

struct StoredResult {
  std::string file;    ///< what it was opened as
  std::string kind;    ///< "simulate", "fit", "forecast", …
  std::string title;   ///< of the configuration
  Answer      answer;  ///< sentences, settings, and the tables of the root in the order of their names
  /// Every group that has data along one axis, by its path: "lives", "edge/A1/track". Columns are in the order of their names, and
  /// of one length, but for those of "map", and of the "parameters" and "draws" of a fit.
  std::map<std::string, AnswerTable> tables;
  /// Data along two axes, row by row, by path: "map/reading_gf". Left out where there are more than a million numbers.
  std::map<std::string, AnswerColumn> grids;
  /// Command, time, version and the rest of provenance, in the order in which it is shown.
  std::vector<std::pair<std::string, std::string>> provenance;
  /// Attributes of the root that are none of these: "wear_law", "definition".
  std::map<std::string, std::string> texts;
  std::map<std::string, double>      numbers;

  [[nodiscard]] const AnswerTable* table(const std::string& path) const;
  /// The table of that path, with `rows` rows at least; its numbers and its texts of a name. They throw Error (Exit::data,
  /// "not-a-result") where there are none.
  [[nodiscard]] const AnswerTable&         needed(const std::string& path, std::size_t rows = 0) const;
  [[nodiscard]] const std::vector<double>& column(const std::string& path, const std::string& name) const;
  [[nodiscard]] const std::vector<std::string>& words(const std::string& path, const std::string& name) const;
  /// Throws such an Error: what the file lacks or has wrong.
  [[noreturn]] void         refuse(const std::string& what) const;
  [[nodiscard]] bool        has_column(const std::string& path, const std::string& name) const;
  [[nodiscard]] std::string origin(const std::string& name) const;  ///< of provenance; empty: none
};

/// One group as it was kept: columns along one axis, and data along two, by name.
struct StoredGroup {
  std::string               path;                  ///< "edge/A1/track"; empty: the root
  std::string               says, columns, heads;  ///< its attributes `long_name`, `columns` and `heads`
  std::vector<AnswerColumn> along_one, along_two;
};

/// A result of the attributes of its root and of its groups. Throws Error (Exit::data, "not-a-result").
[[nodiscard]] StoredResult stored_result(const std::string& file, std::map<std::string, std::string> texts,
                                         const std::map<std::string, double>& numbers,
                                         std::vector<StoredGroup>             groups);

/// Throws Error (Exit::data): "no-such-file", "damaged-result", "not-a-result" for a file that arris did not write.
[[nodiscard]] StoredResult read_result(const std::filesystem::path& path);

}  // namespace arris
