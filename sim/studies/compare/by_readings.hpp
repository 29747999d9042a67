// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/simulate/readings.hpp"
#include "sim/studies/compare/compare.hpp"

namespace arris {

/// What the readings alone allow to be said of each way against the first, where edges of both were read ready for work on one kind of
/// blade: fills in Way::read_below, and takes below_reference and equivalent back to what that allows. With means m of the logs and
/// s between edges of one way (read_campaign.hpp),
///
///     P(less) = P( T > (m_way − m_first) / (s·√(1/n_way + 1/n_first)) )
///
/// A model is a guess about how edges come about; where the edges themselves were read it can hardly be surer than they are.
void hold_to_readings(const Scenario& scenario, const std::vector<Reading>& readings, double margin,
                      std::vector<Way>& ways);

}  // namespace arris
