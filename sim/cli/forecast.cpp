// SPDX-License-Identifier: MIT
#include "sim/studies/forecast.hpp"

#include <tuple>

#include <fmt/format.h>

#include "sim/cli/commands.hpp"
#include "sim/output/terminal.hpp"

namespace arris::cli {

Exit forecast(const Arguments& arguments) {
  const Campaign campaign = load_campaign_file(*arguments.text("FILE"));
  const Loaded&  loaded   = campaign.loaded;
  check_outputs(arguments, campaign, {"out", "csv", "json"});
  const auto       ensemble = ensemble_of(arguments, loaded);
  ForecastSettings settings;
  std::tie(settings.limit_name, settings.limit_N) = limit_of(arguments, loaded);
  settings.passes  = static_cast<double>(arguments.integer("passes", 5000, 1, 10'000'000));
  settings.seed    = static_cast<unsigned long long>(arguments.integer("seed", 1, 0, 2'000'000'000));
  settings.threads = static_cast<int>(arguments.integer("threads", 0, 0, 4096));
  Forecast result;
  {
    Progress bar("forecasting", arguments.has("quiet"));
    result = forecast(loaded.scenario, loaded.workshop, ensemble, edges_of(arguments, loaded.scenario),
                      settings, [&](std::size_t done, std::size_t all) { bar.show(done, all); });
  }
  const auto measured = measured_lives(loaded.scenario, campaign.readings,
                                       edges_of(arguments, loaded.scenario), settings.limit_N);
  deliver(arguments, campaign, forecast_answer(result, loaded.workshop, ensemble, measured),
          std::to_string(settings.seed));
  return Exit::done;
}

}  // namespace arris::cli
