// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <deque>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit.hpp"
#include "sim/fit/noise.hpp"
#include "sim/statistics/bordered.hpp"

/// The posterior of a campaign as a function of its parameters and of the effects that edges share, the luck of every edge and of its rate of
/// wear being at its best there.
///
///     min over η_own of ‖r(u, η_shared, η_own)‖²,   J̃ = (1 − A·A⁺)·J,   A: slopes by what is an edge's own, priors of it included
///
/// The luck of an edge touches its own readings alone, so it is found edge by edge, two unknowns to each; the least squares that are left have
/// as many unknowns as there are parameters and shared effects, whatever the number of edges. J̃ has the gradient of the reduced
/// problem and Gauss–Newton's curvature of the whole one (variable projection).
/// Source: Golub & Pereyra 1973; Kaufman 1975 (from memory).
namespace arris {

/// Which effects are an edge's own, and which are shared.
struct EffectLayout {
  explicit EffectLayout(const CampaignModel& model);

  std::vector<std::array<int, 2>> own;  ///< by unit: columns of the luck of an edge and of its rate; −1: none
  std::vector<int> unit;       ///< n: whose reading an observation is; −1: it has no effect of an edge
  std::vector<int> shared;     ///< columns of effects that edges share
  std::vector<int> shared_of;  ///< q: place in `shared`; −1
};

inline constexpr std::array<EffectKind, 2> kinds_of_edge{EffectKind::edge, EffectKind::rate};

/// Slopes of observations: of parameters, and of the effects that each has.
struct ObservedSlopes {
  Eigen::MatrixXd by_parameter;  ///< n × P
  Eigen::MatrixXd by_kind;       ///< effect_kinds × n
};

/// JᵀJ of observations by what edges have of their own and the rest: parameters, then shared effects.
[[nodiscard]] Bordered gram_of(const CampaignModel& model, const EffectLayout& layout,
                               const ObservedSlopes& slopes);

/// Bounds as least_squares takes them, of `all` unknowns that begin with u.
void set_bounds(const CampaignModel& model, Eigen::Index all, LeastSquaresOptions& options);

/// Covariance of u and of shared effects over their standard deviations, the luck of edges integrated out; what is held does not vary.
[[nodiscard]] Eigen::MatrixXd shared_covariance(const CampaignModel& model, const FitPoint& point,
                                                const Information& at);

class ReducedResiduals {
 public:
  /// `spread` may change by set_spread.
  ReducedResiduals(const CampaignModel& model, const Spread& spread);

  [[nodiscard]] const EffectLayout& layout() const { return layout_; }
  /// Parameters and shared effects.
  [[nodiscard]] Eigen::Index size() const;
  /// Begins at u and η: what is left of them, parameters and shared effects over their standard deviations.
  [[nodiscard]] Eigen::VectorXd begin(const Eigen::VectorXd& u, const Eigen::VectorXd& effects);
  void                          set_spread(const Spread& spread);

  /// As least_squares takes it. Rows: repeats (noise.hpp), what they differ by among themselves, rules of thumb, centring, parameters, shared
  /// effects, own effects.
  bool operator()(const Eigen::VectorXd& y, Eigen::VectorXd& r, Eigen::MatrixXd* jacobian);

  /// All that is known at a place.
  struct Place {
    Eigen::VectorXd y;
    Eigen::VectorXd effects;          ///< q
    Eigen::VectorXd predicted;        ///< n, log
    ObservedSlopes  slopes;           ///< of the log predictions
    double          own_log_det = 0;  ///< log det of AᵀA
    double          own_squares = 0;  ///< of η_own over their standard deviations
  };
  /// At a place where the Jacobian was had lately, or it is had again; nullptr where histories fail.
  [[nodiscard]] const Place* at(const Eigen::VectorXd& y);

 private:
  [[nodiscard]] Eigen::VectorXd effects_at(const Eigen::VectorXd& y) const;
  [[nodiscard]] Eigen::VectorXd of_own(const Eigen::VectorXd& effects) const;
  /// Residuals of repeats from what is foretold of distinct observations, and their slopes by that.
  void residuals_of(const Eigen::VectorXd& f, Eigen::VectorXd& residuals, Eigen::VectorXd& slopes) const;
  /// `f` and `by_kind` are of distinct observations.
  bool settle(const CampaignModel::Apex& apex, Eigen::VectorXd& effects, Eigen::VectorXd& f,
              CampaignModel::SlopesByKind& by_kind) const;
  void fill_jacobian(const ObservedSlopes& slopes, const Eigen::VectorXd& residual_slopes,
                     Eigen::MatrixXd& jacobian, double& own_log_det) const;

  const CampaignModel& model_;
  EffectLayout         layout_;
  std::vector<Repeats> rows_;
  std::vector<int>     unit_;  ///< of each of them, as EffectLayout::unit
  Spread               spread_;
  Eigen::VectorXd      sd_, of_effect_;  ///< of repeats, of effects
  double               apart_ = 0.0;     ///< Σ of the squared residuals that repeats have among themselves
  Eigen::VectorXd      luck_;            ///< q: effects where the Jacobian was had last
  std::deque<Place>    lately_;          ///< where it was, the last first
};

}  // namespace arris
