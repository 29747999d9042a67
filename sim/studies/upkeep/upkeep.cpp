// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/upkeep.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <set>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/laws/tester.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/simulate.hpp"

namespace arris {
namespace {

constexpr double never        = std::numeric_limits<double>::infinity();
constexpr int    most_passes  = 1000000;  // work that has not dulled an edge by then does not
constexpr int    finest_grid  = 600;      // whole numbers of passes that are all looked at
constexpr double beyond_limit = 1.2;      // the trade-off is told as far as this share of the limit
constexpr double near_limit   = 1.01;     // what may yet turn out to keep the limit: reading over it

constexpr double narrowest_share =
    0.6;  // of the depth after the first honing of the leading way: other routines differ
constexpr int lands_looked_at = 6;  // beside the freshly ground one and the narrowest

/// The cycle that begins at the depth h: the first of `cycles` on a freshly ground edge, which no other honing comes near,
/// and a curve through the rest.
struct ByDepth {
  Cycle      ground;
  CycleCurve later;

  ByDepth(const std::vector<double>& depths, const std::vector<Cycle>& cycles)
      : ground(cycles.front()), later(std::span(depths).subspan(1), std::span(cycles).subspan(1)) {}
  [[nodiscard]] Cycle operator()(double h) const { return h > 0.0 ? later.at(h) : ground; }
};

/// A pair of passes between stroppings and stroppings between honings, with its cycle on some lands.
struct Pair {
  int                passes     = 0;
  int                stroppings = 0;
  std::vector<Cycle> cycles;
};

Tolerances coarse(Tolerances t) {
  // a search for whole numbers needs no more than four digits; what is told is worked out again
  t.relative    = std::max(t.relative, 1e-4);
  t.absolute_um = std::max(t.absolute_um, 1e-6);
  return t;
}

/// The best period of a pair for something.
struct Pick {
  double      value = never;
  std::size_t pair  = 0;
  Period      period;

  void offer(double other, std::size_t index, const Period& p) {
    if (other < value) *this = {other, index, p};
  }
};

class Search {
 public:
  Search(const Scenario& scenario, const EdgePlan& plan, const Workshop& workshop,
         const UpkeepSettings& settings)
      : scenario_(scenario),
        settings_(settings),
        limit_N_(laws::in_newton(settings.limit_gf)),
        cycle_(scenario.model, upkeep_steps(plan), workshop, tolerances_of(scenario), limit_N_),
        quick_(scenario.model, cycle_.steps(), workshop, coarse(tolerances_of(scenario)), limit_N_) {
    const auto& blade     = cycle_.blade();
    const auto& pace      = workshop.pace;
    rules_.grinds         = blade.land_per_depth > 0.0;
    rules_.loss_per_depth = blade.loss_per_depth;
    rules_.grind_minutes  = pace.grind_min;
    rules_.grind_money    = pace.grind_min * cycle_.wage_per_minute();
    rules_.grind_loss_um  = 1e3 * pace.grind_loss_mm;
    if (rules_.grinds)
      rules_.depth_limit_um = 1e3 * std::min(pace.grind_land_mm, blade.full_land_mm) / blade.land_per_depth;
  }

  UpkeepResult run() {
    lead_the_way();
    set_lands();
    screen();
    return answer();
  }

 private:
  [[nodiscard]] bool always() const { return settings_.share >= 1.0; }

  [[nodiscard]] double value(const Period& p, Least least) const {
    const double per_1000 = 1000.0 / p.passes;
    switch (least) {
      case Least::minutes:
        return per_1000 * p.minutes;
      case Least::money:
        return per_1000 * p.money;
      case Least::steel:
        return per_1000 * p.loss_um;
      case Least::mix:
        break;
    }
    return per_1000 * (p.minutes + settings_.minutes_per_mm * 1e-3 * p.loss_um);
  }
  [[nodiscard]] bool keeps(const Period& p, double reading_N, double share) const {
    return always() ? p.worst_N <= reading_N : p.within >= share - 1e-9;
  }
  [[nodiscard]] bool keeps(const Period& p) const { return keeps(p, limit_N_, settings_.share); }
  [[nodiscard]] bool nearly_keeps(const Period& p) const {
    return keeps(p, near_limit * limit_N_, settings_.share - 0.01);
  }

  [[noreturn]] void fail(const RunStatus& status) const {
    EdgePlan honing;
    honing.name  = cycle_.steps().edge;
    honing.steps = cycle_.steps().honing;
    throw Error(
        Exit::integration,
        {.code  = "integration",
         .what  = "the honing fails: " + describe(status, honing),
         .cause = fmt::format("It begins with an edge worn to the limit, an apex radius of {:.3g} µm.",
                              cycle_.worn_to(limit_N_).apex_radius_um)});
  }
  [[noreturn]] void out_of_reach(double best_N) const {
    const bool honed_too_dull = best_N > limit_N_;
    throw Error(
        Exit::usage,
        {.code = "limit-out-of-reach",
         .what =
             honed_too_dull
                 ? fmt::format(
                       "right after grinding and honing, edge {} reads {:.0f} gf at best; no routine can keep it at {:g} gf",
                       cycle_.steps().edge, laws::in_gram_force(best_N), settings_.limit_gf)
                 : fmt::format(
                       "edge {} reads {:.0f} gf right after honing and passes {:g} gf in the first pass; no routine can keep that",
                       cycle_.steps().edge, laws::in_gram_force(best_N), settings_.limit_gf),
         .cause =
             honed_too_dull && best_without_burr_N_ < limit_N_
                 ? fmt::format(
                       "The burr does it: without it the edge reads {:.0f} gf. On the narrow land of a bevel freshly ground the same strokes raise a longer burr than later on.",
                       laws::in_gram_force(best_without_burr_N_))
                 : std::string(
                       "What is done before the first cut counts as the honing; a strop step there counts too."),
         .next = honed_too_dull && best_without_burr_N_ < limit_N_
                     ? "Give the back more strokes, end the honing on a strop, or set another --limit."
                     : "End the honing on a finer medium or a strop, or set another --limit."});
  }

  /// Hones on ever wider land and works to the limit, without stropping: says whether honing reaches the limit, up to which
  /// land, and how dull it can get.
  void lead_the_way() {
    EdgeState<double> round = cycle_.worn_to(limit_N_);
    if (cycle_.reading_N(round) < (1.0 - 1e-9) * limit_N_) {
      throw Error(
          Exit::usage,
          {.code = "limit-never-reached",
           .what = fmt::format(
               "no edge is so dull that this tester reads {:g} gf on it, so there is nothing to keep up",
               settings_.limit_gf),
           .allowed = fmt::format("below {:.0f} gf, where the filament is crushed",
                                  laws::in_gram_force(scenario_.model.tester.saturation_N)),
           .next    = "Set a lower --limit."});
    }
    EdgeState<double> worn = cycle_.worn_to(limit_N_);
    worn.bevel_depth_um = worn.back_depth_um = 0.0;
    double     best_N                        = never;
    RunStatus  failure;
    const auto on = [&](EdgeState<double>& state) {  // to: worn to the limit again; false: does not reach it
      Cycle c;
      failure = cycle_.hone(state, c);
      if (!failure.usable()) return false;
      honed_N_ = c.honed_N;
      if (c.honed_N < best_N) {
        best_N                    = c.honed_N;
        EdgeState<double> no_burr = state;
        no_burr.burr_um           = 0.0;
        best_without_burr_N_      = cycle_.reading_N(no_burr);
      }
      const auto honed = state;
      const int  life  = cycle_.passes_within(state, limit_N_, most_passes);
      if (life >= most_passes) {
        throw Error(
            Exit::usage,
            {.code = "limit-never-reached",
             .what = fmt::format(
                 "work in {} never takes edge {} to {:g} gf, not in {} passes; there is nothing to keep up",
                 cycle_.steps().work.cut, cycle_.steps().edge, settings_.limit_gf, most_passes),
             .cause = "The limit lies above what this tester reads on an edge that this work has blunted.",
             .next  = "Set a lower --limit."});
      }
      if (life < 1) return false;
      failure = cycle_.use(state, std::array{static_cast<double>(life)},
                           [](std::size_t, const Use&, const EdgeState<double>&) { return true; });
      if (!failure.usable()) return false;
      longest_ = std::max({longest_, life, life_beyond(honed, life)});
      return true;
    };
    // let the narrow land repeat itself
    for (int i = 0; i < 3; ++i) {
      const bool good     = on(worn);
      worn.bevel_depth_um = worn.back_depth_um = 0.0;
      if (i == 2 && !good) {
        if (!failure.usable()) fail(failure);
        out_of_reach(best_N);
      }
    }
    fresh_        = worn;
    narrow_honed_ = honed_N_;
    for (int j = 0; j < rules_.most_honings; ++j) {
      const auto before = worn;
      if (!on(worn)) {
        rules_.depth_limit_um = before.bevel_depth_um;
        limit_ends_land_      = true;
        break;
      }
      wide_honed_ = honed_N_;
      lands_.push_back(before);
      honed_readings_.push_back(honed_N_);
      if (!rules_.grinds || !(worn.bevel_depth_um < rules_.depth_limit_um)) break;
    }
    if (lands_.empty()) out_of_reach(best_N);
  }

  // passes to where the trade-off is no longer told
  [[nodiscard]] int life_beyond(const EdgeState<double>& honed, int life) const {
    if (!always()) {
      EdgeState<double> state = honed;
      int               most  = life;
      if (cycle_.has_strop()) {  // a stropped edge may last longer
        const auto both = std::array{static_cast<double>(life), 1.0};
        (void)cycle_.use(state, both, [](std::size_t, const Use&, const EdgeState<double>&) { return true; });
        most = std::max(most, cycle_.passes_within(state, limit_N_, most_passes));
      }
      return static_cast<int>(
          std::min<double>(most_passes, std::ceil(most / std::max(settings_.share, 0.05))));
    }
    const int beyond = cycle_.passes_within(honed, beyond_limit * limit_N_, most_passes);
    return std::min(beyond, 3 * life);  // or for ever, where the tester does not read so much
  }

  /// The lands to work the cycles out on, closer where the reading after honing changes fast, and the state in which each
  /// is honed.
  void set_lands() {
    depths_ = {0.0};
    if (rules_.grinds) {
      const double first = lands_.size() > 1 ? lands_[1].bevel_depth_um : rules_.depth_limit_um;
      depths_.push_back(narrowest_share * first);
      // equal parts of the way along the curve of the reading over the depth, both from 0 to 1
      const double deepest   = lands_.back().bevel_depth_um;
      const auto [low, high] = std::minmax_element(honed_readings_.begin(), honed_readings_.end());
      std::vector<double> way{0.0};
      for (std::size_t j = 2; j < lands_.size(); ++j) {
        const double x = (lands_[j].bevel_depth_um - lands_[j - 1].bevel_depth_um) / deepest;
        const double y = *high > *low ? (honed_readings_[j] - honed_readings_[j - 1]) / (*high - *low) : 0.0;
        way.push_back(way.back() + std::hypot(x, y));
      }
      for (int i = 0; lands_.size() > 1 && i < lands_looked_at; ++i) {
        const double at = way.back() * i / (lands_looked_at - 1);
        const auto   j =
            static_cast<std::size_t>(std::min(std::upper_bound(way.begin(), way.end(), at) - way.begin(),
                                              static_cast<std::ptrdiff_t>(way.size()) - 1));
        double h = lands_[j + 1].bevel_depth_um;
        if (j > 0) {
          const double share = (at - way[j - 1]) / (way[j] - way[j - 1]);
          const double below = lands_[j].bevel_depth_um;
          h                  = below + share * (h - below);
        }
        if (h > depths_.back() * (1.0 + 1e-9)) depths_.push_back(h);
      }
    }
    for (const double depth : depths_) {
      // the first land of the leading way that is as wide, for the rest of the state
      const auto        wider = std::find_if(lands_.begin(), lands_.end(),
                                             [&](const EdgeState<double>& e) { return e.bevel_depth_um >= depth; });
      EdgeState<double> worn  = wider == lands_.end() ? lands_.back() : *wider;
      if (worn.bevel_depth_um > 0.0) worn.back_depth_um *= depth / worn.bevel_depth_um;
      worn.bevel_depth_um = depth;
      worn_.push_back(worn);
      Cycle c;
      if (const RunStatus status = quick_.hone(worn, c); !status.usable()) fail(status);
      honed_.push_back(worn);
    }
    if (depths_.back() > 0.0) back_per_depth_ = worn_.back().back_depth_um / depths_.back();
  }

  /// All pairs with so many passes between stroppings.
  [[nodiscard]] std::vector<Pair> pairs_with(int passes) const {
    const auto stretches_most =
        static_cast<std::size_t>(quick_.has_strop() ? settings_.most_stroppings + 1 : 1);
    const std::vector<double> stretches(stretches_most, static_cast<double>(passes));
    std::vector<Pair>         out(stretches_most);
    for (std::size_t k = 0; k < stretches_most; ++k) {
      out[k].passes     = passes;
      out[k].stroppings = static_cast<int>(k);
      out[k].cycles.resize(depths_.size());
      for (Cycle& c : out[k].cycles) c.usable = false;
    }
    for (std::size_t i = 0; i < depths_.size(); ++i) {
      EdgeState<double>              state = honed_[i];
      const double                   first = quick_.reading_N(state);
      std::vector<Use>               uses;
      std::vector<EdgeState<double>> worn;
      (void)quick_.use(state, stretches, [&](std::size_t, const Use& sum, const EdgeState<double>& e) {
        uses.push_back(sum);
        worn.push_back(e);
        return !always() || sum.worst_N <= 1.5 * beyond_limit * limit_N_;
      });
      for (std::size_t k = 0; k < uses.size(); ++k) {
        Cycle&            c = out[k].cycles[i];
        EdgeState<double> e = worn[k];
        e.bevel_depth_um    = depths_[i];
        e.back_depth_um     = worn_[i].back_depth_um;
        const auto before   = e;
        if (!quick_.hone(e, c).usable()) continue;
        if (std::abs(c.honed_N - first) > 2e-3 * first) {  // it does not repeat itself yet
          e = before;
          (void)quick_.steady(e, std::span(stretches).first(k + 1), 2e-3, c);
          continue;
        }
        c.passes = uses[k].passes;
        c.minutes += uses[k].minutes;
        c.money += uses[k].money;
        c.worst_N = uses[k].worst_N;
        c.mean_N  = uses[k].reading_passes / uses[k].passes;
        c.within  = uses[k].passes_within / uses[k].passes;
      }
    }
    std::erase_if(out, [&](const Pair& p) { return !p.cycles[0].usable; });
    return out;
  }

  [[nodiscard]] std::vector<Period> periods_of_pair(const Pair& pair) const {
    return periods_of(ByDepth(depths_, pair.cycles), rules_);
  }

  void add_pairs(const std::vector<int>& passes) {
    std::vector<std::vector<Pair>> found(passes.size());
    for_each_index(passes.size(), settings_.threads,
                   [&](std::size_t i) { found[i] = pairs_with(passes[i]); });
    for (const auto& some : found) pairs_.insert(pairs_.end(), some.begin(), some.end());
    std::stable_sort(pairs_.begin(), pairs_.end(), [](const Pair& a, const Pair& b) {
      return a.passes != b.passes ? a.passes < b.passes : a.stroppings < b.stroppings;
    });
  }

  /// What a pair has to offer: its best period for each purpose.
  struct Offer {
    std::array<Pick, 4> near;       ///< by what is least, the limit kept or nearly so
    Pick                near_wide;  ///< the same for what is asked, ground at the widest land
    Pick                own;        ///< what is asked, the limit kept
    Pick                minutes;    ///< time, the limit kept
    std::vector<Pick>   by_target;  ///< for each limit or share of the trade-off
    std::vector<Pick>   slower;     ///< with more honings between grindings than is quickest: saves steel
  };
  [[nodiscard]] Offer offer_of(std::size_t i, const std::vector<double>& targets) const {
    Offer      out;
    const auto periods = periods_of_pair(pairs_[i]);
    out.by_target.resize(targets.size());
    for (const Period& p : periods) {
      const double own = value(p, settings_.least);
      for (std::size_t t = 0; t < targets.size(); ++t) {
        if (keeps(p, laws::in_newton(targets[t]), targets[t])) out.by_target[t].offer(own, i, p);
      }
      if (!nearly_keeps(p)) continue;
      for (const Least least : {Least::minutes, Least::money, Least::steel, Least::mix})
        out.near[static_cast<std::size_t>(least)].offer(value(p, least), i, p);
      if (p.depth_um >= rules_.depth_limit_um) out.near_wide.offer(own, i, p);
      if (!keeps(p)) continue;
      out.own.offer(own, i, p);
      out.minutes.offer(value(p, Least::minutes), i, p);
    }
    for (const Period& p : periods) {
      if (keeps(p) && p.honings >= out.minutes.period.honings)
        out.slower.push_back({value(p, Least::minutes), i, p});
    }
    return out;
  }
  [[nodiscard]] std::vector<Offer> offers(const std::vector<double>& targets) const {
    std::vector<Offer> out(pairs_.size());
    for_each_index(pairs_.size(), settings_.threads, [&](std::size_t i) { out[i] = offer_of(i, targets); });
    return out;
  }

  void screen() {
    const int        step = std::max(1, (longest_ + finest_grid - 1) / finest_grid);
    std::vector<int> grid;
    for (int a = step; a < longest_ + step; a += step) grid.push_back(a);
    if (step > 1) grid.insert(grid.begin(), 1);
    add_pairs(grid);
    if (step == 1) return;
    const auto all   = offers({});
    double     least = never;
    for (const Offer& o : all) least = std::min(least, o.own.value);
    std::set<int> more;
    for (std::size_t i = 0; i < pairs_.size(); ++i) {
      const int a = pairs_[i].passes, next = a == 1 ? step : a + step;
      if (!(all[i].near[static_cast<std::size_t>(settings_.least)].value * a / next <= least)) continue;
      for (int b = a + 1; b < next; ++b) more.insert(b);
    }
    add_pairs({more.begin(), more.end()});
  }

  /// Every period of a routine, honing by honing from a fresh grinding; unless `to_the_end`, only as far as the first that
  /// breaks a limit that is always to be kept.
  [[nodiscard]] std::vector<Period> worked_out(const std::vector<double>& stretches, bool to_the_end) const {
    EdgeState<double> worn = fresh_;
    Cycle             c;
    if (!rules_.grinds) {
      if (!cycle_.steady(worn, stretches, 1e-9, c).usable()) return {};
      return periods_of([&](double) { return c; }, rules_);
    }
    bool broken = false;
    return periods_of(
        [&](double) {
          Cycle one;
          one.usable = !broken;
          if (broken) return one;
          (void)cycle_.cycle(worn, stretches, one);
          broken = !to_the_end && always() && one.worst_N > limit_N_;
          return one;
        },
        rules_);
  }

  /// Of `picks` the one that is least in `least` and keeps the limit when worked out: all are worked out whose value lies
  /// within `margin` of the least, or within twice the error of the search that shows. `wide`: only ground at the widest land.
  [[nodiscard]] std::optional<Routine> truly_least(std::vector<Pick> picks, Least least, double margin,
                                                   bool wide = false) {
    constexpr std::size_t batch = 16, most = 400;
    std::erase_if(picks, [](const Pick& p) { return !(p.value < never); });
    std::stable_sort(picks.begin(), picks.end(),
                     [](const Pick& a, const Pick& b) { return a.value < b.value; });
    Pick        best;
    double      error = 0.0;
    std::size_t from  = 0;
    while (from < picks.size()) {
      const double as_far_as = 1.0 + std::max(margin, 2.0 * error);
      if (best.value < never && (from >= most || picks[from].value > as_far_as * best.value)) break;
      const std::size_t   to = std::min(picks.size(), from + batch);
      std::vector<Pick>   found(to - from);
      std::vector<double> errors(to - from, 0.0);
      for_each_index(to - from, settings_.threads, [&](std::size_t i) {
        const Pick& pick    = picks[from + i];
        const Pair& pair    = pairs_[pick.pair];
        const auto  periods = worked_out(
             std::vector<double>(static_cast<std::size_t>(pair.stroppings) + 1, pair.passes), false);
        for (const Period& p : periods) {
          if (keeps(p) && (!wide || p.depth_um >= rules_.depth_limit_um))
            found[i].offer(value(p, least), pick.pair, p);
        }
        const auto told = static_cast<std::size_t>(pick.period.honings);
        if (told <= periods.size())
          errors[i] = std::max(std::abs(pick.value / value(periods[told - 1], least) - 1.0),
                               std::abs(pick.period.worst_N / periods[told - 1].worst_N - 1.0));
      });
      for (const Pick& f : found) best.offer(f.value, f.pair, f.period);
      for (const double e : errors) error = std::max(error, e);
      worked_out_ += found.size();
      from = to;
    }
    screening_error_ = std::max(screening_error_, error);
    if (!(best.value < never)) return std::nullopt;
    return routine(best);
  }

  [[nodiscard]] Routine routine(const Pick& pick) const {
    const Pair& pair = pairs_[pick.pair];
    return {pair.passes, pair.stroppings, true, pick.period};
  }

  /// Never honed again: the stropping alone, on the land of the first honing.
  [[nodiscard]] std::optional<NamedRoutine> stropped_only() const {
    if (!cycle_.has_strop()) return std::nullopt;
    const auto repeated = [&](int passes) {
      std::vector<double> stretches(400, static_cast<double>(passes));
      EdgeState<double>   state = honed_[0];
      Period              p;
      Use                 before;
      p.passes = passes;
      (void)cycle_.use(state, stretches, [&](std::size_t, const Use& sum, const EdgeState<double>&) {
        p.worst_N = sum.worst_N;
        p.mean_N  = (sum.reading_passes - before.reading_passes) / passes;
        p.within  = (sum.passes_within - before.passes_within) / passes;
        p.minutes = cycle_.stropping_minutes();
        p.money   = cycle_.stropping_money();
        before    = sum;
        return !always() || sum.worst_N <= limit_N_;
      });
      return p;
    };
    int low = 0, high = longest_ + 1;
    if (!keeps(repeated(1))) return std::nullopt;
    low = 1;
    while (high - low > 1) {
      const int middle                       = low + (high - low) / 2;
      (keeps(repeated(middle)) ? low : high) = middle;
    }
    NamedRoutine out{"strop only, never hone", {low, 0, false, repeated(low)}, true};
    return out;
  }

  [[nodiscard]] std::vector<double> targets_of_trade_off() const {
    if (!always()) {
      std::vector<double> out{1.0, 0.99, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5};
      if (std::find(out.begin(), out.end(), settings_.share) == out.end()) out.push_back(settings_.share);
      std::sort(out.rbegin(), out.rend());
      return out;
    }
    double lowest = never;
    for (const Pair& p : pairs_) lowest = std::min(lowest, p.cycles[0].worst_N);
    const double from = laws::in_gram_force(lowest), to = beyond_limit * settings_.limit_gf;
    if (!(to > from)) return {settings_.limit_gf};
    double step = std::pow(10.0, std::floor(std::log10((to - from) / 12.0)));
    for (const double times : {2.0, 2.5, 2.0}) {  // 1, 2, 5, 10
      if ((to - from) / step > 12.0) step *= times;
    }
    std::set<double> out{settings_.limit_gf};
    for (double at = step * std::ceil(from / step); at <= to * (1.0 + 1e-12); at += step) {
      if (std::abs(at - settings_.limit_gf) > 0.3 * step) out.insert(at);
    }
    return {out.begin(), out.end()};
  }

  void trade_off(UpkeepResult& result, const std::vector<double>& targets,
                 const std::vector<Offer>& all) const {
    for (std::size_t t = 0; t < targets.size(); ++t) {
      Pick pick;
      for (const Offer& o : all) pick.offer(o.by_target[t].value, o.by_target[t].pair, o.by_target[t].period);
      if (pick.value < never) result.trade_off.push_back({targets[t], routine(pick)});
    }
  }

  void fronts(UpkeepResult& result, const std::vector<Offer>& all) const {
    std::vector<Routine>                   some;
    std::vector<std::pair<double, double>> points;
    const auto                             keep_front = [&](std::vector<Routine>& out) {
      for (const std::size_t i : pareto_front(points)) out.push_back(some[i]);
      some.clear();
      points.clear();
    };
    for (const Offer& o : all) {
      if (!(o.minutes.value < never)) continue;
      some.push_back(routine(o.minutes));
      points.emplace_back(o.minutes.value, o.minutes.period.mean_N);
    }
    keep_front(result.reading_front);
    for (const Offer& o : all) {
      for (const Pick& p : o.slower) {
        some.push_back(routine(p));
        points.emplace_back(p.value, some.back().steel_um());
      }
    }
    keep_front(result.steel_front);
  }

  void flatness(UpkeepResult& result, const std::vector<Offer>& offers) const {
    double least = never;
    for (const Offer& offer : offers) {
      const Pick& p = offer.own;
      if (!(p.value < never)) continue;
      least            = std::min(least, p.value);
      const Pair& pair = pairs_[p.pair];
      if (result.by_interval.empty() || result.by_interval.back().passes != pair.passes) {
        result.by_interval.push_back({pair.passes, pair.stroppings, p.value});
      } else if (p.value < result.by_interval.back().value) {
        result.by_interval.back() = {pair.passes, pair.stroppings, p.value};
      }
    }
    const auto& all = result.by_interval;
    if (all.empty()) return;
    const auto best = static_cast<std::size_t>(
        std::min_element(all.begin(), all.end(),
                         [](const ByInterval& a, const ByInterval& b) { return a.value < b.value; }) -
        all.begin());
    std::size_t from = best, to = best;
    while (from > 0 && all[from - 1].value <= 1.05 * least) --from;
    while (to + 1 < all.size() && all[to + 1].value <= 1.05 * least) ++to;
    result.flat_from = all[from].passes;
    result.flat_to   = all[to].passes;
    for (const Offer& offer : offers) {
      const Pick& p    = offer.own;
      const Pair& pair = pairs_[p.pair];
      if (!(p.value <= 1.05 * least) || pair.passes < result.flat_from || pair.passes > result.flat_to)
        continue;
      const int hone        = pair.passes * (pair.stroppings + 1);
      result.flat_hone_from = result.flat_hone_from == 0 ? hone : std::min(result.flat_hone_from, hone);
      result.flat_hone_to   = std::max(result.flat_hone_to, hone);
    }
  }

  UpkeepResult answer() {
    UpkeepResult result;
    const auto   targets = targets_of_trade_off();
    const auto   all     = offers(targets);
    const auto   near    = [&](Least least) {
      std::vector<Pick> out;
      for (const Offer& o : all) out.push_back(o.near[static_cast<std::size_t>(least)]);
      return out;
    };
    const auto best = truly_least(near(settings_.least), settings_.least, 0.01);
    if (!best) out_of_reach(narrow_honed_);
    result.best = *best;
    result.routines.push_back({"recommended", *best, true});
    const auto add = [&](std::string name, std::vector<Pick> picks, Least least, bool wide = false) {
      const auto found = truly_least(std::move(picks), least, 0.002, wide);
      if (!found) return;
      for (const NamedRoutine& r : result.routines) {
        if (r.routine.passes == found->passes && r.routine.stroppings == found->stroppings &&
            r.routine.period.honings == found->period.honings)
          return;
      }
      result.routines.push_back({std::move(name), *found, true});
    };
    if (settings_.least != Least::minutes) add("least time", near(Least::minutes), Least::minutes);
    if (settings_.least != Least::money && cycle_.costs_money())
      add("least money", near(Least::money), Least::money);
    if (settings_.least != Least::steel) add("least steel", near(Least::steel), Least::steel);
    if (rules_.grinds && !limit_ends_land_) {
      std::vector<Pick> wide;
      for (const Offer& o : all) wide.push_back(o.near_wide);
      const double land_mm = 1e-3 * cycle_.blade().land_per_depth * rules_.depth_limit_um;
      add(fmt::format("grind at {:.2g} mm of land", land_mm), std::move(wide), settings_.least, true);
    }
    if (cycle_.has_strop()) {
      auto unstropped = near(settings_.least);
      std::erase_if(unstropped, [&](const Pick& p) { return pairs_[p.pair].stroppings > 0; });
      add("never strop", std::move(unstropped), settings_.least);
      if (auto only = stropped_only()) result.routines.push_back(std::move(*only));
    }
    if (const auto& stretches = cycle_.steps().as_written; !stretches.empty()) {
      if (const auto periods = worked_out(stretches, true); !periods.empty()) {
        const int equal = stretches.size() == 1 ? static_cast<int>(stretches.front()) : 0;
        result.routines.push_back({"as its steps stand",
                                   {equal, static_cast<int>(stretches.size()) - 1, true, periods.back()},
                                   keeps(periods.back())});
      }
    }
    trade_off(result, targets, all);
    fronts(result, all);
    flatness(result, all);
    for (TradeOff& t : result.trade_off) {
      if (t.target == (always() ? settings_.limit_gf : settings_.share)) t.routine = *best;
    }

    result.steps           = cycle_.steps();
    result.honed_narrow_gf = laws::in_gram_force(narrow_honed_);
    result.honed_wide_gf   = laws::in_gram_force(wide_honed_);
    result.land_per_depth  = cycle_.blade().land_per_depth;
    result.back_per_depth  = back_per_depth_;
    result.depths_um       = depths_;
    result.land_limit_mm   = 1e-3 * rules_.depth_limit_um * result.land_per_depth;
    if (!rules_.grinds) result.land_limit_mm = not_given;
    result.limit_ends_land    = limit_ends_land_;
    result.stropping_minutes  = cycle_.stropping_minutes();
    result.costs_money        = cycle_.costs_money();
    result.unpriced           = cycle_.unpriced();
    result.searched           = pairs_.size();
    result.worked_out         = worked_out_;
    result.screening_error    = screening_error_;
    result.at_most_stroppings = cycle_.has_strop() && settings_.most_stroppings > 0 &&
                                result.best.stroppings == settings_.most_stroppings;
    return result;
  }

  const Scenario&       scenario_;
  const UpkeepSettings& settings_;
  double                limit_N_;
  UpkeepCycle           cycle_;
  UpkeepCycle           quick_;  ///< the same, less exact, to search with
  PeriodRules           rules_;

  EdgeState<double>              fresh_;           ///< worn, and ground anew
  std::vector<EdgeState<double>> lands_;           ///< before each honing of the leading way
  std::vector<double>            honed_readings_;  ///< after it
  double                         honed_N_ = 0.0, narrow_honed_ = 0.0, wide_honed_ = 0.0;
  double                         best_without_burr_N_ = never;
  bool                           limit_ends_land_     = false;
  int                            longest_ = 1;  ///< most passes between stroppings that are looked at

  std::vector<double>            depths_;        ///< at which cycles are worked out
  std::vector<EdgeState<double>> worn_, honed_;  ///< at these
  double                         back_per_depth_ = 0.0;

  std::vector<Pair> pairs_;
  std::size_t       worked_out_      = 0;
  double            screening_error_ = 0.0;
};

}  // namespace

double Routine::between_honings() const { return period.passes / std::max(1, period.honings); }
double Routine::minutes() const { return 1000.0 * period.minutes / period.passes; }
double Routine::money() const { return 1000.0 * period.money / period.passes; }
double Routine::steel_um() const { return 1000.0 * period.loss_um / period.passes; }

UpkeepResult upkeep(const Scenario& scenario, const EdgePlan& plan, const Workshop& workshop,
                    const UpkeepSettings& settings) {
  return Search(scenario, plan, workshop, settings).run();
}

std::vector<MemberUpkeep> upkeep_of_members(const Scenario& scenario, const UpkeepResult& result,
                                            const Routine& routine, const Workshop& workshop,
                                            const UpkeepSettings& settings, const Ensemble& ensemble) {
  const Period&             told    = routine.period;
  const double              limit_N = laws::in_newton(settings.limit_gf);
  const std::vector<double> stretches(static_cast<std::size_t>(routine.stroppings) + 1, routine.passes);
  std::vector<MemberUpkeep> out(ensemble.size());
  for_each_index(ensemble.size(), settings.threads, [&](std::size_t m) {
    const Model<double> model = member_of(scenario.model, ensemble, m);
    const UpkeepCycle   cycle(model, result.steps, workshop, coarse(tolerances_of(scenario)), limit_N);
    PeriodRules         rules;
    rules.grinds = result.land_per_depth > 0.0;
    // half a honing early, so that the model itself grinds after as many honings
    rules.depth_limit_um   = told.depth_um * std::sqrt(1.0 - 0.5 / std::max(1, told.honings));
    rules.loss_per_depth   = cycle.blade().loss_per_depth;
    rules.grind_minutes    = workshop.pace.grind_min;
    rules.grind_money      = workshop.pace.grind_min * cycle.wage_per_minute();
    rules.grind_loss_um    = 1e3 * workshop.pace.grind_loss_mm;
    EdgeState<double> worn = cycle.worn_to(limit_N);
    worn.bevel_depth_um = worn.back_depth_um = 0.0;
    std::vector<double> depths;
    for (const double depth : result.depths_um) {
      if (depth < told.depth_um) depths.push_back(depth);
    }
    if (rules.grinds) depths.push_back(told.depth_um);
    std::vector<Cycle> cycles(depths.size());
    for (Cycle& c : cycles) c.usable = false;
    for (std::size_t i = 0; i < depths.size(); ++i) {
      worn.bevel_depth_um = depths[i];
      worn.back_depth_um  = result.back_per_depth * depths[i];
      if (!cycle.steady(worn, stretches, 1e-3, cycles[i]).usable()) break;
    }
    const auto periods = periods_of(ByDepth(depths, cycles), rules);
    if (periods.empty()) return;
    if (rules.grinds && periods.back().depth_um < rules.depth_limit_um) return;
    out[m].ran    = true;
    out[m].period = periods.back();
    out[m].keeps  = settings.share >= 1.0 ? periods.back().worst_N <= limit_N
                                          : periods.back().within >= settings.share - 1e-9;
  });
  return out;
}

void try_members(const Scenario& scenario, UpkeepResult& result, const Workshop& workshop,
                 const UpkeepSettings& settings, const Ensemble& ensemble) {
  result.caution.clear();
  for (const double share : {1.0, 0.75, 0.5, 0.35, 0.25}) {
    Routine fewer = result.best;
    fewer.passes  = static_cast<int>(std::ceil(share * result.best.passes));
    if (!result.caution.empty() && result.caution.back().passes == fewer.passes) continue;
    auto                members = upkeep_of_members(scenario, result, fewer, workshop, settings, ensemble);
    double              keeping = 0.0;
    std::vector<double> minutes;
    for (const MemberUpkeep& m : members) {
      keeping += m.keeps ? 1.0 / static_cast<double>(members.size()) : 0.0;
      if (m.ran) minutes.push_back(1000.0 * m.period.minutes / m.period.passes);
    }
    result.caution.push_back({fewer.passes, keeping, quantile(minutes, 0.5)});
    if (share == 1.0) result.members = std::move(members);
  }
}

}  // namespace arris
