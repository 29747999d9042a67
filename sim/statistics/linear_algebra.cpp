// SPDX-License-Identifier: MIT
#include "sim/statistics/linear_algebra.hpp"

#include <Eigen/Cholesky>

namespace arris {

using Eigen::MatrixXd;
using Eigen::VectorXd;

Cholesky::Cholesky(const MatrixXd& a) {
  const Eigen::LLT<MatrixXd> factor(a);
  lower_    = factor.matrixL();
  positive_ = factor.info() == Eigen::Success;
}

double Cholesky::log_determinant() const { return 2.0 * lower_.diagonal().array().log().sum(); }

VectorXd Cholesky::solve(const VectorXd& b) const {
  const auto     l    = lower_.triangularView<Eigen::Lower>();
  const VectorXd half = l.solve(b);
  return l.transpose().solve(half);
}

MatrixXd Cholesky::solve(const MatrixXd& b) const {
  const auto     l    = lower_.triangularView<Eigen::Lower>();
  const MatrixXd half = l.solve(b);
  return l.transpose().solve(half);
}

MatrixXd Cholesky::inverse() const {
  return solve(MatrixXd(MatrixXd::Identity(lower_.rows(), lower_.cols())));
}

MatrixXd solve_symmetric(const MatrixXd& a, const MatrixXd& b) { return a.ldlt().solve(b); }
VectorXd solve_symmetric(const MatrixXd& a, const VectorXd& b) { return a.ldlt().solve(b); }
MatrixXd inverse_symmetric(const MatrixXd& a) {
  return solve_symmetric(a, MatrixXd(MatrixXd::Identity(a.rows(), a.cols())));
}

}  // namespace arris
