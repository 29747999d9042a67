// SPDX-License-Identifier: MIT
#include "sim/statistics/power.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <stdexcept>
#include <vector>

#include <boost/math/tools/roots.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>

#include "sim/statistics/distributions.hpp"

namespace arris {
namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();

double critical_t(double degrees_of_freedom, double alpha) {
  return t_quantile_above(0.5 * alpha, degrees_of_freedom);
}

// the root of an increasing f, bracketed from `start` by doubling and halving
template <class F>
double root(F f, double start) {
  std::uintmax_t rounds     = 200;
  const auto [below, above] = boost::math::tools::bracket_and_solve_root(
      f, start, 2.0, true, boost::math::tools::eps_tolerance<double>(48), rounds);
  return 0.5 * (below + above);
}

}  // namespace

double power_of_t_test(double difference, double standard_error, double degrees_of_freedom, double alpha) {
  if (!(degrees_of_freedom >= 1.0)) return missing;
  if (!(standard_error > 0.0)) return 1.0;
  const double t             = critical_t(degrees_of_freedom, alpha);
  const double noncentrality = difference / standard_error;
  // beyond this every distribution in question lies above t, and the series of the noncentral t needs very many terms
  if (noncentrality > 1000.0 && noncentrality > 100.0 * t) return 1.0;
  return noncentral_t_above(t, degrees_of_freedom, noncentrality);
}

double power_two_sample_t(double difference, double per_group, double alpha) {
  return power_of_t_test(difference, std::sqrt(2.0 / per_group), 2.0 * per_group - 2.0, alpha);
}

double per_group_two_sample_t(double difference, double power, double alpha) {
  if (!(difference > 0.0) || !(power > 0.5 * alpha) || !(power < 1.0))
    throw std::domain_error("no number of values reaches this power");
  // from 1.5 values per group, one degree of freedom, upwards
  constexpr double least = 1.5;
  const auto       rise  = [&](double beyond) {
    return power_two_sample_t(difference, least + beyond, alpha) - power;
  };
  if (rise(0.0) >= 0.0) return least;
  return least + root(rise, 10.0);
}

double noncentrality_for_power(double degrees_of_freedom, double alpha, double power) {
  return root([&](double d) { return power_of_t_test(d, 1.0, degrees_of_freedom, alpha) - power; }, 3.0);
}

double standard_error_of_difference(const ReadingScatter& s, const ComparisonSize& size) {
  return std::sqrt(2.0 * (s.edge_sd * s.edge_sd + s.reading_sd * s.reading_sd / size.readings) / size.edges);
}

double degrees_of_freedom(const ComparisonSize& size) {
  return static_cast<double>(size.groups) * (size.edges - 1) - (size.blocks - 1);
}

double comparison_power(const ReadingScatter& scatter, const ComparisonSize& size, double log_difference,
                        double alpha) {
  return power_of_t_test(log_difference, standard_error_of_difference(scatter, size),
                         degrees_of_freedom(size), alpha);
}

double smallest_log_difference(const ReadingScatter& scatter, const ComparisonSize& size, double power,
                               double alpha) {
  const double dof = degrees_of_freedom(size);
  if (!(dof >= 1.0)) return missing;
  const double error = standard_error_of_difference(scatter, size);
  if (!(error > 0.0)) return 0.0;
  if (power <= 0.5 * alpha) return 0.0;
  return error * noncentrality_for_power(dof, alpha, power);
}

SimulatedPower simulate_power(const ComparisonSize& size, const std::vector<ReadingScatter>& scatters,
                              double block_sd, double log_difference, double alpha,
                              const std::function<double(double)>& log_reading, int campaigns,
                              unsigned long long seed) {
  SimulatedPower out;
  out.campaigns    = campaigns;
  const double dof = degrees_of_freedom(size);
  if (!(dof >= 1.0)) return out;
  const double                               t = critical_t(dof, alpha);
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  const auto          G = static_cast<std::size_t>(size.groups), E = static_cast<std::size_t>(size.edges);
  const auto          B = static_cast<std::size_t>(size.blocks);
  std::vector<double> mean_of_edge(G * E), of_block(B), of_group(G), block_mean(B);
  for (int c = 0; c < campaigns; ++c) {
    const auto [edge_sd, reading_sd] = scatters[static_cast<std::size_t>(c) % scatters.size()];
    for (double& b : of_block) b = block_sd * normal(engine);
    std::fill(of_group.begin(), of_group.end(), 0.0);
    std::fill(block_mean.begin(), block_mean.end(), 0.0);
    std::vector<int> in_block(B, 0);
    double           all = 0.0;
    for (std::size_t g = 0; g < G; ++g) {
      for (std::size_t e = 0; e < E; ++e) {
        const auto block = static_cast<std::size_t>(block_of(static_cast<int>(e), size.blocks));
        double     noise = 0.0;
        for (int r = 0; r < size.readings; ++r) noise += reading_sd * normal(engine);
        const double y = log_reading(edge_sd * normal(engine)) + (g == 0 ? log_difference : 0.0) +
                         of_block[block] + noise / size.readings;
        mean_of_edge[g * E + e] = y;
        of_group[g] += y / static_cast<double>(E);
        block_mean[block] += y;
        ++in_block[block];
        all += y / static_cast<double>(G * E);
      }
    }
    // every block holds as many edges of one group as of another, so that least squares is group mean + block mean − mean
    for (std::size_t b = 0; b < B; ++b) block_mean[b] /= in_block[b];
    double squares = 0.0;
    for (std::size_t g = 0; g < G; ++g) {
      for (std::size_t e = 0; e < E; ++e) {
        const auto   block = static_cast<std::size_t>(block_of(static_cast<int>(e), size.blocks));
        const double left  = mean_of_edge[g * E + e] - of_group[g] - block_mean[block] + all;
        squares += left * left;
      }
    }
    const double error = std::sqrt(2.0 * squares / dof / static_cast<double>(E));
    if (of_group[0] - of_group[1] > t * error) ++out.found;
  }
  out.power          = static_cast<double>(out.found) / campaigns;
  out.standard_error = std::sqrt(out.power * (1.0 - out.power) / campaigns);
  return out;
}

}  // namespace arris
