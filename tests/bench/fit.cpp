// SPDX-License-Identifier: MIT
// Fits of the boat yard's campaign: one start, many starts, densities for a sampler, and how often nominal 90 % intervals
// cover the truth over 200 invented campaigns.
#include "sim/fit/fit.hpp"

#include <cmath>
#include <numeric>
#include <string>

#include <benchmark/benchmark.h>

#include "sim/fit/marginal.hpp"
#include "sim/input/files.hpp"
#include "sim/parallel.hpp"

namespace {

using namespace arris;

const std::vector<std::string> paths{"tester.cut_resistance_N", "tester.slope_N_per_um",
                                     "coefficients.abrasion",   "coefficients.radius_per_scratch",
                                     "coefficients.dub_share",  "wear.parting_um2_per_m"};

const Campaign& yard() {
  static const Campaign c =
      load_campaign_file(std::string(ARRIS_SOURCE_DIR) + "/configs/boatyard/boatyard.toml");
  return c;
}

std::vector<FreeParameter> parameters() {
  std::vector<FreeParameter> out;
  for (const auto& path : paths) out.push_back(free_parameter(yard().loaded.scenario.model, path));
  return out;
}

CampaignModel model_of(int starts) {
  FitSettings s;
  s.starts = starts;
  return {yard().loaded.scenario, yard().readings, parameters(), s};
}

void fit_boatyard(benchmark::State& state) {
  const CampaignModel model = model_of(static_cast<int>(state.range(0)));
  FitResult           result;
  for (auto _ : state) result = fit(model);
  state.counters["agreeing"]     = result.agreeing;
  state.counters["measurements"] = static_cast<double>(model.size());
}
BENCHMARK(fit_boatyard)->Arg(1)->Arg(32)->Unit(benchmark::kMillisecond)->UseRealTime();

/// As draws need them: half an ensemble of 32 walkers at a time, each with histories of its own.
void densities_20000(benchmark::State& state) {
  constexpr Eigen::Index    half  = 16;
  const CampaignModel       model = model_of(1);
  const FitPoint            best  = fit(model).best;
  const std::vector<Spread> spreads(half, best.spread);
  for (auto _ : state) {
    for (int i = 0; i < 20000; i += half) {
      Eigen::MatrixXd u = best.u.replicate(1, half);
      for (Eigen::Index c = 0; c < half; ++c) u.col(c).array() += 1e-5 * static_cast<double>(i + c);
      Eigen::VectorXd p = log_marginals(model, u, spreads, best.effects, true, 0);
      benchmark::DoNotOptimize(p.data());
    }
  }
}
BENCHMARK(densities_20000)->Unit(benchmark::kSecond)->UseRealTime()->Iterations(1);

void coverage_of_200_campaigns(benchmark::State& state) {
  const Scenario& base = yard().loaded.scenario;
  const auto      free = parameters();
  for (auto _ : state) {
    const auto       P       = static_cast<Eigen::Index>(free.size());
    Eigen::MatrixXi  covered = Eigen::MatrixXi::Zero(200, P);
    Eigen::MatrixXd  off     = Eigen::MatrixXd::Zero(200, P);  // in standard errors
    std::vector<int> converged(200, 0);
    for_each_index(200, 0, [&](std::size_t c) {
      // truths from the middle of the priors, by a fixed rule
      Eigen::VectorXd at(static_cast<Eigen::Index>(free.size()));
      for (Eigen::Index i = 0; i < at.size(); ++i)
        at[i] = 0.7 * std::sin(1.7 * static_cast<double>(c) + 2.1 * static_cast<double>(i));
      Scenario truth = base;
      truth.model    = with_parameters(base.model, free, at);
      FitSettings s;
      s.starts = 4;
      const CampaignModel model(base, invent_readings(truth, c + 1, {"K", "M"}, {"N-07", "N-09"}, 1), free,
                                s);
      const FitResult     result = fit(model, 1);
      if (!result.converged) return;
      converged[c] = 1;
      for (Eigen::Index i = 0; i < at.size(); ++i) {
        const auto row  = static_cast<Eigen::Index>(c);
        off(row, i)     = (result.best.u[i] - at[i]) / std::sqrt(result.information.covariance(i, i));
        covered(row, i) = std::abs(off(row, i)) < reach_90(result.information.dof[i]) ? 1 : 0;
      }
    });
    const double all = std::accumulate(converged.begin(), converged.end(), 0);
    for (Eigen::Index i = 0; i < P; ++i) {
      const std::string& path        = free[static_cast<std::size_t>(i)].path;
      const double       mean        = off.col(i).sum() / all;
      state.counters[path]           = covered.col(i).sum() / all;
      state.counters[path + " mean"] = mean;
      state.counters[path + " sd"]   = std::sqrt(off.col(i).squaredNorm() / all - mean * mean);
    }
    state.counters["all"]       = covered.sum() / all / static_cast<double>(P);
    state.counters["converged"] = all;
  }
}
BENCHMARK(coverage_of_200_campaigns)->Unit(benchmark::kSecond)->UseRealTime()->Iterations(1);

}  // namespace
