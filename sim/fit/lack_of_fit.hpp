// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/fit/fit.hpp"
#include "sim/statistics/misfit_tests.hpp"

/// Does the model fit? What it misses by more than edges scatter, by whole groups of edges and by moments.
///
///     d_e = mean over cell of ( log F − log F̂ ),    t_g = d̄_g/( s/√n_g ),    s² = Σ_g Σ_e (d_e − d̄_g)²/(N − G)
///
/// The unit is the edge: readings of one edge share its luck, so that t compares what the edges of a group have in common with how
/// they differ among themselves. Groups are edges of one route, strop, compound, tool or wood; cells are all of an edge, or its
/// readings at one moment: off the stones, after the strop, after so many passes. Groups that the fit has effects for (ways, woods) are held
/// against the prediction for the mean edge without these; all others against that for the mean edge of their way and wood, as answers have
/// it: else they would be accused of what all have in common. Moments, over all edges, are held against that for each edge, with its own luck. A bend, the same over the whole range of passes,
/// is tested by the square of log(1 + passes) in each edge, and drift by runs among edges in the order of the readings file.
/// All of them are corrected together (Holm), so that a model that fits is accused in one campaign of twenty at most.
///
/// Beside these stands the test against replicates (pure error): whether readings at different moments differ from the prediction
/// by more than readings of one moment differ among themselves. It also answers to luck in the rate of single edges, and so
/// accuses no law by itself. Edges that stand apart at all their moments are named too; that may be luck.
/// Source: Fisher 1922; Wald & Wolfowitz 1940; Holm 1979; edges as units as in any analysis of split plots (from memory).
namespace arris {

/// A miss that was looked for.
struct MissTest {
  std::string      says;               ///< of whom: "edges of route film after the strop"
  std::vector<int> of;                 ///< places of these edges among those of the scenario, ascending
  std::string      stage;              ///< where they were read: "after the strop"; empty: everywhere
  int              edges    = 0;       ///< of the group
  int              readings = 0;       ///< of them, in the cell
  double           ratio = not_given;  ///< measured over predicted, geometric mean; NaN where a test has none
  double           p     = not_given;  ///< by itself; NaN where there are too few edges
  double           p_of_all = not_given;  ///< corrected for the number of tests
  bool             found    = false;
  bool             in_fit =
      false;  ///< of ways, woods or passes, which the fit has effects or a discrepancy of: answers from it allow for the miss
};

/// An edge that reads above, or below, its prediction for the mean edge whenever it is read.
struct EdgeApart {
  std::string edge;
  double      ratio   = not_given;  ///< measured over predicted
  int         moments = 0;
};

struct LackOfFit {
  std::vector<MissTest>  tests;
  PureErrorTest          replicates;
  std::vector<EdgeApart> apart;  ///< farthest first
  std::vector<std::string>
      slips;  ///< readings that seem to stand in another unit (slips_of_unit.hpp), sentences: what is fitted to them means nothing
  std::string
      falling;  ///< where edges read less and less in use and the model has them read more, a sentence; else empty
  int                edges = 0;
  std::string        untested;  ///< why no miss was looked for, a sentence; else empty
  [[nodiscard]] bool found() const;
};

/// Of a fit that has converged.
[[nodiscard]] LackOfFit lack_of_fit(const CampaignModel& model, const FitResult& fit);

/// What misses, a sentence each: "Edges of route film after the strop read 35 % less than the model says: do not use it for them."
/// Slips of unit before all, then the farthest first, four at most. Empty where nothing was found.
[[nodiscard]] std::vector<std::string> misses(const LackOfFit& found);

/// How sure that is, on replicates, and which edges stand apart.
[[nodiscard]] std::vector<std::string> fit_remarks(const LackOfFit& found);

}  // namespace arris
