// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

#include "sim/statistics/sobol_indices.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/sweep/sweep.hpp"

/// Which of several inputs matters how much for an answer, each over its whole range with all others over theirs.
///
/// Two designs A and B of n points each are the halves of the coordinates of one Sobol sequence; with those that have one coordinate of
/// the other, n·(inputs + 2) histories are run (Saltelli et al. 2010, from memory), and the variance of the answer is shared out
/// (sobol_indices.hpp). Inputs are independent, and each value of a range is as likely as any other.
namespace arris {

struct SensitivitySettings {
  SweepOutput        output;
  SweepMoment        moment;
  double             limit_gf = not_given;  ///< where the output is the life
  double             passes   = not_given;  ///< where the output is the life: to look ahead
  std::size_t        base     = 1024;       ///< n, a power of two
  unsigned long long seed     = 1;
  int                threads  = 0;

  static constexpr int resamples = 1000;  ///< behind the intervals
  [[nodiscard]] bool   is_life() const { return !output.value; }
};

/// Inputs with a value for each of these points of the unit cube, point by point.
using InputsAt = std::function<std::vector<SweepAxis>(const std::vector<double>& points)>;

struct Sensitivity {
  std::string             edge;
  std::vector<SweepAxis>  inputs;   ///< at the points of A
  std::vector<SobolIndex> indices;  ///< by input
  std::vector<double>     answers;  ///< at the points of A and B, ascending
  double                  mean = 0.0, sd = 0.0;
  std::size_t             histories = 0, failed = 0, points = 0;  ///< points that were kept, of A
  std::size_t             beyond = 0;  ///< histories whose edge outlasts the passes that were looked at
  std::string             cause;       ///< why the first that failed did
};

/// The edge is run by its own steps; for its life it is sharpened by those up to its first cut and goes on in that wood, and one that
/// outlasts `passes` counts as that. Points of which a history failed are left out. `progress(done, all)` may be empty.
/// Throws Error: "too-many-failed" (Exit::integration) where fewer than half of the points are left, "same-everywhere" (Exit::usage),
/// "no-cut" (Exit::usage) where an edge that cuts no wood is asked for its life, and as Sweep.
[[nodiscard]] Sensitivity sensitivity(const Scenario& scenario, const EdgePlan& plan, std::size_t inputs,
                                      const InputsAt& inputs_at, const SensitivitySettings& settings,
                                      const std::function<void(std::size_t, std::size_t)>& progress);

[[nodiscard]] Answer sensitivity_answer(const Sensitivity& found, const SensitivitySettings& settings);

}  // namespace arris
