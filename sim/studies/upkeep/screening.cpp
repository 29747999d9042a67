// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/screening.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <set>
#include <span>

#include "sim/parallel.hpp"

namespace arris::upkeep_search {
namespace {

constexpr int    finest_grid = 600;   // whole numbers of passes that are all looked at
constexpr double closeness   = 2e-3;  // of two readings after honing that count as the same

/// The use of a honed edge after each stretch, as far as a trade-off may ask for it.
struct Worked {
  std::vector<Use>               uses;
  std::vector<EdgeState<double>> worn;
};

Worked work_on(const Task& task, EdgeState<double> honed, std::span<const double> stretches) {
  Worked       out;
  const double most_N = 1.5 * beyond_limit * task.demand.limit_N();
  (void)task.quick.use(honed, stretches, [&](std::size_t, const Use& sum, const EdgeState<double>& e) {
    out.uses.push_back(sum);
    out.worn.push_back(e);
    return !task.demand.always() || sum.worst_N <= most_N;
  });
  return out;
}

/// The cycle that `stretches` make on a land, from the first honing there and the use after it; not usable where it fails.
Cycle cycle_on(const Task& task, const Lands& lands, std::size_t land, std::span<const double> stretches,
               const Use& use, EdgeState<double> worn) {
  Cycle c;
  worn.bevel_depth_um = lands.depths_um[land];
  worn.back_depth_um  = lands.worn[land].back_depth_um;
  const auto   before = worn;
  const double first  = task.quick.reading_N(lands.honed[land]);
  if (!task.quick.hone(worn, c).usable()) return c;
  if (std::abs(c.honed_N - first) > closeness * first) {  // it does not repeat itself yet
    worn = before;
    (void)task.quick.steady(worn, stretches, closeness, c);
    return c;
  }
  c.passes = use.passes;
  c.minutes += use.minutes;
  c.money += use.money;
  c.worst_N = use.worst_N;
  c.mean_N  = use.reading_passes / use.passes;
  c.within  = use.passes_within / use.passes;
  return c;
}

/// All pairs with so many passes between stroppings.
std::vector<PairCycles> pairs_with(const Task& task, const Lands& lands, int passes) {
  Cycle unusable;
  unusable.usable = false;
  const Pair              longest{passes, task.quick.has_strop() ? task.settings.most_stroppings : 0};
  const auto              stretches = longest.stretches();
  std::vector<PairCycles> out;
  for (int k = 0; k <= longest.stroppings; ++k)
    out.push_back({{passes, k}, std::vector<Cycle>(lands.depths_um.size(), unusable)});
  for (std::size_t i = 0; i < lands.depths_um.size(); ++i) {
    const Worked worked = work_on(task, lands.honed[i], stretches);
    for (std::size_t k = 0; k < worked.uses.size(); ++k) {
      out[k].cycles[i] =
          cycle_on(task, lands, i, std::span(stretches).first(k + 1), worked.uses[k], worked.worn[k]);
    }
  }
  std::erase_if(out, [](const PairCycles& p) { return !p.cycles[0].usable; });
  return out;
}

/// All pairs with any of these numbers of passes, in their order.
std::vector<PairCycles> pairs_with_any(const Task& task, const Lands& lands, const std::vector<int>& passes) {
  std::vector<std::vector<PairCycles>> found(passes.size());
  for_each_index(passes.size(), task.settings.threads,
                 [&](std::size_t i) { found[i] = pairs_with(task, lands, passes[i]); });
  std::vector<PairCycles> out;
  for (auto& some : found)
    out.insert(out.end(), std::make_move_iterator(some.begin()), std::make_move_iterator(some.end()));
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

std::vector<PairCycles> screen(const Task& task, const Leading& leading, const Lands& lands) {
  const int step  = std::max(1, (leading.longest + finest_grid - 1) / finest_grid);
  auto      pairs = pairs_with_any(task, lands, grid_of(leading.longest, step));
  if (step == 1) return pairs;
  const auto more = pairs_with_any(task, lands, not_ruled_out(task, lands, pairs, step));
  pairs.insert(pairs.end(), more.begin(), more.end());
  std::stable_sort(pairs.begin(), pairs.end(), [](const PairCycles& a, const PairCycles& b) {
    return a.pair.passes != b.pair.passes ? a.pair.passes < b.pair.passes
                                          : a.pair.stroppings < b.pair.stroppings;
  });
  return pairs;
}

std::vector<Offer> offers_of(const Task& task, const Lands& lands, const std::vector<PairCycles>& pairs,
                             const std::vector<double>& targets) {
  std::vector<Offer> out(pairs.size());
  for_each_index(pairs.size(), task.settings.threads,
                 [&](std::size_t i) { out[i] = offer_of(task, lands, pairs[i], targets); });
  return out;
}

}  // namespace arris::upkeep_search
