// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include "sim/cli/commands.hpp"

namespace arris::cli {

Exit upkeep(const Arguments& arguments) {
  const Campaign campaign = load_within_limits(*arguments.text("FILE"));
  for (const Diagnostic& warning : campaign.loaded.warnings) {
    if (!arguments.has("quiet")) fmt::print(stderr, "note: {}", warning.text());
  }
  const auto          held     = hold_outputs(arguments, campaign, {"out", "csv", "json"});
  const ask::Answered answered = ask::upkeep(arguments, campaign, fit_of(arguments));
  deliver(arguments, campaign, answered.answer, answered.seed);
  return Exit::done;
}

}  // namespace arris::cli
