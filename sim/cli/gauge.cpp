// SPDX-License-Identifier: MIT
#include "sim/cli/commands.hpp"

namespace arris::cli {

Exit gauge(const Arguments& arguments) {
  const std::string          file = *arguments.text("FILE");
  Campaign                   campaign;
  std::optional<std::string> csv;
  if (ask::is_csv(file)) {
    csv                    = file;
    campaign.readings_path = file;
  } else {
    campaign = load_within_limits(file);
    ask::require_readings(campaign, file);
  }
  const auto          held     = hold_outputs(arguments, campaign, {"out", "csv", "json"});
  const ask::Answered answered = ask::gauge(arguments, campaign, csv);
  deliver(arguments, campaign, answered.answer, answered.seed);
  return Exit::done;
}

}  // namespace arris::cli
