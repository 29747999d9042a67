// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <vector>

/// How surely a comparison of groups of edges finds a difference that is there.
///
///     SE² = 2·( σ_e²/E + σ_r²/(E·R) ),    ν = G·(E − 1) − (B − 1)
///     power = P( T > t_{1−α/2, ν} ),      T ~ noncentral t with ν degrees of freedom and noncentrality Δ/SE
///
/// | symbol | C++              | meaning                                                         |
/// |--------|------------------|-----------------------------------------------------------------|
/// | Δ      | `log_difference` | difference of the means of two groups, of the log of the reading |
/// | σ_e    | `edge_sd`        | scatter of the log reading from edge to edge                     |
/// | σ_r    | `reading_sd`     | scatter of the log reading from reading to reading of one edge   |
/// | G      | `groups`         | groups; their scatter is pooled                                  |
/// | E, R   | `edges`, `readings` | edges per group, readings of each                             |
/// | B      | `blocks`         | operators, lots or days; each takes edges of every group alike, so that what differs between blocks falls out |
///
/// A difference that is found the wrong way round does not count. Assumes normal scatter of logs, the same in every group.
/// Source: Student's t test; noncentral t distribution of Boost.Math; Searle, Casella & McCulloch 1992 for the variance of a
/// mean of nested readings (from memory).
namespace arris {

/// Power of a two-sided t test at level `alpha`. 1 when the standard error is 0; NaN for fewer than one degree of freedom.
[[nodiscard]] double power_of_t_test(double difference, double standard_error, double degrees_of_freedom,
                                     double alpha);

/// The same for two groups of `per_group` single values each; `difference` in standard deviations.
[[nodiscard]] double power_two_sample_t(double difference, double per_group, double alpha);

/// Values per group (not rounded) at which `power_two_sample_t` reaches `power`. difference > 0, alpha/2 < power < 1.
/// Throws std::domain_error otherwise.
[[nodiscard]] double per_group_two_sample_t(double difference, double power, double alpha);

/// The noncentrality Δ/SE at which the power of a t test reaches `power`. alpha/2 < power < 1.
[[nodiscard]] double noncentrality_for_power(double degrees_of_freedom, double alpha, double power);

/// Scatter of the log of a reading at the moment of the comparison.
struct ReadingScatter {
  double edge_sd    = 0.0;
  double reading_sd = 0.0;
};

struct ComparisonSize {
  int groups   = 2;
  int edges    = 2;  ///< per group
  int readings = 1;  ///< per edge
  int blocks   = 1;  ///< at most `edges`
};

[[nodiscard]] double standard_error_of_difference(const ReadingScatter& scatter, const ComparisonSize& size);
[[nodiscard]] double degrees_of_freedom(const ComparisonSize& size);
[[nodiscard]] double comparison_power(const ReadingScatter& scatter, const ComparisonSize& size,
                                      double log_difference, double alpha);

/// The difference of logs that this comparison finds with `power`; NaN when it has no degree of freedom.
[[nodiscard]] double smallest_log_difference(const ReadingScatter& scatter, const ComparisonSize& size,
                                             double power, double alpha);

/// A share of simulated campaigns.
struct SimulatedPower {
  int    campaigns      = 0;
  int    found          = 0;
  double power          = 0.0;
  double standard_error = 0.0;  ///< √(p·(1 − p)/campaigns)
};

/// Draws campaigns and analyses each as it would be: edge means of log readings, groups and blocks by least squares, pooled
/// scatter, t test of the first two groups at level `alpha`. `log_reading(η)` is the log reading of an edge whose apex is
/// e^η times the typical one, η ~ N(0, edge_sd²); the readings of the first group lie higher by `log_difference`; each
/// block has a factor of its own, N(0, `block_sd`²) in the log. `scatters` (at least one) take turns from campaign to campaign: where
/// the scatter is not known, they are what it may be. Same seed, same result, on any machine.
[[nodiscard]] SimulatedPower simulate_power(const ComparisonSize&              size,
                                            const std::vector<ReadingScatter>& scatters, double block_sd,
                                            double log_difference, double alpha,
                                            const std::function<double(double)>& log_reading, int campaigns,
                                            unsigned long long seed);

/// Block of edge `index` of a group when its `edges` are dealt to `blocks` in turn, as evenly as can be.
[[nodiscard]] inline int block_of(int index, int blocks) { return index % blocks; }

}  // namespace arris
