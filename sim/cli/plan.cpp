// SPDX-License-Identifier: MIT
#include "sim/cli/commands.hpp"

namespace arris::cli {

Exit plan(const Arguments& arguments) {
  const std::string   file     = *arguments.text("FILE");
  const Campaign      campaign = load_within_limits(file);
  const auto          held     = hold_outputs(arguments, campaign, {"out", "csv", "json", "sheet"});
  const ask::Answered answered = ask::plan(arguments, campaign, file, fit_of(arguments));
  deliver(arguments, campaign, answered.answer, answered.seed);
  return Exit::done;
}

}  // namespace arris::cli
