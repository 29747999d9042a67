// SPDX-License-Identifier: MIT
#include <fmt/format.h>

#include "sim/ask/arguments.hpp"
#include "sim/cli/commands.hpp"
#include "sim/cli/loading.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris::cli {

Exit check(const Arguments& arguments) {
  const Campaign campaign = load_within_limits(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  if (!arguments.has("quiet")) fmt::print("{}\n", resolved_toml(loaded, true));
  for (const Diagnostic& warning : loaded.warnings) fmt::print(stderr, "note: {}", warning.text());
  std::size_t steps = 0;
  for (const EdgePlan& plan : loaded.scenario.edges) steps += plan.steps.size();
  const auto count = [](std::size_t n, const char* what) { return counted(static_cast<long long>(n), what); };
  std::string verdict = fmt::format("{} is right: {} with {}", printable(*arguments.text("FILE")),
                                    count(loaded.scenario.edges.size(), "edge"), count(steps, "step"));
  if (!campaign.readings_path.empty())
    verdict += fmt::format(", {} in {}", count(campaign.readings.size(), "reading"),
                           printable(campaign.readings_path));
  if (!loaded.warnings.empty())
    verdict += fmt::format("; {} to look at, above", count(loaded.warnings.size(), "note"));
  // as a remark, so that the output stays a configuration
  fmt::print("{}{}.\n", arguments.has("quiet") ? "" : "# ", verdict);
  return Exit::done;
}

}  // namespace arris::cli
