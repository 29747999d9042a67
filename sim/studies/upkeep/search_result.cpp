// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/search_result.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <set>
#include <utility>

#include "sim/laws/gram_force.hpp"
#include "sim/studies/upkeep/comparison.hpp"

namespace arris::upkeep_search {
namespace {

/// Round readings in gf from the sharpest that any routine keeps, and the limit that was asked for.
std::vector<double> limits_of_trade_off(const Task& task, const std::vector<PairCycles>& pairs) {
  const double limit_gf = task.demand.limit_gf();
  double       lowest   = never;
  for (const PairCycles& p : pairs) lowest = std::min(lowest, p.cycles[0].worst_N);
  const double from = laws::in_gram_force(lowest), to = beyond_limit * limit_gf;
  if (!(to > from)) return {limit_gf};
  double step = std::pow(10.0, std::floor(std::log10((to - from) / 12.0)));
  for (const double times : {2.0, 2.5, 2.0}) {  // 1, 2, 5, 10
    if ((to - from) / step > 12.0) step *= times;
  }
  std::set<double> out{limit_gf};
  for (double at = step * std::ceil(from / step); at <= to * (1.0 + 1e-12); at += step) {
    if (std::abs(at - limit_gf) > 0.3 * step) out.insert(at);
  }
  return {out.begin(), out.end()};
}

std::vector<double> shares_of_trade_off(double asked) {
  std::vector<double> out{1.0, 0.99, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5};
  if (std::find(out.begin(), out.end(), asked) == out.end()) out.push_back(asked);
  std::sort(out.rbegin(), out.rend());
  return out;
}

/// `best` was worked out, so it stands for what was asked.
std::vector<TradeOff> trade_off(const Task& task, const std::vector<double>& targets,
                                const std::vector<Offer>& offers, const Routine& best) {
  const double          asked = task.demand.always() ? task.demand.limit_gf() : task.demand.share();
  std::vector<TradeOff> out;
  for (std::size_t t = 0; t < targets.size(); ++t) {
    Pick least;
    for (const Offer& o : offers) {
      const Pick& p = o.by_target[t];
      least.offer(p.value, p.pair, p.period);
    }
    if (least.there_is()) out.push_back({targets[t], targets[t] == asked ? best : least.routine()});
  }
  return out;
}

/// Picks of which none is bettered in both its value and the second number.
template <class Second>
std::vector<Routine> front_of(const std::vector<const Pick*>& picks, const Second& second) {
  std::vector<std::pair<double, double>> points;
  for (const Pick* p : picks) points.emplace_back(p->value, second(p->routine()));
  std::vector<Routine> out;
  for (const std::size_t i : pareto_front(points)) out.push_back(picks[i]->routine());
  return out;
}

std::vector<Routine> reading_front(const std::vector<Offer>& offers) {
  std::vector<const Pick*> picks;
  for (const Offer& o : offers) {
    if (o.minutes.there_is()) picks.push_back(&o.minutes);
  }
  return front_of(picks, [](const Routine& r) { return r.period.mean_N; });
}

std::vector<Routine> steel_front(const std::vector<Offer>& offers) {
  std::vector<const Pick*> picks;
  for (const Offer& o : offers) {
    for (const Pick& p : o.slower) picks.push_back(&p);
  }
  return front_of(picks, [](const Routine& r) { return r.steel_um(); });
}

std::vector<ByInterval> by_interval(const std::vector<Offer>& offers) {
  std::vector<ByInterval> out;
  for (const Offer& offer : offers) {
    const Pick& p = offer.own;
    if (!p.there_is()) continue;
    const ByInterval now{p.pair.passes, p.pair.stroppings, p.value};
    if (out.empty() || out.back().passes != now.passes) {
      out.push_back(now);
    } else if (now.value < out.back().value) {
      out.back() = now;
    }
  }
  return out;
}

/// Passes between stroppings, and between honings, that cost hardly more than the least; 0 where there are none.
struct Flat {
  int from = 0, to = 0;
  int hone_from = 0, hone_to = 0;
};

Flat flat_around_least(const std::vector<ByInterval>& all, const std::vector<Offer>& offers) {
  if (all.empty()) return {};
  const auto best = std::min_element(
      all.begin(), all.end(), [](const ByInterval& a, const ByInterval& b) { return a.value < b.value; });
  const double near_least = 1.05 * best->value;
  auto         from = best, to = best;
  while (from != all.begin() && std::prev(from)->value <= near_least) --from;
  while (std::next(to) != all.end() && std::next(to)->value <= near_least) ++to;
  Flat out{from->passes, to->passes};
  for (const Offer& offer : offers) {
    const Pick& p = offer.own;
    if (!(p.value <= near_least) || p.pair.passes < out.from || p.pair.passes > out.to) continue;
    const int hone = p.pair.passes * (p.pair.stroppings + 1);
    out.hone_from  = out.hone_from == 0 ? hone : std::min(out.hone_from, hone);
    out.hone_to    = std::max(out.hone_to, hone);
  }
  return out;
}

/// What is known of the shop and of the lands before any routine is chosen.
UpkeepResult known_before(const Task& task, const Leading& leading, const Lands& lands) {
  const UpkeepCycle& cycle = task.exact;
  UpkeepResult       out;
  out.steps           = cycle.steps();
  out.honed_narrow_gf = laws::in_gram_force(leading.narrow_honed_N);
  out.honed_wide_gf   = laws::in_gram_force(leading.honed_N.back());
  out.land_per_depth  = cycle.blade().land_per_depth;
  out.back_per_depth  = lands.back_per_depth;
  out.depths_um       = lands.depths_um;
  if (lands.rules.grinds) out.land_limit_mm = 1e-3 * lands.rules.depth_limit_um * out.land_per_depth;
  out.limit_ends_land   = leading.limit_ends_land;
  out.stropping_minutes = cycle.stropping_minutes();
  out.costs_money       = cycle.costs_money();
  out.unpriced          = cycle.unpriced();
  return out;
}

}  // namespace

UpkeepResult result_of(const Task& task, const Leading& leading, const Lands& lands,
                       const Screened& screened) {
  const auto& pairs = screened.pairs;
  const auto  targets =
      task.demand.always() ? limits_of_trade_off(task, pairs) : shares_of_trade_off(task.demand.share());
  const auto     offers   = offers_of(task, lands, pairs, targets);
  const Compared compared = compare(task, leading, lands, offers);

  UpkeepResult out       = known_before(task, leading, lands);
  out.routines           = compared.routines;
  out.best               = out.routines.front().routine;
  out.trade_off          = trade_off(task, targets, offers, out.best);
  out.reading_front      = reading_front(offers);
  out.steel_front        = steel_front(offers);
  out.by_interval        = by_interval(offers);
  const Flat flat        = flat_around_least(out.by_interval, offers);
  out.flat_from          = flat.from;
  out.flat_to            = flat.to;
  out.flat_hone_from     = flat.hone_from;
  out.flat_hone_to       = flat.hone_to;
  out.searched           = pairs.size();
  out.histories          = screened.histories;
  out.worked_out         = compared.worked_out;
  out.screening_error    = compared.error;
  const int most         = task.settings.most_stroppings;
  out.at_most_stroppings = task.exact.has_strop() && most > 0 && out.best.stroppings == most;
  return out;
}

}  // namespace arris::upkeep_search
