// SPDX-License-Identifier: MIT
#include "sim/statistics/linear_algebra.hpp"

#include <Eigen/Eigenvalues>
#include <Eigen/QR>

namespace arris {

using Eigen::MatrixXd;
using Eigen::VectorXd;

Cholesky::Cholesky(const MatrixXd& a) : factor_(a) {}

MatrixXd Cholesky::lower() const { return factor_.matrixL(); }
double Cholesky::log_determinant() const { return 2.0 * factor_.matrixLLT().diagonal().array().log().sum(); }
VectorXd Cholesky::solve(const VectorXd& b) const { return factor_.solve(b); }
MatrixXd Cholesky::solve(const MatrixXd& b) const { return factor_.solve(b); }
MatrixXd Cholesky::inverse() const {
  return factor_.solve(MatrixXd::Identity(factor_.rows(), factor_.cols()));
}

MatrixXd Cholesky::lower_inverse_times(const MatrixXd& b) const { return factor_.matrixL().solve(b); }

MatrixXd solve_symmetric(const MatrixXd& a, const MatrixXd& b) { return a.ldlt().solve(b); }
VectorXd solve_symmetric(const MatrixXd& a, const VectorXd& b) { return a.ldlt().solve(b); }
MatrixXd inverse_symmetric(const MatrixXd& a) {
  return solve_symmetric(a, MatrixXd(MatrixXd::Identity(a.rows(), a.cols())));
}

SymmetricEigen eigen_of_symmetric(const MatrixXd& a) {
  if (a.size() == 0) return {};
  const Eigen::SelfAdjointEigenSolver<MatrixXd> of(a);
  return {of.eigenvalues(), of.eigenvectors()};
}

Eigen::Index rank_of(const MatrixXd& a) {
  return a.size() == 0 ? 0 : Eigen::ColPivHouseholderQR<MatrixXd>(a).rank();
}

}  // namespace arris
