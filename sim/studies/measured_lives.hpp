// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <utility>
#include <vector>

#include "sim/simulate/readings.hpp"
#include "sim/statistics/weibull.hpp"
#include "sim/studies/answer.hpp"

/// Lives of edges as they were measured: from readings alone, without the model of an edge.
///
/// An edge is read now and then, so its life is known to lie between two readings, or to be longer than the last (weibull.hpp).
/// For the product-limit estimate a life between two readings ends where the straight line between them crosses the limit.
namespace arris {

/// The lives that readings tell of edges in one wood.
struct MeasuredLives {
  std::string               wood;
  std::vector<std::string>  edges;  ///< of which something is known
  std::vector<ObservedLife> lives;  ///< one per edge, passes since its first cut
  int                       ended = 0, still_good = 0;
  double                    watched = 0.0;  ///< passes of the one that was watched longest
  double     read_to = 0.0;        ///< passes of the last reading, also of those that had crossed before
  double     median  = not_given;  ///< product limit
  WeibullFit weibull;
};

/// By wood, in the order of the configuration; of the given edges (indices into Scenario::edges). Each edge counts up to where it
/// is sharpened again, by the rule of life.hpp: what it reads before its lowest reading does not count. Edges that were not read
/// after a pass are left out.
[[nodiscard]] std::vector<MeasuredLives> measured_lives(const Scenario&                 scenario,
                                                        const std::vector<Reading>&     readings,
                                                        const std::vector<std::size_t>& edges,
                                                        double                          limit_N);

/// Columns of a table with a row for each of `lives`: edges, crossed, still_good, median, median_passes.
void add_life_columns(AnswerTable& table, const std::vector<const MeasuredLives*>& lives);

/// Measured lives of edges that share a way of sharpening, against those of another.
struct WayLives {
  std::string   way;
  MeasuredLives lives;  ///< in the wood they are compared in
  double        ratio =
      not_given;  ///< how many times as long they last as the reference; NaN for it, and where nothing can be determined
  Interval
      interval;  ///< 90 % of the ratio, by the likelihood ratio; an end is 0 or infinite where there is none
  double p = not_given;  ///< probability value of "they last alike"
};

/// Edges by way (names and indices into Scenario::edges) in `wood`; ways of which nothing is known are left out. One Weibull
/// distribution is fitted to all ways with a life that has ended: one shape, and for each way a scale. The reference is the first
/// of them.
[[nodiscard]] std::vector<WayLives> measured_way_lives(
    const Scenario& scenario, const std::vector<Reading>& readings,
    const std::vector<std::pair<std::string, std::vector<std::size_t>>>& ways, const std::string& wood,
    double limit_N);

/// Every reading that was taken between the last abrasive of the first sharpening and the next, for pictures: table "readings"
/// with edge, passes since the first cut, reading_gf, operator, why it is excluded. Of the given edges.
[[nodiscard]] AnswerTable readings_in_wood(const Scenario& scenario, const std::vector<Reading>& readings,
                                           const std::vector<std::size_t>& edges);

}  // namespace arris
