// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/statistics/linear_algebra.hpp"

/// Symmetric matrices of blocks of two along the diagonal that meet in a border alone.
///
///     M = | A  F |    A = diag(A_1 … A_E), each 2 × 2;  F = (F_1 … F_E), each 2 × b;  D b × b
///         | Fᵀ D |
///
/// What is nested in a unit (the luck of an edge, and of its rate of wear) has the blocks; what units share has the border. A unit
/// meets few columns of the border, so that its F_e is kept at these alone. All work is in the number of units.
///
///     M⁻¹ = | A⁻¹ 0 | + | −U | · S⁻¹ · ( −Uᵀ 1 ),   U = A⁻¹·F,  S = D − Fᵀ·A⁻¹·F
///           |  0  0 |   |  1 |
namespace arris {

struct Bordered {
  std::vector<Eigen::Matrix2d>  own;     ///< A_e
  std::vector<std::vector<int>> met;     ///< by unit: columns of the border where F_e is not 0, ascending
  std::vector<Eigen::Matrix2Xd> border;  ///< F_e at these
  Eigen::MatrixXd               rest;    ///< D

  [[nodiscard]] std::size_t  units() const { return own.size(); }
  [[nodiscard]] Eigen::Index width() const { return rest.cols(); }
};

/// M divided into what M⁻¹ needs. Where M is not positive definite the rest has no meaning.
struct BorderedFactor {
  explicit BorderedFactor(const Bordered& m);
  BorderedFactor() = default;  ///< of nothing

  std::vector<Eigen::Matrix2d>  own;                    ///< A_e⁻¹
  std::vector<Eigen::Matrix2Xd> across;                 ///< U_e, at the columns that the unit meets
  Eigen::MatrixXd               reduced;                ///< S
  Cholesky                      factor;                 ///< of S
  double                        log_determinant = 0.0;  ///< of M
  bool                          is_positive     = false;
};

/// Adds aᵀ·b at the places `met` × `met` of a square matrix; a and b are 2 × met.
void add_at(Eigen::MatrixXd& to, const std::vector<int>& met, const Eigen::Matrix2Xd& a,
            const Eigen::Matrix2Xd& b, double times = 1.0);

}  // namespace arris
