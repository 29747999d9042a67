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
/// What a spread sets, whatever the effects: of rows, of effects, and the part of K that the priors of shared effects are.
struct EffectModes::Scale {
  Eigen::VectorXd                  noise_sd, effect_sd;
  std::array<double, effect_kinds> kind_sd;
  Eigen::VectorXd                  shared_sd;
  Eigen::MatrixXd                  prior;
  double log_density = 0.0;  ///< of rows that are met exactly, where noise is log-normal
};

/// Residuals whose squares are −2·log density, and their slopes by the standardised effect of each kind (effect_kinds × rows); those of
/// what centres shared effects.
struct EffectModes::Rows {
  Eigen::VectorXd residuals;
  Eigen::MatrixXd slopes;
  Eigen::VectorXd centring;
  double          log_density;  ///< of data and effects
};

/// −Jᵀ·r − z.
struct EffectModes::Gradient {
  Eigen::Matrix2Xd own;  ///< by edge
  Eigen::VectorXd  shared;
};

/// K = 1 + Jᵀ·J by blocks [B C; Cᵀ D], with B two by two for each edge.
struct EffectModes::Normal {
  std::vector<Eigen::Matrix2d> own_inverse;  ///< B⁻¹
  Eigen::Matrix2Xd across;  ///< B⁻¹·C: of each edge the columns of what it meets, one block after another
  Eigen::LLT<Eigen::MatrixXd> rest;  ///< of D − Cᵀ·B⁻¹·C
  double                      log_determinant = 0.0;
};

struct EffectModes::Mode {
  Normal normal;
  double log_density;  ///< of data and effects
};

EffectModes::EffectModes(const CampaignModel& model)
    : model_(model),
      rows_(repeats_of(model)),
      shared_of_(static_cast<std::size_t>(model.effect_count()), -1) {
  for (std::size_t j = 0; j < shared_of_.size(); ++j) {
    const EffectKind kind = model.effects()[j].kind;
    if (std::find(kinds_shared.begin(), kinds_shared.end(), kind) == kinds_shared.end()) continue;
    shared_of_[j] = static_cast<int>(shared_.size());
    shared_.push_back(static_cast<int>(j));
  }
  ties_ = model.centring()(Eigen::all, shared_);
  tied_ = ties_.transpose() * ties_;
  find_edges();
  find_what_edges_meet();
}

void EffectModes::find_edges() {
  std::map<int, EdgeRows> by_edge;
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    const Observation& o    = model_.observations()[static_cast<std::size_t>(rows_[i].first)];
    EdgeRows&          edge = by_edge[o.edge];
    edge.edge               = o.edge;
    edge.rows.push_back(static_cast<Eigen::Index>(i));
    for (std::size_t k = 0; k < own; ++k)
      edge.columns[k] = std::max(edge.columns[k], o.column(kinds_of_edge[k]));
    for (const EffectKind kind : kinds_shared) {
      if (o.column(kind) >= 0) edge.shared.push_back(shared_of_[static_cast<std::size_t>(o.column(kind))]);
    }
  }
  for (auto& [index, rows] : by_edge) edges_.push_back(std::move(rows));
}

void EffectModes::find_what_edges_meet() {
  Eigen::Index first = 0;
  for (EdgeRows& edge : edges_) {
    std::sort(edge.shared.begin(), edge.shared.end());
    edge.shared.erase(std::unique(edge.shared.begin(), edge.shared.end()), edge.shared.end());
    for (const Eigen::Index i : edge.rows) {
      const Observation& o =
          model_.observations()[static_cast<std::size_t>(rows_[static_cast<std::size_t>(i)].first)];
      edge.first_meets.push_back(edge.meets.size());
      for (const EffectKind kind : kinds_shared) {
        if (o.column(kind) < 0) continue;
        const int  place = shared_of_[static_cast<std::size_t>(o.column(kind))];
        const auto at    = std::lower_bound(edge.shared.begin(), edge.shared.end(), place);
        edge.meets.push_back({kind, static_cast<int>(at - edge.shared.begin())});
      }
    }
    edge.first_meets.push_back(edge.meets.size());
    edge.first = first;
    first += std::ssize(edge.shared);
  }
}

EffectModes::Scale EffectModes::scale_of(const Spread& spread) const {
  Scale out{.effect_sd = effect_sd(model_, spread)};
  for (int kind = 0; kind < effect_kinds; ++kind)
    out.kind_sd[static_cast<std::size_t>(kind)] = spread.of(static_cast<EffectKind>(kind));
  out.shared_sd = out.effect_sd(shared_);
  out.prior     = out.shared_sd.asDiagonal() * tied_ * out.shared_sd.asDiagonal();
  out.prior.diagonal().array() += 1.0;
  out.noise_sd.resize(std::ssize(rows_));
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    const Repeats& row                         = rows_[i];
    const double   sd                          = noise_sd(model_, row.first, spread);
    out.noise_sd[static_cast<Eigen::Index>(i)] = sd;
    if (!is_bent(model_, row.first))
      out.log_density += row.count * log_noise(model_, row.first, 0.0, sd) - 0.5 * row.squares / (sd * sd);
  }
  return out;
}

EffectModes::Rows EffectModes::rows_at(const CampaignModel::Apex& apex, const Scale& scale,
                                       const Eigen::VectorXd& effects) const {
  CampaignModel::SlopesByKind by_kind;
  Eigen::VectorXd             f;
  model_.observe_distinct(apex, effects, f, nullptr, &by_kind);
  const auto n = std::ssize(rows_);
  Rows out{Eigen::VectorXd(n), Eigen::MatrixXd(effect_kinds, n), ties_ * effects(shared_), scale.log_density};
  out.log_density -= 0.5 * out.centring.squaredNorm();
  const Eigen::Map<const Eigen::Array<double, effect_kinds, 1>> kind_sd(scale.kind_sd.data());
  for (Eigen::Index i = 0; i < n; ++i) {
    const Repeats&     row  = rows_[static_cast<std::size_t>(i)];
    const Eigen::Index at   = model_.distinct_of()[static_cast<std::size_t>(row.first)];
    const double       sd   = scale.noise_sd[i];
    const double       z    = (f[at] - row.mean) / sd;
    const bool         bent = is_bent(model_, row.first);
    const Robust       here = bent ? robust(model_, row.first, z) : Robust{z, 1.0};
    const double       root = std::sqrt(row.count);
    out.log_density += bent ? log_noise(model_, row.first, z, sd) : -0.5 * row.count * z * z;
    out.residuals[i]  = root * here.residual;
    out.slopes.col(i) = by_kind.slopes.col(at).array() * (root * here.slope / sd * kind_sd);
  }
  return out;
}

EffectModes::Gradient EffectModes::gradient_at(const Rows& rows, const Scale& scale,
                                               const Eigen::VectorXd& z) const {
  Gradient out{Eigen::Matrix2Xd::Zero(own, std::ssize(edges_)),
               -z(shared_) - scale.shared_sd.cwiseProduct(ties_.transpose() * rows.centring)};
  for (std::size_t e = 0; e < edges_.size(); ++e) {
    const EdgeRows& edge    = edges_[e];
    auto            of_edge = out.own.col(static_cast<Eigen::Index>(e));
    for (Eigen::Index k = 0; k < own; ++k) {
      const int column = edge.columns[static_cast<std::size_t>(k)];
      if (column >= 0) of_edge[k] = -z[column];
    }
    for (std::size_t row = 0; row < edge.rows.size(); ++row) {
      const Eigen::Index i      = edge.rows[row];
      const double*      slopes = rows.slopes.data() + effect_kinds * i;
      for (Eigen::Index k = 0; k < own; ++k)
        of_edge[k] -=
            slopes[static_cast<int>(kinds_of_edge[static_cast<std::size_t>(k)])] * rows.residuals[i];
      for (std::size_t m = edge.first_meets[row]; m < edge.first_meets[row + 1]; ++m) {
        const Meets& here = edge.meets[m];
        out.shared[edge.shared[static_cast<std::size_t>(here.at)]] -=
            slopes[static_cast<int>(here.kind)] * rows.residuals[i];
      }
    }
  }
  return out;
}

// `gram` is room to work in
void EffectModes::add_edge(const EdgeRows& edge, const Rows& rows, Normal& normal, Eigen::MatrixXd& rest,
                           std::vector<double>& gram) const {
  const std::size_t met    = edge.shared.size();
  double*           border = normal.across.data() + own * edge.first;  // C, until B is known
  Eigen::Matrix2d   block  = Eigen::Matrix2d::Identity();
  gram.assign(met * met, 0.0);
  for (std::size_t row = 0; row < edge.rows.size(); ++row) {
    const double*         slopes = rows.slopes.data() + effect_kinds * edge.rows[row];
    const Eigen::Vector2d a(slopes[static_cast<int>(kinds_of_edge[0])],
                            slopes[static_cast<int>(kinds_of_edge[1])]);
    block += a * a.transpose();
    for (std::size_t m = edge.first_meets[row]; m < edge.first_meets[row + 1]; ++m) {
      const Meets& here  = edge.meets[m];
      const double slope = slopes[static_cast<int>(here.kind)];
      border[2 * here.at] += slope * a[0];
      border[2 * here.at + 1] += slope * a[1];
      double* column = gram.data() + met * static_cast<std::size_t>(here.at);
      for (std::size_t other = edge.first_meets[row]; other < edge.first_meets[row + 1]; ++other)
        column[edge.meets[other].at] += slope * slopes[static_cast<int>(edge.meets[other].kind)];
    }
  }
  const Eigen::Matrix2d inverse = block.inverse();
  normal.log_determinant += std::log(block.determinant());
  normal.own_inverse.push_back(inverse);
  const auto             many   = static_cast<Eigen::Index>(met);
  auto                   across = normal.across.middleCols(edge.first, many);
  const Eigen::Matrix2Xd c      = across;
  across.noalias()              = inverse * c;
  for (std::size_t k = 0; k < met; ++k) {
    const Eigen::Vector2d here   = across.col(static_cast<Eigen::Index>(k));
    double*               column = rest.data() + rest.rows() * edge.shared[k];
    for (std::size_t l = 0; l < met; ++l)
      column[edge.shared[l]] += gram[met * k + l] - here.dot(c.col(static_cast<Eigen::Index>(l)));
  }
}

EffectModes::Normal EffectModes::normal_at(const Rows& rows, const Scale& scale) const {
  const auto columns = edges_.empty() ? 0 : edges_.back().first + std::ssize(edges_.back().shared);
  Normal     out{.across = Eigen::Matrix2Xd::Zero(own, columns)};
  out.own_inverse.reserve(edges_.size());
  Eigen::MatrixXd     rest = scale.prior;
  std::vector<double> gram;  // of what an edge meets, by columns
  for (const EdgeRows& edge : edges_) add_edge(edge, rows, out, rest, gram);
  if (shared_.empty()) return out;
  out.rest.compute(rest);
  out.log_determinant += 2.0 * out.rest.matrixLLT().diagonal().array().log().sum();
  return out;
}

Eigen::VectorXd EffectModes::step_of(const Normal& normal, Gradient gradient) const {
  Eigen::VectorXd& of_shared = gradient.shared;
  for (std::size_t e = 0; e < edges_.size(); ++e) {
    const Eigen::Vector2d here = gradient.own.col(static_cast<Eigen::Index>(e));
    for (std::size_t k = 0; k < edges_[e].shared.size(); ++k)
      of_shared[edges_[e].shared[k]] -=
          normal.across.col(edges_[e].first + static_cast<Eigen::Index>(k)).dot(here);
  }
  if (!shared_.empty()) normal.rest.solveInPlace(of_shared);
  Eigen::VectorXd step(model_.effect_count());
  step(shared_) = of_shared;
  for (std::size_t e = 0; e < edges_.size(); ++e) {
    Eigen::Vector2d of_edge = normal.own_inverse[e] * gradient.own.col(static_cast<Eigen::Index>(e));
    for (std::size_t k = 0; k < edges_[e].shared.size(); ++k)
      of_edge -=
          of_shared[edges_[e].shared[k]] * normal.across.col(edges_[e].first + static_cast<Eigen::Index>(k));
    for (std::size_t k = 0; k < own; ++k) {
      if (edges_[e].columns[k] >= 0) step[edges_[e].columns[k]] = of_edge[static_cast<Eigen::Index>(k)];
    }
  }
  return step;
}

namespace {

// Gauss–Newton leaves out how readings bend, so near the mode its steps shrink by a steady factor: two of them tell where they vanish (Anderson
// mixing with one step remembered). `step` from here, `before` from the place that lies `moved` behind
Eigen::VectorXd foretold(const Eigen::VectorXd& step, const Eigen::VectorXd& before,
                         const Eigen::VectorXd& moved) {
  if (!(step.squaredNorm() < before.squaredNorm())) return step;
  const Eigen::VectorXd turn  = step - before;
  const double          share = turn.dot(step) / turn.squaredNorm();
  return step - share * (moved + turn);
}

}  // namespace

EffectModes::Mode EffectModes::mode_from(const CampaignModel::Apex& apex, const Spread& spread,
                                         Eigen::VectorXd& effects) const {
  constexpr int          most_rounds = 80;
  constexpr double       near_enough = 1e-5;  // its square is what the density is off by
  constexpr double       near = 0.1;  // steps shorter than this change K so little that the last one leads on
  constexpr double       farthest  = 1.0;  // of a log in one round: growth goes by its exponential
  const Scale            scale     = scale_of(spread);
  const Eigen::VectorXd& of_effect = scale.effect_sd;
  // Gauss–Newton; the histories stand, so each round is cheap. A step that loses density is halved
  Eigen::VectorXd taken = Eigen::VectorXd::Zero(effects.size());
  Eigen::VectorXd last_z, last_step;  // of the round before
  double          density = -infinity, length = infinity;
  Mode            out;
  for (int round = 0;; ++round) {
    const Rows            rows = rows_at(apex, scale, effects);
    const Eigen::VectorXd z    = effects.cwiseQuotient(of_effect);
    const double          here = rows.log_density - 0.5 * z.squaredNorm();
    if (!(here >= density - 1e-9 * std::abs(density)) && round < most_rounds) {
      taken *= 0.5;
      effects -= taken;
      last_step.resize(0);
      continue;
    }
    density         = here;
    const bool anew = !(length < near);
    if (anew) out.normal = normal_at(rows, scale);
    const Eigen::VectorXd step = step_of(out.normal, gradient_at(rows, scale, z));
    length                     = step.size() > 0 ? step.cwiseAbs().maxCoeff() : 0.0;
    if (length < near_enough || round >= most_rounds) {
      if (!anew) out.normal = normal_at(rows, scale);
      out.log_density = here;
      return out;
    }
    taken = (length < near && last_step.size() > 0 ? foretold(step, last_step, z - last_z) : step)
                .cwiseProduct(of_effect);
    taken *= std::min(1.0, farthest / taken.cwiseAbs().maxCoeff());
    effects += taken;
    last_z    = z;
    last_step = step;
  }
}

double EffectModes::log_likelihood(const CampaignModel::Apex& apex, const Spread& spread,
                                   Eigen::VectorXd& effects) const {
  if (!apex.usable) return -infinity;
  const Mode mode = mode_from(apex, spread, effects);
  return mode.log_density - 0.5 * mode.normal.log_determinant;
}

EffectModes::SharedEffects EffectModes::effects_of(std::span<const EffectKind> kinds,
                                                   const CampaignModel::Apex& apex, const Spread& spread,
                                                   Eigen::VectorXd effects) const {
  std::vector<int> columns, places;
  for (const int column : shared_) {
    const EffectKind kind = model_.effects()[static_cast<std::size_t>(column)].kind;
    if (std::find(kinds.begin(), kinds.end(), kind) == kinds.end()) continue;
    columns.push_back(column);
    places.push_back(shared_of_[static_cast<std::size_t>(column)]);
  }
  SharedEffects out;
  if (columns.empty()) return out;
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
    Eigen::Matrix2Xd across           = Eigen::Matrix2Xd::Zero(2, std::ssize(shared_));
    across(Eigen::all, found->shared) = normal.across.middleCols(found->first, std::ssize(found->shared));
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
