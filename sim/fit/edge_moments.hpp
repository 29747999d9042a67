// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/fit/fit.hpp"

/// What a fit leaves over, edge by edge and moment by moment: the mean of readings that were taken of one edge at one moment, beside
/// what the model says.
namespace arris {

/// When an edge was read, in words that other edges share.
struct Phase {
  std::string says;
  double      passes = 0.0;  ///< since it was sharpened; 0 where it has not worked yet
};

/// That of a moment of an edge; `count` of a moment that is not given is the end of its step.
[[nodiscard]] Phase phase_at(const EdgePlan& plan, const Moment& moment);

/// An edge at one moment: means of the logs of measured over predicted.
struct EdgeMoment {
  int         edge = -1, moment = -1;
  Phase       phase;
  std::string when;                     ///< the phase, with the passes in classes
  double      of_mean  = 0.0;           ///< beside what the model says of the mean edge
  double      of_kind  = 0.0;           ///< beside that of edges sharpened as it was, in its wood
  double      of_edge  = 0.0;           ///< beside the prediction for the edge itself
  double      measured = 0.0;           ///< mean of the logs, N
  int         readings = 0, first = 0;  ///< index of the first of them
};

/// All edges and moments with readings of the tester, by edge and moment.
[[nodiscard]] std::vector<EdgeMoment> edge_moments(const CampaignModel& model, const FitPoint& point,
                                                   const Information& information);

}  // namespace arris
