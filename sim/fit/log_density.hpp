// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit_report.hpp"

/// The posterior density of a campaign as a plain function of a vector, for samplers and optimisers of other programs.
///
///     x = ( u, log σ, z ),   η = σ_k·z
///
///     log p(x) = Σ log p(y_i | f_i(u, η), σ) − ½·Σ u² − ½·Σ (z² + log 2π) − ½·|C·η|² + log p(log σ) + const.
///
/// u: P parameters on the scale on which each prior is a standard normal (free_parameters.hpp); log σ: S logs of the standard
/// deviations of readings, edges, operators, lots, rates of wear and test days, as far as the campaign has them; z: q effects over their standard deviation.
/// The slopes are exact: derivatives of whole histories. The marginal, of (u, log σ) alone, has the effects integrated out by
/// Laplace's approximation (log_marginal of marginal.hpp); it is what `arris fit --draws` samples, and has no exact slopes.
///
/// Outside the range of a parameter, and where a history fails, the density is −∞ and the slopes are 0.
/// Example: LogPosterior density(model); density.at(density.start(), &slopes);
namespace arris {

class LogPosterior {
 public:
  explicit LogPosterior(const CampaignModel& model);

  /// Names of the entries of x: paths of parameters; "sd of readings" …; "edge A1", "operator K", "rate of wear A1" ….
  [[nodiscard]] const std::vector<std::string>& names() const { return names_; }
  [[nodiscard]] Eigen::Index                    size() const { return P_ + S_ + q_; }
  [[nodiscard]] Eigen::Index                    marginal_size() const { return P_ + S_; }

  /// log p(x); its slopes go to `slope` (size()) unless null. x has size() entries.
  [[nodiscard]] double at(const Eigen::VectorXd& x, Eigen::VectorXd* slope) const;
  /// The marginal at the first marginal_size() entries.
  [[nodiscard]] double marginal_at(const Eigen::VectorXd& x) const;
  /// The same at each column of x (marginal_size() × n), on up to `threads` threads (0: all cores), to the same bits.
  [[nodiscard]] Eigen::VectorXd marginals_at(const Eigen::MatrixXd& x, int threads = 0) const;

  /// The part of log p(x) that no reading has a part in; that of the readings is the sum of Observed::log_likelihood, up to a constant.
  [[nodiscard]] double log_prior(const Eigen::VectorXd& x) const;
  /// Rows of rules of thumb that tie the parameters (rules × P); their sum of squares is in the prior.
  [[nodiscard]] const Eigen::MatrixXd& rules() const { return model_.rules(); }
  /// Rows that keep the means of operators, of lots and of days near 1 (rows × q, of logs of effects); their sum of squares is in the
  /// prior too.
  [[nodiscard]] const Eigen::MatrixXd& centring() const { return model_.centring(); }

  /// What each of n observations is to be at x, and how far it is from that.
  struct Observed {
    bool            usable = false;  ///< false: x is out of a range, or a history fails; then the rest is NaN
    Eigen::VectorXd predicted;       ///< logs, of N, µm or mg
    Eigen::VectorXd residuals;       ///< (predicted − measured)/sd of the logs
    Eigen::VectorXd log_likelihood;  ///< log density of the log of each measurement, constants included
    Eigen::MatrixXd predicted_slopes;  ///< n × size(), by x; empty unless asked for, as the next
    Eigen::MatrixXd residual_slopes;
  };
  [[nodiscard]] Observed observed(const Eigen::VectorXd& x, bool with_slopes) const;

  /// x on the scales that people use: values of parameters in their units, standard deviations, effects as factors. And back.
  [[nodiscard]] Eigen::VectorXd natural(const Eigen::VectorXd& x) const;
  [[nodiscard]] Eigen::VectorXd scaled(const Eigen::VectorXd& values) const;
  /// Where a search may begin: the priors' medians, the scatter that the configuration states (or the scale of
  /// its prior where that is none), no effects.
  [[nodiscard]] Eigen::VectorXd start() const;

 private:
  [[nodiscard]] bool            is_possible(const Eigen::VectorXd& x) const;
  [[nodiscard]] Spread          spread_at(const Eigen::VectorXd& x) const;
  [[nodiscard]] double          effect_sd(const Spread& spread, Eigen::Index j) const;
  [[nodiscard]] Eigen::VectorXd effects_at(const Eigen::VectorXd& x) const;

  const CampaignModel&          model_;
  Eigen::Index                  P_, S_, q_;
  std::vector<std::string>      names_;
  std::vector<double Spread::*> spreads_;      ///< S
  Eigen::Index                  unknown_ = 0;  ///< observations whose scatter is that of readings
};

}  // namespace arris
