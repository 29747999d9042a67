// SPDX-License-Identifier: MIT
#include "sim/statistics/importance_sampler.hpp"

#include <algorithm>
#include <limits>
#include <numeric>
#include <vector>

#include <boost/random/chi_squared_distribution.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>

#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

/// Generalised Pareto distribution of what is beyond a threshold: 1 − (1 + k·x/σ)^(−1/k).
struct ParetoTail {
  double               shape, scale;
  [[nodiscard]] double quantile(double p) const {
    return std::abs(shape) < 1e-12 ? -scale * std::log1p(-p)
                                   : scale * std::expm1(-shape * std::log1p(-p)) / shape;
  }
};

// by Zhang & Stephens, with a weak prior at k = 1/2; `excess` ascending and positive
ParetoTail fitted_tail(const std::vector<double>& excess) {
  constexpr double prior_scale = 3.0, prior_worth = 10.0, prior_shape = 0.5;
  const auto       n        = static_cast<double>(excess.size());
  const auto       count    = static_cast<int>(30.0 + std::floor(std::sqrt(n)));
  const double     quarter  = excess[static_cast<std::size_t>(std::floor(0.25 * n + 0.5)) - 1];
  const auto       shape_at = [&](double theta) {
    double sum = 0.0;
    for (const double x : excess) sum += std::log1p(-theta * x);
    return sum / n;
  };
  std::vector<double> thetas, logs;
  for (int j = 1; j <= count; ++j) {
    const double theta = 1.0 / excess.back() + (1.0 - std::sqrt(count / (j - 0.5))) / (prior_scale * quarter);
    const double shape = shape_at(theta);
    thetas.push_back(theta);
    logs.push_back(n * (std::log(-theta / shape) - shape - 1.0));
  }
  const double top = *std::max_element(logs.begin(), logs.end());
  double       sum = 0.0, theta = 0.0;
  for (std::size_t j = 0; j < thetas.size(); ++j) {
    sum += std::exp(logs[j] - top);
    theta += std::exp(logs[j] - top) * thetas[j];
  }
  theta /= sum;
  const double shape = shape_at(theta);
  return {(n * shape + prior_worth * prior_shape) / (n + prior_worth), -shape / theta};
}

/// Columns are proposals; `log_density` is that with which they were made, but for a constant.
struct Proposed {
  Eigen::MatrixXd x;
  Eigen::VectorXd log_density;
};

Proposed propose(const Eigen::VectorXd& centre, const Eigen::MatrixXd& lower, Eigen::Index count, double dof,
                 boost::random::mt19937_64& engine) {
  boost::random::normal_distribution<double>      normal;
  boost::random::chi_squared_distribution<double> chi_squared(dof);
  const auto                                      d = centre.size();
  Proposed                                        out{Eigen::MatrixXd(d, count), Eigen::VectorXd(count)};
  for (Eigen::Index c = 0; c < count; ++c) {
    Eigen::VectorXd z(d);
    for (double& value : z) value = normal(engine);
    z *= std::sqrt(dof / chi_squared(engine));
    out.log_density[c] = -0.5 * (dof + static_cast<double>(d)) * std::log1p(z.squaredNorm() / dof);
    out.x.col(c)       = centre + lower * z;
  }
  return out;
}

// so many columns, each as often as its weight has it
std::vector<Eigen::Index> resampled(const Eigen::VectorXd& weights, int wanted) {
  std::vector<Eigen::Index> out;
  double                    sum  = 0.0;
  Eigen::Index              last = 0;
  for (Eigen::Index c = 0; c < weights.size(); ++c) {
    sum += weights[c];
    if (weights[c] > 0.0) last = c;
    while (static_cast<int>(out.size()) < wanted && static_cast<double>(out.size()) + 0.5 <= sum * wanted)
      out.push_back(c);
  }
  while (static_cast<int>(out.size()) < wanted) out.push_back(last);  // rounding
  return out;
}

Eigen::MatrixXd weighted_covariance(const Eigen::MatrixXd& x, const Eigen::VectorXd& weights,
                                    const Eigen::VectorXd& mean) {
  const Eigen::MatrixXd off = x.colwise() - mean;
  return off * weights.asDiagonal() * off.transpose();
}

}  // namespace

ParetoSmoothed pareto_smoothed(const Eigen::VectorXd& log_weights) {
  constexpr std::size_t     fewest = 5;
  std::vector<Eigen::Index> order;
  for (Eigen::Index i = 0; i < log_weights.size(); ++i)
    if (std::isfinite(log_weights[i])) order.push_back(i);
  std::stable_sort(order.begin(), order.end(),
                   [&](Eigen::Index a, Eigen::Index b) { return log_weights[a] < log_weights[b]; });
  ParetoSmoothed out{Eigen::VectorXd::Zero(log_weights.size()), std::numeric_limits<double>::infinity()};
  if (order.empty()) return out;
  const double top = log_weights[order.back()];
  for (const Eigen::Index i : order) out.weights[i] = std::exp(log_weights[i] - top);
  const auto n    = static_cast<double>(order.size());
  const auto tail = static_cast<std::size_t>(std::min(std::ceil(0.2 * n), std::ceil(3.0 * std::sqrt(n))));
  if (tail >= fewest && tail < order.size()) {
    const double        threshold = out.weights[order[order.size() - tail - 1]];
    std::vector<double> excess;
    for (std::size_t i = order.size() - tail; i < order.size(); ++i)
      excess.push_back(out.weights[order[i]] - threshold);
    if (excess.front() > 0.0) {
      const ParetoTail fitted = fitted_tail(excess);
      out.shape               = fitted.shape;
      for (std::size_t i = 0; i < tail; ++i) {
        const double smooth =
            threshold + fitted.quantile((static_cast<double>(i) + 0.5) / static_cast<double>(tail));
        out.weights[order[order.size() - tail + i]] =
            std::min(smooth, 1.0);  // none above the largest there was
      }
    }
  }
  out.weights /= out.weights.sum();
  return out;
}

ImportanceDraws importance_sample(const LogDensities& densities, const Eigen::VectorXd& centre,
                                  const Eigen::MatrixXd& covariance, const ImportanceOptions& options) {
  boost::random::mt19937_64 engine(options.seed);
  Eigen::VectorXd           middle = centre;
  Eigen::MatrixXd           spread = covariance;
  ImportanceDraws           out;
  for (int round = 0; round < options.rounds && !out.usable; ++round) {
    const Cholesky factor(spread);
    if (!factor.is_positive()) return out;
    const Eigen::Index    count    = static_cast<Eigen::Index>(options.per_draw) * options.wanted_draws;
    const Proposed        made     = propose(middle, factor.lower(), count, options.dof, engine);
    const Eigen::VectorXd there    = densities(made.x);
    const ParetoSmoothed  smoothed = pareto_smoothed(there - made.log_density);
    if (!(smoothed.weights.sum() > 0.0)) return out;
    out.proposals += static_cast<int>(count);
    out.shape     = smoothed.shape;
    out.effective = smoothed.effective();
    out.usable =
        out.shape < options.worst_shape && out.effective >= options.least_worth * options.wanted_draws;
    const auto taken = resampled(smoothed.weights, options.wanted_draws);
    out.values       = made.x(Eigen::all, taken).transpose();
    out.log_density  = there(taken);
    middle           = made.x * smoothed.weights;
    spread           = weighted_covariance(made.x, smoothed.weights, middle);
  }
  return out;
}

}  // namespace arris
