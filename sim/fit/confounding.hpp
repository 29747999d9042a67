// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/simulate/readings.hpp"

/// What readings cannot tell apart, because it always went together: ways of sharpening and the operators, filament lots and test
/// days of their readings.
///
/// With an indicator column for each level of each factor, the difference of two levels can be told where its contrast lies in the
/// space of the rows: where it does not raise the rank of the design (Eigen's QR with column pivots).
/// Source: estimable functions of a linear model, Searle 1971 (from memory).
namespace arris {

/// A factor of readings.
struct Levels {
  std::string              one, many;  ///< "operator", "operators"
  std::vector<std::string> names;      ///< of its levels
  std::vector<int>         of;         ///< by reading: index into names
};

/// `name_of_reading` holds the level of each reading; an empty one is a level of its own, `unnamed`.
[[nodiscard]] Levels levels_of(std::string one, std::string many,
                               const std::vector<std::string>& name_of_reading, const std::string& unnamed);

/// Operators, filament lots and test days of these readings: those of which there are two or more.
[[nodiscard]] std::vector<Levels> circumstances_of(const std::vector<const Reading*>& readings);

/// Whether levels a and b of `factor` can be told apart where what is in `beside` may differ too. All have as many readings.
[[nodiscard]] bool are_told_apart(const Levels& factor, int a, int b, const std::vector<Levels>& beside);

/// Why levels a and b of `factor` cannot be told apart, a sentence that names who and what goes together; empty where they can.
[[nodiscard]] std::string confounding_sentence(const Levels& factor, int a, int b,
                                               const std::vector<Levels>& beside);

/// The first two levels of `factor` that cannot be told apart where what is in `beside` may differ too, as a sentence; empty where all can.
[[nodiscard]] std::string first_confounding(const Levels& factor, const std::vector<Levels>& beside);

/// Of a whole campaign: what was done to edges, or how far they had worked, where it cannot be told from who or what read them, or ways from
/// woods: the first part of the next.
[[nodiscard]] std::vector<std::string> confounded_handling(const Scenario&             scenario,
                                                           const std::vector<Reading>& readings);

/// Of a whole campaign: routes, strops, steels and moments that cannot be told from operators, lots or days, routes, strops and steels that cannot from woods, and these that cannot be told from
/// each other. One sentence for each two factors that go together. Readings that are excluded, and those of no force, do not count.
[[nodiscard]] std::vector<std::string> confounding_sentences(const Scenario&             scenario,
                                                             const std::vector<Reading>& readings);

}  // namespace arris
