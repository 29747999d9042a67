// SPDX-License-Identifier: MIT
#include "sim/cli/commands.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

Exit compare(const Arguments& arguments) {
  const Campaign campaign = load_within_limits(*arguments.text("FILE"));
  const auto     held     = hold_outputs(arguments, campaign, {"out", "csv", "json"});
  ask::Answered  answered;
  {
    Progress bar("comparing", arguments.has("quiet"));
    answered = ask::compare(arguments, campaign, fit_of(arguments),
                            [&](std::size_t done, std::size_t all) { bar.show(done, all); });
  }
  deliver(arguments, campaign, answered.answer, answered.seed);
  return Exit::done;
}

}  // namespace arris::cli
