// SPDX-License-Identifier: MIT
#include "sim/cli/earlier_fit.hpp"

#include <filesystem>
#include <memory>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/cli/loading.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/output/fit_reader.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {
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

// draws of an earlier fit are of all its parameters together
void refuse_anew(const FitSettings& fit) {
  if (fit.anew.empty()) return;
  throw Error(
      Exit::usage,
      {.code  = "not-anew",
       .what  = "a plan in which nothing was read yet takes the draws of the earlier fit as they are",
       .cause = "[fit] anew names what that fit is not to be asked about.",
       .next  = "Take anew out of [fit], or read a few edges first and name their readings in [readings]."});
}

}  // namespace

ask::ReadFit fit_of(const Arguments& arguments) {
  const auto path = arguments.text("fit");
  if (!path) return {};
  return [file = *path](const Scenario& scenario, int members) {
    return read_ensemble(file, scenario, members);
  };
}

void take_earlier(const Arguments& arguments, Campaign& campaign) {
  FitSettings& fit = campaign.loaded.fit;
  if (fit.from.empty()) return;
  fit.earlier = std::make_shared<const EarlierFit>(
      without_known(read_earlier(earlier_fit_path(campaign.loaded, reach_of(arguments))), fit.anew));
}

ask::ReadFit fit_of_plan(const Arguments& arguments, Campaign& campaign) {
  if (arguments.has("fit") || campaign.loaded.fit.from.empty()) return fit_of(arguments);
  if (!campaign.readings.empty()) {
    take_earlier(arguments, campaign);
    return {};
  }
  refuse_anew(campaign.loaded.fit);
  return [file = earlier_fit_path(campaign.loaded, reach_of(arguments))](
             const Scenario& scenario, int members) { return read_ensemble(file, scenario, members); };
}

void note_unused_fit(const Arguments& arguments, const Campaign& campaign) {
  if (arguments.has("fit") || arguments.has("quiet") || !arguments.prints) return;
  namespace fs                        = std::filesystem;
  const fs::path        configuration = *arguments.text("FILE");
  const fs::path        study         = configuration.stem().string() + "-study";
  std::vector<fs::path> files{configuration.parent_path() / "fit.h5", study / "fit.h5", "fit.h5"};
  if (const std::string& from = campaign.loaded.fit.from; !from.empty())
    files.push_back(configuration.parent_path() / from);
  for (const fs::path& file : files) {
    if (!is_fit_of(file, campaign.loaded.scenario)) continue;
    const std::string name = shell_word(file.string());
    tell(wrapped(
        fmt::format("note: the fit in {} is not used. With --fit {} the answer rests on it.", name, name)));
    return;
  }
}

Campaign at_earlier_fit(const Arguments& arguments, Campaign campaign) {
  Campaign fitted = ask::at_fit(std::move(campaign), fit_of(arguments));
  note_unused_fit(arguments, fitted);
  return fitted;
}

}  // namespace arris::cli
