// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <functional>
#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/campaign_model.hpp"
#include "sim/statistics/least_squares.hpp"

/// Tunes the free parameters of a model to a campaign's readings.
///
///     log p(θ, η, σ | y) = Σ log p(y_i | f_i(θ, η), σ) − ½·Σ u² − ½·Σ (η/σ_k)² − ½·|C·η|² − ½·log|K| + log p(σ)
///
/// For given standard deviations σ of readings, edges, operators and lots, parameters and effects are the mode of the
/// posterior, by Levenberg–Marquardt with exact derivatives. The standard deviations maximise the marginal likelihood, in
/// which parameters and effects are integrated out by Laplace's approximation about that mode (K is the information
/// matrix, prior included, on the scale of the prior); its slopes are held while they change. Both take turns until
/// neither moves. Parameters stay within their ranges; one that would gain beyond an end of its range rests there and is
/// held there while the rest is judged.
///
/// C·η is what operators, lots, days, woods or ways (of growth) have in common, each over `common_sd` or `common_growth_sd`: what all read too
/// high is the tester's own, what all grow too fast the law's, which have parameters for it, and a wrong law must not hide behind it.
///
/// Intervals allow for the standard deviations being estimated too: they take Student's t with the degrees of freedom that
/// stand behind the variance of each parameter (variance_components.hpp), few where that is mostly the scatter of few edges.
///
/// The prior of each σ is a half Student's t of 4 degrees of freedom on its scale (spread_scale), and what is sought is the mode of
/// log σ. Where readings tell nothing of a σ, that is the scale itself and never 0: one reading means "not known", not "no scatter".
/// Source: Lindstrom & Bates 1990; Tierney & Kadane 1986; Gelman 2006 for the half t; Chung, Rabe-Hesketh, Dorie, Gelman & Liu 2013
/// for the mode that keeps off 0 (all from memory).
namespace arris {

struct Spread {
  double reading  = 0.1;  ///< standard deviation of the log
  double edge     = 0.1;
  double person   = 0.03;
  double lot      = 0.03;
  double rate     = 0.0;
  double day      = 0.0;
  double way      = 0.0;
  double way_wear = 0.0;
  double wood     = 0.0;

  [[nodiscard]] double of(EffectKind kind) const;
  [[nodiscard]] bool   operator==(const Spread&) const = default;
};

/// The standard deviation of the effects of each kind, in the order of EffectKind.
inline constexpr std::array<double Spread::*, effect_kinds> effect_spreads{
    &Spread::edge, &Spread::person, &Spread::lot,      &Spread::rate,
    &Spread::day,  &Spread::way,    &Spread::way_wear, &Spread::wood};

[[nodiscard]] constexpr double Spread::*spread_of(EffectKind kind) {
  return effect_spreads[static_cast<std::size_t>(kind)];
}
inline double Spread::of(EffectKind kind) const { return this->*spread_of(kind); }

/// The standard deviations that a campaign has: of readings, then of the kinds of effects in it.
[[nodiscard]] std::vector<double Spread::*> spreads_in(const CampaignModel& model);

/// Scale of the prior of a standard deviation: 0.1 for readings, 0.2 for the apex of edges (about half of that on a reading), 0.15 for their
/// rates of wear, for ways of sharpening and for wear after them and in woods, 0.05 for operators, lots and days. Estimates: as tests of one instrument on equal edges come out, and wide enough for a few times that.
[[nodiscard]] double spread_scale(double Spread::*member);

/// Degrees of freedom of the half Student's t, and how many readings of one quantity it is worth near its scale: its curvature in
/// log σ there is that of so many degrees of freedom, ν/(ν + 1).
inline constexpr double spread_prior_dof   = 4.0;
inline constexpr double spread_prior_worth = spread_prior_dof / (spread_prior_dof + 1.0);

/// Information of the prior about the log of a standard deviation: that curvature, or what an earlier fit knew of it (earlier_fit.hpp).
[[nodiscard]] double spread_prior_information(const CampaignModel& model, double Spread::*member);

/// Of what is known of a standard deviation, the share that readings tell, those of an earlier fit too, where these ones tell `information` of
/// its log; the rest is assumed.
[[nodiscard]] double share_of_readings(const CampaignModel& model, double Spread::*member,
                                       double information);

/// The standard deviations that the configuration states, as those of logs.
[[nodiscard]] Spread stated_spread(const Scenario& scenario);
/// The same on the scale on which readings of a campaign scatter.
[[nodiscard]] Spread stated_spread(const CampaignModel& model);

/// One optimum.
struct FitPoint {
  bool            usable = false;
  std::string     failure;
  Eigen::VectorXd u;        ///< P
  Eigen::VectorXd effects;  ///< q
  std::vector<Eigen::Index>
         held;  ///< parameters at an end of their range that would gain beyond it, ascending
  Spread spread;
  double log_posterior = 0.0;  ///< Laplace marginal, constants included
  int    evaluations   = 0;
};

/// The information that readings hold about parameters and effects at a point.
struct Information {
  Eigen::VectorXd residuals;  ///< n, (f − y)/sd
  Eigen::VectorXd predicted;  ///< n, log
  Eigen::VectorXd sd;         ///< n, noise of each observation
  Eigen::MatrixXd
                  whitened;  ///< n × (P + kinds): slopes over noise, by u and by the effect of each kind over its standard deviation
  Eigen::MatrixXd data;  ///< P × P: information of the data about u, effects integrated out
  Eigen::MatrixXd
      covariance;  ///< P × P: of u, prior included, effects integrated out. Parameters that are held do not
                   ///< vary with the others; what stands on the diagonal for them is no more than a scale
  Eigen::VectorXd dof;          ///< P: degrees of freedom behind each variance; infinite where it is known
  Eigen::MatrixXd spread_data;  ///< information of the data about the logs of spreads_in, in their order
  Eigen::MatrixXd spread_covariance;  ///< of those logs, prior included
};

/// Whether effects of one kind are there.
struct EffectTest {
  EffectKind kind    = EffectKind::edge;
  int        members = 0;
  double p = not_given;  ///< probability value of "they do not differ"; NaN where there is one of them alone
  /// Of what is known of their standard deviation, the share that readings tell (share_of_readings).
  double from_readings = 0.0;
};

struct FitResult {
  FitPoint                best;
  std::vector<FitPoint>   starts;        ///< one per start, in order
  int                     agreeing = 0;  ///< starts that ended where the best did
  Information             information;
  std::vector<EffectTest> effect_tests;  ///< of the kinds in the model, in the order of EffectKind
  bool                    converged = false;
};

/// Log prior of the standard deviations, with the Jacobian of their logs when `log_scale`; its slopes by those logs go to `slope`
/// unless null, 0 for those of no effect.
[[nodiscard]] double log_spread_prior(const CampaignModel& model, const Spread& spread, bool log_scale,
                                      Spread* slope = nullptr);

/// Residuals of data and priors for given spread, as `least_squares` takes them; x holds u (P) and η/σ (q).
[[nodiscard]] bool posterior_residuals(const CampaignModel& model, const Spread& spread,
                                       const Eigen::VectorXd& x, Eigen::VectorXd& r,
                                       Eigen::MatrixXd* jacobian);

/// How far each observation is from a log prediction, and how likely that makes it.
struct Departures {
  Eigen::VectorXd residuals;       ///< n, (f − y)/sd
  Eigen::VectorXd sd;              ///< n, noise of the log
  Eigen::VectorXd log_likelihood;  ///< n, log density of the log of the measurement, constants included
};
[[nodiscard]] Departures departures(const CampaignModel& model, const Spread& spread,
                                    const Eigen::VectorXd& f);

/// The optimum reached from one start; standard deviations begin at `spread`, or at those of the scenario where it is null.
[[nodiscard]] FitPoint fit_from(const CampaignModel& model, const Eigen::VectorXd& start,
                                const Spread* spread = nullptr);

/// The optimum near that of another campaign with the same parameters, most of whose readings it has: parameters, standard deviations and the
/// effects that both have begin there, and it ends once no standard deviation moves by 1 %. For densities that are compared: they are off by
/// some thousandths.
[[nodiscard]] FitPoint refit(const CampaignModel& model, const CampaignModel& other, const FitPoint& there);

/// The best of `settings.starts` starts: the priors' medians first, then draws from the priors by `settings.seed`.
/// `threads` does not change a bit of it. `progress(done, all)` may be empty. Throws Error (Exit::data, "equal-readings") where there
/// are three readings or more, of two moments or more, and all are equal.
[[nodiscard]] FitResult fit(const CampaignModel& model, int threads = 0,
                            const std::function<void(std::size_t, std::size_t)>& progress = {});
/// As `fit`, without the tests of effects, for those who tell nobody of them.
[[nodiscard]] FitResult fit_untested(const CampaignModel& model, int threads = 0,
                                     const std::function<void(std::size_t, std::size_t)>& progress = {});

/// Degrees of freedom behind the variances of combinations of u (columns of `directions`, P × m).
[[nodiscard]] Eigen::VectorXd degrees_of_freedom(const CampaignModel& model, const FitPoint& point,
                                                 const Information&     information,
                                                 const Eigen::MatrixXd& directions);

/// By how many standard deviations a central 90 % interval reaches to either side, for so many degrees of freedom.
[[nodiscard]] double reach_90(double dof);

/// Bounds of u and of η/σ, as `least_squares` takes them.
void set_bounds(const CampaignModel& model, LeastSquaresOptions& options);

[[nodiscard]] Information information_at(const CampaignModel& model, const FitPoint& point);

}  // namespace arris
