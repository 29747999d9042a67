// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "sim/simulate/readings.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/answer.hpp"

/// What was read, before any model: every edge at every moment, ways side by side, what strop and wood changed, what stands apart.
///
/// All on the log scale, so that means are geometric and differences are ratios. Edges are of one kind at a moment where all that was
/// done with them before is the same, on the same tool. How far edges of one kind differ is pooled,
///
///     s² = Σ_k Σ_i (m_ki − m_k)² / Σ_k (n_k − 1),   m_ki mean of edge i of kind k at a moment, n_k edges of that kind
///
/// over the moment where most edges have others of their kind. The mean of an edge is no better known than its few readings tell: s² is
/// taken as no less than s_r²·⟨1/n_readings⟩ of that moment, s_r² pooled over all edges and moments. With it two kinds differ by
///
///     m_a − m_b ± t·s·√(1/n_a + 1/n_b)
///
/// also where one of them has a single edge: it is taken to scatter as the others do. Differences of one moment are corrected together (Holm
/// 1979, from memory).
namespace arris {

/// The readings of one edge at one moment.
struct ReadMoment {
  std::string edge, way, moment;
  std::size_t order  = 0;          ///< of the moment, in ReadCampaign::moments
  double      passes = not_given;  ///< in wood until then
  int         count = 0, excluded = 0;
  double mean_gf = not_given, low_gf = not_given, high_gf = not_given;  ///< geometric mean, least, largest
  double scatter  = not_given;  ///< standard deviation of the logs; NaN for a single one
  double model_gf = not_given;  ///< where a model was asked for
  bool   ready =
      false;  ///< the last of its edge before its first cut, with no honing or stropping between the two
};

/// Edges of one kind at one moment.
struct ReadKind {
  std::string              name, moment;
  std::size_t              order = 0;
  std::vector<std::string> edges;
  double                   mean_gf  = not_given;  ///< geometric, of the means of edges
  double                   model_gf = not_given;  ///< the same of the model
};

/// A kind against the one that reads least at the moment.
struct ReadDifference {
  std::string moment, least, other;
  int         edges_least = 0, edges_other = 0;
  double      ratio = not_given, low = not_given, high = not_given;  ///< other over least; 90 % interval
  double      p = not_given;                                         ///< probability value of no difference
  std::vector<std::string> with;  ///< what went together with the two in the readings (confounded_with.hpp)
};

/// How edges of one kind changed from one moment to a later one, each held against itself.
struct ReadChange {
  std::string              way, before, after;
  std::size_t              order = 0;  ///< of the later moment
  std::vector<std::string> edges;
  double ratio = not_given, low = not_given, high = not_given;  ///< after over before; 90 % interval
  double p_of_all    = not_given;  ///< of no change, corrected for the number of changes (Holm)
  double model_ratio = not_given;
  bool   worked = false, sharpened = false;  ///< what was done between the two
  std::vector<std::string>
      with;  ///< of operators, filament lots and test days those that changed between the two
};

/// Ways that changed unlike between the same two moments.
struct UnlikeChange {
  ReadChange most, least;       ///< by how far they rose
  double p_of_all = not_given;  ///< of all ways being alike, corrected for the number of such tests (Holm)
};

/// A reading far from the others of its edge and moment.
struct OddReading {
  std::string edge, moment;
  int         line       = 0;  ///< in the readings file
  double      reading_gf = not_given, others_gf = not_given;
  int         others = 0;  ///< 1: the other may be the odd one as well
};

struct StandsApart {
  std::string edge, moment;
  std::string since;  ///< the moment before, where it is the change that stands apart; empty: the mean
  double      times = not_given;  ///< its ratio to the geometric mean of the others of its kind
};

/// An edge that reads less after wood than before it.
struct ReadsLess {
  std::string edge, before, after;
  double      ratio       = not_given;  ///< after over before
  double      model_ratio = not_given;  ///< the same of the model, where one was asked for
};

struct ReadCampaign {
  std::vector<std::string>    moments, operators;  ///< in the order in which they come
  std::vector<ReadMoment>     cells;               ///< edge by edge
  std::vector<ReadKind>       kinds;               ///< moment by moment
  std::vector<ReadDifference> differences;
  std::vector<ReadChange>     changes;  ///< of each kind, moment by moment (read_changes.hpp)
  std::vector<UnlikeChange>   unlike;
  std::vector<OddReading>     odd;    ///< stand_apart.hpp
  std::vector<StandsApart>    apart;  ///< stand_apart.hpp
  std::vector<ReadsLess>      less;   ///< edges whose kind does not read less as a whole
  std::string
      ready;  ///< the moment at which most edges were last read before their first cut; empty where none was
  double edge_sd =
      not_given;  ///< standard deviation of the logs between edges of one kind; NaN where none has another
  double edge_dof       = 0.0;
  double edges_alike_sd = not_given;  ///< the same before the scatter of readings is allowed for
  int    readings = 0, excluded = 0, edges = 0;
  std::vector<std::string>
      slips;  ///< readings that seem to stand in another unit or to be filled down (slips_of_unit.hpp), sentences
  bool all_equal = false;  ///< every one of three or more readings that count has the same value
  bool has_model = false;
};

/// `model`: the scenario whose predictions stand beside the readings; null: none. Throws Error as compare_with_readings.
[[nodiscard]] ReadCampaign read_campaign(const Scenario& scenario, const std::vector<Reading>& readings,
                                         const Scenario* model, int threads);

/// In sentences and tables. `source` is the file of the readings, for sentences.
[[nodiscard]] Answer readings_answer(const ReadCampaign& campaign, const std::vector<Reading>& readings,
                                     const Scenario& scenario, const std::string& source);

}  // namespace arris
