// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/fit/ensemble.hpp"

namespace arris {

/// What the laws miss of a reading, by passes since the edge was sharpened (discrepancy.hpp), and the way of sharpening of the apex (ways.hpp):
/// nothing where it is empty, and beyond the last passes, twice those up to which edges were read, what it is there.
struct UpkeepMiss {
  std::vector<double> passes;        ///< ascending, from 0
  std::vector<double> log;           ///< of what is read over what the model says
  double              apex   = 1.0;  ///< factor of the way
  double              growth = 1.0;  ///< of wear in its wood: so many times the path of the model

  /// Linear between two passes.
  [[nodiscard]] double at(double passes_since) const;
};

/// By member of an ensemble, for an edge that is sharpened up to its first cut as `plan` is. Empty where the ensemble rests on no fit.
[[nodiscard]] std::vector<UpkeepMiss> upkeep_misses(const Ensemble& ensemble, const EdgePlan& plan);

/// Their mean; empty where there are none.
[[nodiscard]] UpkeepMiss mean_miss(const std::vector<UpkeepMiss>& misses);

}  // namespace arris
