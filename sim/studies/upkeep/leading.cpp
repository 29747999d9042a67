// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/leading.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/laws/gram_force.hpp"

namespace arris::upkeep_search {
namespace {

constexpr int most_passes = 1000000;  // work that has not dulled an edge by then does not

bool any_use(std::size_t, const Use&, const EdgeState<double>&) { return true; }

void grind(EdgeState<double>& edge) { edge.bevel_depth_um = edge.back_depth_um = 0.0; }

/// Worn to the limit. Throws Error: "limit-never-reached" where the tester reads the limit on no edge.
EdgeState<double> dulled(const Task& task) {
  const double            limit_N = task.demand.limit_N();
  const EdgeState<double> worn    = task.exact.worn_to(limit_N);
  if (task.exact.reading_N(worn) < (1.0 - 1e-9) * limit_N) {
    throw Error(
        Exit::usage,
        {.code = "limit-never-reached",
         .what = fmt::format(
             "no edge is so dull that this tester reads {:g} gf on it, so there is nothing to keep up",
             task.demand.limit_gf()),
         .allowed = fmt::format("below {:.0f} gf, where the filament is crushed",
                                laws::in_gram_force(task.scenario.model.tester.saturation_N)),
         .next    = "Set a lower --limit."});
  }
  return worn;
}

[[noreturn]] void never_dulled(const Task& task) {
  throw Error(Exit::usage,
              {.code = "limit-never-reached",
               .what = fmt::format(
                   "work in {} never takes edge {} to {:g} gf, not in {} passes; there is nothing to keep up",
                   task.exact.steps().work.cut, task.exact.steps().edge, task.demand.limit_gf(), most_passes),
               .cause = "The limit lies above what this tester reads on an edge that this work has blunted.",
               .next  = "Set a lower --limit."});
}

/// Passes to where the trade-off ends, for an edge that reaches the limit after `life` passes.
int life_beyond(const Task& task, const EdgeState<double>& honed, int life) {
  const double limit_N = task.demand.limit_N();
  if (!task.demand.always()) {
    EdgeState<double> state = honed;
    int               most  = life;
    if (task.exact.has_strop()) {  // a stropped edge may last longer
      const auto both = std::array{static_cast<double>(life), 1.0};
      (void)task.exact.use(state, both, &any_use);
      most = std::max(most, task.exact.passes_within(state, limit_N, most_passes));
    }
    return static_cast<int>(
        std::min<double>(most_passes, std::ceil(most / std::max(task.demand.share(), 0.05))));
  }
  const int beyond = task.exact.passes_within(honed, beyond_limit * limit_N, most_passes);
  return std::min(beyond, 3 * life);  // or for ever, where the tester does not read so much
}

/// A honing, and work to the limit after it.
struct Round {
  RunStatus         status;           ///< of the last that was integrated
  bool              reaches = false;  ///< the limit, for one pass at least
  Sharpest          honed;            ///< nothing where the honing fails
  int               longest = 0;
  EdgeState<double> worn;  ///< as it is left, however far it came
};

Round round_on(const Task& task, const EdgeState<double>& worn) {
  Round out;
  Cycle c;
  out.worn   = worn;
  out.status = task.exact.hone(out.worn, c);
  if (!out.status.usable()) return out;
  const EdgeState<double> honed   = out.worn;
  EdgeState<double>       no_burr = honed;
  no_burr.burr_um                 = 0.0;
  out.honed                       = {c.honed_N, task.exact.reading_N(no_burr)};
  const int life                  = task.exact.passes_within(honed, task.demand.limit_N(), most_passes);
  if (life >= most_passes) never_dulled(task);
  if (life < 1) return out;
  out.status = task.exact.use(out.worn, std::array{static_cast<double>(life)}, &any_use);
  if (!out.status.usable()) return out;
  out.longest = std::max(life, life_beyond(task, honed, life));
  out.reaches = true;
  return out;
}

void note(Sharpest& sharpest, const Round& round) {
  if (round.honed.honed_N < sharpest.honed_N) sharpest = round.honed;
}

/// The narrow land of a bevel ground anew before every honing.
struct NarrowLand {
  EdgeState<double> worn;  ///< and ground anew
  double            honed_N = never;
  Sharpest          sharpest;
  int               longest = 1;
};

NarrowLand narrow_land(const Task& task, const EdgeState<double>& dull) {
  constexpr int rounds = 3;  // after so many it repeats itself
  NarrowLand    out;
  out.worn = dull;
  grind(out.worn);
  for (int i = 1; i <= rounds; ++i) {
    const Round round = round_on(task, out.worn);
    note(out.sharpest, round);
    out.longest = std::max(out.longest, round.longest);
    out.honed_N = round.honed.honed_N;
    out.worn    = round.worn;
    grind(out.worn);
    if (i < rounds || round.reaches) continue;
    if (!round.status.usable()) honing_fails(task, round.status);
    limit_out_of_reach(task, out.sharpest);
  }
  return out;
}

/// Honing by honing from the narrow land to the widest.
Leading widened(const Task& task, const NarrowLand& narrow) {
  Leading out;
  out.sharpest           = narrow.sharpest;
  out.narrow_honed_N     = narrow.honed_N;
  out.depth_limit_um     = task.rules.depth_limit_um;
  out.longest            = narrow.longest;
  EdgeState<double> worn = narrow.worn;
  for (int j = 0; j < task.rules.most_honings; ++j) {
    const Round round = round_on(task, worn);
    note(out.sharpest, round);
    if (!round.reaches) {
      out.depth_limit_um  = worn.bevel_depth_um;
      out.limit_ends_land = true;
      break;
    }
    out.longest = std::max(out.longest, round.longest);
    out.worn.push_back(worn);
    out.honed_N.push_back(round.honed.honed_N);
    worn = round.worn;
    if (!task.rules.grinds || !(worn.bevel_depth_um < out.depth_limit_um)) break;
  }
  if (out.worn.empty()) limit_out_of_reach(task, out.sharpest);
  return out;
}

}  // namespace

Leading lead(const Task& task) { return widened(task, narrow_land(task, dulled(task))); }

}  // namespace arris::upkeep_search
