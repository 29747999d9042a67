// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit.hpp"

/// How an edge was sharpened, as a random effect: media and strops are not just what their tables say.
///
///     apex = e^η_way·apex by the model,   η_way ~ N(0, τ²)
///
/// τ has a half Student's t for its prior (spread_scale). So a way with many edges is taken as it was read, one with few is drawn towards the
/// model, and one that was never read has all of τ for its uncertainty: partial pooling. An edge is of one way off its medium, and of another
/// when it has been stropped. The effects are in a fit as soon as edges that were read are sharpened in two ways or more.
/// Source: normal hierarchical model, Gelman et al., Bayesian Data Analysis, chapter 5 (from memory).
namespace arris {

/// The ways that a campaign's readings have effects of, in the order of their columns.
[[nodiscard]] std::vector<std::string> ways_in(const CampaignModel& model);

/// The name of a column of draws that holds the factor of a way on the apex, and the way of such a column; nothing for another.
[[nodiscard]] std::string                way_column(const std::string& way);
[[nodiscard]] std::optional<std::string> way_of_column(const std::string& column);

/// η of each way given draws of all else: a row for each column of `u` (P × n), a column for each of `ways_in`; the same on any machine and for
/// any number of threads. A row is 0 where the histories cannot be run.
[[nodiscard]] Eigen::MatrixXd drawn_ways(const CampaignModel& model, const Eigen::MatrixXd& u,
                                         const std::vector<Spread>& spreads, unsigned long long seed,
                                         int threads);

/// How many times as large as the model says the apex of a way is: middle and 90 % interval.
struct WayFactor {
  std::string way;
  double      low = not_given, middle = not_given, high = not_given;
};
/// From draws row by row, `columns` of them named.
[[nodiscard]] std::vector<WayFactor> way_factors(const std::vector<std::string>& columns,
                                                 const std::vector<double>&      values);

}  // namespace arris
