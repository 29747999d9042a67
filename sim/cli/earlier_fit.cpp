// SPDX-License-Identifier: MIT
#include "sim/cli/earlier_fit.hpp"

#include <filesystem>
#include <memory>
#include <utility>

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
      read_earlier(earlier_fit_path(campaign.loaded, reach_of(arguments))));
}

void note_unused_fit(const Arguments& arguments, const Campaign& campaign) {
  if (arguments.has("fit") || arguments.has("quiet") || !arguments.prints) return;
  namespace fs                 = std::filesystem;
  const fs::path configuration = *arguments.text("FILE");
  const fs::path study         = configuration.stem().string() + "-study";
  for (const fs::path& folder : {configuration.parent_path(), study, fs::path()}) {
    const fs::path file = folder / "fit.h5";
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
