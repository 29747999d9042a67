// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/simulate/readings.hpp"
#include "sim/simulate/simulate.hpp"

/// Readings on the curves of a simulation, for pictures.
namespace arris {

/// A reading that was taken, and where on the curve of its edge.
struct ReadingPoint {
  std::string    edge;
  const Reading* reading = nullptr;
  TrackPoint at;  ///< what the model has at that moment; NaN where the edge could not be simulated that far
};

/// Every reading of the tester, in the order of the file; of readings that exist, so that they must outlive the result.
[[nodiscard]] std::vector<ReadingPoint> reading_points(const SimulationResult&     result,
                                                       const std::vector<Reading>& readings);

}  // namespace arris
