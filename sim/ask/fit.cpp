// SPDX-License-Identifier: MIT
#include <algorithm>

#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/law_fits.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris::ask {
namespace {

// those of the command line, or of the configuration
std::vector<std::string> stated_paths(const Arguments& arguments, const Loaded& loaded) {
  const auto list = arguments.text("free");
  if (!list) return loaded.fit.free;
  std::vector<std::string> paths = names_in(*list);
  const auto               known = fittable_parameters(loaded.scenario.model);
  for (const std::string& path : paths) {
    if (std::find(known.begin(), known.end(), path) != known.end() || loaded.fit.priors.count(path) > 0)
      continue;
    throw Error(Exit::usage, {.code  = "unknown-parameter",
                              .what  = fmt::format("\"{}\" cannot be free", printable(path)),
                              .cause = "It is not a parameter of this configuration, or has no prior.",
                              .next  = did_you_mean(
                                   path, known, "`arris check` prints all: TABLE.KEY, or TABLE.NAME.KEY.")});
  }
  return paths;
}

}  // namespace

void check_from(const Campaign& campaign, const std::vector<std::string>& laws) {
  const FitSettings& fit = campaign.loaded.fit;
  if (fit.from.empty()) return;
  if (fit.earlier == nullptr)
    throw Error(
        Exit::usage,
        {.code = "no-earlier-fit",
         .what = fmt::format("the earlier fit {} is not read here", printable(fit.from)),
         .next =
             "The commands fit, weigh and plan read it, and those of the same name of the Python package.",
         .key = "fit.from"});
  check_earlier(*fit.earlier, campaign.loaded.scenario, fit, laws, campaign.readings);
}

std::unique_ptr<CampaignModel> campaign_model(const Arguments& arguments, const Campaign& campaign) {
  const Loaded& loaded = campaign.loaded;
  require_reduced(loaded.scenario, "a fit");
  check_from(campaign, loaded.fit.laws.size() > 1 ? loaded.fit.laws : std::vector<std::string>{});
  FitSettings settings    = loaded.fit;
  settings.starts         = static_cast<int>(arguments.integer("starts", settings.starts, 1, 10000));
  settings.seed           = static_cast<int>(arguments.integer("seed", settings.seed, 0, 2'000'000'000));
  settings.draws          = static_cast<int>(arguments.integer("draws", 0, 0, 10'000'000));
  settings.free           = stated_paths(arguments, loaded);
  const Scenario scenario = scaled_to_readings(loaded.scenario, campaign.readings);
  return std::make_unique<CampaignModel>(scenario, campaign.readings,
                                         parameters_of_fit(scenario, settings, campaign.readings), settings);
}

FitReportOptions fit_options(const Arguments& arguments, const CampaignModel& model) {
  return {.profiles = !arguments.has("no-profiles"),
          .draws    = model.settings().draws,
          .threads  = threads_of(arguments)};
}

}  // namespace arris::ask
