// SPDX-License-Identifier: MIT
#include "sim/statistics/sobol_indices.hpp"

#include <numeric>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/uniform_int_distribution.hpp>

#include "sim/statistics/quantiles.hpp"
#include "sim/stop.hpp"

namespace arris {
namespace {

// indices over these points of the sample, some of which may be there more than once
std::vector<SobolIndex> indices_over(const SobolSample& s, const std::vector<std::size_t>& points) {
  const auto n    = static_cast<double>(points.size());
  double     mean = 0.0, square = 0.0;
  for (const std::size_t p : points) mean += (s.a[p] + s.b[p]) / (2.0 * n);
  for (const std::size_t p : points)
    square += (s.a[p] - mean) * (s.a[p] - mean) + (s.b[p] - mean) * (s.b[p] - mean);
  const double            variance = square / (2.0 * n);
  std::vector<SobolIndex> out;
  for (const std::vector<double>& ab : s.ab) {
    double first = 0.0, total = 0.0;
    for (const std::size_t p : points) {
      const double step = ab[p] - s.a[p];
      first += (s.b[p] - mean) * step;
      total += step * step;
    }
    SobolIndex index;
    index.first = first / (n * variance);
    index.total = total / (2.0 * n * variance);
    out.push_back(index);
  }
  return out;
}

}  // namespace

std::vector<SobolIndex> sobol_indices(const SobolSample& sample) {
  std::vector<std::size_t> all(sample.a.size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  return indices_over(sample, all);
}

std::vector<SobolIndex> sobol_indices(const SobolSample& sample, int resamples, unsigned long long seed) {
  constexpr double                                     low = 0.05, high = 0.95;
  std::vector<SobolIndex>                              out = sobol_indices(sample);
  boost::random::mt19937_64                            random(seed);
  boost::random::uniform_int_distribution<std::size_t> any(0, sample.a.size() - 1);
  std::vector<std::size_t>                             drawn(sample.a.size());
  std::vector<std::vector<double>>                     firsts(out.size()), totals(out.size());
  for (int r = 0; r < resamples; ++r) {
    stop_if_wished();
    for (std::size_t& point : drawn) point = any(random);
    const auto indices = indices_over(sample, drawn);
    for (std::size_t i = 0; i < out.size(); ++i) {
      firsts[i].push_back(indices[i].first);
      totals[i].push_back(indices[i].total);
    }
  }
  for (std::size_t i = 0; i < out.size(); ++i) {
    out[i].first_low  = quantile(firsts[i], low);
    out[i].first_high = quantile(firsts[i], high);
    out[i].total_low  = quantile(totals[i], low);
    out[i].total_high = quantile(totals[i], high);
  }
  return out;
}

}  // namespace arris
