// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/cycles_by_passes.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "sim/parallel.hpp"

namespace arris::upkeep_search {
namespace {

/// A cycle that is looked for: so many stroppings on a land, with so many passes between them.
struct Sought {
  std::size_t land = 0;
  Pair        pair;
  Cycle       cycle{};  ///< what it comes to

  [[nodiscard]] auto place() const { return std::pair(pair.passes, land); }
};

/// What was worked out for some that are looked for, and in how many histories.
struct Solved {
  std::vector<Cycle> cycles;
  std::size_t        histories = 0;
};

/// The use of an edge after each stretch, as far as a trade-off may ask for it.
struct Worked {
  std::vector<double>            stretches;
  std::vector<Use>               uses{};
  std::vector<EdgeState<double>> worn{};
};
using WorkedOnLand = std::map<std::pair<int, std::size_t>, Worked>;  ///< by passes and land

std::size_t histories_of(const std::vector<EdgeInUse>& edges) {
  std::size_t out = 0;
  for (const EdgeInUse& edge : edges) out += edge.histories;
  return out;
}

/// The edge as first honed on each land, in as many stretches as any of those that are looked for there has.
WorkedOnLand worked_after_first(const Task& task, const Lands& lands, std::span<const Sought> all,
                                std::size_t& histories) {
  WorkedOnLand out;
  for (const Sought& s : all) {
    auto& stretches = out[s.place()].stretches;
    stretches.resize(std::max(stretches.size(), s.pair.stretches().size()), s.pair.passes);
  }
  std::vector<EdgeInUse> edges;
  std::vector<Worked*>   of;
  for (auto& [place, worked] : out) {
    edges.push_back({&task.quick, lands.honed[place.second], worked.stretches});
    of.push_back(&worked);
  }
  std::vector<EdgeInUse*> each;
  for (EdgeInUse& edge : edges) each.push_back(&edge);
  const double most_N = 1.5 * beyond_limit * task.demand.limit_N();
  use_each(each, [&](const EdgeInUse& edge, std::size_t i, std::size_t, const Use& sum) {
    of[i]->uses.push_back(sum);
    of[i]->worn.push_back(edge.state);
    return !task.demand.always() || sum.worst_N <= most_N;
  });
  histories += histories_of(edges);
  return out;
}

/// From the first honing on each land and the use after it.
Solved solved(const Task& task, const Lands& lands, std::span<const Sought> all) {
  Solved out;
  out.cycles.resize(all.size());
  for (Cycle& cycle : out.cycles) cycle.usable = false;
  const WorkedOnLand       worked = worked_after_first(task, lands, all, out.histories);
  std::vector<std::size_t> which;
  std::vector<EdgeInUse>   edges;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const Worked& first = worked.at(all[i].place());
    const auto    k     = static_cast<std::size_t>(all[i].pair.stroppings);
    if (k >= first.uses.size()) continue;
    which.push_back(i);
    edges.push_back({&task.quick, first.worn[k], std::span(first.stretches).first(k + 1)});
    edges.back().state.bevel_depth_um = lands.depths_um[all[i].land];
    edges.back().state.back_depth_um  = lands.worn[all[i].land].back_depth_um;
  }
  const std::vector<EdgeInUse> before = edges;
  std::vector<EdgeInUse*>      honed, not_yet;
  for (EdgeInUse& edge : edges) honed.push_back(&edge);
  hone_each(honed);
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const Sought& s     = all[which[i]];
    const double  first = task.quick.reading_N(lands.honed[s.land]);
    Cycle&        made  = edges[i].made;
    if (!made.usable) continue;
    if (std::abs(made.honed_N - first) >
        CyclesByPasses::closeness * first) {  // it does not repeat itself yet
      const std::size_t so_far = edges[i].histories;
      edges[i]                 = before[i];
      edges[i].histories       = so_far;
      not_yet.push_back(&edges[i]);
    } else {
      add_use(made, worked.at(s.place()).uses[static_cast<std::size_t>(s.pair.stroppings)]);
    }
  }
  steady_each(not_yet, CyclesByPasses::closeness);
  for (std::size_t i = 0; i < edges.size(); ++i) out.cycles[which[i]] = edges[i].made;
  out.histories += histories_of(edges);
  return out;
}

/// Works them out; the histories that it took.
std::size_t solve(const Task& task, const Lands& lands, std::vector<Sought>& all) {
  constexpr std::size_t abreast = 256;
  std::vector<Solved>   found((all.size() + abreast - 1) / abreast);
  for_each_index(found.size(), task.settings.threads, [&](std::size_t i) {
    const std::size_t first = i * abreast;
    found[i] = solved(task, lands, std::span(all).subspan(first, std::min(abreast, all.size() - first)));
  });
  std::size_t at = 0, histories = 0;
  for (const Solved& some : found) {
    histories += some.histories;
    for (const Cycle& cycle : some.cycles) all[at++].cycle = cycle;
  }
  return histories;
}

/// Cycles of one number of stroppings on one land, by passes.
class Column {
 public:
  Column(int stroppings, std::size_t land) : stroppings_(stroppings), land_(land) {}

  /// Those to begin with: numbers that double, and the longest.
  void begin(int longest) {
    for (int a = 1; a < longest; a *= 2) wanted_.push_back(a);
    wanted_.push_back(longest);
  }

  [[nodiscard]] std::vector<Sought> sought() const {
    std::vector<Sought> out;
    for (const int a : wanted_) out.push_back({land_, {a, stroppings_}});
    return out;
  }

  /// Takes what was found for all that were sought, in their order, and finds out what more is wanted.
  void take(std::span<const Sought> found, const Demand& demand) {
    const bool                        begins   = known_.empty();
    const std::vector<int>            mids     = std::exchange(wanted_, {});
    const CycleCurve                  foretold = curve();
    std::vector<std::pair<int, bool>> good;  // a number of passes, and whether it was foretold
    for (const Sought& s : found) {
      const bool met =
          !begins && nearly_same(foretold.at(std::log(s.pair.passes)), s.cycle, CyclesByPasses::closeness);
      good.emplace_back(s.pair.passes, met);
      known_.emplace(s.pair.passes, s.cycle);
    }
    for (const auto& [passes, met] : good) {
      const auto here = known_.find(passes);
      if (here != known_.begin()) want_between(*std::prev(here), *here, met, demand);
      if (!begins && std::next(here) != known_.end()) want_between(*here, *std::next(here), met, demand);
    }
  }

  [[nodiscard]] CycleCurve curve() const {
    std::vector<double> at;
    std::vector<Cycle>  cycles;
    for (const auto& [passes, cycle] : known_) {
      at.push_back(std::log(passes));
      cycles.push_back(cycle);
    }
    return {at, cycles};
  }

 private:
  using Known = std::pair<const int, Cycle>;

  void want_between(const Known& low, const Known& high, bool foretold, const Demand& demand) {
    if (high.first - low.first < 2 || !low.second.usable) return;
    // whether every pass is within the limit is asked for to the pass
    const bool parted = !demand.always() && low.second.within >= 1.0 && high.second.within < 1.0;
    if (foretold && high.second.usable && !parted) return;
    const auto beyond = [&](const Cycle& c) {
      return !c.usable || (demand.always() && c.worst_N > beyond_limit * demand.limit_N());
    };
    if (beyond(low.second) && beyond(high.second)) return;
    const double middle = std::sqrt(static_cast<double>(low.first) * high.first);
    wanted_.push_back(std::clamp(static_cast<int>(std::lround(middle)), low.first + 1, high.first - 1));
  }

  int                  stroppings_;
  std::size_t          land_;
  std::map<int, Cycle> known_;
  std::vector<int>     wanted_;
};

}  // namespace

CyclesByPasses::CyclesByPasses(const Task& task, const Lands& lands, int longest)
    : lands_(lands.depths_um.size()),
      most_stroppings_(task.quick.has_strop() ? task.settings.most_stroppings : 0) {
  std::vector<Column> columns;
  for (int k = 0; k <= most_stroppings_; ++k) {
    for (std::size_t land = 0; land < lands_; ++land) columns.emplace_back(k, land).begin(longest);
  }
  for (;;) {
    std::vector<Sought>      all;
    std::vector<std::size_t> ends;
    for (const Column& column : columns) {
      const auto some = column.sought();
      all.insert(all.end(), some.begin(), some.end());
      ends.push_back(all.size());
    }
    if (all.empty()) break;
    histories_ += solve(task, lands, all);
    for (std::size_t c = 0; c < columns.size(); ++c) {
      const std::size_t first = c > 0 ? ends[c - 1] : 0;
      columns[c].take(std::span(all).subspan(first, ends[c] - first), task.demand);
    }
  }
  for (const Column& column : columns) curves_.push_back(column.curve());
}

std::vector<Cycle> CyclesByPasses::of(const Pair& pair) const {
  std::vector<Cycle> out;
  const std::size_t  first = static_cast<std::size_t>(pair.stroppings) * lands_;
  for (std::size_t land = 0; land < lands_; ++land) {
    Cycle cycle  = curves_[first + land].at(std::log(pair.passes));
    cycle.passes = static_cast<double>(pair.passes) * (pair.stroppings + 1);
    out.push_back(cycle);
  }
  return out;
}

}  // namespace arris::upkeep_search
