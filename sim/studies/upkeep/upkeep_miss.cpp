// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/upkeep_miss.hpp"

#include <algorithm>
#include <cmath>

#include "sim/simulate/life.hpp"
#include "sim/simulate/way.hpp"

namespace arris {
namespace {

constexpr int                looked_at = 60;
constexpr unsigned long long miss_seed = 3;

// passes beyond which what is missed stays as it is
double farthest_told(const Ensemble& ensemble) {
  double     out = 1.0;
  const auto add = [&](const Discrepancy& known) {
    if (known.is_known()) out = std::max(out, known.farthest());
  };
  add(ensemble.discrepancy);
  for (const EnsembleLaw& law : ensemble.laws) add(law.discrepancy);
  return out;
}

}  // namespace

double UpkeepMiss::at(double passes_since) const {
  if (passes.empty()) return 0.0;
  const auto above = std::upper_bound(passes.begin(), passes.end(), passes_since);
  if (above == passes.end()) return log.back();
  if (above == passes.begin()) return log.front();
  const auto i = static_cast<std::size_t>(above - passes.begin());
  return std::lerp(log[i - 1], log[i], (passes_since - passes[i - 1]) / (passes[i] - passes[i - 1]));
}

std::vector<UpkeepMiss> upkeep_misses(const Ensemble& ensemble, const EdgePlan& plan) {
  std::vector<UpkeepMiss> out;
  if (!ensemble.is_fitted()) return out;
  const std::vector<double> grid   = passes_grid(farthest_told(ensemble), looked_at);
  const EdgePlan            honing = working_history(plan, 1.0);
  const Eigen::MatrixXd     laws   = drawn_misses(ensemble, grid, miss_seed);
  const Moment              end{static_cast<int>(std::ssize(honing.steps)) - 1, not_given};
  const SharedLuck shared = shared_luck(ensemble, way_at(honing, end), wood_at(honing, end), miss_seed + 1);
  const Eigen::VectorXd levels = reading_levels(ensemble);
  for (Eigen::Index i = 0; i < laws.rows(); ++i) {
    UpkeepMiss miss{grid, {}, std::exp(shared.apex[i]), std::exp(shared.growth[i])};
    // before the first pass laws of wear have no say
    for (Eigen::Index k = 0; k < laws.cols(); ++k) miss.log.push_back(levels[i] + (k > 0 ? laws(i, k) : 0.0));
    out.push_back(std::move(miss));
  }
  return out;
}

UpkeepMiss mean_miss(const std::vector<UpkeepMiss>& misses) {
  if (misses.empty()) return {};
  UpkeepMiss out{misses.front().passes, std::vector<double>(misses.front().passes.size(), 0.0), 1.0, 1.0};
  for (const UpkeepMiss& miss : misses) {
    out.apex *= std::pow(miss.apex, 1.0 / static_cast<double>(misses.size()));
    out.growth *= std::pow(miss.growth, 1.0 / static_cast<double>(misses.size()));
    for (std::size_t k = 0; k < out.log.size(); ++k)
      out.log[k] += miss.log[k] / static_cast<double>(misses.size());
  }
  return out;
}

}  // namespace arris
