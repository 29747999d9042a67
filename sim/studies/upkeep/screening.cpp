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

/// The use of an edge after each stretch, as far as a trade-off may ask for it.
struct Worked {
  std::vector<Use>               uses;
  std::vector<EdgeState<double>> worn;
};

/// An edge honed on each of the lands, in the stretches of each number of passes: of the first number on every land, then of the
/// second.
std::vector<Worked> work_on_each(const Task& task, const Lands& lands,
                                 const std::vector<std::vector<double>>& stretches) {
  std::vector<EdgeInUse> edges;
  for (const auto& some : stretches) {
    for (const auto& honed : lands.honed) edges.push_back({&task.quick, honed, some});
  }
  std::vector<EdgeInUse*> all;
  for (EdgeInUse& edge : edges) all.push_back(&edge);
  std::vector<Worked> out(edges.size());
  const double        most_N = 1.5 * beyond_limit * task.demand.limit_N();
  use_each(all, [&](const EdgeInUse& edge, std::size_t i, std::size_t, const Use& sum) {
    out[i].uses.push_back(sum);
    out[i].worn.push_back(edge.state);
    return !task.demand.always() || sum.worst_N <= most_N;
  });
  return out;
}

/// A cycle that is looked for: that of some stretches on a land.
struct Sought {
  std::size_t             land = 0;
  std::span<const double> stretches;
  Use                     use;   ///< after the first honing there
  EdgeState<double>       worn;  ///< as that leaves the edge
  Cycle*                  cycle = nullptr;
};

/// Fills in the cycles from the first honing on each land and the use after it; one that fails is not usable.
void find_cycles(const Task& task, const Lands& lands, const std::vector<Sought>& all) {
  std::vector<EdgeInUse> edges;
  for (const Sought& s : all) {
    edges.push_back({&task.quick, s.worn, s.stretches});
    edges.back().state.bevel_depth_um = lands.depths_um[s.land];
    edges.back().state.back_depth_um  = lands.worn[s.land].back_depth_um;
  }
  const std::vector<EdgeInUse> before = edges;
  std::vector<EdgeInUse*>      honed, not_yet;
  for (EdgeInUse& edge : edges) honed.push_back(&edge);
  hone_each(honed);
  for (std::size_t i = 0; i < all.size(); ++i) {
    const double first = task.quick.reading_N(lands.honed[all[i].land]);
    Cycle&       made  = edges[i].made;
    if (!made.usable) continue;
    if (std::abs(made.honed_N - first) > closeness * first) {  // it does not repeat itself yet
      edges[i] = before[i];
      not_yet.push_back(&edges[i]);
    } else {
      add_use(made, all[i].use);
    }
  }
  steady_each(not_yet, closeness);
  for (std::size_t i = 0; i < all.size(); ++i) *all[i].cycle = edges[i].made;
}

/// All pairs with each of these numbers of passes.
std::vector<PairCycles> pairs_with(const Task& task, const Lands& lands, std::span<const int> passes) {
  Cycle unusable;
  unusable.usable                         = false;
  const int                        most   = task.quick.has_strop() ? task.settings.most_stroppings : 0;
  const auto                       each   = static_cast<std::size_t>(most) + 1;
  const std::size_t                places = lands.depths_um.size();
  std::vector<PairCycles>          out;
  std::vector<std::vector<double>> stretches;
  for (const int a : passes) {
    stretches.push_back(Pair{a, most}.stretches());
    for (int k = 0; k <= most; ++k) out.push_back({{a, k}, std::vector<Cycle>(places, unusable)});
  }
  const auto          worked = work_on_each(task, lands, stretches);
  std::vector<Sought> sought;
  for (std::size_t i = 0; i < worked.size(); ++i) {
    const std::size_t of = i / places, land = i % places;
    for (std::size_t k = 0; k < worked[i].uses.size(); ++k) {
      sought.push_back({land, std::span(stretches[of]).first(k + 1), worked[i].uses[k], worked[i].worn[k],
                        &out[of * each + k].cycles[land]});
    }
  }
  find_cycles(task, lands, sought);
  std::erase_if(out, [](const PairCycles& p) { return !p.cycles[0].usable; });
  return out;
}

/// All pairs with any of these numbers of passes, in their order.
std::vector<PairCycles> pairs_with_any(const Task& task, const Lands& lands, const std::vector<int>& passes) {
  constexpr std::size_t                abreast = 16;
  std::vector<std::vector<PairCycles>> found((passes.size() + abreast - 1) / abreast);
  for_each_index(found.size(), task.settings.threads, [&](std::size_t i) {
    const std::size_t first = i * abreast;
    found[i] =
        pairs_with(task, lands, std::span(passes).subspan(first, std::min(abreast, passes.size() - first)));
  });
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
