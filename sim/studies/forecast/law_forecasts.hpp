// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/numbers.hpp"
#include "sim/studies/answer.hpp"

/// What each of several wear laws says of an edge: how much a forecast hangs on the law.
namespace arris {

/// An edge under one of several wear laws: medians of the members that have it, or the mean edge at its optimum where too few have it.
struct LawForecast {
  /// So many members make a median.
  static constexpr std::size_t fewest = 20;

  std::string law;
  double      weight    = 0.0;
  bool        ruled_out = false;      ///< the readings speak against it
  double      passes    = not_given;  ///< to the limit; infinity: beyond those looked at
  std::vector<double>
      curve_N;  ///< at the passes of the edge's own curve; empty where the history could not be integrated
};

/// Those of one edge, heaviest law first.
struct LawsOfEdge {
  std::string              edge;
  std::vector<double>      at;  ///< passes of the curves
  std::vector<LawForecast> laws;
};

/// "98 to 240 passes depending on the wear law; the readings do not tell which of the 5 holds" behind `begin` ("Edge A1 lasts"), and `unit` in the place of
/// "passes". Empty where no law is left.
[[nodiscard]] std::string law_sentence(const std::string& begin, const std::vector<LawForecast>& laws,
                                       double passes_seen, const std::string& unit = "passes");

/// Passes under each law, a row for each edge and law.
[[nodiscard]] AnswerTable laws_table(const std::vector<LawsOfEdge>& edges, double passes_seen,
                                     const std::string& says);

/// The reading under each law along the passes.
[[nodiscard]] AnswerTable law_curves_table(const std::vector<LawsOfEdge>& edges);

}  // namespace arris
