// SPDX-License-Identifier: MIT
#include "sim/statistics/stacking.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>

namespace arris {

Eigen::VectorXd stacking_weights(const Eigen::MatrixXd& log_densities, double doubt, double gap) {
  const auto      n = log_densities.rows(), k = log_densities.cols();
  Eigen::VectorXd w = Eigen::VectorXd::Constant(k, 1.0 / static_cast<double>(k));
  if (n == 0) return w;
  // densities relative to the best of each datum, which changes no weight and keeps them in range
  const Eigen::VectorXd best        = log_densities.rowwise().maxCoeff();
  const Eigen::MatrixXd p           = (log_densities.colwise() - best).array().exp();
  constexpr int         most_rounds = 100000;
  for (int round = 0; round < most_rounds; ++round) {
    const Eigen::VectorXd mixed = p * w;
    // what each datum ascribes to each model, and the prior with it
    const Eigen::VectorXd ascribed =
        w.cwiseProduct(p.transpose() * mixed.cwiseInverse()) + Eigen::VectorXd::Constant(k, doubt);
    const Eigen::VectorXd next = ascribed / ascribed.sum();
    // the slopes of the sum per datum; the largest less 1 bounds what is left to gain
    double most = 0.0;
    for (Eigen::Index j = 0; j < k; ++j)
      if (w[j] > 0.0) most = std::max(most, next[j] / w[j]);
    if (most - 1.0 < gap) break;
    w = next;
  }
  return w / w.sum();
}

double sign_flip_probability(const std::vector<double>& differences) {
  constexpr std::size_t most = 16;
  const std::size_t     n    = differences.size();
  double                sum = 0.0, squares = 0.0, sizes = 0.0;
  for (const double d : differences) {
    sum += d;
    squares += d * d;
    sizes += std::abs(d);
  }
  if (!(squares > 0.0)) return 1.0;
  if (n > most) return std::erfc(std::abs(sum) / std::sqrt(2.0 * squares));
  const double observed    = std::abs(sum) - 1e-12 * sizes;  // sums that are equal but for rounding are equal
  const std::size_t all    = std::size_t{1} << n;
  std::size_t       as_far = 0;
  for (std::size_t signs = 0; signs < all; ++signs) {
    double flipped = 0.0;
    for (std::size_t i = 0; i < n; ++i) flipped += (signs >> i & 1U) != 0 ? -differences[i] : differences[i];
    if (std::abs(flipped) >= observed) ++as_far;
  }
  return static_cast<double>(as_far) / static_cast<double>(all);
}

double standard_error_of_sum(const std::vector<double>& parts) {
  const auto n = static_cast<double>(parts.size());
  if (parts.size() < 2) return std::numeric_limits<double>::quiet_NaN();
  double mean = 0.0, squares = 0.0;
  for (const double p : parts) mean += p / n;
  for (const double p : parts) squares += (p - mean) * (p - mean);
  return std::sqrt(n * squares / (n - 1.0));
}

}  // namespace arris
