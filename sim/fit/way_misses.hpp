// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit.hpp"

/// What the model misses of each way of sharpening, as an effect of the way: media and strops are not just what their tables say.
///
///     log F = log F_model + μ_way,   μ_way ~ N(0, τ²),   y_way | μ_way ~ N(μ_way, s²/n_way)
///
/// | symbol | meaning                                                                 | prior                                            |
/// |--------|-------------------------------------------------------------------------|--------------------------------------------------|
/// | y_way  | mean, over the n edges of a way, of the log of measured over predicted  | –                                                |
/// | s      | how edges of one way differ in that                                     | pooled over ways                                 |
/// | τ      | how ways differ                                                         | half Student's t, 4 d.f., scale 0.15 (estimate)  |
///
/// So a way with many edges is taken as it was read, one with few is drawn towards the model, and one that was never read has all of τ for its
/// uncertainty: partial pooling. It is found after the fit, as what the laws miss along the passes (discrepancy.hpp); parameters are not fitted
/// anew beside it. An edge is of one way off its medium, and of another when it has been stropped.
/// Source: normal hierarchical model, Gelman et al., Bayesian Data Analysis, chapter 5 (from memory); found after the fit, as Liu, Bayarri &
/// Berger 2009 (from memory).
namespace arris {

/// How an edge was sharpened up to a moment, wood and readings left out: "plates + thin hide on wood, chromium oxide 0.5 µm, 20 laps".
[[nodiscard]] std::string way_at(const EdgePlan& plan, const Moment& moment);

struct WayMisses {
  std::vector<std::string> ways;      ///< by way_at, in the order in which they were first read
  std::vector<double>      miss;      ///< y: mean log of measured over predicted
  std::vector<double>      variance;  ///< of that mean, as edges of a way differ
  /// Standard deviation of edges of one way over that of all edges: what is left of an edge's luck where its way is known.
  double within = 1.0;

  [[nodiscard]] bool is_known() const { return ways.size() > 1; }
};

/// Empty where there is one way, or no way has edges enough to tell how edges of a way differ.
[[nodiscard]] WayMisses way_misses_of(const CampaignModel& model, const FitPoint& point,
                                      const Information& information);

/// μ of a way in `count` draws; the same on any machine, and for two ways from the same seed with the same τ in each draw. Zeros where nothing is
/// known.
[[nodiscard]] Eigen::VectorXd drawn_way_miss(const WayMisses& known, const std::string& way,
                                             std::size_t count, unsigned long long seed);

/// μ of each way, middle and 90 % interval as factors on the reading.
struct WayFactor {
  std::string way;
  double      low = not_given, middle = not_given, high = not_given;
};
[[nodiscard]] std::vector<WayFactor> way_factors(const WayMisses& known);

}  // namespace arris
