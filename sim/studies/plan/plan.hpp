// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/simulate/stops.hpp"
#include "sim/statistics/power.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/plan/plan_knowledge.hpp"
#include "sim/studies/workshop.hpp"

/// The experiment to do next: how many edges and readings tell groups of edges apart, at which moments of their histories
/// readings teach most, and what would still be open afterwards.
///
/// Groups are routes or edges of the configuration. Each group gets new edges, all with the history of one edge of the
/// configuration (of the same tool in every group, where there is one), read at the same moments: first where the groups
/// are compared (at the end of a route, or before the first wood), then where a D-optimal design puts the rest. The scatter
/// of a reading at the comparison is that of readings, and that of edges as far as the tester sees it:
///
///     σ_e = σ_edge·|∂ log F/∂η|,  σ_r = σ_reading
///
/// with η the log of an edge's factor on its apex (campaign_model.hpp). Power: power.hpp. Moments: optimal_design.hpp, on
/// exact slopes of the log reading against scaled parameters at each member of an ensemble. Members may have several wear laws, each with parameters of its own;
/// which of them are narrowed, and what stays open, is told of the heaviest.
namespace arris {

struct PlanSettings {
  double difference_pct = 10.0;  ///< of the reading
  double power          = 0.9;
  double false_alarm    = 0.05;     ///< for all pairs of groups together; shared evenly among them
  std::vector<std::string> groups;  ///< names of routes or edges; empty: all routes, or an edge of each way
  int                      edges    = 0;  ///< per group; 0: as many as are needed
  int                      readings = 0;  ///< per edge and moment; 0: as many as are needed
  int                      moments  = 3;  ///< per edge, that of the comparison included
  ReadAt                   at       = ReadAt::passes_and_laps;
  std::vector<std::string> operators{"A"};
  std::vector<std::string> lots{"lot 1"};
  double                   spare_pct   = 10.0;  ///< filaments on top, for those that slip
  double                   reading_min = 1.0;   ///< to mount a filament and read it (estimate)
  int                      campaigns   = 4000;  ///< simulated to check the power
  unsigned long long       seed        = 1;
  int                      threads     = 0;

  static constexpr int most_edges = 200, most_readings = 10;
};

/// All names that can be groups: routes that edges follow, then edges.
[[nodiscard]] std::vector<std::string> group_names(const Scenario& scenario);

struct PlannedMoment {
  std::string when;                    ///< "off the stones", "after 60 passes in white oak"
  double      reading_N  = not_given;  ///< predicted, of a typical edge
  bool        comparison = false;
  double worth = 0.0;  ///< how much wider parameters would be known without it, as a share (geometric mean)
};

struct PlannedGroup {
  std::string                name;
  int                        pattern  = -1;  ///< edge of the configuration whose history it has
  bool                       is_route = false;
  std::vector<PlannedMoment> moments;  ///< in order
  double minutes_per_edge = 0.0;       ///< honing, stropping and cutting, up to the last reading
};

/// One way to reach the power that was asked for.
struct PlanSize {
  int    edges     = 0;
  int    readings  = 0;
  double power     = not_given;
  int    taken     = 0;  ///< readings in all, at all moments
  int    filaments = 0;
  double hours     = 0.0;
};

/// Edges of the configuration, as many as a group of the plan has and read as often, that would narrow what the plan leaves
/// open.
struct SettlingReading {
  std::string edge;
  std::string when;
  double      variance_before =
      1.0;                      ///< of the open direction, over that of its prior, after the planned readings
  double variance_after = 1.0;  ///< the same after these readings too, mean over members
};

/// The power of the plan where one of several wear laws holds.
struct PowerUnderLaw {
  std::string law;
  bool        ruled_out = false;      ///< the readings speak against it
  double      power     = not_given;  ///< mean over its members
};

struct Plan {
  PlanSettings              settings;
  std::vector<PlannedGroup> groups;
  bool                      same_tool = true;
  ReadingScatter            scatter;  ///< where the groups are compared
  std::vector<ReadingScatter>
      scatters;  ///< what it may be, as likely one as another; power is the mean over them
  int edges_behind      = 0,
      readings_behind   = 0;    ///< what the scatter was fitted to; 0: it is that of the configuration
  double         level  = 0.0;  ///< false alarms of one pair
  int            blocks = 1;
  PlanSize       size;                      ///< what is recommended, or was asked for
  bool           reaches      = true;       ///< its power is what was asked for
  double         smallest_pct = not_given;  ///< difference that it finds with that power
  SimulatedPower checked;
  double         power_low = not_given, power_high = not_given;  ///< 10th and 90th percentile of members
  std::vector<PowerUnderLaw>     power_by_law;  ///< heaviest first; empty where there is one law
  std::vector<PlanSize>          sizes;         ///< by readings per edge
  std::vector<FreeParameter>     parameters;
  std::vector<double>            share_before, share_after;  ///< standard deviation over that of the prior
  std::optional<Identifiability> before;
  Identifiability                after;
  std::optional<SettlingReading> settling;        ///< none where nothing is open, or no edge would help
  Scenario                       scenario;        ///< the configuration with the planned edges behind its own
  int                            first_edge = 0;  ///< of the planned ones
  std::vector<Reading>           sheet;           ///< to be taken, in this order; every reading is missing
  std::string                    rests_on;
  std::string
      narrowed_under;  ///< the wear law that parameters and what stays open are told under, where there are several
  int members = 0, failed_members = 0;  ///< versions of the model; those in which a history failed
  std::vector<std::string> cautions;
};

/// Throws Error (Exit::usage): "too-few-groups", "unknown-group", "given-twice", "nothing-to-choose", "out-of-reach"; (Exit::integration,
/// "no-convergence") when the histories of the groups fail. The settings must be in their ranges.
[[nodiscard]] Plan plan_experiment(const Scenario& scenario, const FitSettings& fit, const Pace& pace,
                                   const PlanKnowledge& knowledge, const PlanSettings& settings);

/// A size of the same plan, with its power and what it costs.
[[nodiscard]] PlanSize       size_of(const Plan& plan, int edges, int readings);
[[nodiscard]] ComparisonSize comparison_of(const Plan& plan, int edges, int readings);
/// The difference of readings, per cent, that such a size finds with the power of the plan's settings.
[[nodiscard]] double smallest_difference_pct(const Plan& plan, int edges, int readings);

[[nodiscard]] Answer plan_answer(const Plan& plan);

}  // namespace arris
