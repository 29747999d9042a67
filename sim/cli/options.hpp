// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

/// The one table of commands and options. Parser, help, man page and completions are all made from it.
namespace arris::cli {

enum class Completes { nothing, files, kinds };

struct Option {
  const char* name;        ///< long name without dashes
  char        letter = 0;  ///< short name, 0 for none
  const char* value;       ///< what its value is called; empty for a switch
  const char* help;
  Completes   completes = Completes::nothing;
  bool        repeats   = false;  ///< may be given several times; the values are joined with commas
};

struct Argument {
  const char* name;
  bool        required;
  const char* help;
  Completes   completes = Completes::nothing;
};

struct Command {
  const char*           name;
  const char*           summary;
  const char*           details;  ///< a paragraph for the man page
  std::vector<Argument> arguments;
  std::vector<Option>   options;
  bool                  hidden = false;
};

[[nodiscard]] const std::vector<Command>& commands();

/// What was said on the command line.
struct Arguments {
  std::string                        command;
  std::string                        line;  ///< all of it, for provenance
  std::map<std::string, std::string> values;

  [[nodiscard]] bool has(const std::string& name) const { return values.count(name) > 0; }
  [[nodiscard]] std::optional<std::string> text(const std::string& name) const;
  /// A whole number in low … high, or `otherwise` where it is not given. Throws Error (Exit::usage).
  [[nodiscard]] long long integer(const std::string& name, long long otherwise, long long low,
                                  long long high) const;
};

/// Parses the command line. Prints help or version and returns nothing where that was asked; throws Error (Exit::usage)
/// for what it does not understand.
[[nodiscard]] std::optional<Arguments> parse(int argc, char** argv);

/// Documents made from the table.
[[nodiscard]] std::string man_page();
[[nodiscard]] std::string bash_completion();
[[nodiscard]] std::string zsh_completion();
[[nodiscard]] std::string fish_completion();

}  // namespace arris::cli
