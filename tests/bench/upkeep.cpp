// SPDX-License-Identifier: MIT
// The cheapest routine for the first edge of the boat yard, without an ensemble. Aim: 2 s on two cores.
#include "sim/studies/upkeep/upkeep.hpp"

#include <string>

#include <benchmark/benchmark.h>

#include "sim/input/files.hpp"

namespace {

using namespace arris;

void upkeep_boatyard(benchmark::State& state) {
  const Loaded loaded = load_scenario_file(std::string(ARRIS_SOURCE_DIR) + "/configs/boatyard/boatyard.toml");
  UpkeepSettings settings;
  settings.limit_gf = loaded.scenario.output.reading_limit_gf;
  settings.threads  = static_cast<int>(state.range(0));
  UpkeepResult result;
  for (auto _ : state) {
    result = upkeep(loaded.scenario, loaded.scenario.edges.front(), loaded.workshop, settings);
    benchmark::DoNotOptimize(result.best.passes);
  }
  state.counters["pairs"]      = static_cast<double>(result.searched);
  state.counters["worked_out"] = static_cast<double>(result.worked_out);
  state.counters["histories"]  = static_cast<double>(result.histories);
}
BENCHMARK(upkeep_boatyard)->Arg(1)->Arg(2)->Unit(benchmark::kSecond)->UseRealTime()->MeasureProcessCPUTime();

}  // namespace
