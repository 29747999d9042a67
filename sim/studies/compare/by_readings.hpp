// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <vector>

#include "sim/simulate/readings.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/studies/readings/read_campaign.hpp"

namespace arris {

/// The readings of two ways, ready for work, on the log scale.
struct ReadPair {
  double apart = 0.0;  ///< m_first − m_second
  double se    = 0.0;
  double dof   = 0.0;

  /// Share of |difference| up to `wide`, and of a difference above it.
  [[nodiscard]] double within(double wide) const;
  [[nodiscard]] double above(double wide) const;
};

/// Nothing where the edges of one of them were not read ready for work, or on other blades.
[[nodiscard]] std::optional<ReadPair> read_pair(const Scenario& scenario, const ReadCampaign& read,
                                                const Way& first, const Way& second);

/// `share` no farther from "as likely as not" than `allowed`, and not beyond it on the other side.
[[nodiscard]] double held_to(double share, double allowed);

/// What the readings alone allow to be said of each way against the first, where edges of both were read ready for work on one kind of
/// blade: fills in Way::read_gf and Way::read_below, and takes below_reference and equivalent back to what that allows. With means m of the logs and
/// s between edges of one way (read_campaign.hpp),
///
///     P(less) = P( T > (m_way − m_first) / (s·√(1/n_way + 1/n_first)) )
///
/// A model is a guess about how edges come about; where the edges themselves were read it can hardly be surer than they are.
void hold_to_readings(const Scenario& scenario, const std::vector<Reading>& readings, double margin,
                      std::vector<Way>& ways);

}  // namespace arris
