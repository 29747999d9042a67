// SPDX-License-Identifier: MIT
#include "sim/cli/commands.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "sim/input/files.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

Exit check(const Arguments& arguments) {
  const Campaign campaign = load_campaign_file(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  if (!arguments.has("quiet")) fmt::print("{}\n", resolved_toml(loaded, true));
  for (const Diagnostic& warning : loaded.warnings) fmt::print(stderr, "note: {}", warning.text());
  std::size_t steps = 0;
  for (const EdgePlan& plan : loaded.scenario.edges) steps += plan.steps.size();
  const auto  count = [](std::size_t n, const char* what) { return fmt::format("{} {}{}", n, what, n == 1 ? "" : "s"); };
  std::string verdict = fmt::format("{} is right: {} with {}", printable(*arguments.text("FILE")), count(loaded.scenario.edges.size(), "edge"), count(steps, "step"));
  if (!campaign.readings_path.empty()) verdict += fmt::format(", {} in {}", count(campaign.readings.size(), "reading"), printable(campaign.readings_path));
  if (!loaded.warnings.empty()) verdict += fmt::format("; {} to look at, above", count(loaded.warnings.size(), "note"));
  // as a remark, so that the output stays a configuration
  fmt::print("{}{}.\n", arguments.has("quiet") ? "" : "# ", verdict);
  return Exit::done;
}

Exit write_documents(const Arguments& arguments) {
  const std::filesystem::path folder = *arguments.text("FOLDER");
  write_text((folder / "arris.1").string(), man_page());
  write_text((folder / "arris.bash").string(), bash_completion());
  write_text((folder / "_arris").string(), zsh_completion());
  write_text((folder / "arris.fish").string(), fish_completion());
  return Exit::done;
}

}  // namespace arris::cli
