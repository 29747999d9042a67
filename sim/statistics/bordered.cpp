// SPDX-License-Identifier: MIT
#include "sim/statistics/bordered.hpp"

#include <cmath>

#include <Eigen/LU>

namespace arris {

void add_at(Eigen::MatrixXd& to, const std::vector<int>& met, const Eigen::Matrix2Xd& a,
            const Eigen::Matrix2Xd& b, double times) {
  for (std::size_t k = 0; k < met.size(); ++k) {
    const auto   column = static_cast<Eigen::Index>(k);
    const double b0 = times * b(0, column), b1 = times * b(1, column);
    double*      into = to.data() + static_cast<Eigen::Index>(met[k]) * to.rows();
    for (std::size_t l = 0; l < met.size(); ++l)
      into[met[l]] += a(0, static_cast<Eigen::Index>(l)) * b0 + a(1, static_cast<Eigen::Index>(l)) * b1;
  }
}

BorderedFactor::BorderedFactor(const Bordered& m) : reduced(m.rest), is_positive(true) {
  own.reserve(m.units());
  across.reserve(m.units());
  for (std::size_t e = 0; e < m.units(); ++e) {
    const Eigen::Matrix2d& a           = m.own[e];
    const double           determinant = a.determinant();
    is_positive &= a(0, 0) > 0.0 && determinant > 0.0;
    log_determinant += std::log(determinant);
    own.emplace_back(a.inverse());
    across.emplace_back(own.back() * m.border[e]);
    add_at(reduced, m.met[e], m.border[e], across.back(), -1.0);
  }
  if (!is_positive || reduced.rows() == 0) return;
  factor      = Cholesky(reduced);
  is_positive = factor.is_positive();
  if (is_positive) log_determinant += factor.log_determinant();
}

}  // namespace arris
