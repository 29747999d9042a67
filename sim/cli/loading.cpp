// SPDX-License-Identifier: MIT
#include "sim/cli/loading.hpp"

#include <filesystem>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/stopping.hpp"
#include "sim/output/fit_reader.hpp"
#include "sim/output/terminal.hpp"

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

ask::ReadFit fit_of(const Arguments& arguments) {
  const auto path = arguments.text("fit");
  if (!path) return {};
  return [file = *path](const Scenario& scenario, int members) {
    return read_ensemble(file, scenario, members);
  };
}

void tell_said(const Arguments& arguments, const std::vector<std::string>& said) {
  if (arguments.has("quiet")) return;
  for (const std::string& sentence : said) tell(wrapped("note: " + sentence));
}

namespace {

// whether the draws in this file can stand for the parameters of the scenario
bool is_fit_of(const std::filesystem::path& file, const Scenario& scenario) {
  std::error_code failed;
  if (!std::filesystem::is_regular_file(file, failed)) return false;
  try {
    return read_ensemble(file.string(), scenario, 1).is_fitted();
  } catch (const Error&) {  // of another campaign, or half written
    return false;
  }
}

}  // namespace

void note_unused_fit(const Arguments& arguments, const Campaign& campaign) {
  if (arguments.has("fit") || arguments.has("quiet") || !arguments.prints) return;
  namespace fs                 = std::filesystem;
  const fs::path configuration = *arguments.text("FILE");
  const fs::path study         = configuration.stem().string() + "-study";
  for (const fs::path& folder : {configuration.parent_path(), study, fs::path()}) {
    const fs::path file = folder / "fit.h5";
    if (!is_fit_of(file, campaign.loaded.scenario)) continue;
    const std::string name = shell_word(file.string());
    fmt::print(stderr, "{}",
               wrapped(fmt::format("note: the fit in {} is not used. With --fit {} the answer rests on it.",
                                   name, name)));
    return;
  }
}

}  // namespace arris::cli
