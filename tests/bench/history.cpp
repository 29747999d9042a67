// SPDX-License-Identifier: MIT
// One full history, six honing steps, a strop and 500 passes: this project against a plain loop of Boost.Odeint's dopri5
// over the same equations, written the obvious way. Both report their error against a tight reference, so that speeds are
// compared at the same accuracy; the ratio of two lines of one run is the claim, not a time. Accuracy is asked of the radius
// at the end of the history (/0), or of the radius after every step of it (/1): wood forgets much of what was before.
#include <array>
#include <cmath>
#include <cstdio>
#include <string>

#include <benchmark/benchmark.h>

#include "sim/input/loader.hpp"
#include "sim/integrate/cut_run.hpp"
#include "sim/integrate/history_run.hpp"
#include "sim/integrate/jet.hpp"
#include "tests/bench/plain_history.hpp"

namespace {

using namespace arris;

const char* const configuration = R"(
[tool."bench iron"]
steel             = "O1"
width_mm          = 50
thickness_mm      = 3.2
primary_bevel_deg = 25
micro_bevel_deg   = 30
apex_radius_um    = 4.0
land_mm           = 0.5
[edge.A]
tool  = "bench iron"
steps = [
  { hone = "plated diamond, 45 µm", strokes = 20 },
  { hone = "soft waterstone, JIS #1000", strokes = 25 },
  { hone = "soft waterstone, JIS #2000", strokes = 30 },
  { hone = "soft waterstone, JIS #4000", strokes = 30 },
  { hone = "hard waterstone, JIS #6000", strokes = 40 },
  { hone = "hard waterstone, JIS #8000", strokes = 40 },
  { strop = "thin hide on wood", compound = "chromium oxide 0.5 µm", laps = 20 },
  { cut = "sugar maple", passes = 500 },
]
)";

const Loaded& loaded() {
  static const Loaded l = load_scenario("benchmark", configuration);
  return l;
}

/// The history from 16 starts, blunt and keen, with other forces and counts: one alone may meet an accuracy by luck.
constexpr std::size_t        starts = 16;
const std::vector<Scenario>& scenarios() {
  static const std::vector<Scenario> all = [] {
    std::vector<Scenario> out(starts, loaded().scenario);
    for (std::size_t i = 0; i < starts; ++i) {
      const auto part = [&](double turn) { return std::sin(turn * (static_cast<double>(i) + 1.0)); };
      out[i].model.tools[0].apex_radius_um *= std::exp(0.9 * part(1.3));
      for (Step& step : out[i].edges[0].steps) {
        if (auto* hone = std::get_if<HoneStep>(&step)) {
          hone->force_N *= std::exp(0.4 * part(2.1));
          hone->strokes *= std::exp(0.3 * part(0.7));
        }
        if (auto* strop = std::get_if<StropStep>(&step)) strop->laps *= std::exp(0.3 * part(1.9));
        if (auto* cut = std::get_if<CutStep>(&step)) cut->passes *= std::exp(0.3 * part(2.7));
      }
    }
    return out;
  }();
  return all;
}

Tolerances tolerance(double relative) {
  Tolerances t;
  t.relative    = relative;
  t.absolute_um = 0.01 * relative;
  return t;
}

/// The apex radius after each step.
using Radii = std::array<double, 8>;

struct RadiusWatch : HistoryObserver<double> {
  Radii radii{};
  void  after(std::size_t i, const StepOutcome<double>&, const EdgeState<double>& state,
              const Ledger<double>&) override {
    radii[i] = state.apex_radius_um;
  }
};

Radii radii_of(std::size_t i, double relative) {
  EdgeState<double> state;
  Ledger<double>    ledger;
  RadiusWatch       watch;
  run_history(scenarios()[i].model, scenarios()[i].edges[0], tolerance(relative), state, ledger, watch);
  return watch.radii;
}

/// The obvious way.
class PlainLoop {
 public:
  explicit PlainLoop(const Scenario& scenario) : model_(scenario.model), plan_(scenario.edges[0]) {}

  Radii run(double absolute, double relative) {
    Radii       radii{};
    std::size_t done = 0;
    bench::run_plain_odeint(model_, plan_, absolute, relative,
                            [&](const bench::PlainState& y) { radii[done++] = y[0]; });
    return radii;
  }

 private:
  const Model<double>& model_;
  const EdgePlan&      plan_;
};

/// By the plain loop, which has nothing in common with the solver of the project but the laws.
const Radii& reference(std::size_t i) {
  static const std::vector<Radii> all = [] {
    std::vector<Radii> r;
    for (const Scenario& s : scenarios()) r.push_back(PlainLoop(s).run(1e-15, 1e-13));
    return r;
  }();
  return all[i];
}

/// The largest relative error of the radius at the end, or after every step, over all starts; `run(i, tolerance)`.
template <class Run>
double worst_error(Run&& run, double t, bool every_step) {
  double worst = 0.0;
  for (std::size_t i = 0; i < starts; ++i) {
    const Radii got = run(i, t);
    for (std::size_t k = every_step ? 0 : got.size() - 1; k < got.size(); ++k)
      worst = std::max(worst, std::abs(got[k] / reference(i)[k] - 1.0));
  }
  return worst;
}

// the loosest tolerance, in steps of a sixteenth of a decade, whose worst error is at most 1e-6
template <class Run>
double loosest(Run&& run, bool every_step) {
  for (double t = 1e-3; t > 1e-13; t /= std::pow(10.0, 1.0 / 16.0)) {
    if (worst_error(run, t, every_step) <= 1e-6) return t;
  }
  return 1e-13;
}

// time is that of one history: an iteration runs all starts, and each is an item
void plain_odeint(benchmark::State& state) {
  std::vector<PlainLoop> loops;
  for (const Scenario& s : scenarios()) loops.emplace_back(s);
  const auto run = [&](std::size_t i, double tolerance) { return loops[i].run(0.01 * tolerance, tolerance); };
  const bool every_step = state.range(0) != 0;
  const double t        = loosest(run, every_step);
  for (auto _ : state) {
    for (std::size_t i = 0; i < starts; ++i) benchmark::DoNotOptimize(run(i, t));
  }
  state.SetItemsProcessed(static_cast<int64_t>(starts) * state.iterations());
  state.counters["error"]     = worst_error(run, t, every_step);
  state.counters["tolerance"] = t;
}
BENCHMARK(plain_odeint)->Arg(0)->Arg(1)->Unit(benchmark::kMicrosecond);

void arris_history(benchmark::State& state) {
  const bool              every_step = state.range(0) != 0;
  const double            t          = loosest(radii_of, every_step);
  EdgeState<double>       edge;
  Ledger<double>          ledger;
  HistoryObserver<double> nobody;
  int                     steps = 0;
  for (auto _ : state) {
    steps = 0;
    for (const Scenario& s : scenarios()) {
      steps += run_history(s.model, s.edges[0], tolerance(t), edge, ledger, nobody).integration_steps;
      benchmark::DoNotOptimize(edge.apex_radius_um);
    }
  }
  state.SetItemsProcessed(static_cast<int64_t>(starts) * state.iterations());
  state.counters["error"]     = worst_error(radii_of, t, every_step);
  state.counters["tolerance"] = t;
  state.counters["steps"]     = static_cast<double>(steps) / starts;
}
BENCHMARK(arris_history)->Arg(0)->Arg(1)->Unit(benchmark::kMicrosecond);

void arris_history_12_derivatives(benchmark::State& state) {
  using Jet = ceres::Jet<double, 12>;
  std::vector<Model<Jet>> models;
  for (const Scenario& s : scenarios()) models.push_back(convert<Jet>(s.model));
  for (Model<Jet>& model : models) {
    const auto free = bench::twelve_parameters(model);
    // per relative change, as a fit takes them
    for (int i = 0; i < 12; ++i)
      free[static_cast<std::size_t>(i)]->v[i] = free[static_cast<std::size_t>(i)]->a;
  }
  const double         t = loosest(radii_of, state.range(0) != 0);
  EdgeState<Jet>       edge;
  Ledger<Jet>          ledger;
  HistoryObserver<Jet> nobody;
  int                  steps = 0;
  for (auto _ : state) {
    steps = 0;
    for (std::size_t i = 0; i < starts; ++i) {
      steps += run_history(models[i], scenarios()[i].edges[0], tolerance(t), edge, ledger, nobody)
                   .integration_steps;
      benchmark::DoNotOptimize(edge.apex_radius_um.a);
    }
  }
  state.SetItemsProcessed(static_cast<int64_t>(starts) * state.iterations());
  state.counters["steps"] = static_cast<double>(steps) / starts;
}
BENCHMARK(arris_history_12_derivatives)->Arg(0)->Arg(1)->Unit(benchmark::kMicrosecond);

double resident_MB() {
  std::FILE* file = std::fopen("/proc/self/statm", "r");
  long       all = 0, resident = 0;
  if (file != nullptr) {
    if (std::fscanf(file, "%ld %ld", &all, &resident) != 2) resident = 0;
    std::fclose(file);
  }
  return static_cast<double>(resident) * 4096.0 / 1e6;
}

void memory_over_100000_histories(benchmark::State& state) {
  EdgeState<double>       edge;
  Ledger<double>          ledger;
  HistoryObserver<double> nobody;
  const auto              many = [&](int count) {
    for (int i = 0; i < count; ++i) {
      run_history(loaded().scenario.model, loaded().scenario.edges[0], tolerance(1e-6), edge, ledger, nobody);
    }
  };
  many(1000);
  const double before = resident_MB();
  for (auto _ : state) many(100000);
  state.counters["grown_MB"] = resident_MB() - before;
}
BENCHMARK(memory_over_100000_histories)->Unit(benchmark::kSecond)->Iterations(1);

}  // namespace
