// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "sim/studies/compare/way_names.hpp"
#include "sim/studies/readings/read_campaign.hpp"

/// Readings put together by edge and moment, and edges by kind: what the parts of the study of readings work on.
namespace arris::read {

/// Mean, and sum of squares about it; of at least one value.
[[nodiscard]] double mean_of(const std::vector<double>& x);
[[nodiscard]] double squares_of(const std::vector<double>& x);

/// The readings of one edge at one moment.
struct Taken {
  int                         edge = -1;  ///< index into Scenario::edges
  Moment                      moment;
  ReadMoment                  cell;
  std::vector<double>         logs;      ///< of the readings that count, in gf
  std::vector<const Reading*> readings;  ///< the same, in the same order
};

/// Of each edge in the order of the work. Points into `readings`.
[[nodiscard]] std::vector<Taken> taken_of(const Scenario& scenario, const std::vector<Reading>& readings);

/// Edges with which all was done alike before a moment.
struct Kind {
  WaySteps                  done;
  ReadKind                  read;
  std::vector<const Taken*> taken;
  std::vector<double>       logs;    ///< of the means of edges
  std::vector<double>       counts;  ///< readings of each
  std::vector<double>       models;  ///< logs too
};

/// In the order of the edges; points into `all`.
[[nodiscard]] std::vector<Kind> kinds_at(const Scenario& scenario, const std::vector<Taken>& all,
                                         const std::string& moment);

/// The step of the first work in wood; the number of steps where there is none.
[[nodiscard]] std::size_t first_cut_of(const EdgePlan& plan);

/// Whether an edge is honed, backed or stropped between two steps, the ends left out.
[[nodiscard]] bool is_sharpened_between(const EdgePlan& plan, std::size_t after, std::size_t before);

/// Variance of single readings of one edge at one moment, pooled, on the log scale; 0 where none was read twice.
[[nodiscard]] double variance_of_readings(const std::vector<Taken>& all);

/// The moment before, of the same edge, in what `taken_of` gives; null where there is none that was read.
[[nodiscard]] const Taken* moment_before(const std::vector<Taken>& all, const Taken& taken);

}  // namespace arris::read
