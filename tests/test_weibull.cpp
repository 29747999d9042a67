// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/weibull_distribution.hpp>
#include <catch2/catch.hpp>

#include "tests/life_tables.hpp"

using namespace arris;

namespace {}  // namespace

TEST_CASE("a censored Weibull life test has the scale, shape and likelihood that were published", "[lives]") {
  const bench::LifeTable           test  = bench::nist_lives();
  const std::vector<ObservedLife>& lives = test.lives;
  const WeibullFit                 fit   = fit_weibull(lives);
  REQUIRE(fit.usable);
  // seven published figures, of which the last is rounded
  CHECK(fit.scale == Approx(606.5276).margin(6e-5));
  CHECK(fit.shape == Approx(1.720797).margin(6e-7));
  CHECK(fit.log_likelihood == Approx(-75.13462).margin(6e-6));
  // the times in another unit, and units one by one, tell the same
  std::vector<ObservedLife> days;
  for (const ObservedLife& life : lives) {
    for (int i = 0; i < life.count; ++i) days.push_back({life.low / 24.0, life.high / 24.0});
  }
  const WeibullFit again = fit_weibull(days);
  REQUIRE(again.usable);
  CHECK(24.0 * again.scale ==
        Approx(fit.scale).epsilon(1e-9));  // the search ends a millionth of a standard error off
  CHECK(again.shape == Approx(fit.shape).epsilon(1e-9));
  // intervals by the likelihood ratio: of the shape scipy 1.10 (computed; minimum and brentq of the profile), of the scale R 4.2.2
  // (computed), whose ends of the shape, 0.9056428 and 2.885732, are 3e-6 off
  const double   chi_squared = 3.841458820694124;  // 95 % of 1 degree of freedom
  const Interval shape       = weibull_interval(lives, {}, fit, 1, chi_squared),
                 scale       = weibull_interval(lives, {}, fit, 0, chi_squared);
  CHECK(std::exp(shape.low) == Approx(0.9056453587521951).epsilon(1e-8));
  CHECK(std::exp(shape.high) == Approx(2.8857378657412966).epsilon(1e-8));
  CHECK(std::exp(scale.low) == Approx(437.556745).epsilon(1e-6));
  CHECK(std::exp(scale.high) == Approx(1118.877625).epsilon(1e-6));
  CHECK(fit.covariance(0, 0) == Approx(0.04241289365).epsilon(1e-6));
  CHECK(fit.covariance(1, 1) == Approx(0.08515468874).epsilon(1e-6));
  // log of the scale of log lives is −log β
  CHECK(fit.covariance(0, 1) == Approx(-0.02712784240).epsilon(1e-6));
  // by the product limit half of them have not failed before the tenth failure, and then just half
  std::vector<double> at;
  std::vector<bool>   ended;
  test.one_by_one(at, ended);
  REQUIRE(at.size() == 20);
  const auto steps = product_limit(at, ended);
  REQUIRE(steps.size() == 10);
  for (std::size_t i = 0; i < steps.size(); ++i)  // 0.95, 0.90 … 0.50 (R 4.2.2, computed)
    CHECK(steps[i].share == Approx(0.95 - 0.05 * static_cast<double>(i)).epsilon(1e-14));
  CHECK(product_limit_median(at, ended) == Approx(386.0));
}

TEST_CASE("exponential lives that are half known have the rate of ends over time watched", "[lives]") {
  // with β held at 1 the scale would be Σt/ends; β is free, so the check is that of the likelihood equations: slopes vanish
  const std::vector<ObservedLife> lives{{10, 10}, {20, 20}, {35, 35}, {40, infinity}, {40, infinity}};
  const WeibullFit                fit = fit_weibull(lives);
  REQUIRE(fit.usable);
  double sum = 0.0, logs = 0.0, weighted = 0.0;
  for (const ObservedLife& life : lives) {
    const double power = std::pow(life.low / fit.scale, fit.shape);
    sum += power;
    weighted += power * std::log(life.low / fit.scale);
    if (std::isfinite(life.high)) logs += std::log(life.low / fit.scale);
  }
  // ∂/∂η: Σ(t/η)^β = ends; ∂/∂β: ends/β + Σ log(t/η) = Σ (t/η)^β·log(t/η); slopes are left at 1e-7 of their scatter
  CHECK(sum == Approx(3.0).epsilon(1e-6));
  CHECK(3.0 / fit.shape + logs == Approx(weighted).epsilon(1e-6));
}

TEST_CASE("lives between readings are told as well as lives themselves, nearly", "[lives]") {
  // 400 lives of scale 200 and shape 2.5, once exactly, once between readings every 40 passes, watched to 240
  boost::random::mt19937_64                   engine(5);
  boost::random::weibull_distribution<double> draw(2.5, 200.0);
  std::vector<ObservedLife>                   exact, read;
  for (int i = 0; i < 400; ++i) {
    const double life = draw(engine);
    exact.push_back({life, life});
    const double low = 40.0 * std::floor(life / 40.0);
    read.push_back(life > 240.0 ? ObservedLife{240.0, infinity} : ObservedLife{low, low + 40.0});
  }
  const WeibullFit a = fit_weibull(exact), b = fit_weibull(read);
  REQUIRE(a.usable);
  REQUIRE(b.usable);
  for (const WeibullFit& fit : {a, b}) {
    // four standard errors
    CHECK(std::abs(std::log(fit.scale / 200.0)) < 4.0 * std::sqrt(fit.covariance(0, 0)));
    CHECK(std::abs(std::log(fit.shape / 2.5)) < 4.0 * std::sqrt(fit.covariance(1, 1)));
    const auto median = fit.quantile(0.5);
    CHECK(median.low < median.value);
    CHECK(median.value == Approx(fit.scale * std::pow(std::log(2.0), 1.0 / fit.shape)).epsilon(1e-12));
  }
  // standard errors of exact lives from the expected information: 1.108/(β²n) and 0.608/n, to the 10 % of 400 lives
  CHECK(std::sqrt(a.covariance(0, 0)) == Approx(std::sqrt(1.108665 / (2.5 * 2.5 * 400.0))).epsilon(0.1));
  CHECK(std::sqrt(a.covariance(1, 1)) == Approx(std::sqrt(0.607927 / 400.0)).epsilon(0.1));
  CHECK(b.covariance(1, 1) > a.covariance(1, 1));
}

TEST_CASE("lives that tell no distribution are not given one", "[lives]") {
  CHECK_FALSE(fit_weibull({}).usable);
  CHECK_FALSE(fit_weibull({{10, infinity}, {20, infinity}}).usable);
  CHECK_FALSE(fit_weibull({{10, 10}, {10, 10}}).usable);
  CHECK_THROWS_AS(fit_weibull({{10, 5}}), std::invalid_argument);
  CHECK_THROWS_AS(fit_weibull({{-1, 5}}), std::invalid_argument);
  CHECK(std::isinf(product_limit_median({10, 20, 30}, {true, false, false})));
  CHECK(product_limit_median({30, 10, 20}, {true, true, true}) == 20.0);
}

TEST_CASE("lives with a covariate have the effects that were published", "[lives][published]") {
  // R 4.2.2, survreg (computed), ten digits; printed alike in Venables & Ripley (from memory)
  const bench::LifeTable motors = bench::motors();
  const WeibullFit       hot    = fit_weibull(motors.lives, motors.covariates);
  REQUIRE(hot.usable);
  CHECK(std::log(hot.scale) == Approx(16.31851938).epsilon(1e-7));
  CHECK(hot.effects[0] == Approx(-0.04530705).epsilon(2e-7));
  CHECK(1.0 / hot.shape == Approx(0.334325).epsilon(2e-6));
  CHECK(hot.log_likelihood == Approx(-147.4).margin(0.05));
  const bench::LifeTable aml = bench::aml();
  const WeibullFit       two = fit_weibull(aml.lives, aml.covariates);
  REQUIRE(two.usable);
  CHECK(std::log(two.scale) == Approx(4.109055).epsilon(2e-7));
  CHECK(two.effects[0] == Approx(-0.929342).epsilon(1e-6));
  CHECK(1.0 / two.shape == Approx(0.790954).epsilon(1e-6));
  CHECK(two.log_likelihood == Approx(-80.5).margin(0.05));
}

TEST_CASE("what an effect leaves of the likelihood is what two fits say", "[lives]") {
  const bench::LifeTable aml  = bench::aml();
  const WeibullFit       with = fit_weibull(aml.lives, aml.covariates), without = fit_weibull(aml.lives);
  REQUIRE(with.usable);
  REQUIRE(without.usable);
  // "no effect" is the fit without it
  const double rise = 2.0 * (with.log_likelihood - without.log_likelihood);
  const double held = weibull_rise_without(aml.lives, aml.covariates, with, 0);
  CHECK(held == Approx(rise).epsilon(1e-8));
  // what is allowed at the confidence 1 − p is the rise itself
  const double p = weibull_p(aml.lives, aml.covariates, held);
  CHECK(weibull_rise(aml.lives, aml.covariates, 1.0 - p) == Approx(held).epsilon(1e-9));
  // 18 have ended: less sure than χ² says, whose tail is erfc(√(x/2))
  CHECK(p > 1.05 * std::erfc(std::sqrt(0.5 * rise)));
  // and such an interval ends at 0; ends are found where the likelihood is known to 1e-12
  const Interval ends = weibull_interval(aml.lives, aml.covariates, with, 2, held);
  CHECK(ends.low < with.effects[0]);
  CHECK(ends.high == Approx(0.0).margin(1e-7));
  // other names of the groups turn the effect about, and leave the rest
  const WeibullFit turned = fit_weibull(aml.lives, 1.0 - aml.covariates.array());
  CHECK(turned.effects[0] == Approx(-with.effects[0]).epsilon(1e-7));
  CHECK(turned.log_likelihood == Approx(with.log_likelihood).epsilon(1e-12));
  // an effect in another unit
  const WeibullFit wide = fit_weibull(aml.lives, 1e4 * aml.covariates);
  REQUIRE(wide.usable);
  CHECK(1e4 * wide.effects[0] == Approx(with.effects[0]).epsilon(1e-7));
}

TEST_CASE("an effect that nothing bounds is not told", "[lives]") {
  // nothing of the second group has ended: how much longer it lasts has no upper end
  const std::vector<ObservedLife> lives{{10, 10}, {20, 20}, {35, 35}, {40, infinity}, {40, infinity}};
  Eigen::MatrixXd                 group(5, 1);
  group << 0, 0, 0, 1, 1;
  CHECK_FALSE(fit_weibull(lives, group).usable);
  CHECK(std::isnan(weibull_rise_without(lives, group, fit_weibull(lives, group), 0)));
  group << 0, 0, 1, 0, 1;
  CHECK(fit_weibull(lives, group).usable);
  CHECK_THROWS_AS(fit_weibull(lives, Eigen::MatrixXd::Ones(4, 1)), std::invalid_argument);
  // a column that is the intercept again cannot be told from it
  CHECK_FALSE(fit_weibull(lives, Eigen::MatrixXd::Ones(5, 1)).usable);
}

TEST_CASE("intervals of few lives hold the truth as often as they say", "[lives]") {
  // 400 times 4 lives in each of two groups that last alike, once exactly, once between readings every 50 passes up to 400
  boost::random::mt19937_64                   engine(9);
  boost::random::weibull_distribution<double> draw(4.0, 300.0);
  Eigen::MatrixXd                             group = Eigen::MatrixXd::Zero(8, 1);
  group.bottomRows(4).setOnes();
  const double median = 300.0 * std::pow(std::log(2.0), 0.25);
  for (const double every : {0.0, 50.0}) {
    int ratio_held = 0, median_held = 0, used = 0;
    for (int i = 0; i < 400; ++i) {
      std::vector<ObservedLife> lives;
      for (int k = 0; k < 8; ++k) {
        const double life = draw(engine);
        const double low  = every > 0.0 ? every * std::floor(life / every) : life;
        lives.push_back(every > 0.0 && life > 400.0 ? ObservedLife{400.0, infinity}
                                                    : ObservedLife{low, low + every});
      }
      const WeibullFit fit = fit_weibull(lives, group), both = fit_weibull(lives);
      if (!fit.usable || !both.usable) continue;
      ++used;
      const Interval ends = weibull_interval(lives, group, fit, 2, weibull_rise(lives, group));
      ratio_held += ends.low <= 0.0 && ends.high >= 0.0 ? 1 : 0;
      const auto half = both.quantile(0.5);
      median_held += half.low <= median && half.high >= median ? 1 : 0;
    }
    INFO("every " << every << ": " << used << " used, " << ratio_held << " and " << median_held << " held");
    REQUIRE(used > 380);
    // 90 %, to three standard errors of a share of 400
    CHECK(std::abs(static_cast<double>(ratio_held) / used - 0.90) < 0.045);
    CHECK(std::abs(static_cast<double>(median_held) / used - 0.90) < 0.045);
  }
}
