// SPDX-License-Identifier: MIT
#include "sim/fit/marginal.hpp"

#include <algorithm>
#include <cmath>

#include "sim/fit/effect_modes.hpp"
#include "sim/fit/noise.hpp"
#include "sim/numbers.hpp"
#include "sim/parallel.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

double log_priors(const CampaignModel& model, const Eigen::VectorXd& u, const Spread& spread,
                  bool log_scale) {
  return log_spread_prior(model, spread, log_scale) - 0.5 * u.squaredNorm() -
         0.5 * (model.rules() * u).squaredNorm();
}

}  // namespace

double log_likelihood(const CampaignModel& model, const Eigen::VectorXd& u, const Spread& spread,
                      Eigen::VectorXd& effects) {
  return EffectModes(model).log_likelihood(model.apex(u, false), spread, effects);
}

namespace {

// max of Σ log p(y | off + A·z) − ½·z² − ½·(T·z)², less ½·log|K| there: the integral over standard normal z by Laplace
double log_integral(const CampaignModel& model, const Eigen::VectorXd& off, const Eigen::MatrixXd& a,
                    const Eigen::VectorXd& sd, const Eigen::MatrixXd& ties) {
  const auto n = off.size(), m = a.cols();
  const auto value = [&](const Eigen::VectorXd& z) {
    const Eigen::VectorXd e   = (off + a * z).cwiseQuotient(sd);
    double                sum = -0.5 * z.squaredNorm() - 0.5 * (ties * z).squaredNorm();
    for (Eigen::Index i = 0; i < n; ++i) sum += log_noise(model, i, e[i], sd[i]);
    return sum;
  };
  const Eigen::MatrixXd prior = Eigen::MatrixXd::Identity(m, m) + ties.transpose() * ties;
  Eigen::VectorXd       z     = Eigen::VectorXd::Zero(m), r(n);
  Eigen::MatrixXd       k, j(n, m);
  double                at_mode = value(z);
  for (int round = 0; round < 100; ++round) {
    const Eigen::VectorXd e = (off + a * z).cwiseQuotient(sd);
    for (Eigen::Index i = 0; i < n; ++i) {
      const Robust robust_i = robust(model, i, e[i]);
      r[i]                  = robust_i.residual;
      j.row(i)              = robust_i.slope / sd[i] * a.row(i);
    }
    k                    = j.transpose() * j + prior;
    Eigen::VectorXd step = Cholesky(k).solve(Eigen::VectorXd(-(j.transpose() * r + prior * z)));
    if (step.cwiseAbs().maxCoeff() < 1e-7) break;
    double next = value(z + step);  // student-t noise bends: a full step may overshoot
    for (int halving = 0; halving < 20 && next < at_mode; ++halving) {
      step *= 0.5;
      next = value(z + step);
    }
    if (next < at_mode) break;
    z += step;
    at_mode = next;
  }
  return at_mode - 0.5 * Cholesky(k).log_determinant();
}

}  // namespace

double log_predictive(const CampaignModel& model, const FitPoint& fit, const Eigen::MatrixXd& covariance) {
  const auto P = model.parameter_count(), q = model.effect_count();
  const auto apex = model.apex(fit.u, true);
  if (!apex.usable) return -infinity;
  Eigen::VectorXd f;
  Eigen::MatrixXd by_parameter, by_effect;
  model.observe(apex, Eigen::VectorXd::Zero(q), f, &by_parameter, &by_effect);
  Eigen::MatrixXd a(f.size(), P + q);
  a.leftCols(P)        = by_parameter * Cholesky(covariance).lower();
  a.rightCols(q)       = by_effect * effect_sd(model, fit.spread).asDiagonal();
  Eigen::MatrixXd ties = Eigen::MatrixXd::Zero(model.centring().rows(), P + q);
  ties.rightCols(q)    = model.centring() * effect_sd(model, fit.spread).asDiagonal();
  return log_integral(model, f - model.measured(), a, noise_sd(model, fit.spread), ties);
}

double log_marginal(const CampaignModel& model, const Eigen::VectorXd& u, const Spread& spread,
                    Eigen::VectorXd& effects, bool log_scale) {
  return log_likelihood(model, u, spread, effects) + log_priors(model, u, spread, log_scale);
}

Eigen::VectorXd log_marginals(const CampaignModel& model, const Eigen::MatrixXd& u,
                              const std::vector<Spread>& spreads, const Eigen::VectorXd& effects,
                              bool log_scale, int threads) {
  const EffectModes      modes(model);
  constexpr Eigen::Index together = 8;  // a register's worth even where a campaign is a single edge
  Eigen::VectorXd        out(u.cols());
  const auto             tasks = static_cast<std::size_t>((u.cols() + together - 1) / together);
  for_each_index(tasks, threads, [&](std::size_t task) {
    const auto            first = static_cast<Eigen::Index>(task) * together;
    const Eigen::MatrixXd here  = u.middleCols(first, std::min(together, u.cols() - first));
    const auto            apex  = model.apexes(here);
    for (Eigen::Index c = 0; c < here.cols(); ++c) {
      const Spread&   spread = spreads[static_cast<std::size_t>(first + c)];
      Eigen::VectorXd mode   = effects;
      out[first + c]         = modes.log_likelihood(apex[static_cast<std::size_t>(c)], spread, mode) +
                       log_priors(model, here.col(c), spread, log_scale);
    }
  });
  return out;
}

}  // namespace arris
