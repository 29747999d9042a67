// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

/// What was said when a study was asked for: options by their names, as texts. The command line and Python both fill it in, so
/// that both take the same words, ranges and defaults and meet the same faults.
namespace arris {

struct Arguments {
  std::string                                     command;
  std::string                                     line;  ///< all of it, for provenance
  std::map<std::string, std::string>              values;
  std::map<std::string, std::vector<std::string>> lists;  ///< of what may be given several times
  bool prints          = true;  ///< false: nothing is printed on standard output, but progress is shown
  bool is_command_line = true;  ///< options are written --so; otherwise they are keywords of Python

  [[nodiscard]] bool has(const std::string& name) const { return values.count(name) > 0; }
  [[nodiscard]] std::optional<std::string> text(const std::string& name) const;
  /// All that was given of what may be given several times.
  [[nodiscard]] std::vector<std::string> texts(const std::string& name) const;
  /// A whole number in low … high, or `otherwise` where it is not given. Throws Error (Exit::usage).
  [[nodiscard]] long long integer(const std::string& name, long long otherwise, long long low,
                                  long long high) const;
  /// A number in low … high, or `otherwise` where it is not given. Throws Error (Exit::usage).
  [[nodiscard]] double number(const std::string& name, double otherwise, double low, double high) const;
  /// The option as messages name it: "--false-alarm", or "false_alarm" in Python.
  [[nodiscard]] std::string shown(const std::string& name) const;
};

/// A word of a command line as a shell takes it: in quotes where it has to be.
[[nodiscard]] std::string shell_word(const std::string& word);

/// The names in a list with commas between them (parts_of_list), without those that are empty.
[[nodiscard]] std::vector<std::string> names_in(const std::string& list);

}  // namespace arris
