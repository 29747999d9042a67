// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/simulate/readings.hpp"
#include "sim/studies/answer.hpp"

/// Lives of edges as they were measured: from readings alone, without the model of an edge.
///
/// An edge is read now and then, so its life is known to lie between two readings, or to be longer than the last. A Weibull
/// distribution takes such lives for what they are,
///
///     S(t) = exp(−(t/η)^β);   log L = Σ log f(t) of exact lives + Σ log( S(low) − S(high) ) of the others, S(∞) = 0
///
/// | symbol | C++     | meaning                                                       | unit   |
/// |--------|---------|---------------------------------------------------------------|--------|
/// | η      | `scale` | life that 63 % of edges have ended by                         | passes |
/// | β      | `shape` | 1: edges fail at any time alike; large: all at about one time | 1      |
///
/// and the product-limit estimate takes nothing for granted but needs a life to be a number: of one between two readings, where
/// the straight line between them crosses the limit. With z = β·log t − b, log L is concave in (β, b), so there is one top.
/// Source: Weibull 1951; Kaplan & Meier 1958; Burridge 1981 for the concavity (from memory).
namespace arris {

/// Between `low` and `high` passes: the same where it is known exactly, `high` infinite where the edge was still good.
struct ObservedLife {
  double low = 0.0, high = 0.0;
  int    count = 1;
};

struct WeibullFit {
  bool            usable = false;  ///< false: no life has ended, or all at one time
  double          scale = not_given, shape = not_given;
  double          log_likelihood = not_given;
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();  ///< of log η and log β, by the observed information

  /// Life that a share `p` of edges have ended by, and its 90 % interval (delta method, on the log).
  struct Quantile {
    double value, low, high;
  };
  [[nodiscard]] Quantile quantile(double p) const;
};

/// Throws std::invalid_argument for a life that is no interval: low < 0, high < low, or not a number.
[[nodiscard]] WeibullFit fit_weibull(const std::vector<ObservedLife>& lives);

/// Time by which half have ended, by the product-limit estimate; infinite where fewer than half have. `at` are the ends, or how
/// long each was watched; `ended` says which.
[[nodiscard]] double product_limit_median(const std::vector<double>& at, const std::vector<bool>& ended);

/// The lives that readings tell of edges in one wood.
struct MeasuredLives {
  std::string               wood;
  std::vector<std::string>  edges;  ///< of which something is known
  std::vector<ObservedLife> lives;  ///< one per edge, passes since its first cut
  int                       ended = 0, still_good = 0;
  double                    median = not_given;  ///< product limit
  WeibullFit                weibull;
};

/// By wood, in the order of the configuration; of the given edges (indices into Scenario::edges). Each edge counts up to where it
/// is sharpened again, by the rule of life.hpp: what it reads before its lowest reading does not count. Edges that were not read
/// after a pass are left out.
[[nodiscard]] std::vector<MeasuredLives> measured_lives(const Scenario&                 scenario,
                                                        const std::vector<Reading>&     readings,
                                                        const std::vector<std::size_t>& edges,
                                                        double                          limit_N);

/// Every reading that was taken between the last abrasive of the first sharpening and the next, for pictures: table "readings"
/// with edge, passes since the first cut, reading_gf, operator, why it is excluded. Of the given edges.
[[nodiscard]] AnswerTable readings_in_wood(const Scenario& scenario, const std::vector<Reading>& readings,
                                           const std::vector<std::size_t>& edges);

}  // namespace arris
