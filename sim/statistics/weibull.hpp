// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/laws/field.hpp"
#include "sim/statistics/mean_squares.hpp"

/// Lives of which some are known to lie between two times, and some to be longer than they were watched.
///
/// A Weibull distribution takes such lives for what they are. Covariates stretch it: they move log η and leave β alone,
///
///     S(t) = exp(−(t/η_i)^β),   log η_i = log η + Σ_j γ_j·x_ij
///     log L = Σ log f(t) of exact lives + Σ log( S(low) − S(high) ) of the others, S(∞) = 0
///
/// | symbol | C++       | meaning                                                                | unit     |
/// |--------|-----------|------------------------------------------------------------------------|----------|
/// | η      | `scale`   | life that 63 % have ended by where all covariates are 0                | of lives |
/// | β      | `shape`   | 1: they end at any time alike; large: all at about one time            | 1        |
/// | γ      | `effects` | what one unit of a covariate adds to the log of a life                 | 1/unit   |
/// | x      |           | covariates, n × k; 0 and 1 for two groups: then e^γ is the ratio of lives | any   |
///
/// With z = β·log t − b·(1, x) log L is concave in (β, b), so there is one top; and each of log η, log β and γ_j is held fast by a
/// linear restriction of (β, b), so there is one top of what is left too: intervals are those of the likelihood ratio,
///
///     W = 2·(log L(top) − log L(best with θ held)) ≤ χ²(1)
///
/// Of few lives that allows too little: of 4 in each of two groups an interval of 90 % holds the truth 8 times in 10. What is
/// allowed is therefore that which is exact where logs of lives are normal,
///
///     W ≤ m·log(1 + F(1, ν)/ν),   ν = m − 1 − k
///
/// for m lives that have ended and k covariates, and tends to χ²(1). For Weibull's an estimate; the coverage is tested.
///
/// The product-limit estimate takes nothing for granted but needs a life to be a number.
/// Source: Weibull 1951; Kaplan & Meier 1958; Burridge 1981 for the concavity; Lawless, Statistical Models and Methods for
/// Lifetime Data, for the regression (from memory).
namespace arris {

/// Between `low` and `high`: the same where it is known exactly, `high` infinite where it had not ended yet.
struct ObservedLife {
  double low = 0.0, high = 0.0;
  int    count = 1;
};

struct WeibullFit {
  bool            usable = false;  ///< false: no life has ended, all at one time, or an effect has no end
  double          scale = not_given, shape = not_given;
  Eigen::VectorXd effects;  ///< γ, k
  double          log_likelihood = not_given;
  Eigen::MatrixXd covariance;  ///< of log η, log β and γ, (2 + k)², by the observed information

  double dof = not_given;  ///< ν

  /// Life that a share `p` (0 … 1) have ended by, covariates 0, and its 90 % interval (delta method, on the log; Student's t of ν). Its
  /// ends are NaN where ν is not above 0.
  struct Quantile {
    double value, low, high;
  };
  [[nodiscard]] Quantile quantile(double p) const;
};

/// `covariates` has a row for each life, or none. Throws std::invalid_argument for a life that is no interval (low < 0, high < low,
/// not a number), or rows that do not match.
[[nodiscard]] WeibullFit fit_weibull(const std::vector<ObservedLife>& lives,
                                     const Eigen::MatrixXd&           covariates = {});

/// What W an interval allows that holds the truth with probability `confidence`; NaN where ν is not above 0.
[[nodiscard]] double weibull_rise(const std::vector<ObservedLife>& lives, const Eigen::MatrixXd& covariates,
                                  double confidence = 0.90);

/// Interval of one of log η, log β, γ_1 … (`which` = 0, 1, 2 …), in which W ≤ `rise`; an end is infinite where there is none.
/// NaN where `fit`, which is that of the same lives, is not usable, or `rise` is NaN.
[[nodiscard]] Interval weibull_interval(const std::vector<ObservedLife>& lives,
                                        const Eigen::MatrixXd& covariates, const WeibullFit& fit, int which,
                                        double rise);

/// W of "γ_j is 0"; NaN where `fit` is not usable, or without the effect lives have no top.
[[nodiscard]] double weibull_rise_without(const std::vector<ObservedLife>& lives,
                                          const Eigen::MatrixXd& covariates, const WeibullFit& fit, int j);

/// Probability value of such a W: the inverse of `weibull_rise`. NaN where W is, or ν is not above 0.
[[nodiscard]] double weibull_p(const std::vector<ObservedLife>& lives, const Eigen::MatrixXd& covariates,
                               double rise);

/// A step of the product-limit estimate: the share still good after `time`.
struct Surviving {
  double time, share;
};

/// Steps at the times at which some have ended. `at` are the ends, or how long each was watched; `ended` says which.
[[nodiscard]] std::vector<Surviving> product_limit(const std::vector<double>& at,
                                                   const std::vector<bool>&   ended);

/// Time by which half have ended, by the product-limit estimate; infinite where fewer than half have.
[[nodiscard]] double product_limit_median(const std::vector<double>& at, const std::vector<bool>& ended);

}  // namespace arris
