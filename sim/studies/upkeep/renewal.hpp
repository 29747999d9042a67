// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <limits>
#include <span>
#include <utility>
#include <vector>

// clang-format off
#include <math.h>  // NOLINT(modernize-deprecated-headers): pchip of Boost 1.74 calls isnan without a namespace
#include <boost/math/interpolators/pchip.hpp>
// clang-format on

/// Renewal of an edge: cycles from honing to honing, and periods from grinding to grinding that are made of them. Pure
/// bookkeeping; what a cycle comes to is worked out elsewhere.
namespace arris {

/// One cycle: a honing, and the work and the stroppings until the next one.
struct Cycle {
  double passes       = 0.0;
  double minutes      = 0.0;  ///< of honing and stropping, without the work itself
  double money        = 0.0;
  double gain_um      = 0.0;  ///< depth that the honing took, normal to the bevel
  double square_gain  = 0.0;  ///< growth of the square of that depth since grinding, µm²
  double honed_N      = 0.0;  ///< reading right after honing
  double worst_N      = 0.0;  ///< highest reading
  double mean_N       = 0.0;  ///< mean reading, by passes
  double within       = 1.0;  ///< share of passes at or below the limit
  double hone_minutes = 0.0;  ///< of `minutes`, those of the honing
  bool   usable       = true;
};

/// Whether both can be worked and none of their numbers but the passes differs by more, relative to itself.
[[nodiscard]] bool nearly_same(const Cycle& a, const Cycle& b, double closeness);

/// So many cycles with one grinding.
struct Period {
  int    honings      = 0;
  double depth_um     = 0.0;  ///< h when it is ground anew
  double passes       = 0.0;
  double minutes      = 0.0;
  double money        = 0.0;
  double loss_um      = 0.0;  ///< blade length honed and ground away
  double honed_N      = 0.0;  ///< highest reading right after a honing
  double worst_N      = 0.0;
  double mean_N       = 0.0;
  double within       = 1.0;
  double hone_minutes = 0.0;  ///< of all honings
};

/// What ends a period, and what grinding takes.
struct PeriodRules {
  bool grinds =
      true;  ///< false: the honed land does not grow, and nothing is ground; one cycle is the period
  double depth_limit_um =
      std::numeric_limits<double>::infinity();  ///< grind at the first honing that reaches it
  double loss_per_depth = 1.0;                  ///< blade length per depth, x₀/h
  double grind_minutes  = 0.0;
  double grind_money    = 0.0;
  double grind_loss_um  = 0.0;
  int    most_honings   = 2000;  ///< and no more than so many
};

/// The periods of a routine, cycle by cycle; depths add up as in periods_of.
class PeriodsByCycle {
 public:
  explicit PeriodsByCycle(const PeriodRules& rules) : rules_(rules) {}

  /// Whether another honing may follow before the edge is ground.
  [[nodiscard]] bool   goes_on() const;
  [[nodiscard]] double depth_um() const { return sum_.depth_um; }
  /// The next cycle; one that is not usable ends the period before it.
  void                                     add(const Cycle& cycle);
  [[nodiscard]] const std::vector<Period>& all() const { return periods_; }

 private:
  PeriodRules         rules_;
  std::vector<Period> periods_;
  Period              sum_;  ///< without grinding, means and the loss of blade length
  double              loss_um_ = 0.0, reading_passes_ = 0.0, passes_within_ = 0.0;
  bool                ended_ = false;
};

/// Every period there can be, of 1, 2, 3 … honings, up to the one that reaches the depth limit. `next(h)` is the cycle that
/// begins with honing at the depth h in µm, called in order from h = 0; depths add up as
///
///     h²_{j+1} = h²_j + Δ(h²)      (the honed land grows with h, so that equal work adds equal squares)
///
/// Ends before a cycle that is not usable; empty when the first is not.
[[nodiscard]] std::vector<Period> periods_of(const std::function<Cycle(double)>& next,
                                             const PeriodRules&                  rules);

/// Cycles by the depth at which they begin, or by another number, between some that are known: monotone cubic interpolation (pchip) of every
/// number, straight lines where fewer than four are known.
class CycleCurve {
 public:
  /// `depths` ascend strictly; those of the cycles that are usable, up to the first that is not, are the curve.
  CycleCurve(std::span<const double> depths, std::span<const Cycle> known);

  /// At a depth below the first, the first; above the last the last, or one that is not usable where `known` went on.
  [[nodiscard]] Cycle at(double depth_um) const;

 private:
  using Pchip = boost::math::interpolators::pchip<std::vector<double>>;
  std::vector<double>                            depths_;
  std::vector<Cycle>                             known_;
  std::vector<std::pair<double Cycle::*, Pchip>> curves_;
  bool goes_on_ = false;  ///< there were cycles beyond that were not usable
};

/// The cycle that begins at a depth: on a freshly ground edge the first of those that are known, which no other honing comes
/// near, and a curve through the rest.
class CycleByDepth {
 public:
  /// `depths_um` begin with 0, as `known` does with the cycle on the freshly ground edge.
  CycleByDepth(std::span<const double> depths_um, std::span<const Cycle> known)
      : ground_(known.front()), later_(depths_um.subspan(1), known.subspan(1)) {}

  [[nodiscard]] Cycle operator()(double depth_um) const {
    return depth_um > 0.0 ? later_.at(depth_um) : ground_;
  }

 private:
  Cycle      ground_;
  CycleCurve later_;
};

/// Indices of the points that no other beats in both (less is better), by ascending x. Of equal points the first stays. NaN
/// is never among them.
[[nodiscard]] std::vector<std::size_t> pareto_front(const std::vector<std::pair<double, double>>& points);

}  // namespace arris
