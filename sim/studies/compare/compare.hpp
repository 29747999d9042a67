// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "sim/fit/ensemble.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/costs.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/studies/measured_lives.hpp"
#include "sim/studies/workshop.hpp"

/// Ways of sharpening side by side: what the model says of each on one tool and in one wood, and what readings say.
///
/// A way is the steps of an edge up to its first cut, readings left out; edges with the same steps follow one way. Every way
/// is run on the same tool, so that it is the steps that are compared, with the forces that they state; where all edges have the same steps
/// and several tools, each keeps its own, and it is the tools (steels, bevels) that are compared. For each member of an ensemble, ratio of readings and
/// of lives of two ways; a difference matters when it is more than a stated margin.
///
/// Readings compare what was done before they were first taken, off the medium, on the log scale; edges are put together only
/// where all of it is the same:
///
///     Welch's t on the means of edges, and y = way + operator + lot + day + edge + noise by restricted maximum likelihood
///
/// Operators, filament lots and test days are fixed effects where the readings name two or more, edges a random one. Where routes
/// always went together with one of them (confounding.hpp) nothing is claimed of their difference.
/// Equivalence by two one-sided tests at 5 %. Where edges were read while they cut, measured lives of ways are compared too
/// (measured_lives.hpp). Source: Welch 1947; Patterson & Thompson 1971; Schuirmann 1987 (from memory).
namespace arris {

struct CompareSettings {
  ForecastSettings life;  ///< limit, passes looked ahead, share within bands, seed of next edges, threads
  std::string      tool;  ///< on which; empty: the one of most edges
  double           margin      = 0.10;       ///< a ratio of readings up to 1 + margin does not matter
  double           sharpenings = not_given;  ///< a year, for what that costs; NaN: nothing is said of a year
};

/// A medium, backing or compound of one way, and how much of it one sharpening takes.
struct WayMaterial {
  std::string name;
  double      count  = 0.0;        ///< strokes or laps
  double      pieces = not_given;  ///< used up, as a share of one; NaN without a life in its price
  double      money  = not_given;  ///< of that; NaN without a price
};

/// What it rests on which of two ways reads less, ready for work.
enum class Evidence {
  model,        ///< on the model alone: not both were read so, on this tool
  readings,     ///< on the model, no surer than readings of both allow
  confounded,   ///< on nothing: readings of the two went together with who or what read them
  contradicted  ///< on nothing: the model says the one, and the readings the other
};

/// What may be claimed of a way against another, ready for work. Shares of members, held to what readings allow (by_readings.hpp); NaN where
/// nothing may be claimed.
struct Claim {
  Evidence                 evidence   = Evidence::model;
  double                   below      = not_given;  ///< it reads less
  double                   within     = not_given;  ///< the two differ by no more than the margin
  double                   above      = not_given;  ///< it reads more than the margin above the other
  double                   read_below = not_given;  ///< it reads less, by the readings alone
  double                   read_ratio = not_given;  ///< its reading over that of the other, as they were read
  std::vector<std::string> with;  ///< "operators", "filament lots": what went together with the two
};

/// A way of sharpening as the scenario itself has it, and over the ensemble.
struct Way {
  std::string              name;   ///< by the shortest words that tell it from the others (way_names.hpp)
  std::vector<std::string> edges;  ///< that follow it
  EdgePlan                 plan;   ///< on the common tool, with the common work as its last step
  std::vector<StepSummary> steps;  ///< of the scenario itself, the work left out
  double                   strokes = 0.0;
  double                   minutes = 0.0;
  double    money = not_given;  ///< of one sharpening, wage included; NaN where nothing has a price
  CostParts parts;              ///< of one sharpening; the minutes to begin are among those of handling
  std::vector<WayMaterial> materials;  ///< in the order of their first use
  double                   steel_mg      = 0.0;
  double                   blade_loss_um = 0.0;
  double                   sharpenings = not_given;  ///< that the usable blade is good for, grinding left out
  Band                     reading_N;                ///< of the mean edge, ready for work
  Band                     passes;                   ///< of the mean edge
  Band                     next_passes;              ///< of the next edge
  double read_gf = not_given;  ///< geometric mean of its edges as they were read ready for work, on this tool
  Claim  claim;                ///< against the reference
  double outlasts =
      not_given;  ///< share of members in which it lasts longer than the reference; NaN where measured lives are confounded or say the opposite
  Band ratio;     ///< of its reading to that of the reference
};

/// Two ways of honing by their readings. Ratios are of geometric means, first over second.
struct MeasuredDifference {
  std::string              first, second;
  std::string              moment;  ///< what the readings that are compared are called: "off the stones"
  int                      edges_first = 0, edges_second = 0, readings_first = 0, readings_second = 0;
  double                   mean_first_gf = not_given, mean_second_gf = not_given;  ///< geometric
  Band                     welch;  ///< 90 % interval of the ratio; NaN where it cannot be had
  double                   welch_p = not_given;
  Band                     mixed;        ///< by the mixed model
  std::vector<std::string> allowed_for;  ///< "operators", "filament lots": fixed effects in it
  double                   mixed_p = not_given;
  double mixed_p_of_all            = not_given;  ///< the same, corrected for the number of pairs (Holm)
  double equivalence_p             = not_given;  ///< probability value of "they differ by the margin or more"
  double detectable                = not_given;  ///< smallest ratio that so many edges show 9 times in 10
  std::string
      confounded;  ///< why the routes cannot be told from operators, lots or days, a sentence; empty where they can
};

/// What is lost without some materials: the sharpest way that uses them against the sharpest one that does not. Materials that the
/// same ways use stand together.
struct MaterialWorth {
  std::vector<std::string> materials;
  std::string              with, without;  ///< ways; `without` is empty where every way uses them
  double                   with_N = not_given, without_N = not_given;  ///< readings ready for work
  Band                     ratio;  ///< of the reading without to that with
  Claim                    claim;  ///< of the way without: worth keeping where it reads above
  double                   money_with = not_given, money_without = not_given;  ///< of one sharpening
};

/// A strop, in the first way that uses it, against the same without it, or with the finest medium of the campaign in its place.
struct StropWorth {
  std::string strop;                                      ///< backing and compound
  std::string way;                                        ///< that it is used in
  std::string instead;                                    ///< the medium in its place; empty: nothing
  double      with_N = not_given, instead_N = not_given;  ///< readings ready for work
  Band        ratio;  ///< of the reading with the strop to that with the other
  Claim       claim;  ///< of the way with the strop
  double      minutes_with = 0.0, minutes_instead = 0.0;          ///< of one sharpening
  double      money_with = not_given, money_instead = not_given;  ///< of one sharpening
};

struct Comparing {
  CompareSettings settings;
  bool            by_tool = false;  ///< edges are sharpened alike, each on its own tool: these are compared
  std::string     tool, wood;       ///< the common tool; empty by tool
  double          tool_width_mm = not_given;
  double edge_sd = not_given;  ///< between edges of one way, of the logs of readings; NaN where not known
  /// The first is the reference. Those of which an edge has this tool come before others.
  std::vector<Way>                ways;
  std::vector<MeasuredDifference> measured;
  std::vector<WayLives>           lives;  ///< measured, of the ways that were watched in this wood
  /// Beside `lives`: why the readings of a way cannot be told from operators, lots or days, against those of the first with an ended
  /// life; empty where they can.
  std::vector<std::string>   lives_confounded;
  std::vector<MaterialWorth> materials;
  std::vector<StropWorth>    strops;  ///< empty where nothing costs money and no minutes are stated
  std::vector<std::string>
      readers;  ///< "operators", "filament lots", "test days": those of which the readings name several
  std::vector<std::string> slips;  ///< readings that look as if they stood in another unit
  std::vector<std::string> unpriced;
  std::vector<std::string> too_few;  ///< ways of honing with one edge only
  std::string hangs_on_law;  ///< where lives compare otherwise under another wear law, a sentence; else empty
  std::vector<std::string> by_law;  ///< where they do not, a sentence each
  std::size_t              members = 0;
  int                      failed  = 0;
  std::string              failure;
};

/// `scenario` holds the values that the comparison is about (at_best). Throws Error (Exit::usage): "no-ways" with fewer than two,
/// "unknown-tool"; (Exit::integration) "no-history" when one cannot be run at these values, "no-member" when it fails in every member.
/// `progress(done, all)` may be empty; `known` may be null, or a forecast that holds here too (forecast.hpp).
[[nodiscard]] Comparing compare_ways(const Scenario& scenario, const Workshop& workshop,
                                     const Ensemble& ensemble, const std::vector<std::size_t>& edges,
                                     const std::vector<Reading>& readings, const CompareSettings& settings,
                                     const std::function<void(std::size_t, std::size_t)>& progress = {},
                                     const Forecast*                                      known    = nullptr);

/// Differences between ways of honing by readings alone, off the medium. `by_tool`: edges on different tools are different ways.
[[nodiscard]] std::vector<MeasuredDifference> measured_differences(const Scenario&             scenario,
                                                                   const std::vector<Reading>& readings,
                                                                   double                      margin,
                                                                   std::vector<std::string>&   too_few,
                                                                   bool by_tool = false);

[[nodiscard]] Answer compare_answer(const Comparing& comparing, const Workshop& workshop,
                                    const Ensemble& ensemble);

}  // namespace arris
