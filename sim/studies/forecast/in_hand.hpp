// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/fit/fit_settings.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/studies/forecast/forecast.hpp"

/// How long an edge goes on that has been read: the edge in hand, not the next one of its kind.
///
/// Of each member the luck of this edge, factors on its apex and on its rate of wear, is drawn from what the readings of all edges leave open,
/// together with who read them and with what (marginal.hpp): the normal distribution about the mode of all effects. The edge
/// then goes on in its wood from where it was last read. A reading that it shows is that times the scatter of a single reading,
/// by an operator and with a lot that may be others.
/// Source: the conditional distribution of random effects (Laird & Ware 1982, from memory).
namespace arris {

/// What ends the life of an edge, and in what it is told.
enum class EndBy { reading, radius, recession };

struct HandSettings {
  ForecastSettings life;  ///< `limit_N` counts where the end is a reading
  EndBy            end      = EndBy::reading;
  double           limit_um = not_given;  ///< of the radius, or of the recession from the ideal apex
  FitSettings      fit;                   ///< how readings scatter, as in the fit
};

struct HandForecast {
  HandSettings             settings;
  std::string              edge, wood;
  int                      readings = 0;  ///< of this edge since it began
  double                   pass_m   = 0.0;
  double                   now      = 0.0;  ///< passes since it was sharpened, when it was last read
  Band                     luck;            ///< factor on its apex
  Band                     next_N;          ///< its next reading, were it taken now
  Band                     left;            ///< passes left; 0: it is past the limit
  std::vector<double>      at;              ///< passes since it was sharpened
  std::vector<Band>        curve_N;         ///< without the scatter of a reading
  std::vector<LawForecast> laws;            ///< passes left under each; empty where all members have one law
  std::size_t              members = 0;
};

/// Forecast of `edge`, an index into Scenario::edges. Throws Error: (Exit::data) "no-readings" where this edge was never read,
/// (Exit::usage) "no-cut" where no cut follows its sharpening, (Exit::integration) "no-member" when no member can be run.
[[nodiscard]] HandForecast forecast_in_hand(const Scenario& scenario, const Ensemble& ensemble,
                                            std::size_t edge, const std::vector<Reading>& readings,
                                            const HandSettings& settings);

/// What readings of an edge in hand are at later moments of its plan, by member and moment; members whose history fails are left out.
struct HandReadings {
  double          now      = 0.0;  ///< passes since it was sharpened, when it was last read
  int             readings = 0;    ///< of this edge since it began
  Eigen::MatrixXd log_N;  ///< members × moments: log of the reading, without the scatter of a single one
  std::vector<double>
      noise;  ///< by member: standard deviation of the log of a single reading by the same operator, lot and day
  std::vector<double> who;     ///< by member: what another operator, lot and day add to it
  std::vector<double> chance;  ///< by member: how far its reading is off, in standard deviations

  /// Standard deviation of the log of a reading; `known_sd` is that of its own noise, 0 where it states none.
  [[nodiscard]] double sd(std::size_t member, double known_sd) const;
  /// Where so many of such readings lie, N.
  [[nodiscard]] Band band(Eigen::Index moment, double share, double known_sd) const;
  /// Log of the mean density over members of a reading, of its log.
  [[nodiscard]] double log_density(Eigen::Index moment, double log_reading, double known_sd) const;
};

/// What `edge` will read at `moments` of its own plan (ascending, in wood, after the last of its `readings` and before it is sharpened again): the
/// forecast of forecast_in_hand, which goes on by the plan instead of for ever in one wood. The limit of the settings does not
/// matter. Throws as forecast_in_hand.
[[nodiscard]] HandReadings readings_ahead(const Scenario& scenario, const Ensemble& ensemble,
                                          std::size_t edge, const std::vector<Reading>& readings,
                                          const std::vector<Moment>& moments, const HandSettings& settings);

/// The readings of `edge` since it was last sharpened before the last of them: those that a forecast of it in hand goes on from.
[[nodiscard]] std::vector<Reading> readings_in_hand(const Scenario& scenario, std::size_t edge,
                                                    const std::vector<Reading>& readings);

[[nodiscard]] Answer hand_answer(const HandForecast& forecast, const Ensemble& ensemble);

}  // namespace arris
