// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/comparison.hpp"

#include <algorithm>
#include <optional>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "sim/studies/upkeep/working_out.hpp"

namespace arris::upkeep_search {
namespace {

Wanted wanted(const std::vector<Offer>& offers, std::string name, Least least) {
  constexpr double margin = 0.002;  // enough beside the cheapest, which is looked for more widely
  Wanted           out{std::move(name), {}, least, margin};
  for (const Offer& o : offers) out.picks.push_back(o.near_least(least));
  return out;
}

// by what it makes least: that need not be what is advised where versions of the model differ
std::string name_of_least(Least least) {
  switch (least) {
    case Least::minutes:
      return "least time";
    case Least::money:
      return "least money";
    case Least::steel:
      return "least steel";
    case Least::mix:
      break;
  }
  return "least time and steel";
}

Wanted wanted_first(const Task& task, const std::vector<Offer>& offers) {
  Wanted out = wanted(offers, name_of_least(task.demand.least()), task.demand.least());
  out.margin = 0.01;
  return out;
}

/// What else people may think of.
std::vector<Wanted> wanted_beside(const Task& task, const Leading& leading, const Lands& lands,
                                  const std::vector<Offer>& offers) {
  const Least         least = task.demand.least();
  std::vector<Wanted> out;
  if (least != Least::minutes) out.push_back(wanted(offers, "least time", Least::minutes));
  if (least != Least::money && task.exact.costs_money())
    out.push_back(wanted(offers, "least money", Least::money));
  if (least != Least::steel) out.push_back(wanted(offers, "least steel", Least::steel));
  if (lands.rules.grinds && !leading.limit_ends_land) {
    const double land_mm = 1e-3 * task.exact.blade().land_per_depth * lands.rules.depth_limit_um;
    Wanted       wide    = wanted({}, fmt::format("grind at {:.2g} mm of land", land_mm), least);
    for (const Offer& o : offers) wide.picks.push_back(o.near_wide);
    wide.wide_only = true;
    out.push_back(std::move(wide));
  }
  if (task.exact.has_strop()) {
    Wanted unstropped = wanted(offers, "never strop", least);
    std::erase_if(unstropped.picks, [](const Pick& p) { return p.pair.stroppings > 0; });
    out.push_back(std::move(unstropped));
  }
  return out;
}

bool is_same_routine(const Routine& a, const Routine& b) {
  return a.passes == b.passes && a.stroppings == b.stroppings && a.period.honings == b.period.honings;
}

/// The routine of the steps as they stand, where they make one and it can be worked out.
std::optional<NamedRoutine> as_written(const Task& task, const Lands& lands) {
  const auto& stretches = task.exact.steps().as_written;
  if (stretches.empty()) return std::nullopt;
  const auto periods = worked_out(task, lands, {stretches}, Until::end).front();
  if (periods.empty()) return std::nullopt;
  const int equal = stretches.size() == 1 ? static_cast<int>(stretches.front()) : 0;
  return NamedRoutine{"as its steps stand",
                      {equal, static_cast<int>(stretches.size()) - 1, true, periods.back()},
                      task.demand.keeps(periods.back())};
}

}  // namespace

Compared compare(const Task& task, const Leading& leading, const Lands& lands,
                 const std::vector<Offer>& offers) {
  Compared   out;
  const auto found = [&](const Wanted& what) {
    const Found one = truly_least(task, lands, what);
    out.worked_out += one.worked_out;
    out.error = std::max(out.error, one.error);
    return one.routine;
  };
  const Wanted first = wanted_first(task, offers);
  const auto   best  = found(first);
  if (!best) limit_out_of_reach(task, {leading.narrow_honed_N, leading.sharpest.without_burr_N});
  out.routines.push_back({first.name, *best, true});
  for (const Wanted& other : wanted_beside(task, leading, lands, offers)) {
    const auto routine = found(other);
    if (!routine) continue;
    const bool is_there = std::any_of(out.routines.begin(), out.routines.end(), [&](const NamedRoutine& r) {
      return is_same_routine(r.routine, *routine);
    });
    if (!is_there) out.routines.push_back({other.name, *routine, true});
  }
  if (const auto only = stropped_only(task, leading, lands))
    out.routines.push_back({"strop only, never hone", *only, true});
  if (auto written = as_written(task, lands)) out.routines.push_back(std::move(*written));
  return out;
}

}  // namespace arris::upkeep_search
