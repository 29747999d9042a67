// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "sim/studies/sweep/sweep.hpp"

/// One edge simulated for many sets of parameters at once, each set a row.
namespace arris {

struct ManyRows {
  std::vector<std::string> paths;             ///< p parameters, as a configuration writes them
  const double*            values = nullptr;  ///< n × p, row by row
  std::size_t              count  = 0;        ///< n
};

struct ManyResults {
  std::vector<double> values;  ///< n × moments × outputs; NaN in rows that failed
  std::vector<double> status;  ///< n, SweepStatus as a number
};

/// Outputs at moments of one edge, for each row. Rows are spread over threads; the result does not depend on how many. A row whose
/// numbers are out of range or fit no blade is marked as impossible, and leaves the rest as it is.
/// Throws Error (Exit::usage): "unknown-parameter" with a suggestion, "no-such-step", "no-such-moment".
[[nodiscard]] ManyResults simulate_many(const Scenario& scenario, const EdgePlan& plan, const ManyRows& rows,
                                        const std::vector<SweepMoment>& moments,
                                        const std::vector<SweepOutput>& outputs, int threads);

}  // namespace arris
