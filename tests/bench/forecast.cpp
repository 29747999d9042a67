// SPDX-License-Identifier: MIT
// How long the boat yard's edges last, from 4000 draws about a fit. Aim: 2 s on two cores.
#include "sim/studies/forecast/forecast.hpp"

#include <numeric>
#include <string>

#include <benchmark/benchmark.h>

#include "sim/fit/fit.hpp"
#include "sim/fit/normal_ensemble.hpp"
#include "sim/input/files.hpp"
#include "sim/laws/tester.hpp"

namespace {

using namespace arris;

void forecast_4000_draws(benchmark::State& state) {
  const Campaign  c = load_campaign_file(std::string(ARRIS_SOURCE_DIR) + "/configs/boatyard/boatyard.toml");
  const Scenario& scenario = c.loaded.scenario;
  std::vector<FreeParameter> free;
  for (const std::string& path : usual_parameters(scenario))
    free.push_back(free_parameter(scenario.model, path));
  FitSettings fitting;
  fitting.starts = 1;
  const CampaignModel      model(scenario, c.readings, free, fitting);
  const Ensemble           draws = normal_ensemble(model, fit(model), 4000, 1);
  std::vector<std::size_t> edges(scenario.edges.size());
  std::iota(edges.begin(), edges.end(), std::size_t{0});
  ForecastSettings settings;
  settings.limit_N = laws::in_newton(scenario.output.reading_limit_gf);
  settings.threads = static_cast<int>(state.range(0));
  Forecast out;
  for (auto _ : state) {
    out = forecast(scenario, c.loaded.workshop, draws, edges, settings);
    benchmark::DoNotOptimize(out.edges.front().mean_passes.middle);
  }
  state.counters["edges"]  = static_cast<double>(out.edges.size());
  state.counters["passes"] = out.edges.front().mean_passes.middle;
}
BENCHMARK(forecast_4000_draws)
    ->Arg(1)
    ->Arg(2)
    ->Unit(benchmark::kSecond)
    ->UseRealTime()
    ->MeasureProcessCPUTime();

}  // namespace
