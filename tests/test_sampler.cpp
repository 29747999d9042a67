// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>

#include <Eigen/LU>
#include <catch2/catch.hpp>

#include "sim/statistics/ensemble_sampler.hpp"

namespace {

using namespace arris;

Eigen::MatrixXd correlated() {
  Eigen::MatrixXd c(3, 3);
  c << 1.0, 0.9, 0.0, 0.9, 2.0, -0.1, 0.0, -0.1, 0.04;
  return c;
}

LogDensity gaussian(const Eigen::VectorXd& mean, const Eigen::MatrixXd& covariance) {
  const Eigen::MatrixXd precision = covariance.inverse();
  return
      [mean, precision](const Eigen::VectorXd& x) { return -0.5 * (x - mean).dot(precision * (x - mean)); };
}

}  // namespace

TEST_CASE("draws of a correlated Gaussian have its mean and covariance") {
  const Eigen::Vector3d mean(1.0, -2.0, 0.5);
  SamplerOptions        options;
  options.wanted_draws = 20000;
  options.seed         = 7;
  const Draws draws    = sample(gaussian(mean, correlated()), mean, Eigen::Vector3d(1.0, 1.0, 0.1), options);
  REQUIRE(draws.converged);
  CHECK(draws.r_hat.maxCoeff() < 1.05);
  CHECK(draws.acceptance > 0.2);
  CHECK(draws.acceptance < 0.9);

  // standard error of a mean: sd·√(τ/N); four of them, so that one run in some ten thousand would fail by chance
  const double kept = static_cast<double>(draws.steps - draws.burn_in) * 32.0;
  for (Eigen::Index j = 0; j < 3; ++j) {
    const double sd    = std::sqrt(correlated()(j, j));
    const double error = sd * std::sqrt(draws.autocorrelation[j] / kept);
    CHECK(std::abs(draws.values.col(j).mean() - mean[j]) <
          4.0 * error + 4.0 * sd / std::sqrt(static_cast<double>(draws.values.rows())));
  }
  const Eigen::MatrixXd centred = draws.values.rowwise() - draws.values.colwise().mean();
  const Eigen::MatrixXd covariance =
      centred.transpose() * centred / static_cast<double>(draws.values.rows() - 1);
  // a variance from N_eff draws is good to √(2/N_eff); N_eff is at least 2500 here, so 12 % is four of them
  for (Eigen::Index i = 0; i < 3; ++i) {
    for (Eigen::Index j = 0; j < 3; ++j) {
      CHECK(std::abs(covariance(i, j) - correlated()(i, j)) <
            0.12 * std::sqrt(correlated()(i, i) * correlated()(j, j)));
    }
  }
}

TEST_CASE("draws are the same for any number of threads, and differ with the seed") {
  const Eigen::Vector3d mean(0.0, 0.0, 0.0);
  SamplerOptions        options;
  options.wanted_draws = 500;
  const auto run       = [&](int threads, unsigned long long seed) {
    options.threads = threads;
    options.seed    = seed;
    return sample(gaussian(mean, correlated()), mean, Eigen::Vector3d(1.0, 1.0, 0.1), options);
  };
  const Draws one = run(1, 3), two = run(2, 3), seven = run(7, 3), other = run(1, 4);
  REQUIRE(one.converged);
  CHECK((one.values.array() == two.values.array()).all());
  CHECK((one.values.array() == seven.values.array()).all());
  // a density that is asked for half an ensemble at a time
  const LogDensity   each    = gaussian(mean, correlated());
  const LogDensities at_once = [&](const Eigen::MatrixXd& x) {
    Eigen::VectorXd out(x.cols());
    for (Eigen::Index c = 0; c < x.cols(); ++c) out[c] = each(x.col(c));
    return out;
  };
  options.seed         = 3;
  const Draws together = sample_together(at_once, mean, Eigen::Vector3d(1.0, 1.0, 0.1), options);
  CHECK((one.values.array() == together.values.array()).all());
  REQUIRE(other.converged);
  CHECK_FALSE((one.values.topRows(10).array() == other.values.topRows(10).array()).all());
}

TEST_CASE("a chain that has not converged is refused, not shown") {
  // two far modes: walkers of one never find the other, so halves of the ensemble disagree for ever
  const LogDensity two_modes = [](const Eigen::VectorXd& x) {
    return std::log(std::exp(-0.5 * (x[0] - 40.0) * (x[0] - 40.0)) +
                    std::exp(-0.5 * (x[0] + 40.0) * (x[0] + 40.0)) + 1e-300);
  };
  SamplerOptions options;
  options.wanted_draws = 200;
  options.most_steps   = 1000;
  const Draws draws =
      sample(two_modes, Eigen::VectorXd::Zero(1), Eigen::VectorXd::Constant(1, 80.0), options);
  CHECK_FALSE(draws.converged);
  CHECK(draws.values.rows() == 0);
  CHECK(draws.steps == 1000);
}

TEST_CASE("a density that can be had nowhere gives no draws and ends") {
  const LogDensity nowhere = [](const Eigen::VectorXd&) { return -std::numeric_limits<double>::infinity(); };
  const Draws      draws   = sample(nowhere, Eigen::VectorXd::Zero(2), Eigen::VectorXd::Ones(2), {});
  CHECK_FALSE(draws.converged);
  CHECK(draws.values.rows() == 0);
}

TEST_CASE("autocorrelation time of an autoregressive chain is (1 + φ)/(1 − φ)") {
  // x_t = φ·x_{t−1} + noise from a fixed recurrence of a plain generator
  const double       phi     = 0.8;
  unsigned long long state   = 12345;
  const auto         uniform = [&] {
    state = state * 6364136223846793005ULL + 1442695040888963407ULL;
    return static_cast<double>(state >> 11) / 9007199254740992.0 - 0.5;
  };
  Eigen::MatrixXd chains(20000, 4);
  for (Eigen::Index c = 0; c < 4; ++c) {
    double x = 0.0;
    for (Eigen::Index t = 0; t < chains.rows(); ++t) chains(t, c) = x = phi * x + uniform();
  }
  // τ = 9; Sokal's estimate of it scatters by about τ·√(2·(2·5·τ + 1)/N) = 0.43 with N = 80 000
  CHECK(autocorrelation_time(chains) == Approx(9.0).margin(4 * 0.43));
  CHECK(split_r_hat(chains) == Approx(1.0).margin(0.01));
  chains.col(0).array() += 5.0;  // a chain that is somewhere else
  CHECK(split_r_hat(chains) > 1.5);
}
