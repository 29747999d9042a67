// SPDX-License-Identifier: MIT
#include "sim/fit/log_density.hpp"

#include <cmath>
#include <limits>

#include "sim/fit/marginal.hpp"
#include "sim/fit/noise.hpp"
#include "sim/numbers.hpp"

namespace arris {
namespace {

std::string name_of(const Effect& effect) { return name_of(effect.kind) + (" " + effect.name); }

}  // namespace

LogPosterior::LogPosterior(const CampaignModel& model)
    : model_(model),
      P_(model.parameter_count()),
      S_(static_cast<Eigen::Index>(spread_names(model).size())),
      q_(model.effect_count()) {
  for (const FreeParameter& p : model.parameters()) names_.push_back(p.path);
  for (const std::string& name : spread_names(model)) {
    names_.push_back(name);
    spreads_.push_back(spread_member(name));
  }
  for (const Effect& e : model.effects()) names_.push_back(name_of(e));
  for (const Observation& o : model.observations()) unknown_ += o.known_sd > 0.0 || o.is_below ? 0 : 1;
}

bool LogPosterior::is_possible(const Eigen::VectorXd& x) const {
  constexpr double farthest = 12.0;  // of a log of a standard deviation: beyond, it is nothing or everything
  return x.allFinite() && x.segment(P_, S_).cwiseAbs().maxCoeff() < farthest;
}

Spread LogPosterior::spread_at(const Eigen::VectorXd& x) const {
  Spread spread;
  for (Eigen::Index i = 0; i < S_; ++i) spread.*spreads_[static_cast<std::size_t>(i)] = std::exp(x[P_ + i]);
  return spread;
}

double LogPosterior::effect_sd(const Spread& spread, Eigen::Index j) const {
  return spread.of(model_.effects()[static_cast<std::size_t>(j)].kind);
}

Eigen::VectorXd LogPosterior::effects_at(const Eigen::VectorXd& x) const {
  const Spread    spread = spread_at(x);
  Eigen::VectorXd out(q_);
  for (Eigen::Index j = 0; j < q_; ++j) out[j] = x[P_ + S_ + j] * effect_sd(spread, j);
  return out;
}

double LogPosterior::at(const Eigen::VectorXd& x, Eigen::VectorXd* slope) const {
  const auto   n      = model_.size();
  const Spread spread = spread_at(x);
  if (slope != nullptr) slope->setZero(size());
  Eigen::VectorXd of_parameters_and_effects(P_ + q_);
  of_parameters_and_effects << x.head(P_), x.tail(q_);
  Eigen::VectorXd r;
  Eigen::MatrixXd jacobian;
  if (!is_possible(x) || !posterior_residuals(model_, spread, of_parameters_and_effects, r,
                                              slope != nullptr ? &jacobian : nullptr))
    return -infinity;
  Spread       prior_slope;
  const double known = log_spread_prior(model_, spread, true, &prior_slope);
  const double sum   = -0.5 * r.squaredNorm() - static_cast<double>(unknown_) * std::log(spread.reading) -
                     0.5 * static_cast<double>(q_) * std::log(2.0 * M_PI) + known;
  if (!std::isfinite(sum)) return -infinity;  // effects by which an edge would read no number
  if (slope == nullptr) return sum;

  const Eigen::VectorXd all = -jacobian.transpose() * r;
  // of the rows that an effect has a part in but for its own prior
  const Eigen::Index    rows    = r.size() - P_ - q_;
  const Eigen::VectorXd of_data = -jacobian.topRows(rows).transpose() * r.head(rows);
  slope->head(P_)               = all.head(P_);
  slope->tail(q_)               = all.tail(q_);
  for (Eigen::Index s = 0; s < S_; ++s) {
    double Spread::*member = spreads_[static_cast<std::size_t>(s)];
    double&         d      = (*slope)[P_ + s];
    d                      = prior_slope.*member;
    if (member == &Spread::reading) {
      const bool   robust = model_.settings().noise == "student-t";
      const double nu     = model_.settings().student_dof;
      for (Eigen::Index i = 0; i < n; ++i) {
        if (model_.observations()[static_cast<std::size_t>(i)].known_sd > 0.0) continue;
        if (is_below(model_, i)) {
          // r² = −2·log F(−z); z falls as σ grows, and with it the hazard
          const double z = z_of_below(model_, r[i]);
          d += std::isfinite(z) ? z * hazard(model_, z) : 0.0;
          continue;
        }
        // r² = (ν + 1)·log(1 + z²/ν) for student-t noise, z² for log-normal; z falls as σ grows
        const double z2 = nu * std::expm1(r[i] * r[i] / (nu + 1.0));
        d += (robust ? (nu + 1.0) * z2 / (nu + z2) : r[i] * r[i]) - 1.0;
      }
      continue;
    }
    for (Eigen::Index j = 0; j < q_; ++j) {
      if (spread_of(model_.effects()[static_cast<std::size_t>(j)].kind) == member)
        d += of_data[P_ + j] * x[P_ + S_ + j];
    }
  }
  return sum;
}

double LogPosterior::marginal_at(const Eigen::VectorXd& x) const { return marginals_at(x, 1)[0]; }

Eigen::VectorXd LogPosterior::marginals_at(const Eigen::MatrixXd& x, int threads) const {
  std::vector<Spread>       spreads;
  std::vector<Eigen::Index> possible;
  for (Eigen::Index c = 0; c < x.cols(); ++c) {
    if (!is_possible(x.col(c))) continue;
    possible.push_back(c);
    spreads.push_back(spread_at(x.col(c)));
  }
  Eigen::VectorXd out     = Eigen::VectorXd::Constant(x.cols(), -infinity);
  const auto      effects = Eigen::VectorXd::Zero(q_);
  const auto      found =
      log_marginals(model_, x.topRows(P_)(Eigen::all, possible), spreads, effects, true, threads);
  for (std::size_t k = 0; k < possible.size(); ++k) {
    const double value = found[static_cast<Eigen::Index>(k)];
    if (!std::isnan(value)) out[possible[k]] = value;
  }
  return out;
}

double LogPosterior::log_prior(const Eigen::VectorXd& x) const {
  if (!is_possible(x)) return -infinity;
  return -0.5 * x.head(P_).squaredNorm() - 0.5 * (model_.rules() * x.head(P_)).squaredNorm() -
         0.5 * x.tail(q_).squaredNorm() - 0.5 * (model_.centring() * effects_at(x)).squaredNorm() -
         0.5 * static_cast<double>(q_) * std::log(2.0 * M_PI) + log_spread_prior(model_, spread_at(x), true);
}

LogPosterior::Observed LogPosterior::observed(const Eigen::VectorXd& x, bool with_slopes) const {
  const Eigen::Index n = model_.size();
  Observed           out;
  out.predicted = out.residuals = out.log_likelihood = Eigen::VectorXd::Constant(n, not_given);
  if (with_slopes) out.predicted_slopes = out.residual_slopes = Eigen::MatrixXd::Zero(n, size());
  if (!is_possible(x)) return out;
  const auto apex = model_.apex(x.head(P_), with_slopes);
  if (!apex.usable) return out;
  out.usable                    = true;
  const Spread          spread  = spread_at(x);
  const Eigen::VectorXd effects = effects_at(x);
  Eigen::MatrixXd       by_parameter, by_effect;
  model_.observe(apex, effects, out.predicted, with_slopes ? &by_parameter : nullptr,
                 with_slopes ? &by_effect : nullptr);
  const Departures at = departures(model_, spread, out.predicted);
  out.residuals       = at.residuals;
  out.log_likelihood  = at.log_likelihood;
  if (!with_slopes) return out;

  out.predicted_slopes.leftCols(P_) = by_parameter;
  for (Eigen::Index j = 0; j < q_; ++j) {
    const EffectKind kind                 = model_.effects()[static_cast<std::size_t>(j)].kind;
    out.predicted_slopes.col(P_ + S_ + j) = spread.of(kind) * by_effect.col(j);
    for (Eigen::Index s = 0; s < S_; ++s) {  // an effect is its standard deviation times z
      if (spreads_[static_cast<std::size_t>(s)] == spread_of(kind))
        out.predicted_slopes.col(P_ + s) += effects[j] * by_effect.col(j);
    }
  }
  out.residual_slopes = at.sd.cwiseInverse().asDiagonal() * out.predicted_slopes;
  for (Eigen::Index i = 0; i < n; ++i) {
    if (model_.observations()[static_cast<std::size_t>(i)].known_sd > 0.0) continue;
    for (Eigen::Index s = 0; s < S_; ++s) {
      if (spreads_[static_cast<std::size_t>(s)] == &Spread::reading)
        out.residual_slopes(i, P_ + s) -= out.residuals[i];
    }
  }
  return out;
}

Eigen::VectorXd LogPosterior::natural(const Eigen::VectorXd& x) const {
  Eigen::VectorXd out    = x;
  const Spread    spread = spread_at(x);
  for (Eigen::Index i = 0; i < P_; ++i) out[i] = model_.parameters()[static_cast<std::size_t>(i)].value(x[i]);
  for (Eigen::Index i = P_; i < P_ + S_; ++i) out[i] = std::exp(x[i]);
  for (Eigen::Index j = P_ + S_; j < x.size(); ++j) out[j] = std::exp(x[j] * effect_sd(spread, j - P_ - S_));
  return out;
}

Eigen::VectorXd LogPosterior::scaled(const Eigen::VectorXd& values) const {
  Eigen::VectorXd out = values;
  for (Eigen::Index i = 0; i < P_; ++i)
    out[i] = model_.parameters()[static_cast<std::size_t>(i)].scaled(values[i]);
  for (Eigen::Index i = P_; i < P_ + S_; ++i) out[i] = std::log(values[i]);
  const Spread spread = spread_at(out);
  for (Eigen::Index j = P_ + S_; j < values.size(); ++j)
    out[j] = std::log(values[j]) / effect_sd(spread, j - P_ - S_);
  return out;
}

Eigen::VectorXd LogPosterior::start() const {
  Eigen::VectorXd x      = Eigen::VectorXd::Zero(size());
  const Spread    spread = stated_spread(model_);
  for (Eigen::Index i = 0; i < S_; ++i) {
    double Spread::*member = spreads_[static_cast<std::size_t>(i)];
    x[P_ + i]              = std::log(spread.*member > 0.0 ? spread.*member : spread_scale(member));
  }
  return x;
}

}  // namespace arris
