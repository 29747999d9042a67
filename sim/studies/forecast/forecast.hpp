// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "sim/fit/ensemble.hpp"
#include "sim/simulate/life.hpp"
#include "sim/studies/answer.hpp"
#include "sim/studies/forecast/law_forecasts.hpp"
#include "sim/studies/measured_lives.hpp"
#include "sim/studies/workshop.hpp"

/// How long an edge lasts: passes until its reading crosses a limit, for every member of an ensemble.
///
/// An edge is sharpened by its steps up to its first cut, and then cuts on in that wood. Of each member
///
///     F(x; η, ρ) = F( e^η·( r(0) + e^ρ·(r(x) − r(0)) ), e^η·b(x) ),    N(η, ρ) = passes_to_limit of F (life.hpp)
///
/// is worked out for the mean edge, η = ρ = 0, and for one *next* edge, η ~ N(0, σ_edge²) and ρ ~ N(0, σ_rate²), the luck of its apex
/// and of its rate of wear; both σ are those of the member. The values
/// of the mean edge are those of the scenario itself, so that they are what a simulation shows; the members make the bands. Where members
/// have several wear laws, no one scenario stands for them: the values are medians of the members, and each law is told apart too. r(x) is interpolated by monotone cubics between points of the integration.
/// Where edges were read and the laws missed, readings are those of the laws times e^δ, δ drawn for each member (discrepancy.hpp); luck acts on
/// the radius that reads so (missed_wear.hpp).
/// Source: the model's own laws; the predictive distribution of a mixed model. Edges that outlast the passes simulated are
/// kept as such: quantiles among them say "more than".
namespace arris {

struct ForecastSettings {
  double             limit_N = not_given;  ///< reading that ends the life
  std::string        limit_name;           ///< the task it stands for, or where it was stated
  double             passes  = 5000.0;     ///< as far as is looked
  double             share   = 0.9;        ///< of edges, or of probability, within the bands
  unsigned long long seed    = 1;          ///< of the next edges
  int                threads = 0;
};

/// Lower end, middle and upper end. The middle is the value of the scenario itself where it can be had, else the median;
/// infinity stands for "beyond the passes simulated".
struct Band {
  double low = not_given, middle = not_given, high = not_given;
};

struct EdgeForecast {
  EdgePlan    plan;  ///< up to its first cut, which goes on
  std::string edge, tool, route, wood;
  double      pass_m = 0.0;
  Band        fresh_N;         ///< reading at the first pass
  Band        settled_N;       ///< lowest reading
  Band        settled_after;   ///< passes at which it is lowest
  Band        mean_passes;     ///< life of the mean edge; the band is what is not known of the parameters
  Band        next_passes;     ///< life of the next edge, edge-to-edge variation included
  double      exceeded = 0.0;  ///< share of next edges that never come below the limit
  std::vector<double>
      task_passes;              ///< life of the mean edge (middle) by limit of the workshop, in their order
  std::vector<double>      at;  ///< passes of the curve
  std::vector<Band>        mean_N, next_N;
  std::vector<LawForecast> laws;  ///< heaviest first; empty where all members have one law
  std::vector<double> member_fresh_N, member_passes;  ///< of the mean edge, by member; NaN where it failed
  int                 failed = 0;                     ///< members whose history could not be integrated
  std::string         failure;                        ///< of the first of them
};

struct Forecast {
  ForecastSettings          settings;
  std::vector<EdgeForecast> edges;  ///< those that cut
  std::size_t               members = 0;
};

/// Forecast of the given edges (indices into Scenario::edges); those without a cut are left out. `scenario` holds the values that the
/// forecast is about (at_best). Throws Error (Exit::usage, "no-cut") when none cuts, (Exit::integration) "no-history" when the history of
/// an edge cannot be run at these values, "no-member" when every member of an edge fails.
/// `progress(done, all)` may be empty. `known`, which may be null, is an earlier forecast of the same scenario, workshop, ensemble and
/// settings, but for the edges: those with which the same is done are taken from it, as one edge stands for others of the same plan.
[[nodiscard]] Forecast forecast(const Scenario& scenario, const Workshop& workshop, const Ensemble& ensemble,
                                const std::vector<std::size_t>& edges, const ForecastSettings& settings,
                                const std::function<void(std::size_t, std::size_t)>& progress = {},
                                const Forecast*                                      known    = nullptr);

/// `measured` are lives taken from readings, set beside the forecast where there are any.
[[nodiscard]] Answer forecast_answer(const Forecast& forecast, const Workshop& workshop,
                                     const Ensemble&                   ensemble,
                                     const std::vector<MeasuredLives>& measured = {});

}  // namespace arris
