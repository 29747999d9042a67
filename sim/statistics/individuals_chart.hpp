// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <vector>

/// Control chart of individuals and moving ranges.
///
///     R_i = |x_i − x_{i−1}|,   centre x̄,   limits x̄ ± 2.660·R̄,   limit of ranges 3.267·R̄
///
/// x̄ and R̄ are means of the points that set the limits. 2.660 is 3/d2 and 3.267 is D4 = 1 + 3·d3/d2 for ranges of two:
/// d2 = 2/√π, d3 = √(2 − 4/π) for normal values.
/// Rules: a point beyond the limits; a range beyond its limit; `run_length` points in a row on one side of the centre; as many in a row
/// that rise, or fall.
/// Valid for points that are independent and about normal.
/// Source: ISO 7870-2 (constants and rules from memory; the constants hold against their closed form in tests/test_control.cpp).
namespace arris {

struct IndividualsChart {
  double              centre = 0.0, lower = 0.0, upper = 0.0;
  double              range_mean = 0.0, range_upper = 0.0;
  std::vector<double> ranges;  ///< of each point with the one before; NaN for the first
};

enum class ChartRule { beyond_limits, range_beyond, one_side, trend };

/// Points that break a rule.
struct ChartSignal {
  ChartRule   rule  = ChartRule::beyond_limits;
  std::size_t first = 0, last = 0;
  bool        is_high = false;  ///< above the centre, or rising
};

inline constexpr double      limits_of_individuals = 2.660;  ///< times the mean range
inline constexpr double      limit_of_ranges       = 3.267;
inline constexpr std::size_t run_length            = 7;

/// The first `base` points (2 … all) set the limits. Throws std::invalid_argument for fewer than two points.
[[nodiscard]] IndividualsChart individuals_chart(const std::vector<double>& values, std::size_t base);

/// In the order of their last points; a run or trend that goes on is one signal.
[[nodiscard]] std::vector<ChartSignal> chart_signals(const std::vector<double>& values,
                                                     const IndividualsChart&    chart);

/// Share of series of `points` values, drawn independently from one normal distribution, that show a signal although nothing changes, with
/// limits from their first `base`: simulated, same seed, same share.
[[nodiscard]] double false_signal_share(std::size_t points, std::size_t base);

}  // namespace arris
