// SPDX-License-Identifier: MIT
#include "sim/cli/loading.hpp"

#include "sim/ask/arguments.hpp"
#include "sim/cli/notes.hpp"
#include "sim/cli/stopping.hpp"

namespace arris::cli {

Reach reach_of(const Arguments& arguments) {
  return arguments.has("confined") ? Reach::own_folder : Reach::anywhere;
}

Campaign load_within_limits(const Arguments& arguments, const std::vector<NamedMaterial>& also) {
  Campaign campaign = load_campaign_file(*arguments.text("FILE"), also, reach_of(arguments));
  // a study loads once for each stage, and its time is that of all of them
  static const bool first = [&] {
    limit_memory(campaign.loaded.computer.max_memory_MB);
    stop_after_hours(campaign.loaded.computer.max_time_h);
    tell_said(arguments, campaign.readings_said);
    return true;
  }();
  (void)first;
  return campaign;
}

}  // namespace arris::cli
