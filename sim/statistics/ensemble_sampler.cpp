// SPDX-License-Identifier: MIT
#include "sim/statistics/ensemble_sampler.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

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

namespace {

// The walkers at one step.
struct Walkers {
  Eigen::MatrixXd x;  // by column
  Eigen::VectorXd log_p;
};

// The source of chance: one seed gives one chain.
class Dice {
 public:
  explicit Dice(unsigned long long seed) : engine_(seed) {}
  double normal() { return normal_(engine_); }
  double uniform() { return uniform_(engine_); }

 private:
  boost::random::mt19937_64                  engine_;
  boost::random::normal_distribution<double> normal_;
  boost::random::uniform_01<double>          uniform_;
};

// walkers start where the density can be had; nothing if no such places are found
std::optional<Walkers> started(const LogDensities& densities, const Eigen::VectorXd& centre,
                               const Eigen::VectorXd& scale, Eigen::Index count, Dice& dice) {
  const auto d = centre.size();
  Walkers    at{Eigen::MatrixXd(d, count), Eigen::VectorXd(count)};
  for (int attempt = 0; attempt < 100; ++attempt) {
    for (Eigen::Index i = 0; i < count; ++i) {
      if (attempt > 0 && std::isfinite(at.log_p[i])) continue;
      for (Eigen::Index j = 0; j < d; ++j) at.x(j, i) = centre[j] + 0.5 * scale[j] * dice.normal();
    }
    at.log_p = densities(at.x);
    if (at.log_p.array().isFinite().all()) return at;
  }
  return std::nullopt;
}

// Moves walkers by halves, each along the line to a partner in the other half (the stretch move).
class StretchMove {
 public:
  StretchMove(const LogDensities& densities, const Walkers& at)
      : densities_(densities),
        half_(at.x.cols() / 2),
        stretch_(static_cast<std::size_t>(half_)),
        luck_(static_cast<std::size_t>(half_)),
        partner_(static_cast<std::size_t>(half_)),
        trial_(at.x.rows(), half_) {}

  void move(Walkers& at, Dice& dice) {
    move_half(at, 0, half_, dice);
    move_half(at, half_, 0, dice);
  }
  [[nodiscard]] double acceptance() const {
    return static_cast<double>(accepted_) / static_cast<double>(tried_);
  }

 private:
  // walkers from `own` on, with partners from `other` on
  void move_half(Walkers& at, Eigen::Index own, Eigen::Index other, Dice& dice) {
    Eigen::MatrixXd& x = at.x;
    for (std::size_t i = 0; i < stretch_.size(); ++i) {
      const double root = (1.0 + dice.uniform()) / std::sqrt(2.0);  // √z is uniform on [1/√2, √2]
      stretch_[i]       = root * root;
      partner_[i]       = other + static_cast<Eigen::Index>(dice.uniform() * static_cast<double>(half_));
      luck_[i]          = std::log(dice.uniform());
    }
    for (std::size_t i = 0; i < stretch_.size(); ++i) {
      const auto c  = static_cast<Eigen::Index>(i);
      trial_.col(c) = x.col(partner_[i]) + stretch_[i] * (x.col(own + c) - x.col(partner_[i]));
    }
    const Eigen::VectorXd trial_log_p = densities_(trial_);
    for (std::size_t i = 0; i < stretch_.size(); ++i) {
      const auto   c     = own + static_cast<Eigen::Index>(i);
      const double ratio = static_cast<double>(x.rows() - 1) * std::log(stretch_[i]) +
                           trial_log_p[static_cast<Eigen::Index>(i)] - at.log_p[c];
      ++tried_;
      if (!(luck_[i] < ratio)) continue;
      ++accepted_;
      x.col(c)    = trial_.col(static_cast<Eigen::Index>(i));
      at.log_p[c] = trial_log_p[static_cast<Eigen::Index>(i)];
    }
  }

  const LogDensities&       densities_;
  Eigen::Index              half_;
  std::vector<double>       stretch_, luck_;
  std::vector<Eigen::Index> partner_;
  Eigen::MatrixXd           trial_;
  std::size_t               accepted_ = 0, tried_ = 0;
};

// Is what follows the burn-in long enough, and do its parts agree? Ten times the longest memory of the chain so far is
// left out, at most half. Gives the number of steps that are needed.
double judge_chain(const std::vector<Walkers>& history, const SamplerOptions& options, Draws& out) {
  const auto   d = history.front().x.rows(), w = history.front().x.cols();
  const double memory = out.autocorrelation.size() > 0 ? 10.0 * out.autocorrelation.maxCoeff() + 1.0 : 1e9;
  out.burn_in         = memory < 0.5 * out.steps ? static_cast<int>(memory) : out.steps / 2;
  const auto kept     = static_cast<Eigen::Index>(out.steps - out.burn_in);
  out.autocorrelation.resize(d);
  out.r_hat.resize(d);
  for (Eigen::Index j = 0; j < d; ++j) {
    Eigen::MatrixXd chains(kept, w);
    for (Eigen::Index s = 0; s < kept; ++s)
      chains.row(s) = history[static_cast<std::size_t>(out.burn_in + s)].x.row(j);
    out.autocorrelation[j] = autocorrelation_time(chains);
    out.r_hat[j]           = split_r_hat(chains);
  }
  const double needed = options.steps_per_tau * out.autocorrelation.maxCoeff();
  out.converged       = static_cast<double>(kept) >= needed && out.r_hat.maxCoeff() <= options.worst_r_hat;
  return needed;
}

// what follows the burn-in, thinned to about the number asked for
void keep_draws(const std::vector<Walkers>& history, int wanted_draws, Draws& out) {
  const auto d = history.front().x.rows(), w = history.front().x.cols();
  const auto kept = out.steps - out.burn_in;
  const int  thin =
      std::max(1, static_cast<int>(static_cast<long long>(kept) * w / std::max(wanted_draws, 1)));
  std::vector<std::pair<int, Eigen::Index>> chosen;
  for (int s = out.burn_in; s < out.steps; s += thin) {
    for (Eigen::Index i = 0; i < w; ++i) chosen.emplace_back(s, i);
  }
  out.walkers = static_cast<int>(w);
  out.values.resize(static_cast<Eigen::Index>(chosen.size()), d);
  out.log_density.resize(static_cast<Eigen::Index>(chosen.size()));
  for (std::size_t k = 0; k < chosen.size(); ++k) {
    const auto     row   = static_cast<Eigen::Index>(k);
    const Walkers& at    = history[static_cast<std::size_t>(chosen[k].first)];
    out.values.row(row)  = at.x.col(chosen[k].second).transpose();
    out.log_density[row] = at.log_p[chosen[k].second];
  }
}

}  // namespace

Draws sample_together(const LogDensities& densities, const Eigen::VectorXd& centre,
                      const Eigen::VectorXd& scale, const SamplerOptions& options,
                      const std::function<void(std::size_t, std::size_t)>& progress) {
  const auto w = static_cast<Eigen::Index>(
      std::max<long>(options.walkers + options.walkers % 2, 2 * (centre.size() + 1)));
  Dice                   dice(options.seed);
  std::optional<Walkers> at = started(densities, centre, scale, w, dice);
  Draws                  out;
  if (!at) return out;

  std::vector<Walkers> history;  // by step
  StretchMove          stretch(densities, *at);
  const int            wanted_steps =
      std::max(200, (options.wanted_draws + static_cast<int>(w) - 1) / static_cast<int>(w));
  int target = 2 * wanted_steps;
  while (true) {
    for (; out.steps < target; ++out.steps) {
      stretch.move(*at, dice);
      history.push_back(*at);
      if (progress) progress(static_cast<std::size_t>(out.steps) + 1, static_cast<std::size_t>(target));
    }
    out.acceptance      = stretch.acceptance();
    const double needed = judge_chain(history, options, out);
    if (out.converged || target >= options.most_steps) break;
    const double next =
        std::clamp(1.3 * needed, 1.5 * target, 3.0 * target);  // NaN, from a density without a top, stays NaN
    target = next < options.most_steps ? static_cast<int>(next) : options.most_steps;
  }
  if (out.converged) keep_draws(history, options.wanted_draws, out);
  return out;
}

}  // namespace arris
