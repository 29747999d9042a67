// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "sim/fit/ensemble.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/upkeep/upkeep_cycle.hpp"

/// The cheapest routine that keeps an edge sharp enough: a passes between two stroppings, k stroppings between two honings, M
/// honings between two grindings.
///
/// Costs per 1000 passes of a period from grinding to grinding:
///
///     minutes = 1000·( Σ_j hone_j + M·k·strop + grind ) / ( M·(k+1)·a )
///
/// hone_j grows with the land, and with how dull the edge has become, where strokes are counted from the burr on. Every pair
/// of whole numbers (a, k) is looked at with every M: its cycle that repeats itself is known freshly ground and on some
/// lands up to the widest, worked out for some a and on a curve between them (cycles_by_passes.hpp), and the land is led from
/// honing to honing through them. The routines within 1 % of the cheapest are
/// then worked out honing by honing, and the cheapest of these that keeps the limit is the answer.
///
/// Beyond 600 passes between stroppings a coarser step is taken first, and all whole numbers only where none of its costs
/// can be ruled out: per cycle a longer stretch of work never costs less, so that between two steps a₁ < a₂ nothing costs
/// less per pass than the cycle of a₁ does over the passes of a₂.
namespace arris {

/// What is made as small as can be.
enum class Least { minutes, money, steel, mix };

struct UpkeepSettings {
  double      limit_gf = not_given;
  std::string task;                   ///< name of the limit; empty when it is a number
  double      share           = 1.0;  ///< of the passes that are to be within the limit; 1: always
  Least       least           = Least::minutes;
  double      minutes_per_mm  = 0.0;  ///< mix: what a millimetre of blade is worth in minutes
  int         most_stroppings = 10;   ///< between two honings
  double sharpenings = not_given;     ///< honings a year, for what that costs; NaN: nothing is said of a year
  int    threads     = 0;
};

/// A routine, and what a period of it comes to.
struct Routine {
  int passes =
      0;  ///< between stroppings, or between honings where it is never stropped; 0: unequal stretches
  int    stroppings = 0;  ///< between honings
  bool   hones      = true;
  Period period;  ///< readings in N, as in renewal.hpp

  [[nodiscard]] double between_honings() const;
  [[nodiscard]] double minutes() const;   ///< per 1000 passes
  [[nodiscard]] double money() const;     ///< per 1000 passes
  [[nodiscard]] double steel_um() const;  ///< blade length, per 1000 passes
};

struct NamedRoutine {
  std::string name;
  Routine     routine;
  bool        keeps = true;  ///< the limit
};

/// The cheapest routine for another limit, or another share of passes.
struct TradeOff {
  double  target = 0.0;  ///< gf, or a share
  Routine routine;
};

/// The cheapest routine with so many passes between stroppings.
struct ByInterval {
  int    passes     = 0;
  int    stroppings = 0;
  double value      = 0.0;  ///< of what is made small, per 1000 passes
};

/// A member of an ensemble under one routine.
struct MemberUpkeep {
  bool   ran   = false;  ///< false: its integration failed, or its honing raises no burr
  bool   keeps = false;
  Period period;
};

/// The best routine with fewer passes at a stretch, over an ensemble.
struct Caution {
  int               passes  = 0;
  double            keeping = 0.0;        ///< share of the members that keep the limit
  double            minutes = not_given;  ///< per 1000 passes, median
  double            money   = not_given;  ///< per 1000 passes, median, wage included
  std::vector<bool> keeps;                ///< by member
};

struct UpkeepResult {
  UpkeepSteps               steps;
  Routine                   best;
  std::vector<NamedRoutine> routines;       ///< the best first, then others to compare
  std::vector<TradeOff>     trade_off;      ///< ascending in what it costs less and less
  std::vector<Routine>      reading_front;  ///< minutes against mean reading, within the limit
  std::vector<Routine>      steel_front;    ///< minutes against blade length, within the limit
  std::vector<ByInterval>   by_interval;
  int                 flat_from = 0, flat_to = 0;  ///< passes between stroppings within 5 % of the least
  int                 flat_hone_from = 0, flat_hone_to = 0;  ///< passes between honings within 5 %
  double              honed_narrow_gf = not_given;           ///< right after honing, freshly ground
  double              honed_wide_gf = not_given;  ///< right after honing, on the widest land that was allowed
  double              land_per_depth = 0.0;       ///< ℓ/h; 0: the whole bevel is honed
  double              land_limit_mm  = not_given;  ///< widest land that was allowed
  double              back_per_depth = 0.0;        ///< depth of a back bevel over that of the bevel
  std::vector<double> depths_um;                   ///< h at which cycles were worked out, from 0
  double dub_depth_um = not_given;   ///< before a honing of the best routine: what flat honing must take off,
  double chip_um      = not_given;   ///< and how deep nicks and chips are, which no strop takes out
  double chip_gf      = not_given;   ///< what these add to the reading then
  bool   limit_ends_land   = false;  ///< honing no longer reached the limit beyond it
  double stropping_minutes = 0.0;
  bool   costs_money       = false;
  std::vector<std::string> unpriced;
  std::size_t              searched = 0;  ///< pairs (a, k)
  std::size_t histories  = 0;    ///< run to search them: each honing, stretch of work and stropping is one
  std::size_t worked_out = 0;    ///< routines worked out honing by honing
  double screening_error = 0.0;  ///< largest relative error of the search among these, in minutes and in the
                                 ///< highest reading
  bool                      at_most_stroppings = false;
  std::vector<MemberUpkeep> members;  ///< under the best routine
  std::vector<Caution>      caution;  ///< the best routine first, then with fewer passes at a stretch
};

/// Searches. `miss`: what the model misses of readings, of which it is to allow for. Throws Error: Exit::usage "no-cut", "no-honing" (upkeep_steps), "limit-out-of-reach" when honing does not bring
/// the edge below the limit for a single pass, "limit-never-reached" when work does not take it above; Exit::integration
/// ("integration") when the honing itself cannot be integrated or raises no burr.
[[nodiscard]] UpkeepResult upkeep(const Scenario& scenario, const EdgePlan& plan, const Workshop& workshop,
                                  const UpkeepSettings& settings, const UpkeepMiss& miss = {});

/// `routine` under every member of an ensemble, with what its law and the way of the edge miss, ground at the width of land at which it is ground in the model itself.
[[nodiscard]] std::vector<MemberUpkeep> upkeep_of_members(const Scenario&     scenario,
                                                          const UpkeepResult& result, const Routine& routine,
                                                          const Workshop&       workshop,
                                                          const UpkeepSettings& settings,
                                                          const Ensemble&       ensemble);

/// Fills in `members` and `caution`.
void try_members(const Scenario& scenario, UpkeepResult& result, const Workshop& workshop,
                 const UpkeepSettings& settings, const Ensemble& ensemble);

/// The result in sentences and tables. `ensemble`: what `result.members` came from.
[[nodiscard]] Answer upkeep_answer(const UpkeepResult& result, const Workshop& workshop,
                                   const UpkeepSettings& settings, const Ensemble& ensemble);

}  // namespace arris
