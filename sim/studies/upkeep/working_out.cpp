// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/working_out.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "sim/parallel.hpp"

namespace arris::upkeep_search {
namespace {

/// A pick worked out: the least of its periods that keep the limit, and how far off the search was.
struct Checked {
  Pick   pick;
  double error = 0.0;
};

Checked checked(const Task& task, const Lands& lands, const Wanted& wanted, const Pick& pick,
                const std::vector<Period>& periods) {
  Checked out;
  for (const Period& p : periods) {
    if (task.demand.keeps(p) && (!wanted.wide_only || p.depth_um >= lands.rules.depth_limit_um))
      out.pick.offer(task.demand.value(p, wanted.least), pick.pair, p);
  }
  const auto honings = static_cast<std::size_t>(pick.period.honings);
  if (honings <= periods.size()) {
    const Period& same = periods[honings - 1];
    out.error          = std::max(std::abs(pick.value / task.demand.value(same, wanted.least) - 1.0),
                                  std::abs(pick.period.worst_N / same.worst_N - 1.0));
  }
  return out;
}

std::vector<Checked> checked_each(const Task& task, const Lands& lands, const Wanted& wanted,
                                  std::span<const Pick> picks) {
  std::vector<std::vector<double>> stretches;
  for (const Pick& pick : picks) stretches.push_back(pick.pair.stretches());
  const auto           periods = worked_out(task, lands, stretches, Until::limit);
  std::vector<Checked> out;
  for (std::size_t i = 0; i < picks.size(); ++i)
    out.push_back(checked(task, lands, wanted, picks[i], periods[i]));
  return out;
}

std::vector<Pick> by_value(std::vector<Pick> picks) {
  std::erase_if(picks, [](const Pick& p) { return !p.there_is(); });
  std::stable_sort(picks.begin(), picks.end(),
                   [](const Pick& a, const Pick& b) { return a.value < b.value; });
  return picks;
}

/// A stropping every so many passes, so often that it repeats itself, or until it breaks a limit that is always to be kept.
Period stropped_every(const Task& task, const EdgeState<double>& honed, int passes) {
  constexpr std::size_t     often = 400;
  const std::vector<double> stretches(often, static_cast<double>(passes));
  EdgeState<double>         state = honed;
  Period                    p;
  Use                       before;
  p.passes = passes;
  (void)task.exact.use(state, stretches, [&](std::size_t, const Use& sum, const EdgeState<double>&) {
    p.worst_N = sum.worst_N;
    p.mean_N  = (sum.reading_passes - before.reading_passes) / passes;
    p.within  = (sum.passes_within - before.passes_within) / passes;
    p.minutes = task.exact.stropping_minutes();
    p.money   = task.exact.stropping_money();
    before    = sum;
    return !task.demand.always() || sum.worst_N <= task.demand.limit_N();
  });
  return p;
}

}  // namespace

std::vector<std::vector<Period>> worked_out(const Task& task, const Lands& lands,
                                            const std::vector<std::vector<double>>& stretches, Until until) {
  std::vector<EdgeInUse> edges;
  for (const auto& some : stretches) edges.push_back({&task.exact, lands.worn.front(), some});
  std::vector<PeriodsByCycle> periods(edges.size(), PeriodsByCycle(lands.rules));
  std::vector<bool>           broken(edges.size(), false);
  for (;;) {
    std::vector<std::size_t> which;
    std::vector<EdgeInUse*>  going;
    for (std::size_t i = 0; i < edges.size(); ++i) {
      if (broken[i] || !periods[i].goes_on()) continue;
      which.push_back(i);
      going.push_back(&edges[i]);
    }
    if (going.empty()) break;
    if (lands.rules.grinds) {
      cycle_each(going);
    } else {
      steady_each(going, 1e-9);
    }
    for (const std::size_t i : which) {
      periods[i].add(edges[i].made);
      broken[i] = until == Until::limit && task.demand.always() && lands.rules.grinds &&
                  edges[i].made.worst_N > task.demand.limit_N();
    }
  }
  std::vector<std::vector<Period>> out;
  for (const PeriodsByCycle& p : periods) out.push_back(p.all());
  return out;
}

Found truly_least(const Task& task, const Lands& lands, const Wanted& wanted) {
  constexpr std::size_t batch = 16, abreast = 8, most = 400;
  const auto            picks = by_value(wanted.picks);
  Found                 out;
  Pick                  best;
  for (std::size_t from = 0; from < picks.size();) {
    const double as_far_as = 1.0 + std::max(wanted.margin, 2.0 * out.error);
    if (best.there_is() && (from >= most || picks[from].value > as_far_as * best.value)) break;
    const std::size_t                 to       = std::min(picks.size(), from + batch);
    const std::span                   of_batch = std::span(picks).subspan(from, to - from);
    std::vector<std::vector<Checked>> found((of_batch.size() + abreast - 1) / abreast);
    for_each_index(found.size(), task.settings.threads, [&](std::size_t i) {
      const std::size_t first = i * abreast;
      found[i]                = checked_each(task, lands, wanted,
                                             of_batch.subspan(first, std::min(abreast, of_batch.size() - first)));
    });
    for (const auto& some : found) {
      for (const Checked& f : some) {
        best.offer(f.pick.value, f.pick.pair, f.pick.period);
        out.error = std::max(out.error, f.error);
      }
    }
    out.worked_out += of_batch.size();
    from = to;
  }
  if (best.there_is()) out.routine = best.routine();
  return out;
}

std::optional<Routine> stropped_only(const Task& task, const Leading& leading, const Lands& lands) {
  if (!task.exact.has_strop()) return std::nullopt;
  const auto every = [&](int passes) { return stropped_every(task, lands.honed.front(), passes); };
  if (!task.demand.keeps(every(1))) return std::nullopt;
  int low = 1, high = leading.longest + 1;
  while (high - low > 1) {
    const int middle                                = low + (high - low) / 2;
    (task.demand.keeps(every(middle)) ? low : high) = middle;
  }
  return Routine{low, 0, false, every(low)};
}

}  // namespace arris::upkeep_search
