// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "sim/studies/upkeep/lands.hpp"

/// Third step of the search: every pair of whole numbers, its cycle on each land, and the best period of each pair for each
/// purpose.
namespace arris::upkeep_search {

/// A pair with its cycle on each of the lands; the cycle on the first is usable.
struct PairCycles {
  Pair               pair;
  std::vector<Cycle> cycles;
};

struct Screened {
  std::vector<PairCycles> pairs;          ///< all that can be worked, by passes and then by stroppings
  std::size_t             histories = 0;  ///< that were run for them
};

/// Their cycles lie on curves (cycles_by_passes.hpp). Beyond 600 passes between stroppings a coarser step is taken first, and all
/// whole numbers only where none of its costs can be ruled out.
[[nodiscard]] Screened screen(const Task& task, const Leading& leading, const Lands& lands);

/// The best period of a pair for something; infinite where there is none.
struct Pick {
  double value = never;
  Pair   pair;
  Period period;

  void offer(double other, const Pair& of, const Period& p) {
    if (other < value) *this = {other, of, p};
  }
  [[nodiscard]] bool    there_is() const { return value < never; }
  [[nodiscard]] Routine routine() const { return {pair.passes, pair.stroppings, true, period}; }
};

/// What a pair has to offer: its best period for each purpose.
struct Offer {
  std::array<Pick, 4> near;       ///< by what is least, the limit kept or nearly so
  Pick                near_wide;  ///< the same for what is asked, ground at the widest land
  Pick                own;        ///< what is asked, the limit kept
  Pick                minutes;    ///< time, the limit kept
  std::vector<Pick>   by_target;  ///< for each limit or share of the trade-off
  std::vector<Pick>   slower;     ///< with more honings between grindings than is quickest: saves steel

  [[nodiscard]] const Pick& near_least(Least least) const { return near[static_cast<std::size_t>(least)]; }
};

/// `targets`: limits in gf, or shares where not every pass is to be within the limit.
[[nodiscard]] std::vector<Offer> offers_of(const Task& task, const Lands& lands,
                                           const std::vector<PairCycles>& pairs,
                                           const std::vector<double>&     targets);

}  // namespace arris::upkeep_search
