// SPDX-License-Identifier: MIT
#include "sim/fit/effect_modes.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <Eigen/Cholesky>
#include <Eigen/LU>

#include "sim/fit/noise.hpp"
#include "sim/fit/reduced_residuals.hpp"
#include "sim/numbers.hpp"

namespace arris {
/// What a spread sets, whatever the effects: of rows, of effects, and slopes of what centres shared effects by them (rows × shared).
struct EffectModes::Scale {
  Eigen::VectorXd                  noise_sd, effect_sd;
  std::array<double, effect_kinds> kind_sd;
  Eigen::MatrixXd                  centring_slopes;
  double                           log_density;  ///< of rows that are met exactly, where noise is log-normal
};

/// Residuals whose squares are −2·log density, and their slopes by the standardised effect of each kind (effect_kinds × n); those of
/// what centres shared effects.
struct EffectModes::Rows {
  Eigen::VectorXd residuals;
  Eigen::MatrixXd slopes;
  Eigen::VectorXd centring;
  double          log_density;  ///< of data and effects
};

/// K = 1 + Jᵀ·J by blocks [B C; Cᵀ D] and −Jᵀ·r − z, with B two by two for each edge.
struct EffectModes::Normal {
  std::vector<Eigen::Matrix2d> own_inverse;  ///< B⁻¹
  Eigen::Matrix2Xd border;        ///< C: of each edge the columns of what it meets, one block after another
  Eigen::VectorXd  own_gradient;  ///< 2·edges
  Eigen::LLT<Eigen::MatrixXd> rest;  ///< of D − Cᵀ·B⁻¹·C
  Eigen::VectorXd             rest_gradient;
  double                      log_determinant = 0.0;
};

struct EffectModes::Mode {
  Normal normal;
  double log_density;  ///< of data and effects
};

EffectModes::EffectModes(const CampaignModel& model)
    : model_(model), shared_of_(static_cast<std::size_t>(model.effect_count()), -1) {
  for (std::size_t j = 0; j < shared_of_.size(); ++j) {
    const EffectKind kind = model.effects()[j].kind;
    if (std::find(kinds_shared.begin(), kinds_shared.end(), kind) == kinds_shared.end()) continue;
    shared_of_[j] = static_cast<int>(shared_.size());
    shared_.push_back(static_cast<int>(j));
  }
  std::map<int, EdgeRows> by_edge;
  for (Eigen::Index i = 0; i < model.size(); ++i) {
    const Observation& o    = model.observations()[static_cast<std::size_t>(i)];
    EdgeRows&          edge = by_edge[o.edge];
    edge.edge               = o.edge;
    edge.rows.push_back(i);
    for (std::size_t k = 0; k < own; ++k)
      edge.columns[k] = std::max(edge.columns[k], o.column(kinds_of_edge[k]));
    for (const EffectKind kind : kinds_shared) {
      if (o.column(kind) >= 0) edge.shared.push_back(shared_of_[static_cast<std::size_t>(o.column(kind))]);
    }
  }
  Eigen::Index first = 0;
  for (auto& [index, rows] : by_edge) {
    std::sort(rows.shared.begin(), rows.shared.end());
    rows.shared.erase(std::unique(rows.shared.begin(), rows.shared.end()), rows.shared.end());
    for (const Eigen::Index i : rows.rows) {
      const Observation& o = model.observations()[static_cast<std::size_t>(i)];
      rows.first_meets.push_back(rows.meets.size());
      for (const EffectKind kind : kinds_shared) {
        if (o.column(kind) < 0) continue;
        const int place = shared_of_[static_cast<std::size_t>(o.column(kind))];
        rows.meets.push_back(
            {kind, static_cast<int>(std::lower_bound(rows.shared.begin(), rows.shared.end(), place) -
                                    rows.shared.begin())});
      }
    }
    rows.first_meets.push_back(rows.meets.size());
    rows.first = first;
    first += std::ssize(rows.shared);
    edges_.push_back(std::move(rows));
  }
}

EffectModes::Scale EffectModes::scale_of(const Spread& spread) const {
  Scale out{noise_sd(model_, spread), effect_sd(model_, spread), {}, {}, 0.0};
  for (int kind = 0; kind < effect_kinds; ++kind)
    out.kind_sd[static_cast<std::size_t>(kind)] = spread.of(static_cast<EffectKind>(kind));
  out.centring_slopes = model_.centring()(Eigen::all, shared_) * out.effect_sd(shared_).asDiagonal();
  for (Eigen::Index i = 0; i < out.noise_sd.size() && !is_student(model_); ++i)
    out.log_density += log_noise(model_, i, 0.0, out.noise_sd[i]);
  return out;
}

EffectModes::Rows EffectModes::rows_at(const CampaignModel::Apex& apex, const Scale& scale,
                                       const Eigen::VectorXd& effects) const {
  CampaignModel::SlopesByKind by_kind;
  Eigen::VectorXd             f;
  model_.observe(apex, effects, f, by_kind);
  Rows out{std::move(f), std::move(by_kind.slopes), model_.centring() * effects, scale.log_density};
  out.log_density -= 0.5 * out.centring.squaredNorm();
  const bool                                                    student = is_student(model_);
  const Eigen::Map<const Eigen::Array<double, effect_kinds, 1>> kind_sd(scale.kind_sd.data());
  for (Eigen::Index i = 0; i < out.residuals.size(); ++i) {
    const double sd = scale.noise_sd[i];
    const double z  = (out.residuals[i] - model_.observations()[static_cast<std::size_t>(i)].log_value) / sd;
    const Robust at = student ? robust(model_, i, z) : Robust{z, 1.0};
    out.log_density += student ? log_noise(model_, i, z, sd) : -0.5 * z * z;
    out.residuals[i] = at.residual;
    out.slopes.col(i).array() *= at.slope / sd * kind_sd;
  }
  return out;
}

EffectModes::Normal EffectModes::normal_at(const Rows& rows, const Scale& scale,
                                           const Eigen::VectorXd& z) const {
  const auto shared = static_cast<Eigen::Index>(shared_.size()),
             edges  = static_cast<Eigen::Index>(edges_.size());
  Normal          out;
  Eigen::MatrixXd rest =
      Eigen::MatrixXd::Identity(shared, shared) + scale.centring_slopes.transpose() * scale.centring_slopes;
  out.border =
      Eigen::Matrix2Xd::Zero(2, edges_.empty() ? 0 : edges_.back().first + std::ssize(edges_.back().shared));
  out.own_gradient.resize(own * edges);
  out.own_inverse.reserve(edges_.size());
  out.rest_gradient = -z(shared_) - scale.centring_slopes.transpose() * rows.centring;
  std::vector<double> gram;  // of what an edge meets, by columns
  for (Eigen::Index e = 0; e < edges; ++e) {
    const EdgeRows& edge  = edges_[static_cast<std::size_t>(e)];
    Eigen::Matrix2d block = Eigen::Matrix2d::Identity();
    Eigen::Vector2d gradient;
    for (std::size_t k = 0; k < own; ++k)
      gradient[static_cast<Eigen::Index>(k)] = edge.columns[k] >= 0 ? -z[edge.columns[k]] : 0.0;
    const std::size_t met    = edge.shared.size();
    double*           border = out.border.data() + 2 * edge.first;
    gram.assign(met * met, 0.0);
    for (std::size_t row = 0; row < edge.rows.size(); ++row) {
      const Eigen::Index    i      = edge.rows[row];
      const double*         slopes = rows.slopes.data() + effect_kinds * i;
      const Eigen::Vector2d a(slopes[static_cast<int>(kinds_of_edge[0])],
                              slopes[static_cast<int>(kinds_of_edge[1])]);
      block += a * a.transpose();
      gradient -= a * rows.residuals[i];
      for (std::size_t m = edge.first_meets[row]; m < edge.first_meets[row + 1]; ++m) {
        const Meets& here  = edge.meets[m];
        const double slope = slopes[static_cast<int>(here.kind)];
        border[2 * here.at] += slope * a[0];
        border[2 * here.at + 1] += slope * a[1];
        out.rest_gradient[edge.shared[static_cast<std::size_t>(here.at)]] -= slope * rows.residuals[i];
        double* column = gram.data() + met * static_cast<std::size_t>(here.at);
        for (std::size_t other = edge.first_meets[row]; other < edge.first_meets[row + 1]; ++other)
          column[edge.meets[other].at] += slope * slopes[static_cast<int>(edge.meets[other].kind)];
      }
    }
    const Eigen::Matrix2d inverse = block.inverse();
    out.log_determinant += std::log(block.determinant());
    for (std::size_t k = 0; k < met; ++k) {
      const Eigen::Vector2d across = inverse * Eigen::Vector2d(border[2 * k], border[2 * k + 1]);
      const int             at     = edge.shared[k];
      out.rest_gradient[at] -= across.dot(gradient);
      double* column = rest.data() + shared * at;
      for (std::size_t l = 0; l < met; ++l)
        column[edge.shared[l]] +=
            gram[met * k + l] - border[2 * l] * across[0] - border[2 * l + 1] * across[1];
    }
    out.own_inverse.push_back(inverse);
    out.own_gradient.segment<own>(own * e) = gradient;
  }
  if (shared == 0) return out;
  out.rest.compute(rest);
  out.log_determinant += 2.0 * out.rest.matrixLLT().diagonal().array().log().sum();
  return out;
}

Eigen::VectorXd EffectModes::step_of(const Normal& normal) const {
  Eigen::VectorXd step(model_.effect_count());
  Eigen::VectorXd of_shared(0);
  if (!shared_.empty()) of_shared = normal.rest.solve(normal.rest_gradient);
  step(shared_) = of_shared;
  for (std::size_t e = 0; e < edges_.size(); ++e) {
    const auto      first    = own * static_cast<Eigen::Index>(e);
    Eigen::Vector2d gradient = normal.own_gradient.segment<own>(first);
    for (std::size_t k = 0; k < edges_[e].shared.size(); ++k)
      gradient -=
          of_shared[edges_[e].shared[k]] * normal.border.col(edges_[e].first + static_cast<Eigen::Index>(k));
    const Eigen::Vector2d of_edge = normal.own_inverse[e] * gradient;
    for (std::size_t k = 0; k < own; ++k) {
      if (edges_[e].columns[k] >= 0) step[edges_[e].columns[k]] = of_edge[static_cast<Eigen::Index>(k)];
    }
  }
  return step;
}

EffectModes::Mode EffectModes::mode_from(const CampaignModel::Apex& apex, const Spread& spread,
                                         Eigen::VectorXd& effects) const {
  constexpr int          most_rounds = 80;
  constexpr double       near_enough = 1e-5;  // its square is what the density is off by
  constexpr double       farthest    = 1.0;   // of a log in one round: growth goes by its exponential
  const Scale            scale       = scale_of(spread);
  const Eigen::VectorXd& of_effect   = scale.effect_sd;
  // Gauss–Newton; the histories stand, so each round is cheap. A step that loses density is halved
  Eigen::VectorXd taken   = Eigen::VectorXd::Zero(effects.size());
  double          density = -infinity;
  for (int round = 0;; ++round) {
    const Rows            rows = rows_at(apex, scale, effects);
    const Eigen::VectorXd z    = effects.cwiseQuotient(of_effect);
    const double          here = rows.log_density - 0.5 * z.squaredNorm();
    if (!(here >= density - 1e-9 * std::abs(density)) && round < most_rounds) {
      taken *= 0.5;
      effects -= taken;
      continue;
    }
    density                    = here;
    Mode                  out  = {normal_at(rows, scale, z), here};
    const Eigen::VectorXd step = step_of(out.normal);
    if (step.size() == 0 || step.cwiseAbs().maxCoeff() < near_enough || round >= most_rounds) return out;
    taken = step.cwiseProduct(of_effect);
    taken *= std::min(1.0, farthest / taken.cwiseAbs().maxCoeff());
    effects += taken;
  }
}

double EffectModes::log_likelihood(const CampaignModel::Apex& apex, const Spread& spread,
                                   Eigen::VectorXd& effects) const {
  if (!apex.usable) return -infinity;
  const Mode mode = mode_from(apex, spread, effects);
  return mode.log_density - 0.5 * mode.normal.log_determinant;
}

EffectModes::SharedEffects EffectModes::effects_of(std::span<const EffectKind> kinds,
                                                   const CampaignModel::Apex&  apex,
                                                   const Spread&               spread) const {
  std::vector<int> columns, places;
  for (const int column : shared_) {
    const EffectKind kind = model_.effects()[static_cast<std::size_t>(column)].kind;
    if (std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) continue;
    columns.push_back(column);
    places.push_back(shared_of_[static_cast<std::size_t>(column)]);
  }
  SharedEffects out;
  if (columns.empty()) return out;
  Eigen::VectorXd       effects = Eigen::VectorXd::Zero(model_.effect_count());
  const Normal          normal  = mode_from(apex, spread, effects).normal;
  const auto            shared  = static_cast<Eigen::Index>(shared_.size());
  const Eigen::MatrixXd inverse = normal.rest.solve(Eigen::MatrixXd::Identity(shared, shared));
  out.mode                      = effects(columns);
  const Eigen::VectorXd sd      = effect_sd(model_, spread)(columns);
  out.covariance                = sd.asDiagonal() * inverse(places, places) * sd.asDiagonal();
  return out;
}

EffectModes::EdgeLuck EffectModes::luck_of(const CampaignModel::Apex& apex, const Spread& spread,
                                           int edge) const {
  EdgeLuck   out;
  const auto found =
      std::find_if(edges_.begin(), edges_.end(), [&](const EdgeRows& rows) { return rows.edge == edge; });
  if (found == edges_.end()) return out;
  const auto            e       = found - edges_.begin();
  Eigen::VectorXd       effects = Eigen::VectorXd::Zero(model_.effect_count());
  const Normal          normal  = mode_from(apex, spread, effects).normal;
  const Eigen::Matrix2d inverse = normal.own_inverse[static_cast<std::size_t>(e)];
  Eigen::Matrix2d       k       = inverse;
  if (!shared_.empty()) {
    Eigen::Matrix2Xd across = Eigen::Matrix2Xd::Zero(2, std::ssize(shared_));
    across(Eigen::all, found->shared) =
        inverse * normal.border.middleCols(found->first, std::ssize(found->shared));
    k += across * normal.rest.solve(across.transpose());
  }
  Eigen::Vector2d sd = Eigen::Vector2d::Zero();
  for (int i = 0; i < own; ++i) {
    const int column = found->columns[static_cast<std::size_t>(i)];
    if (column < 0) continue;
    out.mode[i] = effects[column];
    sd[i]       = spread.of(kinds_of_edge[static_cast<std::size_t>(i)]);
  }
  out.covariance = sd.asDiagonal() * k * sd.asDiagonal();
  return out;
}

}  // namespace arris
