// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/screening.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <utility>

#include "sim/parallel.hpp"
#include "sim/studies/upkeep/cycles_by_passes.hpp"

namespace arris::upkeep_search {
namespace {

constexpr int finest_grid = 600;  // whole numbers of passes that are all looked at

/// All pairs with any of these numbers of passes, in their order.
std::vector<PairCycles> pairs_with_any(const Task& task, const CyclesByPasses& cycles,
                                       const std::vector<int>& passes) {
  const auto              each = static_cast<std::size_t>(cycles.most_stroppings()) + 1;
  std::vector<PairCycles> out(passes.size() * each);
  for_each_index(out.size(), task.settings.threads, [&](std::size_t i) {
    out[i].pair   = {passes[i / each], static_cast<int>(i % each)};
    out[i].cycles = cycles.of(out[i].pair);
  });
  std::erase_if(out, [](const PairCycles& p) { return !p.cycles[0].usable; });
  return out;
}

/// What is looked at first: whole numbers of passes, `step` apart.
std::vector<int> grid_of(int longest, int step) {
  std::vector<int> grid;
  if (step > 1) grid.push_back(1);
  for (int a = step; a < longest + step; a += step) grid.push_back(a);
  return grid;
}

/// The numbers of passes between those of a coarse grid that may yet cost less than any on it: over a longer stretch of work
/// a cycle never costs less, so nothing before the next number costs less per pass than this cycle over the passes of that one.
std::vector<int> not_ruled_out(const Task& task, const Lands& lands,
                               const std::vector<PairCycles>& coarse_pairs, int step) {
  const auto offers = offers_of(task, lands, coarse_pairs, {});
  double     least  = never;
  for (const Offer& o : offers) least = std::min(least, o.own.value);
  std::set<int> more;
  for (std::size_t i = 0; i < coarse_pairs.size(); ++i) {
    const int a = coarse_pairs[i].pair.passes, next = a == 1 ? step : a + step;
    if (!(offers[i].near_least(task.demand.least()).value * a / next <= least)) continue;
    for (int b = a + 1; b < next; ++b) more.insert(b);
  }
  return {more.begin(), more.end()};
}

Offer offer_of(const Task& task, const Lands& lands, const PairCycles& of,
               const std::vector<double>& targets) {
  const Demand& demand  = task.demand;
  const auto    periods = periods_of(CycleByDepth(lands.depths_um, of.cycles), lands.rules);
  Offer         out;
  out.by_target.resize(targets.size());
  for (const Period& p : periods) {
    const double own = demand.value(p);
    for (std::size_t t = 0; t < targets.size(); ++t) {
      if (demand.keeps_target(p, targets[t])) out.by_target[t].offer(own, of.pair, p);
    }
    if (!demand.nearly_keeps(p)) continue;
    for (const Least least : {Least::minutes, Least::money, Least::steel, Least::mix})
      out.near[static_cast<std::size_t>(least)].offer(demand.value(p, least), of.pair, p);
    if (p.depth_um >= lands.rules.depth_limit_um) out.near_wide.offer(own, of.pair, p);
    if (!demand.keeps(p)) continue;
    out.own.offer(own, of.pair, p);
    out.minutes.offer(demand.value(p, Least::minutes), of.pair, p);
  }
  for (const Period& p : periods) {
    if (demand.keeps(p) && p.honings >= out.minutes.period.honings)
      out.slower.push_back({demand.value(p, Least::minutes), of.pair, p});
  }
  return out;
}

}  // namespace

Screened screen(const Task& task, const Leading& leading, const Lands& lands) {
  const int            step = std::max(1, (leading.longest + finest_grid - 1) / finest_grid);
  const auto           grid = grid_of(leading.longest, step);
  const CyclesByPasses cycles(task, lands, grid.back());
  auto                 pairs = pairs_with_any(task, cycles, grid);
  if (step == 1) return {std::move(pairs), cycles.histories()};
  const auto more = pairs_with_any(task, cycles, not_ruled_out(task, lands, pairs, step));
  pairs.insert(pairs.end(), more.begin(), more.end());
  std::stable_sort(pairs.begin(), pairs.end(), [](const PairCycles& a, const PairCycles& b) {
    return a.pair.passes != b.pair.passes ? a.pair.passes < b.pair.passes
                                          : a.pair.stroppings < b.pair.stroppings;
  });
  return {std::move(pairs), cycles.histories()};
}

std::vector<Offer> offers_of(const Task& task, const Lands& lands, const std::vector<PairCycles>& pairs,
                             const std::vector<double>& targets) {
  std::vector<Offer> out(pairs.size());
  for_each_index(pairs.size(), task.settings.threads,
                 [&](std::size_t i) { out[i] = offer_of(task, lands, pairs[i], targets); });
  return out;
}

}  // namespace arris::upkeep_search
