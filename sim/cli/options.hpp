// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/ask/arguments.hpp"
#include "sim/diagnostic.hpp"

/// The one table of commands and options. Parser, help, man page and completions are all made from it.
namespace arris::cli {

enum class Completes { nothing, files, kinds };

struct Option {
  const char* name;        ///< long name without dashes
  char        letter = 0;  ///< short name, 0 for none
  const char* value;       ///< what its value is called; empty for a switch
  const char* help;
  Completes   completes = Completes::nothing;
  bool        repeats   = false;  ///< may be given several times
};

struct Argument {
  const char* name;
  bool        required;
  const char* help;
  Completes   completes = Completes::nothing;
  bool        repeats   = false;  ///< may be several
};

struct Command {
  const char* name;
  Exit (*run)(const Arguments&);  ///< in commands.hpp
  const char*           summary;
  const char*           details;  ///< a paragraph for the man page
  std::vector<Argument> arguments;
  std::vector<Option>   options;
  bool                  hidden = false;
};

[[nodiscard]] const std::vector<Command>& commands();

/// The kinds of material that `arris materials` lists, and what each holds.
[[nodiscard]] const std::vector<std::pair<std::string, std::string>>& material_kinds();

/// What the codes of `Exit` mean, for help and man page.
inline constexpr const char* exit_codes =
    "0 done, 2 usage or configuration, 3 data, 4 integration, 5 fit not converged, 130 interrupted (143 by TERM, 129 by HUP)";

/// The row of that name. Throws std::out_of_range.
[[nodiscard]] const Command& command_named(const std::string& name);

/// Parses the command line. Prints help or version and returns nothing where that was asked; throws Error (Exit::usage)
/// for what it does not understand.
[[nodiscard]] std::optional<Arguments> parse(int argc, char** argv);

/// Documents made from the table.
[[nodiscard]] std::string man_page();
[[nodiscard]] std::string bash_completion();
[[nodiscard]] std::string zsh_completion();
[[nodiscard]] std::string fish_completion();

}  // namespace arris::cli
