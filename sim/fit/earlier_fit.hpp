// SPDX-License-Identifier: MIT
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit.hpp"
#include "sim/fit/free_parameters.hpp"

/// A fit of an earlier campaign as the prior of a new one: `[fit] from`.
///
/// Under each wear law the earlier posterior is taken for normal about its mode, on the scale of its priors: u ~ N(û, C), effects integrated
/// out. Of the k parameters that both fits have, all else integrated out, the new fit has the prior
///
///     t(value) ~ N( t(value at û), D·R·D ),   D = diag(sd of t),   R their correlation
///
/// in the form that rules of thumb have too (rules_of_thumb.hpp): each parameter alone is given a prior about its earlier value, √λ times as
/// wide as what was known, λ the largest eigenvalue of R, and all together the density exp( −½·|W·u|² ) beside it,
///
///     Wᵀ·W = λ·R⁻¹ − 1
///
/// which is not negative, so that both make λ·R⁻¹ on the new scale: what was known. The log of each standard deviation that both have is
/// N(its earlier value, its earlier variance), in the place of the half t.
///
/// Not carried over: effects of single edges, operators, lots, days, ways and woods, which are drawn anew; weights of wear laws; how few
/// degrees of freedom were behind a variance. One that rested at an end of its range begins from its own prior.
/// Source: Bayes' rule with Laplace's approximation; exact where predictions are linear in u and noise is normal.
namespace arris {

struct FitReport;
struct LawFit;

/// The posterior under one wear law.
struct EarlierLaw {
  std::string              name;
  std::string              wear_law;                   ///< wear_law_text
  std::vector<std::string> paths;                      ///< P parameters
  std::vector<Prior>       priors;                     ///< theirs
  Eigen::VectorXd          u;                          ///< P, on the scale of these priors
  Eigen::MatrixXd          covariance;                 ///< P × P
  std::vector<double>      at_end;                     ///< P: 1 for one that rests at an end of its range
  std::vector<std::string> spreads;                    ///< spread_names of the campaign
  std::vector<double>      log_spread, log_spread_sd;  ///< their logs, and the standard deviations of these
  double typical_um = 0.0;  ///< where noise is additive, what the spread of readings is a share of; else 0
};

struct EarlierReading {
  std::string edge, moment, kind;  ///< kind_name
  double      measured = 0.0;      ///< N, µm or mg
};

struct EarlierFit {
  std::string                 source;  ///< what messages call it: the file
  std::string                 sha1;    ///< of the file; may be empty
  std::vector<EarlierLaw>     laws;
  Given                       given;  ///< what it held fixed
  int                         edges = 0;
  std::vector<EarlierReading> readings;
  std::vector<std::string>    anew;  ///< what was taken out of it (without_known)
};

/// "log-normal", "logit-normal" or "normal", as files have it; the shape of that name. Throws Error (Exit::data, "not-a-fit").
[[nodiscard]] const char* shape_name(PriorShape shape);
[[nodiscard]] PriorShape  prior_shape_of(const std::string& name);

/// Throws Error (Exit::data, "not-a-fit") where the sizes of what was read do not go together, or a number is none.
void check_sizes(const EarlierLaw& law);

/// What a fit knows afterwards, by law: of all that could be fitted, or of the one that was.
[[nodiscard]] std::vector<EarlierLaw> posteriors_of(const FitReport& report);

/// The earlier fit without what it knows of the parameters that `anew` names, all else as it was: what another tester or other strops leave
/// of it. A name is a path ("tester.slope_N_per_um"), a table ("tester", "medium.soft waterstone, JIS #1000") or a standard deviation ("sd of
/// readings"). Values of theirs that it held fixed may differ then, too.
/// Throws Error (Exit::data, "unknown-parameter") where the fit has nothing of a name.
[[nodiscard]] EarlierFit without_known(EarlierFit earlier, const std::vector<std::string>& anew);

/// The posterior under the wear law of a model; nullptr where the earlier fit has none.
[[nodiscard]] const EarlierLaw* law_of(const EarlierFit& earlier, const Model<double>& model);

/// Names of the laws that a campaign can have under which an earlier fit knows something; all of them where there is none, which check_earlier
/// refuses.
[[nodiscard]] std::vector<std::string> laws_of_both(const Scenario& scenario, const EarlierFit& earlier);

/// Gives the parameters that the earlier fit knows under the law of `model` their priors. Nothing where `earlier` is null or has no such law.
void begin_from(const EarlierFit* earlier, const Model<double>& model,
                std::vector<FreeParameter>& parameters);

/// Whether a parameter has its prior from an earlier fit.
[[nodiscard]] bool is_from_earlier(const FreeParameter& parameter);

/// W (k × P) of those of the parameters that begin_from gave their priors; without rows where there are none.
[[nodiscard]] Eigen::MatrixXd earlier_rules(const EarlierFit& earlier, const Model<double>& model,
                                            const std::vector<FreeParameter>& parameters);

/// Mean and standard deviation of the log of a standard deviation, by the fit that a model begins from; nothing where there is none, or it did
/// not tell, as where noise was by per cent then and is by micrometres now.
[[nodiscard]] std::optional<std::pair<double, double>> earlier_spread(const CampaignModel& model,
                                                                      double Spread::*member);

/// Standard deviation of each u (P) before any reading: 1, or what begin_from and rules leave of that where there is an earlier fit.
[[nodiscard]] Eigen::VectorXd known_sd(const CampaignModel& model);

/// `laws`: those that are to be fitted; empty: that of the scenario. Throws Error (Exit::data): "another-campaign" where the earlier fit does not have them, or held other values fixed than
/// the scenario has for the same numbers; "read-twice" where most readings of an edge are among its own: they would count twice.
void check_earlier(const EarlierFit& earlier, const Scenario& scenario, const FitSettings& settings,
                   const std::vector<std::string>& laws, const std::vector<Reading>& readings);

/// What both fits have in common and what not, for people; empty where there is no earlier fit.
[[nodiscard]] std::vector<std::string> earlier_sentences(const CampaignModel& model);

}  // namespace arris
