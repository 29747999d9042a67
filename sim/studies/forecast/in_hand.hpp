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

/// The readings of `edge` since it was last sharpened before the last of them: those that a forecast of it in hand goes on from.
[[nodiscard]] std::vector<Reading> readings_in_hand(const Scenario& scenario, std::size_t edge,
                                                    const std::vector<Reading>& readings);

[[nodiscard]] Answer hand_answer(const HandForecast& forecast, const Ensemble& ensemble);

}  // namespace arris
