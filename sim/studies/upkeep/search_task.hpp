// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <limits>
#include <vector>

#include "sim/history/scenario.hpp"
#include "sim/studies/upkeep/upkeep.hpp"
#include "sim/studies/upkeep/upkeep_cycle.hpp"

/// What the search for a routine starts from. Its steps follow one another, each made of what those before it return:
///
///     Task → Leading (leading.hpp) → Lands (lands.hpp) → pairs and their offers (screening.hpp)
///          → routines honing by honing (working_out.hpp) → Compared (comparison.hpp) → UpkeepResult (search_result.hpp)
namespace arris::upkeep_search {

constexpr double never = std::numeric_limits<double>::infinity();  ///< a cost or a reading that there is not
constexpr double beyond_limit = 1.2;  ///< the trade-off goes as far as this share of the limit

/// What a routine repeats: a passes between stroppings, k stroppings between honings.
struct Pair {
  int passes     = 0;
  int stroppings = 0;

  /// The stretches of work between two honings.
  [[nodiscard]] std::vector<double> stretches() const {
    return std::vector<double>(static_cast<std::size_t>(stroppings) + 1, passes);
  }
};

/// What is asked of a routine: how sharp it keeps the edge, and what is to be least.
class Demand {
 public:
  explicit Demand(const UpkeepSettings& settings);

  [[nodiscard]] double limit_gf() const { return limit_gf_; }
  [[nodiscard]] double limit_N() const { return limit_N_; }
  [[nodiscard]] double share() const { return share_; }
  [[nodiscard]] Least  least() const { return least_; }
  /// Whether every pass is to be within the limit.
  [[nodiscard]] bool always() const { return share_ >= 1.0; }

  /// What a period costs per 1000 passes: minutes, money, µm of blade length, or minutes with the blade counted as minutes.
  [[nodiscard]] double value(const Period& period, Least least) const;
  [[nodiscard]] double value(const Period& period) const { return value(period, least_); }

  [[nodiscard]] bool keeps(const Period& period) const { return keeps(period, limit_N_, share_); }
  /// Whether it may yet turn out to keep the limit when it is worked out more exactly.
  [[nodiscard]] bool nearly_keeps(const Period& period) const;
  /// Whether it keeps another limit in gf, or where not every pass is to be within the limit, another share.
  [[nodiscard]] bool keeps_target(const Period& period, double target) const;

 private:
  [[nodiscard]] bool keeps(const Period& period, double reading_N, double share) const;

  double limit_gf_, limit_N_, share_;
  Least  least_;
  double minutes_per_mm_;
};

/// An edge in a shop, and what is asked of its routine. Keeps references to the scenario and the settings.
struct Task {
  const Scenario&       scenario;
  const UpkeepSettings& settings;
  Demand                demand;
  UpkeepCycle           exact;
  UpkeepCycle           quick;  ///< the same, less exact, to search with
  PeriodRules           rules;  ///< grinding as the shop does it
};

/// Throws Error as upkeep_steps does.
[[nodiscard]] Task task_of(const Scenario& scenario, const EdgePlan& plan, const Workshop& workshop,
                           const UpkeepSettings& settings, const UpkeepMiss& miss);

/// Intervals of a stretch between looks at its reading, to search with.
constexpr std::size_t few_looks = 16;

/// Tolerances to search with: whole numbers need no more than four digits, and what is reported is worked out again.
[[nodiscard]] Tolerances coarse(Tolerances tolerances);

/// What grinding takes, and whether there is any; without a depth at which to grind.
[[nodiscard]] PeriodRules grinding_rules(const UpkeepCycle& cycle, const Pace& pace);

/// The sharpest reading right after a honing, and what the edge reads then without its burr.
struct Sharpest {
  double honed_N        = never;
  double without_burr_N = never;
};

/// Throws Error (Exit::integration): "integration".
[[noreturn]] void honing_fails(const Task& task, const RunStatus& status);
/// Throws Error (Exit::usage): "limit-out-of-reach".
[[noreturn]] void limit_out_of_reach(const Task& task, const Sharpest& sharpest);

}  // namespace arris::upkeep_search
