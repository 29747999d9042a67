// SPDX-License-Identifier: MIT
#include "sim/cli/notes.hpp"

#include "sim/ask/arguments.hpp"
#include "sim/input/loader.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

void tell_said(const Arguments& arguments, const std::vector<std::string>& said) {
  if (arguments.has("quiet")) return;
  for (const std::string& sentence : said) tell(wrapped("note: " + sentence));
}

void tell_warnings(const Arguments& arguments, const Loaded& loaded) {
  if (arguments.has("quiet")) return;
  for (const Diagnostic& warning : loaded.warnings) tell("note: " + warning.text());
}

}  // namespace arris::cli
