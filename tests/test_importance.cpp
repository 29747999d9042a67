// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>

#include <catch2/catch.hpp>

#include "sim/statistics/importance_sampler.hpp"
#include "sim/statistics/linear_algebra.hpp"

using namespace arris;

namespace {

// at each column, from a density of one place
LogDensities at_columns(const LogDensity& density) {
  return [density](const Eigen::MatrixXd& x) {
    Eigen::VectorXd out(x.cols());
    for (Eigen::Index c = 0; c < x.cols(); ++c) out[c] = density(x.col(c));
    return out;
  };
}

}  // namespace

TEST_CASE("Smoothed weights and their shape are those of other people") {
  // psis() of the R package loo 2.5.1 (Debian 12), r_eff = 1: k, weights 400, 380, 341 and 100 of 400, effective size
  struct Case {
    double s, shape, last, w380, w341, w100, effective;
  };
  for (const Case& c :
       {Case{0.3, 0.3356083206, 0.01300849604, 0.004277316218, 0.003093689893, 0.001907940152, 335.6957308},
        Case{0.6, 0.5769386166, 0.05412715743, 0.006195235355, 0.003268437153, 0.001243012214, 128.6672157},
        Case{1.1, 0.9793685235, 0.2570594729, 0.006424343345, 0.002033326327, 0.0003454038403,
             12.16315099}}) {
    Eigen::VectorXd log_weights(400);
    for (Eigen::Index i = 0; i < 400; ++i)
      log_weights[i] = -c.s * std::log1p(-(static_cast<double>(i) + 0.5) / 400.0);
    const ParetoSmoothed found = pareto_smoothed(log_weights.array() - 1234.0);  // a constant changes nothing
    CAPTURE(c.s);
    CHECK(found.shape == Approx(c.shape).epsilon(1e-8));
    CHECK(found.weights[399] == Approx(c.last).epsilon(1e-8));
    CHECK(found.weights[379] == Approx(c.w380).epsilon(1e-8));
    CHECK(found.weights[340] == Approx(c.w341).epsilon(1e-8));
    CHECK(found.weights[99] == Approx(c.w100).epsilon(1e-8));
    CHECK(found.effective() == Approx(c.effective).epsilon(1e-8));
  }
}

TEST_CASE("What cannot be weighed has no weight") {
  Eigen::VectorXd log_weights = Eigen::VectorXd::Zero(100);
  log_weights[3]              = -std::numeric_limits<double>::infinity();
  log_weights[4]              = std::numeric_limits<double>::quiet_NaN();
  const ParetoSmoothed found  = pareto_smoothed(log_weights);
  CHECK(found.weights[3] == 0.0);
  CHECK(found.weights[4] == 0.0);
  CHECK(found.weights.sum() == Approx(1.0));
  CHECK(pareto_smoothed(Eigen::VectorXd::Constant(10, -std::numeric_limits<double>::infinity()))
            .weights.sum() == 0.0);
}

TEST_CASE("Draws by importance have the moments of the density, also from a poor start") {
  // a skewed density: x₀ the log of a gamma variable of shape 3, x₁ normal about x₀/2
  const LogDensity density = [](const Eigen::VectorXd& x) {
    return 3.0 * x[0] - std::exp(x[0]) - 0.5 * std::pow((x[1] - 0.5 * x[0]) / 0.3, 2);
  };
  ImportanceOptions options;
  options.wanted_draws = 4000;
  for (const double wide : {0.05, 1.0}) {
    CAPTURE(wide);
    const ImportanceDraws found = importance_sample(at_columns(density), Eigen::Vector2d(0.5, 0.0),
                                                    wide * Eigen::Matrix2d::Identity(), options);
    REQUIRE(found.usable);
    CHECK(found.shape < 0.7);
    CHECK(found.effective > 2000);
    // digamma(3) and trigamma(3)
    const Eigen::VectorXd x = found.values.col(0), y = found.values.col(1);
    CHECK(std::abs(x.mean() - 0.9227843351) < 0.05);
    CHECK((x.array() - x.mean()).square().mean() == Approx(0.3949340668).epsilon(0.08));
    CHECK(std::abs(y.mean() - 0.4613921676) < 0.03);
    CHECK((y.array() - y.mean()).square().mean() == Approx(0.25 * 0.3949340668 + 0.09).epsilon(0.08));
    for (Eigen::Index i = 0; i < 5; ++i)
      CHECK(found.log_density[i] == density(found.values.row(i).transpose()));
  }
}

TEST_CASE("After the last round fewer draws than were wanted are enough, but not any number") {
  const LogDensity  normal = [](const Eigen::VectorXd& x) { return -0.5 * x.squaredNorm(); };
  ImportanceOptions options;
  options.wanted_draws  = 4000;
  options.most_per_draw = 0;
  options.most_points   = 1;  // one round, of half of what is wanted
  const auto found      = [&] {
    return importance_sample(at_columns(normal), Eigen::VectorXd::Zero(3), Eigen::MatrixXd::Identity(3, 3),
                                  options);
  };
  const ImportanceDraws few = found();
  CHECK(few.proposals == 2000);
  CHECK(few.effective < 2000);
  CHECK(few.effective > 1000);
  CHECK(few.usable);
  CHECK(few.values.rows() == 4000);
  options.fewest_worth = 0.5;
  CHECK_FALSE(found().usable);
}

TEST_CASE("A density that proposals cannot follow gives no draws by importance") {
  // a thin curved wall: five numbers that follow the square of the first
  const LogDensity curved = [](const Eigen::VectorXd& x) {
    double sum = -0.5 * x[0] * x[0];
    for (const double v : x.tail(5)) sum -= 0.5 * std::pow((v - 5.0 * x[0] * x[0]) / 0.01, 2);
    return sum;
  };
  ImportanceOptions options;
  options.wanted_draws = 500;
  CHECK_FALSE(importance_sample(at_columns(curved), Eigen::VectorXd::Zero(6), Eigen::MatrixXd::Identity(6, 6),
                                options)
                  .usable);
  const LogDensity nowhere = [](const Eigen::VectorXd&) { return -std::numeric_limits<double>::infinity(); };
  CHECK_FALSE(importance_sample(at_columns(nowhere), Eigen::VectorXd::Zero(2),
                                Eigen::MatrixXd::Identity(2, 2), options)
                  .usable);
}
