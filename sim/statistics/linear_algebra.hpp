// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Cholesky>
#include <Eigen/Core>

/// Solutions of dense linear systems by Eigen, compiled once. Sizes must fit each other, as Eigen asserts in debug builds.
namespace arris {

/// Of a symmetric positive definite matrix A = L·Lᵀ.
class Cholesky {
 public:
  Cholesky() = default;  ///< of nothing
  explicit Cholesky(const Eigen::MatrixXd& a);

  /// Whether A was positive definite; the rest has no meaning where it was not.
  [[nodiscard]] bool            is_positive() const { return factor_.info() == Eigen::Success; }
  [[nodiscard]] Eigen::MatrixXd lower() const;                          ///< L, zeros above its diagonal
  [[nodiscard]] double          log_determinant() const;                ///< log det A
  [[nodiscard]] Eigen::VectorXd solve(const Eigen::VectorXd& b) const;  ///< A⁻¹·b
  [[nodiscard]] Eigen::MatrixXd solve(const Eigen::MatrixXd& b) const;  ///< A⁻¹·B
  [[nodiscard]] Eigen::MatrixXd inverse() const;
  [[nodiscard]] Eigen::MatrixXd lower_inverse_times(const Eigen::MatrixXd& b) const;  ///< L⁻¹·B

 private:
  Eigen::LLT<Eigen::MatrixXd> factor_;
};

/// A⁻¹·B of a symmetric A that may be nearly singular, by L·D·Lᵀ with pivots.
[[nodiscard]] Eigen::MatrixXd solve_symmetric(const Eigen::MatrixXd& a, const Eigen::MatrixXd& b);
[[nodiscard]] Eigen::VectorXd solve_symmetric(const Eigen::MatrixXd& a, const Eigen::VectorXd& b);
[[nodiscard]] Eigen::MatrixXd inverse_symmetric(const Eigen::MatrixXd& a);

/// A = V·diag(λ)·Vᵀ of a symmetric A, of which the lower triangle is read.
struct SymmetricEigen {
  Eigen::VectorXd values;   ///< λ, ascending
  Eigen::MatrixXd vectors;  ///< V, a column for each
};
[[nodiscard]] SymmetricEigen eigen_of_symmetric(const Eigen::MatrixXd& a);

/// How many columns are independent, by QR with pivots; 0 of a matrix without rows or columns.
[[nodiscard]] Eigen::Index rank_of(const Eigen::MatrixXd& a);

}  // namespace arris
