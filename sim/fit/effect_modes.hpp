// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <span>
#include <vector>

#include <Eigen/Core>

#include "sim/fit/fit.hpp"
#include "sim/fit/noise.hpp"

namespace arris {

/// Finds the mode of a campaign's effects at given histories and standard deviations; made once for many of them. See marginal.hpp.
class EffectModes {
 public:
  explicit EffectModes(const CampaignModel& model);

  /// Log density of the readings with the effects integrated out about their mode, which is sought from `effects` (q) and left there;
  /// −∞ where `apex` is not usable. Any number of threads may ask at once.
  [[nodiscard]] double log_likelihood(const CampaignModel::Apex& apex, const Spread& spread,
                                      Eigen::VectorXd& effects) const;

  /// What readings tell of the luck of one edge: logs of the factors on its apex and on its rate of wear, which are normal about the mode;
  /// 0 where the campaign has no such effect, or no reading of the edge.
  struct EdgeLuck {
    Eigen::Vector2d mode       = Eigen::Vector2d::Zero();
    Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  };
  /// Given the readings of all edges, at `apex`, which must be usable, and `spread`. `edge` is an index into Scenario::edges.
  [[nodiscard]] EdgeLuck luck_of(const CampaignModel::Apex& apex, const Spread& spread, int edge) const;

  /// What readings tell of the effects of some kinds that edges share: logs of factors, in the order of their columns, which are
  /// normal about the mode.
  struct SharedEffects {
    Eigen::VectorXd mode;
    Eigen::MatrixXd covariance;
  };
  /// At `apex`, which must be usable, and `spread`; the mode is sought from `effects` (q). `kinds` are of kinds_shared.
  [[nodiscard]] SharedEffects effects_of(std::span<const EffectKind> kinds, const CampaignModel::Apex& apex,
                                         const Spread& spread, Eigen::VectorXd effects) const;

 private:
  static constexpr int own = 2;  ///< effects of an edge alone: on its apex, on its rate of wear

  /// A shared effect that a row has: its kind, and its place among those that its edge meets.
  struct Meets {
    EffectKind kind;
    int        at;
  };
  /// The rows of an edge, the columns of its own effects (−1: it has none), and which shared effects it meets: few of those there are.
  struct EdgeRows {
    int                       edge = -1;  ///< index into Scenario::edges
    std::array<int, own>      columns{-1, -1};
    std::vector<Eigen::Index> rows;
    std::vector<Meets>        meets;        ///< of its rows, one after another
    std::vector<std::size_t>  first_meets;  ///< of each row, and the end
    std::vector<int>          shared;       ///< places in `shared_`, ascending
    Eigen::Index              first = 0;    ///< where its block of the border begins
  };
  struct Scale;     // what a spread sets
  struct Rows;      // residuals and their slopes
  struct Gradient;  // of the log density
  struct Normal;    // K
  struct Mode;      // where no step is left to take

  void find_edges();
  void find_what_edges_meet();

  [[nodiscard]] Scale    scale_of(const Spread& spread) const;
  [[nodiscard]] Rows     rows_at(const CampaignModel::Apex& apex, const Scale& scale,
                                 const Eigen::VectorXd& effects) const;
  [[nodiscard]] Gradient gradient_at(const Rows& rows, const Scale& scale, const Eigen::VectorXd& z) const;
  [[nodiscard]] Normal   normal_at(const Rows& rows, const Scale& scale) const;
  void add_edge(const EdgeRows& edge, const Rows& rows, Normal& normal, Eigen::MatrixXd& rest,
                std::vector<double>& gram) const;
  [[nodiscard]] Eigen::VectorXd step_of(const Normal& normal, Gradient gradient) const;
  [[nodiscard]] Mode            mode_from(const CampaignModel::Apex& apex, const Spread& spread,
                                          Eigen::VectorXd& effects) const;

  const CampaignModel&  model_;
  std::vector<Repeats>  rows_;
  std::vector<EdgeRows> edges_;
  std::vector<int>      shared_;       ///< columns of effects that edges share
  std::vector<int>      shared_of_;    ///< of a column: its place in `shared_`, −1 for one of an edge
  Eigen::MatrixXd       ties_, tied_;  ///< what centres shared effects (rows × shared), and its Gram matrix
};

}  // namespace arris
