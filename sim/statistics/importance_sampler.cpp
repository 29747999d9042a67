// SPDX-License-Identifier: MIT
#include "sim/statistics/importance_sampler.hpp"

#include <algorithm>
#include <limits>
#include <numeric>
#include <vector>

#include <boost/random/chi_squared_distribution.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

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

/// Two halves of normals with one top, of mean 0 and variance 1: wider to the right where the skewness is positive.
struct SplitNormal {
  double top = 0.0, left = 1.0, right = 1.0;

  SplitNormal() = default;
  // with d = right − left: skewness = √(2/π)·d·(1 + (6/π − 2)·d²), variance = (1 − 2/π)·d² + left·right
  explicit SplitNormal(double skewness) {
    constexpr double most = 0.8;
    const double     root = std::sqrt(2.0 / M_PI), wanted = std::clamp(skewness, -most, most) / root;
    double           d = wanted;
    for (int i = 0; i < 20; ++i) d = wanted / (1.0 + (6.0 / M_PI - 2.0) * d * d);
    const double product = 1.0 - (1.0 - 2.0 / M_PI) * d * d;
    left                 = 0.5 * (std::sqrt(d * d + 4.0 * product) - d);
    right                = left + d;
    top                  = -root * d;
  }
  [[nodiscard]] double width() const { return 0.5 * (left + right); }
};

/// x = c + L·y, where y are split normals that share a factor √(ν/χ²_ν).
class Proposal {
 public:
  Proposal(const Eigen::VectorXd& centre, const Eigen::MatrixXd& covariance, double dof)
      : centre_(centre), factor_(covariance), dof_(dof), sides_(static_cast<std::size_t>(centre.size())) {
    if (is_possible()) find_scale();
  }
  [[nodiscard]] bool is_possible() const { return factor_.is_positive(); }

  /// Takes the skewness of weighted draws along each of its own directions, for as much as `effective` of them tell of it.
  void lean(const Eigen::MatrixXd& x, const Eigen::VectorXd& weights, double effective) {
    constexpr double      worth = 100.0;
    const Eigen::MatrixXd y     = standardised(x);
    for (Eigen::Index j = 0; j < y.rows(); ++j) {
      const double skewness               = (y.row(j).array().cube() * weights.transpose().array()).sum();
      sides_[static_cast<std::size_t>(j)] = SplitNormal(skewness * effective / (effective + worth));
    }
    find_scale();
  }

  [[nodiscard]] Eigen::MatrixXd draw(Eigen::Index count, boost::random::mt19937_64& engine) const {
    boost::random::normal_distribution<double>      normal;
    boost::random::uniform_01<double>               uniform;
    boost::random::chi_squared_distribution<double> chi_squared(dof_);
    Eigen::MatrixXd                                 y(centre_.size(), count);
    for (Eigen::Index c = 0; c < count; ++c) {
      const double heavy = std::sqrt(dof_ / chi_squared(engine));
      for (Eigen::Index j = 0; j < y.rows(); ++j) {
        const SplitNormal& side  = sides_[static_cast<std::size_t>(j)];
        const double       size  = heavy * std::abs(normal(engine));
        const bool         right = uniform(engine) * 2.0 * side.width() < side.right;
        y(j, c)                  = side.top + (right ? side.right * size : -side.left * size);
      }
    }
    return (factor_.lower() * y).colwise() + centre_;
  }

  /// But for a constant that all proposals of these degrees of freedom share.
  [[nodiscard]] Eigen::VectorXd log_density(const Eigen::MatrixXd& x) const {
    const Eigen::MatrixXd y = standardised(x);
    Eigen::VectorXd       out(x.cols());
    for (Eigen::Index c = 0; c < y.cols(); ++c) {
      double sum = 0.0;
      for (Eigen::Index j = 0; j < y.rows(); ++j) {
        const SplitNormal& side = sides_[static_cast<std::size_t>(j)];
        const double       off  = y(j, c) - side.top;
        sum += std::pow(off / (off > 0.0 ? side.right : side.left), 2);
      }
      out[c] = -0.5 * (dof_ + static_cast<double>(y.rows())) * std::log1p(sum / dof_) - log_scale_;
    }
    return out;
  }

 private:
  [[nodiscard]] Eigen::MatrixXd standardised(const Eigen::MatrixXd& x) const {
    return factor_.lower_inverse_times(x.colwise() - centre_);
  }
  void find_scale() {
    log_scale_ = 0.5 * factor_.log_determinant();
    for (const SplitNormal& side : sides_) log_scale_ += std::log(side.width());
  }

  Eigen::VectorXd          centre_;
  Cholesky                 factor_;
  double                   dof_;
  std::vector<SplitNormal> sides_;
  double                   log_scale_ = 0.0;
};

/// What all rounds proposed: each point's weight is its density over the mean density with which the rounds together propose there.
class Pool {
 public:
  Pool(const LogDensities& densities, Eigen::Index dimensions) : densities_(densities), x_(dimensions, 0) {}

  void add(const Proposal& proposal, Eigen::Index count, boost::random::mt19937_64& engine) {
    const Eigen::MatrixXd made = proposal.draw(count, engine);
    const auto            old = x_.cols(), rounds = proposed_.cols();
    x_.conservativeResize(Eigen::NoChange, old + count);
    x_.rightCols(count) = made;
    there_.conservativeResize(old + count);
    there_.tail(count) = densities_(made);
    proposed_.conservativeResize(old + count, rounds + 1);
    for (Eigen::Index k = 0; k < rounds; ++k)
      proposed_.col(k).tail(count) = rounds_[static_cast<std::size_t>(k)].log_density(made);
    proposed_.col(rounds) = proposal.log_density(x_);
    rounds_.push_back(proposal);
    counts_.push_back(static_cast<double>(count));
  }

  [[nodiscard]] ParetoSmoothed weighed() const {
    Eigen::VectorXd log_weights(x_.cols());
    for (Eigen::Index i = 0; i < x_.cols(); ++i) {
      const double top = proposed_.row(i).maxCoeff();
      double       sum = 0.0;
      for (Eigen::Index k = 0; k < proposed_.cols(); ++k)
        sum += counts_[static_cast<std::size_t>(k)] * std::exp(proposed_(i, k) - top);
      log_weights[i] = there_[i] - top - std::log(sum);
    }
    return pareto_smoothed(log_weights);
  }
  [[nodiscard]] const Eigen::MatrixXd& x() const { return x_; }
  [[nodiscard]] const Eigen::VectorXd& log_density() const { return there_; }

 private:
  const LogDensities&   densities_;
  Eigen::MatrixXd       x_;         ///< columns are points
  Eigen::VectorXd       there_;     ///< log density of each
  Eigen::MatrixXd       proposed_;  ///< points × rounds: log density of each proposal there
  std::vector<Proposal> rounds_;
  std::vector<double>   counts_;
};

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

// about the weighted mean of what is in the pool; few draws that carry the weight leave most of the covariance that was there
Proposal next_proposal(const Pool& pool, const ParetoSmoothed& smoothed, const Eigen::MatrixXd& before,
                       double dof) {
  const Eigen::VectorXd mean = pool.x() * smoothed.weights;
  const Eigen::MatrixXd off  = pool.x().colwise() - mean;
  const double          seen = smoothed.effective(), assumed = 2.0 * static_cast<double>(mean.size());
  const Eigen::MatrixXd found = off * smoothed.weights.asDiagonal() * off.transpose();
  Proposal              out(mean, (seen * found + assumed * before) / (seen + assumed), dof);
  if (out.is_possible()) out.lean(pool.x(), smoothed.weights, seen);
  return out;
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
  const int                 least = std::max(options.wanted_draws / 2, options.least_round);
  const int       most = std::max(options.most_per_draw * options.wanted_draws, options.most_points);
  Pool            pool(densities, centre.size());
  Proposal        proposal(centre, covariance, options.dof);
  ImportanceDraws out;
  ParetoSmoothed  smoothed;
  while (!out.usable && proposal.is_possible() && out.proposals < most) {
    pool.add(proposal, std::max(least, out.proposals / 4), engine);
    smoothed      = pool.weighed();
    out.proposals = static_cast<int>(pool.x().cols());
    out.shape     = smoothed.shape;
    if (!(smoothed.weights.sum() > 0.0)) return out;
    out.effective = smoothed.effective();
    out.usable =
        out.shape < options.worst_shape && out.effective >= options.least_worth * options.wanted_draws;
    proposal = next_proposal(pool, smoothed, covariance, options.dof);
  }
  if (out.proposals == 0) return out;
  // all rounds are done: fewer are enough, as long as their weights can be trusted
  out.usable =
      out.shape < options.worst_shape && out.effective >= options.fewest_worth * options.wanted_draws;
  const auto taken = resampled(smoothed.weights, options.wanted_draws);
  out.values       = pool.x()(Eigen::all, taken).transpose();
  out.log_density  = pool.log_density()(taken);
  return out;
}

}  // namespace arris
