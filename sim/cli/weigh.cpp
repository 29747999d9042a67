// SPDX-License-Identifier: MIT
#include "sim/cli/commands.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

Exit weigh(const Arguments& arguments) {
  const Campaign campaign = load_within_limits(*arguments.text("FILE"));
  ask::require_readings(campaign, *arguments.text("FILE"));
  const auto    held   = hold_outputs(arguments, campaign, {"out", "csv", "json"});
  bool          usable = false;
  ask::Answered answered;
  {
    Progress progress("weighing", arguments.has("quiet"));
    answered = ask::weigh(
        arguments, campaign, [&](std::size_t done, std::size_t all) { progress.show(done, all); }, &usable);
  }
  deliver(arguments, campaign, answered.answer, answered.seed);
  return usable ? Exit::done : Exit::not_converged;
}

}  // namespace arris::cli
