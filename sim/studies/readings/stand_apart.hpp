// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include "sim/studies/readings/taken.hpp"

/// Readings that lie far from their repeats, and edges that stand apart from others of their kind.
///
/// Both by the largest deviation d of a value from the mean of its n, held against the scatter s of all other values:
///
///     t = d / ( s₍ᵢ₎·√(1 − 1/n) ),   s₍ᵢ₎² = ( Σ d² − d²/(1 − 1/n) ) / (ν − 1),   p ← N·P(|T| > |t|), ν − 1 degrees of freedom
///
/// N being the number of values, ν their degrees of freedom about the means; among edges of one kind that is Grubbs' test. Edges are tested at every
/// moment, and by their change from the moment before; all these tests are corrected together (Holm), so that where all edges
/// are alike one is named in one campaign of twenty. Source: Grubbs 1969, Technometrics 11, 1; Holm 1979 (from memory).
namespace arris::read {

/// Readings whose p is below 0.05, one after the other, each without those found before. Where an edge was read twice at a moment, either of
/// the two may be the odd one: `others` is 1.
[[nodiscard]] std::vector<OddReading> odd_readings(const std::vector<Taken>& all);

/// At most one for each edge: the test in which it stands out most. Needs 5 degrees of freedom. `odd` readings do not count, where it is known which of them is odd.
[[nodiscard]] std::vector<StandsApart> edges_apart(const std::vector<std::vector<Kind>>& by_moment,
                                                   const std::vector<Taken>&             all,
                                                   const std::vector<OddReading>&        odd);

}  // namespace arris::read
