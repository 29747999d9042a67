// SPDX-License-Identifier: MIT
#include "sim/statistics/ensemble_sampler.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>

#include "sim/parallel.hpp"

namespace arris {

double autocorrelation_time(const Eigen::MatrixXd& chains) {
  const auto      n = chains.rows(), w = chains.cols();
  Eigen::VectorXd sum  = Eigen::VectorXd::Zero(n);
  int             used = 0;
  const auto      lags = std::min<Eigen::Index>(n, 4000);
  for (Eigen::Index c = 0; c < w; ++c) {
    const Eigen::VectorXd x        = chains.col(c).array() - chains.col(c).mean();
    const double          variance = x.squaredNorm() / static_cast<double>(n);
    if (!(variance > 0.0)) continue;
    for (Eigen::Index lag = 0; lag < lags; ++lag) {
      sum[lag] += x.head(n - lag).dot(x.tail(n - lag)) / static_cast<double>(n) / variance;
    }
    ++used;
  }
  if (used == 0) return std::numeric_limits<double>::infinity();
  double tau = 1.0;
  for (Eigen::Index lag = 1; lag < lags; ++lag) {
    tau += 2.0 * sum[lag] / used;
    if (static_cast<double>(lag) >= 5.0 * tau) break;  // Sokal's window
  }
  return std::max(tau, 1.0);
}

double split_r_hat(const Eigen::MatrixXd& chains) {
  const auto      half = chains.rows() / 2, w = chains.cols();
  Eigen::VectorXd mean(2 * w), variance(2 * w);
  for (Eigen::Index c = 0; c < 2 * w; ++c) {
    const auto part = c < w ? chains.col(c).head(half).eval() : chains.col(c - w).tail(half).eval();
    mean[c]         = part.mean();
    variance[c]     = (part.array() - mean[c]).square().sum() / static_cast<double>(half - 1);
  }
  const double within  = variance.mean();
  const double between = (mean.array() - mean.mean()).square().sum() / static_cast<double>(2 * w - 1);
  if (!(within > 0.0)) return std::numeric_limits<double>::infinity();
  const auto n = static_cast<double>(half);
  return std::sqrt(((n - 1.0) / n * within + between) / within);
}

Draws sample(const LogDensity& density, const Eigen::VectorXd& centre, const Eigen::VectorXd& scale,
             const SamplerOptions& options, const std::function<void(std::size_t, std::size_t)>& progress) {
  const LogDensities densities = [&](const Eigen::MatrixXd& x) {
    Eigen::VectorXd out(x.cols());
    for_each_index(static_cast<std::size_t>(x.cols()), options.threads, [&](std::size_t i) {
      const auto c = static_cast<Eigen::Index>(i);
      out[c]       = density(x.col(c));
    });
    return out;
  };
  return sample_together(densities, centre, scale, options, progress);
}

Draws sample_together(const LogDensities& densities, const Eigen::VectorXd& centre,
                      const Eigen::VectorXd& scale, const SamplerOptions& options,
                      const std::function<void(std::size_t, std::size_t)>& progress) {
  const auto d = centre.size();
  const auto w =
      static_cast<Eigen::Index>(std::max<long>(options.walkers + options.walkers % 2, 2 * (d + 1)));
  const auto                                 half = w / 2;
  boost::random::mt19937_64                  engine(options.seed);
  boost::random::normal_distribution<double> normal;
  boost::random::uniform_01<double>          uniform;

  // walkers start where the density can be had
  Eigen::MatrixXd x(d, w);
  Eigen::VectorXd log_p(w);
  for (int attempt = 0; attempt < 100; ++attempt) {
    for (Eigen::Index i = 0; i < w; ++i) {
      if (attempt > 0 && std::isfinite(log_p[i])) continue;
      for (Eigen::Index j = 0; j < d; ++j) x(j, i) = centre[j] + 0.5 * scale[j] * normal(engine);
    }
    log_p = densities(x);
    if (log_p.array().isFinite().all()) break;
  }
  Draws out;
  if (!log_p.array().isFinite().all()) return out;

  std::vector<Eigen::MatrixXd> history;  ///< by step, d × w
  std::vector<Eigen::VectorXd> history_log_p;
  std::size_t                  accepted = 0, tried = 0;
  const int                    wanted_steps =
      std::max(200, (options.wanted_draws + static_cast<int>(w) - 1) / static_cast<int>(w));
  int                       target = 2 * wanted_steps;
  std::vector<double>       stretch(static_cast<std::size_t>(half)), luck(static_cast<std::size_t>(half));
  std::vector<Eigen::Index> partner(static_cast<std::size_t>(half));
  Eigen::MatrixXd           trial(d, half);
  while (true) {
    for (; out.steps < target; ++out.steps) {
      for (int side = 0; side < 2; ++side) {
        const Eigen::Index own = side == 0 ? 0 : half, other = half - own;
        for (std::size_t i = 0; i < stretch.size(); ++i) {
          const double root = (1.0 + uniform(engine)) / std::sqrt(2.0);  // √z is uniform on [1/√2, √2]
          stretch[i]        = root * root;
          partner[i]        = other + static_cast<Eigen::Index>(uniform(engine) * static_cast<double>(half));
          luck[i]           = std::log(uniform(engine));
        }
        for (std::size_t i = 0; i < stretch.size(); ++i) {
          const auto c = static_cast<Eigen::Index>(i);
          trial.col(c) = x.col(partner[i]) + stretch[i] * (x.col(own + c) - x.col(partner[i]));
        }
        const Eigen::VectorXd trial_log_p = densities(trial);
        for (std::size_t i = 0; i < stretch.size(); ++i) {
          const auto   c     = own + static_cast<Eigen::Index>(i);
          const double ratio = static_cast<double>(d - 1) * std::log(stretch[i]) +
                               trial_log_p[static_cast<Eigen::Index>(i)] - log_p[c];
          ++tried;
          if (!(luck[i] < ratio)) continue;
          ++accepted;
          x.col(c) = trial.col(static_cast<Eigen::Index>(i));
          log_p[c] = trial_log_p[static_cast<Eigen::Index>(i)];
        }
      }
      history.push_back(x);
      history_log_p.push_back(log_p);
      if (progress) progress(static_cast<std::size_t>(out.steps) + 1, static_cast<std::size_t>(target));
    }
    // is what follows the burn-in long enough, and do its parts agree? Ten times the longest memory of the chain so far
    // is left out, at most half
    const double memory = out.autocorrelation.size() > 0 ? 10.0 * out.autocorrelation.maxCoeff() + 1.0 : 1e9;
    out.burn_in         = memory < 0.5 * out.steps ? static_cast<int>(memory) : out.steps / 2;
    const auto kept     = static_cast<Eigen::Index>(out.steps - out.burn_in);
    out.acceptance      = static_cast<double>(accepted) / static_cast<double>(tried);
    out.autocorrelation.resize(d);
    out.r_hat.resize(d);
    for (Eigen::Index j = 0; j < d; ++j) {
      Eigen::MatrixXd chains(kept, w);
      for (Eigen::Index s = 0; s < kept; ++s)
        chains.row(s) = history[static_cast<std::size_t>(out.burn_in + s)].row(j);
      out.autocorrelation[j] = autocorrelation_time(chains);
      out.r_hat[j]           = split_r_hat(chains);
    }
    const double needed = options.steps_per_tau * out.autocorrelation.maxCoeff();
    out.converged       = static_cast<double>(kept) >= needed && out.r_hat.maxCoeff() <= options.worst_r_hat;
    if (out.converged || target >= options.most_steps) break;
    const double next =
        std::clamp(1.3 * needed, 1.5 * target, 3.0 * target);  // NaN, from a density without a top, stays NaN
    target = next < options.most_steps ? static_cast<int>(next) : options.most_steps;
  }
  if (!out.converged) return out;

  // thinned to about the number asked for
  const auto kept = out.steps - out.burn_in;
  const int  thin =
      std::max(1, static_cast<int>(static_cast<long long>(kept) * w / std::max(options.wanted_draws, 1)));
  std::vector<std::pair<int, Eigen::Index>> chosen;
  for (int s = out.burn_in; s < out.steps; s += thin) {
    for (Eigen::Index i = 0; i < w; ++i) chosen.emplace_back(s, i);
  }
  out.values.resize(static_cast<Eigen::Index>(chosen.size()), d);
  out.log_density.resize(static_cast<Eigen::Index>(chosen.size()));
  for (std::size_t k = 0; k < chosen.size(); ++k) {
    const auto row = static_cast<Eigen::Index>(k);
    out.values.row(row) =
        history[static_cast<std::size_t>(chosen[k].first)].col(chosen[k].second).transpose();
    out.log_density[row] = history_log_p[static_cast<std::size_t>(chosen[k].first)][chosen[k].second];
  }
  return out;
}

}  // namespace arris
