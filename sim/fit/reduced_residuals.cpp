// SPDX-License-Identifier: MIT
#include "sim/fit/reduced_residuals.hpp"

#include <algorithm>
#include <cmath>

#include <Eigen/LU>

#include "sim/fit/noise.hpp"
#include "sim/numbers.hpp"

namespace arris {
namespace {

bool is_own(EffectKind kind) {
  return std::find(kinds_of_edge.begin(), kinds_of_edge.end(), kind) != kinds_of_edge.end();
}

// slopes by the two effects that an edge has of its own
Eigen::Vector2d own_slopes(const Eigen::MatrixXd& by_kind, Eigen::Index i) {
  return {by_kind(static_cast<int>(kinds_of_edge[0]), i), by_kind(static_cast<int>(kinds_of_edge[1]), i)};
}

/// The search for the luck of each edge: where it stands, and what is known there.
struct UnitSearch {
  Eigen::Vector2d z     = Eigen::Vector2d::Zero();  ///< over standard deviations
  Eigen::Vector2d taken = Eigen::Vector2d::Zero();
  double          least = infinity;  ///< sum of squares
  bool            done  = false;

  Eigen::Matrix2d curvature;
  Eigen::Vector2d gradient;
  double          squares;
};

}  // namespace

EffectLayout::EffectLayout(const CampaignModel& model)
    : shared_of(static_cast<std::size_t>(model.effect_count()), -1) {
  for (std::size_t j = 0; j < shared_of.size(); ++j) {
    if (is_own(model.effects()[j].kind)) continue;
    shared_of[j] = static_cast<int>(shared.size());
    shared.push_back(static_cast<int>(j));
  }
  std::vector<int> unit_of_edge(model.scenario().edges.size(), -1);
  for (const Observation& o : model.observations()) {
    const std::array<int, 2> columns{o.column(kinds_of_edge[0]), o.column(kinds_of_edge[1])};
    int&                     at = unit_of_edge[static_cast<std::size_t>(o.edge)];
    if (columns[0] < 0 && columns[1] < 0) {
      unit.push_back(-1);
      continue;
    }
    if (at < 0) {
      at = static_cast<int>(own.size());
      own.push_back({-1, -1});
    }
    unit.push_back(at);
    auto& known = own[static_cast<std::size_t>(at)];
    for (std::size_t w = 0; w < 2; ++w) known[w] = std::max(known[w], columns[w]);
  }
}

Bordered gram_of(const CampaignModel& model, const EffectLayout& layout, const ObservedSlopes& slopes) {
  const auto P = model.parameter_count(), S = static_cast<Eigen::Index>(layout.shared.size());
  Bordered   out;
  out.own.assign(layout.own.size(), Eigen::Matrix2d::Zero());
  out.met.resize(layout.own.size());
  for (std::size_t i = 0; i < layout.unit.size(); ++i) {
    if (layout.unit[i] < 0) continue;
    for (const EffectKind kind : kinds_shared) {
      if (const int column = model.observations()[i].column(kind); column >= 0)
        out.met[static_cast<std::size_t>(layout.unit[i])].push_back(
            static_cast<int>(P) + layout.shared_of[static_cast<std::size_t>(column)]);
    }
  }
  for (auto& met : out.met) {
    std::sort(met.begin(), met.end());
    met.erase(std::unique(met.begin(), met.end()), met.end());
    std::vector<int> all;
    for (int j = 0; j < P; ++j) all.push_back(j);
    met.insert(met.begin(), all.begin(), all.end());
    out.border.emplace_back(Eigen::Matrix2Xd::Zero(2, std::ssize(met)));
  }
  out.rest.setZero(P + S, P + S);
  out.rest.topLeftCorner(P, P).noalias() = slopes.by_parameter.transpose() * slopes.by_parameter;
  std::vector<std::pair<int, double>> meets;
  for (Eigen::Index i = 0; i < model.size(); ++i) {
    const Observation& o = model.observations()[static_cast<std::size_t>(i)];
    meets.clear();
    for (const EffectKind kind : kinds_shared) {
      if (const int column = o.column(kind); column >= 0)
        meets.emplace_back(static_cast<int>(P) + layout.shared_of[static_cast<std::size_t>(column)],
                           slopes.by_kind(static_cast<int>(kind), i));
    }
    for (const auto& [j, slope] : meets) {
      out.rest.col(j).head(P) += slope * slopes.by_parameter.row(i).transpose();
      for (const auto& [k, other] : meets) out.rest(k, j) += slope * other;
    }
    const int unit = layout.unit[static_cast<std::size_t>(i)];
    if (unit < 0) continue;
    const auto            e = static_cast<std::size_t>(unit);
    const Eigen::Vector2d a = own_slopes(slopes.by_kind, i);
    out.own[e] += a * a.transpose();
    out.border[e].leftCols(P) += a * slopes.by_parameter.row(i);
    for (const auto& [j, slope] : meets) {
      const auto at = std::lower_bound(out.met[e].begin(), out.met[e].end(), j) - out.met[e].begin();
      out.border[e].col(at) += slope * a;
    }
  }
  out.rest.bottomLeftCorner(S, P) = out.rest.topRightCorner(P, S).transpose();
  return out;
}

ReducedResiduals::ReducedResiduals(const CampaignModel& model, const Spread& spread)
    : model_(model),
      layout_(model),
      rows_(repeats_of(model)),
      luck_(Eigen::VectorXd::Zero(model.effect_count())) {
  for (const Repeats& row : rows_) unit_.push_back(layout_.unit[static_cast<std::size_t>(row.first)]);
  set_spread(spread);
}

Eigen::Index ReducedResiduals::size() const { return model_.parameter_count() + std::ssize(layout_.shared); }

void ReducedResiduals::set_spread(const Spread& spread) {
  spread_ = spread;
  sd_.resize(std::ssize(rows_));
  apart_ = 0.0;
  for (std::size_t i = 0; i < rows_.size(); ++i) {
    const double sd                   = noise_sd(model_, rows_[i].first, spread);
    sd_[static_cast<Eigen::Index>(i)] = sd;
    apart_ += rows_[i].squares / (sd * sd);
  }
  of_effect_ = effect_sd(model_, spread);
  lately_.clear();
}

Eigen::VectorXd ReducedResiduals::begin(const Eigen::VectorXd& u, const Eigen::VectorXd& effects) {
  luck_ = effects;
  lately_.clear();
  Eigen::VectorXd y(size());
  y << u, effects.cwiseQuotient(of_effect_)(layout_.shared);
  return y;
}

Eigen::VectorXd ReducedResiduals::effects_at(const Eigen::VectorXd& y) const {
  Eigen::VectorXd effects = luck_;
  effects(layout_.shared) = y.tail(std::ssize(layout_.shared)).cwiseProduct(of_effect_(layout_.shared));
  return effects;
}

void ReducedResiduals::residuals_of(const Eigen::VectorXd& f, Eigen::VectorXd& residuals,
                                    Eigen::VectorXd& slopes) const {
  residuals.resize(sd_.size());
  slopes.resize(sd_.size());
  for (Eigen::Index i = 0; i < sd_.size(); ++i) {
    const Repeats& row  = rows_[static_cast<std::size_t>(i)];
    const auto     at   = model_.distinct_of()[static_cast<std::size_t>(row.first)];
    const Robust   here = robust(model_, row.first, (f[at] - row.mean) / sd_[i]);
    const double   root = std::sqrt(row.count);
    residuals[i]        = root * here.residual;
    slopes[i]           = root * here.slope / sd_[i];
  }
}

// Gauss–Newton for each edge by itself; a step that gains nothing is halved. The histories stand, so each round is cheap
bool ReducedResiduals::settle(const CampaignModel::Apex& apex, Eigen::VectorXd& effects, Eigen::VectorXd& f,
                              CampaignModel::SlopesByKind& by_kind) const {
  constexpr int           most_rounds = 80;
  constexpr double        near_enough = 1e-6;  // its square is what the sum of squares is off by
  constexpr double        farthest    = 1.0;   // of a log in one round: growth goes by its exponential
  std::vector<UnitSearch> units(layout_.own.size());
  const Eigen::Vector2d   sd(spread_.of(kinds_of_edge[0]), spread_.of(kinds_of_edge[1]));
  Eigen::VectorXd         residuals, slopes;
  for (std::size_t e = 0; e < units.size(); ++e) {
    for (std::size_t w = 0; w < 2; ++w) {
      const int column = layout_.own[e][w];
      if (column >= 0) units[e].z[static_cast<Eigen::Index>(w)] = effects[column] / of_effect_[column];
    }
  }
  for (int round = 0;; ++round) {
    model_.observe_distinct(apex, effects, f, nullptr, &by_kind);
    if (!f.allFinite()) return false;
    residuals_of(f, residuals, slopes);
    for (UnitSearch& unit : units) {
      unit.curvature.setIdentity();
      unit.gradient = -unit.z;
      unit.squares  = unit.z.squaredNorm();
    }
    for (Eigen::Index i = 0; i < residuals.size(); ++i) {
      if (unit_[static_cast<std::size_t>(i)] < 0) continue;
      UnitSearch& unit = units[static_cast<std::size_t>(unit_[static_cast<std::size_t>(i)])];
      const auto  at =
          model_.distinct_of()[static_cast<std::size_t>(rows_[static_cast<std::size_t>(i)].first)];
      const Eigen::Vector2d a = slopes[i] * own_slopes(by_kind.slopes, at).cwiseProduct(sd);
      unit.curvature += a * a.transpose();
      unit.gradient -= a * residuals[i];
      unit.squares += residuals[i] * residuals[i];
    }
    bool moved = false;
    for (std::size_t e = 0; e < units.size(); ++e) {
      UnitSearch& unit = units[e];
      if (unit.done) continue;
      if (!(unit.squares <= unit.least + 1e-9 * std::abs(unit.least)) && round < most_rounds) {
        unit.taken *= 0.5;
        unit.z -= unit.taken;
      } else {
        unit.least = unit.squares;
        unit.taken = unit.curvature.inverse() * unit.gradient;
        unit.done  = !(unit.taken.cwiseAbs().maxCoeff() >= near_enough) || round >= most_rounds;
        if (unit.done) continue;
        const double longest = unit.taken.cwiseProduct(sd).cwiseAbs().maxCoeff();
        if (longest > farthest) unit.taken *= farthest / longest;
        unit.z += unit.taken;
      }
      moved = true;
      for (std::size_t w = 0; w < 2; ++w) {
        const int column = layout_.own[e][w];
        if (column >= 0) effects[column] = unit.z[static_cast<Eigen::Index>(w)] * of_effect_[column];
      }
    }
    if (!moved) return true;
  }
}

// the luck of edges over its standard deviations, two to a unit
Eigen::VectorXd ReducedResiduals::of_own(const Eigen::VectorXd& effects) const {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(2 * std::ssize(layout_.own));
  for (Eigen::Index k = 0; k < out.size(); ++k) {
    const int column = layout_.own[static_cast<std::size_t>(k / 2)][static_cast<std::size_t>(k % 2)];
    if (column >= 0) out[k] = effects[column] / of_effect_[column];
  }
  return out;
}

bool ReducedResiduals::operator()(const Eigen::VectorXd& y, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian) {
  const auto P    = model_.parameter_count();
  const auto apex = model_.apex(y.head(P), jacobian != nullptr);
  if (!apex.usable) return false;
  Place                       place;
  CampaignModel::SlopesByKind by_kind;
  Eigen::VectorXd             f, residuals, slopes;
  place.y       = y;
  place.effects = effects_at(y);
  if (!settle(apex, place.effects, f, by_kind)) return false;
  residuals_of(f, residuals, slopes);
  const Eigen::VectorXd rules = model_.rules() * y.head(P), centring = model_.centring() * place.effects,
                        own = of_own(place.effects);
  r.resize(residuals.size() + 1 + rules.size() + centring.size() + y.size() + own.size());
  r << residuals, std::sqrt(apart_), rules, centring, y, own;
  if (jacobian == nullptr) return true;
  place.own_squares = own.squaredNorm();
  ObservedSlopes distinct;
  model_.observe_distinct(apex, place.effects, f, &distinct.by_parameter, nullptr);
  distinct.by_kind = std::move(by_kind.slopes);
  jacobian->setZero(r.size(), y.size());
  fill_jacobian(distinct, slopes, *jacobian, place.own_log_det);
  const auto& all = model_.distinct_of();
  place.predicted = f(all);
  place.slopes    = {distinct.by_parameter(all, Eigen::all), distinct.by_kind(Eigen::all, all)};
  luck_           = place.effects;
  lately_.push_front(std::move(place));
  constexpr std::size_t remembered = 4;
  if (lately_.size() > remembered) lately_.pop_back();
  return true;
}

void ReducedResiduals::fill_jacobian(const ObservedSlopes& slopes, const Eigen::VectorXd& residual_slopes,
                                     Eigen::MatrixXd& jacobian, double& own_log_det) const {
  const auto m = residual_slopes.size(), P = model_.parameter_count(), R = model_.rules().rows(),
             C = model_.centring().rows(), S = std::ssize(layout_.shared);
  std::vector<Eigen::Index> distinct;
  for (const Repeats& row : rows_)
    distinct.push_back(model_.distinct_of()[static_cast<std::size_t>(row.first)]);
  ObservedSlopes here{residual_slopes.asDiagonal() * slopes.by_parameter(distinct, Eigen::all),
                      slopes.by_kind(Eigen::all, distinct)};
  for (int kind = 0; kind < effect_kinds; ++kind)
    here.by_kind.row(kind) = here.by_kind.row(kind).cwiseProduct(residual_slopes.transpose()) *
                             spread_.of(static_cast<EffectKind>(kind));
  jacobian.topLeftCorner(m, P) = here.by_parameter;
  for (Eigen::Index i = 0; i < m; ++i) {
    const Observation& o =
        model_.observations()[static_cast<std::size_t>(rows_[static_cast<std::size_t>(i)].first)];
    for (const EffectKind kind : kinds_shared) {
      if (const int column = o.column(kind); column >= 0)
        jacobian(i, P + layout_.shared_of[static_cast<std::size_t>(column)]) =
            here.by_kind(static_cast<int>(kind), i);
    }
  }
  // what repeats differ by among themselves hangs on nothing
  jacobian.block(m + 1, 0, R, P) = model_.rules();
  jacobian.block(m + 1 + R, P, C, S) =
      (model_.centring() * of_effect_.asDiagonal())(Eigen::all, layout_.shared);
  jacobian.block(m + 1 + R + C, 0, P + S, P + S).setIdentity();
  // what the luck of each edge takes out
  std::vector<Eigen::Matrix2d> curvature(layout_.own.size(), Eigen::Matrix2d::Identity());
  Eigen::MatrixXd              across = Eigen::MatrixXd::Zero(2 * std::ssize(layout_.own), P + S);
  for (Eigen::Index i = 0; i < m; ++i) {
    const int unit = unit_[static_cast<std::size_t>(i)];
    if (unit < 0) continue;
    const Eigen::Vector2d a = own_slopes(here.by_kind, i);
    curvature[static_cast<std::size_t>(unit)] += a * a.transpose();
    for (Eigen::Index w = 0; w < 2; ++w)
      if (a[w] != 0.0) across.row(2 * unit + w) += a[w] * jacobian.row(i);
  }
  own_log_det = 0.0;
  for (std::size_t e = 0; e < curvature.size(); ++e) {
    const auto first = 2 * static_cast<Eigen::Index>(e);
    own_log_det += std::log(curvature[e].determinant());
    across.middleRows(first, 2) = (curvature[e].inverse() * across.middleRows(first, 2)).eval();
  }
  for (Eigen::Index i = 0; i < m; ++i) {
    const int unit = unit_[static_cast<std::size_t>(i)];
    if (unit < 0) continue;
    const Eigen::Vector2d a = own_slopes(here.by_kind, i);
    jacobian.row(i) -= a.transpose() * across.middleRows(2 * unit, 2);
  }
  jacobian.bottomRows(across.rows()) = -across;
}

const ReducedResiduals::Place* ReducedResiduals::at(const Eigen::VectorXd& y) {
  for (const Place& place : lately_) {
    if (place.y == y) return &place;
  }
  Eigen::VectorXd r;
  Eigen::MatrixXd jacobian;
  return (*this)(y, r, &jacobian) ? &lately_.front() : nullptr;
}

}  // namespace arris
