// SPDX-License-Identifier: MIT
#pragma once

#include <map>
#include <vector>

#include "sim/history/scenario.hpp"
#include "sim/simulate/simulate.hpp"

namespace arris {

/// Puts the readings of points of one edge's track right by what the scenario has beside its model: its apex is that of the way it was
/// sharpened, in between steps by how far a step has come; it grows in wood as edges of that way do in that wood; and what the laws of wear miss
/// is added once it cuts. Radii stay those of the model.
class ReadBeside {
 public:
  /// Both are kept by reference; the numbers of the model may change meanwhile.
  ReadBeside(const Scenario& scenario, const EdgePlan& plan);
  void put_right(std::vector<TrackPoint>& points) const;

  /// The radius that a tester meets when the wear of an edge began, by the step of the first cut: found once for a model that stays.
  using Fresh = std::map<int, double>;
  void put_right(TrackPoint& point, Fresh& fresh) const;

 private:
  [[nodiscard]] double apex_factor(const TrackPoint& point) const;
  [[nodiscard]] double growth_factor(const Moment& moment) const;
  [[nodiscard]] double fresh_um(int first_cut, Fresh& fresh) const;
  [[nodiscard]] double along(double passes) const;

  const Scenario&     scenario_;
  const EdgePlan&     plan_;
  std::vector<double> way_before_, way_after_;  ///< by step: logs of the factor on the apex
};

}  // namespace arris
