// SPDX-License-Identifier: MIT
#include "sim/fit/effect_modes.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <Eigen/Cholesky>
#include <Eigen/LU>

#include "sim/fit/noise.hpp"
#include "sim/numbers.hpp"

namespace arris {
namespace {

constexpr std::array<EffectKind, 2> kinds_of_edge{EffectKind::edge, EffectKind::rate};

}  // namespace

/// Residuals whose squares are −2·log density, and their slopes by the standardised effect of each kind (effect_kinds × n); those of
/// what centres shared effects, and their slopes by them (rows × shared).
struct EffectModes::Rows {
  Eigen::VectorXd residuals;
  Eigen::MatrixXd slopes;
  Eigen::VectorXd centring;
  Eigen::MatrixXd centring_slopes;
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
    rows.first = first;
    first += std::ssize(rows.shared);
    edges_.push_back(std::move(rows));
  }
}

EffectModes::Rows EffectModes::rows_at(const CampaignModel::Apex& apex, const Spread& spread,
                                       const Eigen::VectorXd& effects, const Eigen::VectorXd& sd) const {
  CampaignModel::SlopesByKind by_kind;
  Eigen::VectorXd             f;
  model_.observe(apex, effects, f, by_kind);
  const Eigen::VectorXd of_effect = effect_sd(model_, spread);
  Rows                  out{f, std::move(by_kind.slopes), model_.centring() * effects,
           (model_.centring() * of_effect.asDiagonal())(Eigen::all, shared_), 0.0};
  out.log_density = -0.5 * out.centring.squaredNorm();
  for (Eigen::Index i = 0; i < f.size(); ++i) {
    const double z   = (f[i] - model_.observations()[static_cast<std::size_t>(i)].log_value) / sd[i];
    const Robust at  = robust(model_, i, z);
    out.residuals[i] = at.residual;
    for (int kind = 0; kind < effect_kinds; ++kind)
      out.slopes(kind, i) *= at.slope / sd[i] * spread.of(static_cast<EffectKind>(kind));
    out.log_density += log_noise(model_, i, z, sd[i]);
  }
  return out;
}

EffectModes::Normal EffectModes::normal_at(const Rows& rows, const Eigen::VectorXd& z) const {
  const auto shared = static_cast<Eigen::Index>(shared_.size()),
             edges  = static_cast<Eigen::Index>(edges_.size());
  Normal          out;
  Eigen::MatrixXd rest =
      Eigen::MatrixXd::Identity(shared, shared) + rows.centring_slopes.transpose() * rows.centring_slopes;
  std::vector<Eigen::Index> block_of(
      shared_.size());  // of a shared effect its column in the block of an edge
  out.border =
      Eigen::Matrix2Xd::Zero(2, edges_.empty() ? 0 : edges_.back().first + std::ssize(edges_.back().shared));
  out.own_gradient.resize(own * edges);
  out.rest_gradient = -z(shared_) - rows.centring_slopes.transpose() * rows.centring;
  for (Eigen::Index e = 0; e < edges; ++e) {
    const EdgeRows& edge  = edges_[static_cast<std::size_t>(e)];
    Eigen::Matrix2d block = Eigen::Matrix2d::Identity();
    Eigen::Vector2d gradient;
    for (std::size_t k = 0; k < own; ++k)
      gradient[static_cast<Eigen::Index>(k)] = edge.columns[k] >= 0 ? -z[edge.columns[k]] : 0.0;
    const auto met    = std::ssize(edge.shared);
    auto       border = out.border.middleCols(edge.first, met);
    for (Eigen::Index k = 0; k < met; ++k)
      block_of[static_cast<std::size_t>(edge.shared[static_cast<std::size_t>(k)])] = k;
    for (const Eigen::Index i : edge.rows) {
      const Observation& o        = model_.observations()[static_cast<std::size_t>(i)];
      const auto         slope_of = [&](EffectKind kind) { return rows.slopes(static_cast<int>(kind), i); };
      const Eigen::Vector2d a(slope_of(kinds_of_edge[0]), slope_of(kinds_of_edge[1]));
      block += a * a.transpose();
      gradient -= a * rows.residuals[i];
      for (const EffectKind kind : kinds_shared) {
        if (o.column(kind) < 0) continue;
        const int at = shared_of_[static_cast<std::size_t>(o.column(kind))];
        border.col(block_of[static_cast<std::size_t>(at)]) += slope_of(kind) * a;
        out.rest_gradient[at] -= slope_of(kind) * rows.residuals[i];
        for (const EffectKind other : kinds_shared) {
          if (o.column(other) >= 0)
            rest(at, shared_of_[static_cast<std::size_t>(o.column(other))]) +=
                slope_of(kind) * slope_of(other);
        }
      }
    }
    const Eigen::Matrix2d inverse = block.inverse();
    out.log_determinant += std::log(block.determinant());
    for (Eigen::Index k = 0; k < met; ++k) {
      const Eigen::Vector2d across = inverse * border.col(k);
      const int             at     = edge.shared[static_cast<std::size_t>(k)];
      out.rest_gradient[at] -= across.dot(gradient);
      for (Eigen::Index l = 0; l < met; ++l)
        rest(edge.shared[static_cast<std::size_t>(l)], at) -= border.col(l).dot(across);
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
  constexpr int         most_rounds = 80;
  constexpr double      near_enough = 1e-5;  // its square is what the density is off by
  constexpr double      farthest    = 1.0;   // of a log in one round: growth goes by its exponential
  const Eigen::VectorXd sd = noise_sd(model_, spread), of_effect = effect_sd(model_, spread);
  // Gauss–Newton; the histories stand, so each round is cheap. A step that loses density is halved
  Eigen::VectorXd taken   = Eigen::VectorXd::Zero(effects.size());
  double          density = -infinity;
  for (int round = 0;; ++round) {
    const Rows            rows = rows_at(apex, spread, effects, sd);
    const Eigen::VectorXd z    = effects.cwiseQuotient(of_effect);
    const double          here = rows.log_density - 0.5 * z.squaredNorm();
    if (!(here >= density - 1e-9 * std::abs(density)) && round < most_rounds) {
      taken *= 0.5;
      effects -= taken;
      continue;
    }
    density                    = here;
    Mode                  out  = {normal_at(rows, z), here};
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
