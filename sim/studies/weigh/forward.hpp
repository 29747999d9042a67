// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/fit/fit_settings.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/statistics/clustered_share.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/forecast/forecast.hpp"

/// How good forecasts of an edge from its first readings are, scored on a campaign itself.
///
/// Of each edge in turn (of more than `most_folds` in so many groups) only the first K moments count at which it was read after one sharpening;
/// moments are told apart by the passes since. Its later readings until it is sharpened again are held back, and what came after that is
/// left out too. All other readings are fitted anew, as `fit` does, and what was held back is foretold as `forecast --from-now` does
/// (readings_ahead of in_hand.hpp): laws by their weights, the edge by its own luck, a single reading by its scatter.
///
/// A forecast holds where so many of the readings lie in their bands as the bands say. The log score is log p(log y), the mean over readings of
/// the log density of what came; larger is better (Good 1952; Gneiting & Raftery 2007, from memory). Readings of one edge
/// go together, so that the intervals of shares take edges as what is independent (clustered_share.hpp).
namespace arris {

struct ForwardSettings {
  int                      moments = 1;  ///< K, 1 or more
  FitSettings              fit;          ///< of every fit
  std::vector<std::string> laws;         ///< fitted side by side; empty: that of the scenario alone
  int                      members = 400;
  int                      threads = 0;
};

/// Shares of readings that the bands are to hold.
inline constexpr double forward_most = 0.9, forward_half = 0.5;

/// A reading that was held back, and what was foretold of it.
struct HeldReading {
  std::string moment, operator_name;
  int         moments_ahead = 0;      ///< 1: the first that was held back
  double      passes        = 0.0;    ///< since the edge was sharpened
  bool        beyond        = false;  ///< no other edge was read after so many passes in the fit
  double      reading_N     = not_given;
  Band        most, half;             ///< 90 % and 50 %, N
  double      log_score = not_given;  ///< log density of its log

  [[nodiscard]] bool in_most() const { return reading_N >= most.low && reading_N <= most.high; }
  [[nodiscard]] bool in_half() const { return reading_N >= half.low && reading_N <= half.high; }
};

/// A reading that an edge kept since it was sharpened.
struct KeptReading {
  double passes = 0.0, reading_N = not_given;
};

/// An edge whose later readings were held back.
struct ForwardUnit {
  int                      edge = -1;  ///< index into Scenario::edges
  std::string              name;
  double                   now = 0.0;  ///< passes since it was sharpened, at the last reading it kept
  std::vector<KeptReading> kept;
  std::vector<HeldReading> held;  ///< by passes
  std::string failure;  ///< why it could not be forecast; then nothing is known of `held` but the readings
};

struct ForwardResult {
  ForwardSettings          settings;
  std::vector<ForwardUnit> units;
  std::size_t              groups = 0;  ///< fits that were made
  int                      later  = 0;  ///< readings after a later sharpening, left out
  int lengths = 0;  ///< radii, recessions and losses of mass that were held back and not scored
};

/// Readings with something in common, such as how far ahead they are.
struct ForwardScore {
  std::string    says;
  int            readings = 0, edges = 0;
  int            in_most = 0, in_half = 0, above = 0, below = 0;  ///< the latter of the 90 % band
  ClusteredShare most, half;                                      ///< with 90 % intervals
  double         width     = not_given;  ///< median of the upper over the lower end of 90 % bands
  double         log_score = not_given;  ///< mean
};

/// All readings first; then those within and beyond the range of the other edges, where there are both; then by moments ahead, where there are several.
[[nodiscard]] std::vector<ForwardScore> scores_of(const ForwardResult& result);

/// `progress(done, all)` may be empty; `threads` changes no bit. Throws Error (Exit::usage, "nothing-held-back") where no edge was read at
/// more than K moments after one sharpening, and what fits throw that concerns no single edge.
[[nodiscard]] ForwardResult weigh_forward(const Scenario& scenario, const std::vector<Reading>& readings,
                                          const ForwardSettings&                               settings,
                                          const std::function<void(std::size_t, std::size_t)>& progress = {});

/// Whether forecasts of this campaign hold. Tables "held_back", "scores", "units" and "kept". `readings` is what the readings are called.
[[nodiscard]] Answer forward_answer(const ForwardResult& result, const std::string& readings);

}  // namespace arris
