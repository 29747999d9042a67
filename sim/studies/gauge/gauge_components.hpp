// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/studies/gauge/gauge.hpp"

/// The linear algebra of a gauge study: least squares beside edges, analysis of variance, restricted maximum likelihood.
namespace arris {

/// The readings that count, as numbers.
struct GaugeDesign {
  Eigen::VectorXd  y;       ///< log of gf, or gf
  std::vector<int> part;    ///< of each reading, from 0
  std::vector<int> person;  ///< operator
  std::vector<int> cell;    ///< part and operator together
  int              parts = 0, persons = 0, cells = 0;

  [[nodiscard]] Eigen::Index size() const { return y.size(); }
};

/// Least squares of y on the indicators of groups and further columns.
struct WithinFit {
  Eigen::VectorXd residual;
  Eigen::VectorXd leverage;             ///< diagonal of the hat matrix
  Eigen::VectorXd coefficient;          ///< of the columns; meaningless unless `full_rank`
  Eigen::MatrixXd unscaled;             ///< their covariance over σ²; empty unless `full_rank`
  int             rank        = 0;      ///< of the columns beside the groups
  bool            full_rank   = false;  ///< every column can be told from the groups and the others
  double          df          = 0.0;
  double          sum_squares = 0.0;

  [[nodiscard]] double mean_square() const { return sum_squares / df; }
};

/// The groups are taken out by centring within them, so that the work is in the number of columns. `columns` is n × m, m ≥ 0;
/// every group 0 … groups − 1 has a member.
[[nodiscard]] WithinFit within_fit(const Eigen::VectorXd& y, const std::vector<int>& group, int groups,
                                   const Eigen::MatrixXd& columns);

/// n × (levels − 1) columns whose coefficients are the effects of all levels but the last; effects add up to 0.
[[nodiscard]] Eigen::MatrixXd sum_to_zero(const std::vector<int>& level, int levels);

/// Fills components, share and the analysis of variance of a balanced study. `apart` is the fit of cells; `crossed`,
/// `interaction_kept` of the result are set already.
void anova_components(const GaugeDesign& design, const WithinFit& apart, const WithinFit& additive,
                      const GaugeSettings& settings, GaugeResult& result);

/// The same for any study by restricted maximum likelihood; `interaction_df` are the degrees of freedom of the interaction.
/// Throws Error as `gauge` does.
///
/// The interval of a variance θ between n + 1 levels takes M = θ̂ + v, with v what is left of the noise in the mean of a level,
/// for M·χ²(n)/n: L, U = M̂·n/χ²(n) − v (Williams 1962), where M̂ = √(n/2·var θ̂) by the expected information. Sums: L = θ̂ −
/// √Σ(θ̂_i − L_i)², U = θ̂ + √Σ(U_i − θ̂_i)² (Zou & Donner 2008). From memory; the coverage is tested.
void reml_components(const GaugeDesign& design, const WithinFit& base, double interaction_df,
                     const GaugeSettings& settings, GaugeResult& result);

}  // namespace arris
