// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "sim/studies/upkeep/lands.hpp"

/// The cycle that repeats itself on each land, by the passes between two stroppings.
namespace arris::upkeep_search {

/// Each with so many stroppings on one of the lands: worked out at some numbers of passes, the first a doubling apart, and closer where a
/// curve through those around does not foretell the next to within `closeness`. Where every pass is to be within the limit,
/// nothing is worked out between two numbers that are both beyond what a trade-off may ask for.
class CyclesByPasses {
 public:
  static constexpr double closeness =
      2e-3;  ///< of two cycles, and of two readings after honing, that count as the same

  /// `longest`: most passes between two stroppings, 1 at least.
  CyclesByPasses(const Task& task, const Lands& lands, int longest);

  /// Most stroppings between two honings.
  [[nodiscard]] int most_stroppings() const { return most_stroppings_; }
  /// On each of the lands; one that cannot be worked is not usable. `passes`: up to `longest`.
  [[nodiscard]] std::vector<Cycle> of(const Pair& pair) const;
  /// Histories that were run for all of them: each honing, stretch of work and stropping is one.
  [[nodiscard]] std::size_t histories() const { return histories_; }

 private:
  std::size_t lands_;
  int         most_stroppings_;
  std::vector<CycleCurve>
              curves_;  ///< by the logarithm of passes, of each number of stroppings on every land
  std::size_t histories_ = 0;
};

}  // namespace arris::upkeep_search
