// SPDX-License-Identifier: MIT
// The map of a soft strop, 200 moduli × 200 numbers of laps: one integration per modulus, results to memory.
#include "sim/studies/sweep/sweep.hpp"

#include <benchmark/benchmark.h>

#include "sim/input/files.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/laws/tester.hpp"

namespace {

using namespace arris;

const Sweep& soft_strop() {
  static const Sweep sweep = [] {
    const Loaded    loaded = load_scenario_file(ARRIS_SOURCE_DIR "/configs/boatyard/boatyard.toml");
    const EdgePlan& plan   = loaded.scenario.edges.front();
    SweepDefinition d;
    d.edge    = plan.name;
    d.axes    = {sweep_axis("backing.thin hide on wood.modulus_MPa=1:300:200:log", loaded, plan),
                 sweep_axis("step.6.laps=0:199:200", loaded, plan)};
    d.outputs = {
        {"reading_gf", "gf", "reading", [](const TrackPoint& p) { return laws::in_gram_force(p.reading_N); }},
        {"apex_radius_um", "um", "apex radius", [](const TrackPoint& p) { return p.apex_radius_um; }}};
    d.moment = sweep_moment("after step 6");
    return Sweep(loaded.scenario, plan, d);
  }();
  return sweep;
}

void soft_strop_map_200x200(benchmark::State& state) {
  const auto threads = static_cast<int>(state.range(0));
  for (auto _ : state) {
    SweepMemory memory;
    soft_strop().run_into(memory, {}, threads);
    benchmark::DoNotOptimize(memory.get(0).values[0][0]);
  }
  state.counters["members"] = static_cast<double>(soft_strop().grid().members());
}
BENCHMARK(soft_strop_map_200x200)->Arg(1)->Arg(2)->Unit(benchmark::kMillisecond)->UseRealTime();

/// Members that each take a history of their own, for the pace of a large sweep.
void sweep_of_histories(benchmark::State& state) {
  const Loaded    loaded = load_scenario_file(ARRIS_SOURCE_DIR "/configs/boatyard/boatyard.toml");
  const EdgePlan& plan   = loaded.scenario.edges.front();
  SweepDefinition d;
  d.edge    = plan.name;
  d.axes    = {sweep_axis("coefficients.dub_share=0.1:10:64:log", loaded, plan),
               sweep_axis("coefficients.abrasion=0.05:0.3:64", loaded, plan)};
  d.outputs = {{"apex_radius_um", "um", "apex radius", [](const TrackPoint& p) { return p.apex_radius_um; }}};
  const Sweep sweep(loaded.scenario, plan, d);
  for (auto _ : state) {
    SweepMemory memory;
    sweep.run_into(memory, {}, 2);
    benchmark::DoNotOptimize(memory.get(0).values[0][0]);
  }
  state.counters["members"] = benchmark::Counter(4096.0, benchmark::Counter::kIsIterationInvariantRate);
}
BENCHMARK(sweep_of_histories)->Unit(benchmark::kMillisecond)->UseRealTime();

}  // namespace
