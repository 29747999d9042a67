// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/diagnostic.hpp"
#include "sim/simulate/simulate.hpp"

/// Readings taken on a tester, and how they compare with what the model says.
namespace arris {

/// Standard deviation of a loss of mass that comes without one: two weighings on a balance that reads 0.1 mg, each good to
/// that. Common practice, no source.
inline constexpr double unstated_mass_loss_sd_mg = 0.14;

struct Reading {
  int         edge = -1;    ///< index into Scenario::edges
  Moment      moment;       ///< when it was taken
  std::string moment_name;  ///< as the readings file has it: name of a read step, or "N passes"
  double      reading_N      = not_given;  ///< of a specimen: wear in µm
  double      reading_cv     = not_given;  ///< known scatter of this reading; NaN: that of all
  double      apex_radius_um = not_given;  ///< under a microscope
  double      apex_radius_sd_um =
      not_given;  ///< its uncertainty, one standard deviation; NaN: that of all, as of a reading
  double      recession_um    = not_given;  ///< ideal apex to tip
  double      recession_sd_um = not_given;
  double      mass_loss_mg    = not_given;  ///< lost by the blade since its history began
  double      mass_loss_sd_mg = not_given;  ///< NaN: unstated_mass_loss_sd_mg
  double      reading_sd      = not_given;  ///< of a specimen: its uncertainty, µm; NaN: that of all
  bool        is_below  = false;  ///< of a specimen: there is less wear than that, below what can be seen
  int         replicate = 1;
  std::string operator_name;
  std::string filament_lot;
  std::string date;      ///< YYYY-MM-DD; empty where none is stated
  std::string test_day;  ///< any name of the day; its date where none is stated; may be empty
  std::string note;
  std::string excluded;  ///< reason; empty: it counts
  int         line = 0;  ///< in the readings file
};

/// Readings of one edge at one moment, beside the model's.
struct ComparedMoment {
  std::string edge;
  std::string moment;
  int         count       = 0;  ///< readings that count
  int         excluded    = 0;
  double      measured_N  = not_given;  ///< geometric mean; of wear with additive noise the mean
  double      spread_cv   = not_given;  ///< between the readings of this moment; NaN for a single one
  double      predicted_N = not_given;
  double      ratio       = not_given;  ///< measured over predicted
  double      in_sd       = not_given;  ///< log ratio over the scatter that the configuration states
};

/// What else can be measured of an edge.
enum class Measured { apex_radius, recession, mass_loss };

/// "apex radius", "recession", "mass loss", and the unit's symbol.
[[nodiscard]] const char* name_of(Measured kind);
[[nodiscard]] const char* unit_of(Measured kind);

/// Radii and recessions under a microscope, or losses of mass on a balance, of one edge at one moment, beside the model's.
struct ComparedMeasure {
  Measured    kind = Measured::apex_radius;
  std::string edge;
  std::string moment;
  int         count = 0;          ///< measurements that count
  double measured   = not_given;  ///< µm or mg: geometric mean, each with the weight of its own uncertainty
  double predicted  = not_given;
  double ratio      = not_given;  ///< measured over predicted
  double in_sd = not_given;  ///< log ratio over its uncertainty and, for lengths, the stated scatter of edges
};

struct Comparison {
  std::optional<WearUnits>
      wear;  ///< of specimens: how their wear is told, which stands where readings do, in µm
  std::vector<ComparedMoment>  moments;
  std::vector<ComparedMeasure> measures;  ///< where there are any; they do not enter the figures below
  int                          readings      = 0;
  int                          excluded      = 0;
  double                       mean_ratio    = not_given;  ///< geometric mean of measured over predicted
  double                       typical_error = not_given;  ///< root mean square of log(measured/predicted)
  int                          beyond_2sd    = 0;
  std::vector<std::string>     failed;  ///< sentences for edges whose prediction failed
};

/// Sets each group of readings (same edge, same moment) beside the prediction.
[[nodiscard]] Comparison compare_with_readings(const Scenario& scenario, const std::vector<Reading>& readings,
                                               int threads = 0);

/// Invents readings for every read step of every edge: the model's reading, with edge, rate, operator, lot and reading
/// scatter as `scatter` states, drawn from `seed` (same seed, same readings, on any machine). Operators and lots take
/// turns; they are named after `operators` and `lots`.
[[nodiscard]] std::vector<Reading> invent_readings(const Scenario& scenario, unsigned long long seed,
                                                   const std::vector<std::string>& operators,
                                                   const std::vector<std::string>& lots, int threads = 0);

/// Finds the step named `name` of an edge by its read steps; returns −1 if there is none.
[[nodiscard]] int read_step(const EdgePlan& plan, const std::string& name);

/// Whether anything is taken off an edge before a moment: whether there can be a loss of mass to weigh.
[[nodiscard]] bool loses_steel_before(const EdgePlan& plan, const Moment& moment);

/// When the wear that is seen at a moment began: the start of the cuts since the edge was last sharpened. Step −1 where it has
/// not cut since then.
[[nodiscard]] Moment start_of_wear(const EdgePlan& plan, const Moment& moment);

/// An apex of an edge with luck in its rate of wear: what it has grown since `fresh`, its size when the wear began, is `factor`
/// times as much. One that has not grown stays as it is.
template <class T>
[[nodiscard]] T worn_with_luck(const T& fresh, const T& now, double factor) {
  return now > fresh ? T(fresh + factor * (now - fresh)) : now;
}

/// The moment after `passes` cumulative passes of an edge; step −1 when it never makes so many.
[[nodiscard]] Moment moment_after_passes(const EdgePlan& plan, double passes);

}  // namespace arris
