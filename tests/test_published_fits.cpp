// SPDX-License-Identifier: MIT
#include <cmath>
#include <functional>
#include <limits>
#include <numbers>
#include <string>
#include <vector>

#include <Eigen/LU>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <catch2/catch.hpp>

#include "sim/statistics/least_squares.hpp"
#include "sim/statistics/profile.hpp"
#include "tests/curve.hpp"
#include "tests/published_fits.hpp"

using namespace arris;
using bench::Curve;
using bench::matching_digits;
using bench::Number;
using bench::Observations;
using namespace arris::bench::published;

// Expected numbers: status `computed` with R 4.2.2 (nls, lm, profile) from the data in tests/data/published, whose README
// names the sources. R finds the ends of a profile interval by interpolation between a few points of the profile; that gives
// three to five digits (one and a half for oxygen demand). The ends are therefore also compared with roots of the profile
// computed apart from any fit, status `computed`: the linear parameter of each model in closed form, the other by bisection
// and golden section.

namespace {

LeastSquaresResult fitted(Curve curve, const Observations& data, const std::vector<double>& start) {
  return least_squares(bench::residuals_of(curve, data), vector_of(start));
}

LeastSquaresResult fitted(const std::string& name) {
  const auto p = problem(name);
  return fitted(p.curve, p.data, p.start);
}

double rss(const LeastSquaresResult& fit) { return 2.0 * fit.cost; }
double dof(const LeastSquaresResult& fit) { return static_cast<double>(fit.residuals.size() - fit.x.size()); }
double residual_sd(const LeastSquaresResult& fit) { return std::sqrt(rss(fit) / dof(fit)); }

// Parameters of nls. It stops where the residual's part in the tangent plane is 1e-5 of the part square on it, which is
// s·√ν long: a parameter may then be 1e-5·√ν of its standard deviations from the minimum. `printed`: relative.
void check_nls(const LeastSquaresResult& fit, const std::vector<double>& expected, double printed) {
  REQUIRE(fit.usable());
  const Eigen::VectorXd sd = bench::standard_deviations(fit);
  for (std::size_t i = 0; i < expected.size(); ++i) {
    const auto k = static_cast<Eigen::Index>(i);
    CAPTURE(i, fit.x[k], expected[i], sd[k]);
    CHECK(std::abs(fit.x[k] - expected[i]) <=
          1e-5 * std::sqrt(dof(fit)) * sd[k] + printed * std::abs(expected[i]));
  }
}
// Parameters of a linear fit, to the digits that were printed.
void check_linear(const LeastSquaresResult& fit, const std::vector<double>& expected, double digits) {
  REQUIRE(fit.usable());
  for (std::size_t i = 0; i < expected.size(); ++i) {
    CAPTURE(i, fit.x[static_cast<Eigen::Index>(i)], expected[i]);
    CHECK(matching_digits(fit.x[static_cast<Eigen::Index>(i)], expected[i]) >= digits);
  }
}
void check_errors(const LeastSquaresResult& fit, const std::vector<double>& expected, double digits) {
  const Eigen::VectorXd sd = bench::standard_deviations(fit);
  for (std::size_t i = 0; i < expected.size(); ++i) {
    CAPTURE(i, sd[static_cast<Eigen::Index>(i)], expected[i]);
    CHECK(matching_digits(sd[static_cast<Eigen::Index>(i)], expected[i]) >= digits);
  }
}

// s²·F(1, ν): what ‖r‖² may rise by at a confidence
double rise(const LeastSquaresResult& fit, double confidence) {
  const boost::math::fisher_f f(1.0, dof(fit));
  return std::pow(residual_sd(fit), 2) * quantile(f, confidence);
}

void check_ends(const ProfileInterval& interval, double lower, double upper, double digits) {
  CAPTURE(interval.lower.value, lower, interval.upper.value, upper);
  REQUIRE(interval.closed());
  CHECK(matching_digits(interval.lower.value, lower) >= digits);
  CHECK(matching_digits(interval.upper.value, upper) >= digits);
}

// what must hold of every profile: finite numbers, points in order, on the surface where the combination has its value
void check_points(const ProfileInterval& interval, const Residuals& function, const Eigen::VectorXd& c,
                  const Eigen::VectorXd& optimum) {
  Eigen::VectorXd r;
  REQUIRE(function(optimum, r, nullptr));
  const double lowest = r.squaredNorm();
  CHECK(std::isfinite(interval.lower.value));
  CHECK(std::isfinite(interval.upper.value));
  CHECK(interval.lower.value <= interval.estimate);
  CHECK(interval.estimate <= interval.upper.value);
  for (std::size_t i = 0; i < interval.points.size(); ++i) {
    const ProfilePoint& p = interval.points[i];
    CAPTURE(i, p.value, p.rise);
    if (i > 0) CHECK(interval.points[i - 1].value <= p.value);
    CHECK(std::isfinite(p.rise));
    REQUIRE(p.x.allFinite());
    const double size = c.cwiseAbs().dot(p.x.cwiseAbs());
    CHECK(std::abs(c.dot(p.x) - p.value) <= 1e-14 * size);
    REQUIRE(function(p.x, r, nullptr));
    // sums of squares differ by rounding only
    CHECK(std::abs(r.squaredNorm() - lowest - p.rise) <= 1e-12 * (lowest + r.squaredNorm()));
  }
}

}  // namespace

TEST_CASE("Puromycin: parameters, standard errors, and profile intervals") {
  const Observations data     = puromycin("treated");
  const Residuals    function = bench::residuals_of(michaelis, data);
  REQUIRE(data.y.size() == 12);
  const auto fit = fitted(michaelis, data, {200.0, 0.05});
  check_nls(fit, {212.683579126, 0.0641210261}, 1e-9);
  CHECK(matching_digits(rss(fit), 1195.448815) >= 9.0);
  CHECK(matching_digits(residual_sd(fit), 10.93366) >= 6.0);
  check_errors(fit, {6.947146, 0.008280922}, 5.0);
  CHECK(matching_digits(bench::covariance(fit)(0, 1), 0.04401431447) >= 5.0);

  const auto interval = [&](Eigen::Index i, double confidence) {
    auto out = profile_interval(function, fit.x, i, rise(fit, confidence));
    check_points(out, function, Eigen::VectorXd::Unit(2, i), fit.x);
    return out;
  };
  check_ends(interval(0, 0.90), 200.0886121, 226.0868963, 6.0);
  check_ends(interval(0, 0.95), 197.3019329, 229.2890551, 6.0);
  check_ends(interval(0, 0.99), 191.1224401, 236.7349614, 6.0);
  check_ends(interval(1, 0.90), 0.049815945370, 0.081617228819, 6.0);
  check_ends(interval(1, 0.95), 0.046920342035, 0.086156913427, 6.0);
  check_ends(interval(1, 0.99), 0.040837934793, 0.097264958486, 6.0);
  // R
  check_ends(interval(0, 0.90), 200.0892510602, 226.0877468941, 5.0);
  check_ends(interval(0, 0.95), 197.3021284817, 229.2900648975, 5.0);
  check_ends(interval(0, 0.99), 191.1235357954, 236.7364462411, 5.0);
  check_ends(interval(1, 0.90), 0.0498196597, 0.0816176380, 3.9);
  check_ends(interval(1, 0.95), 0.0469251684, 0.0861599530, 3.9);
  check_ends(interval(1, 0.99), 0.0408412257, 0.0972699562, 3.9);
  const auto wald = interval(0, 0.95);
  CHECK(matching_digits(wald.estimate - wald.wald_half_width, 197.204372584) >= 6.0);
  CHECK(matching_digits(wald.estimate + wald.wald_half_width, 228.162785669) >= 6.0);

  const auto untreated = fitted(michaelis, puromycin("untreated"), {150.0, 0.05});
  check_nls(untreated, {160.2801, 0.04770831}, 5e-7);
  CHECK(matching_digits(rss(untreated), 859.6042938) >= 9.0);
  CHECK(matching_digits(residual_sd(untreated), 9.773003) >= 6.0);
  const Residuals other = bench::residuals_of(michaelis, puromycin("untreated"));
  const auto      limit = profile_interval(other, untreated.x, 0, rise(untreated, 0.95));
  const auto      half  = profile_interval(other, untreated.x, 1, rise(untreated, 0.95));
  check_ends(limit, 145.6366789, 176.5437564, 6.0);
  check_ends(half, 0.031366870632, 0.070057114502, 6.0);
  check_ends(limit, 145.6369536116, 176.5444008979, 5.0);
  check_ends(half, 0.0313745977, 0.0700613061, 3.5);
}

TEST_CASE("Oxygen demand: a strongly asymmetric profile") {
  const Observations data     = read("bod", "demand", "Time");
  const Residuals    function = bench::residuals_of(approach, data);
  REQUIRE(data.y.size() == 6);
  const auto fit = fitted(approach, data, {20.0, 0.5});
  check_nls(fit, {19.1425816, 0.5310908}, 1e-7);
  CHECK(matching_digits(rss(fit), 25.99026728) >= 9.0);
  check_errors(fit, {2.4959204, 0.2030819}, 5.5);

  const auto limit = profile_interval(function, fit.x, 0, rise(fit, 0.95));
  const auto rate  = profile_interval(function, fit.x, 1, rise(fit, 0.95));
  check_points(limit, function, Eigen::VectorXd::Unit(2, 0), fit.x);
  check_points(rate, function, Eigen::VectorXd::Unit(2, 1), fit.x);
  // R's confint gives 14.0845 … 38.4825 and 0.1356 … 1.8101, where P has risen by 98 % and 97 % of Δ at the lower ends: the
  // points of its profile are too far apart. With τ in steps of 0.1 it comes to 14.04938 and 0.13140.
  check_ends(limit, 14.049364162826, 38.456197968068, 6.0);
  check_ends(rate, 0.131397746702, 1.808169594734, 6.0);

  // Both are where they say: the other parameter best, and the sum of squares risen by the quantile. With the rate held
  // the limit is a linear parameter, (e·y)/(e·e).
  for (const ProfileSide& side : {rate.lower, rate.upper}) {
    double ey = 0.0, ee = 0.0, sum = 0.0;
    for (std::size_t i = 0; i < data.y.size(); ++i) {
      const double e = 1.0 - std::exp(-side.value * data.x[i][0]);
      ey += e * data.y[i];
      ee += e * e;
    }
    for (std::size_t i = 0; i < data.y.size(); ++i) {
      sum += std::pow(ey / ee * (1.0 - std::exp(-side.value * data.x[i][0])) - data.y[i], 2);
    }
    // τ is asked for to 1e-6, the rise to twice that
    CHECK((sum - rss(fit)) / rise(fit, 0.95) == Approx(1.0).epsilon(2e-6));
  }
}

TEST_CASE("Oxygen demand: at 99 % the limit has no upper bound and the rate neither") {
  const Residuals function = bench::residuals_of(approach, read("bod", "demand", "Time"));
  const auto      fit      = least_squares(function, vector_of({20.0, 0.5}));
  const double    delta    = rise(fit, 0.99);

  // As the limit grows the curve becomes a straight line through 0, whose sum of squares is closed: Σy² − (Σty)²/Σt²,
  // and as the rate grows a constant: Σ(y − ȳ)².
  const Observations data = read("bod", "demand", "Time");
  double             yy = 0.0, ty = 0.0, tt = 0.0, mean = 0.0;
  for (std::size_t i = 0; i < data.y.size(); ++i) {
    yy += data.y[i] * data.y[i];
    ty += data.y[i] * data.x[i][0];
    tt += data.x[i][0] * data.x[i][0];
    mean += data.y[i] / static_cast<double>(data.y.size());
  }
  const double line     = yy - ty * ty / tt - rss(fit);
  const double constant = yy - mean * mean * static_cast<double>(data.y.size()) - rss(fit);
  REQUIRE(line < delta);
  REQUIRE(constant < delta);

  const auto limit = profile_interval(function, fit.x, 0, delta);
  check_points(limit, function, Eigen::VectorXd::Unit(2, 0), fit.x);
  CHECK(limit.lower.found());
  CHECK(limit.upper.end == ProfileEnd::open);
  CHECK(limit.upper.rise == Approx(line).epsilon(1e-2));  // 1000 half widths out, a slope of 1e-3 is left
  CHECK_FALSE(limit.closed());
  CHECK(limit.points.size() < 40);

  const auto rate = profile_interval(function, fit.x, 1, delta);
  check_points(rate, function, Eigen::VectorXd::Unit(2, 1), fit.x);
  CHECK(rate.upper.end == ProfileEnd::open);
  CHECK(rate.upper.rise == Approx(constant).epsilon(1e-9));

  // the same search told that a rate is not negative, and looking no farther than 3 per day
  ProfileOptions options;
  options.lowest  = 0.0;
  options.highest = 3.0;
  const auto held = profile_interval(function, fit.x, 1, delta, options);
  CHECK(held.upper.end == ProfileEnd::open);
  CHECK(held.upper.value == 3.0);
  CHECK(held.upper.rise < delta);
  CHECK(held.lower.value >= 0.0);
}

TEST_CASE("Logistic and exponential growth") {
  const auto dnase = fitted("dnase_run1");
  check_nls(dnase, {2.34517876, 1.48308875, 1.04145448}, 5e-9);
  CHECK(matching_digits(rss(dnase), 0.00478956897) >= 8.0);
  CHECK(matching_digits(residual_sd(dnase), 0.01919449) >= 6.5);
  CHECK(dof(dnase) == 13.0);

  const auto orange = fitted("orange_tree3");
  check_nls(orange, {158.829436797, 734.842096866, 400.954810868}, 1e-11);
  CHECK(matching_digits(rss(orange), 156.670804354) >= 9.0);

  const auto loblolly = fitted("loblolly_seed301");
  check_nls(loblolly, {95.66687847, -9.07824085, -3.11638102}, 2e-9);
  CHECK(matching_digits(rss(loblolly), 1.181183492) >= 8.0);
  CHECK(dof(loblolly) == 3.0);
}

TEST_CASE("Decay, intake and loss") {
  const auto wtloss = fitted("wtloss");
  check_nls(wtloss, {81.373751, 102.684173, 141.910524}, 1e-8);
  check_errors(wtloss, {2.269011, 2.082766, 5.294528}, 5.5);
  CHECK(matching_digits(rss(wtloss), 39.24469857) >= 9.0);
  CHECK(matching_digits(residual_sd(wtloss), 0.894937) >= 6.0);
  CHECK(dof(wtloss) == 49.0);

  const auto indometh = fitted("indometh_subject1");
  check_nls(indometh, {2.029277436, 0.579388691, 0.191547455, -1.787784883}, 3e-9);
  CHECK(matching_digits(rss(indometh), 0.0117820139) >= 8.0);

  const auto theoph = fitted("theoph_subject4");
  check_nls(theoph, {-2.436494022, 0.158263826, -3.286086898}, 4e-9);
  CHECK(matching_digits(rss(theoph), 5.73195060) >= 8.0);
}

TEST_CASE("Steam pressure") {
  const auto fit = fitted("steam");
  check_nls(fit, {5.267307, 19.72184, 294.9930}, 3e-7);
  CHECK(matching_digits(rss(fit), 1718.210808) >= 9.0);
  CHECK(matching_digits(residual_sd(fit), 12.49804) >= 6.0);
  CHECK(dof(fit) == 11.0);
}

TEST_CASE("Straight lines and planes: crack growth, rubber abrasion, yarn life") {
  const auto fatigue = fitted("fatigue_path1");
  // the relative lengths stand in the table to seven digits only
  check_linear(fatigue, {1.00422761215, 3.85583643922}, 7.0);
  CHECK(matching_digits(residual_sd(fatigue), 0.00650646898) >= 5.5);

  const auto rubber = fitted("rubber_abrasion");
  check_linear(rubber, {885.1611094, -6.5708299, -1.3743118}, 7.0);
  check_errors(rubber, {61.7515847, 0.5831877, 0.1943089}, 6.0);
  CHECK(matching_digits(rss(rubber), 35949.74371) >= 9.0);
  CHECK(matching_digits(residual_sd(rubber), 36.48934) >= 6.0);
  CHECK(dof(rubber) == 27.0);

  const auto power = fitted("wool_loglog");
  check_linear(power, {3.86641507731, 4.95040443867, -5.65256075336, -3.50416737907}, 8.0);
  CHECK(matching_digits(rss(power), 0.767377642525) >= 9.0);

  const auto coded = fitted("wool_loglinear_coded");
  check_linear(coded, {6.3347480264, 0.8323841621, -0.6308660171, -0.3926195025}, 9.0);
  CHECK(matching_digits(rss(coded), 0.7925008735) >= 9.0);
}

TEST_CASE("In a linear model the profile is Wald's interval, for any combination") {
  const auto rubber   = problem("rubber_abrasion");
  const auto function = bench::residuals_of(rubber.curve, rubber.data);
  const auto fit      = least_squares(function, Eigen::VectorXd::Zero(3));
  REQUIRE(fit.usable());
  const Eigen::MatrixXd covariance = bench::covariance(fit);
  const double          t          = std::sqrt(rise(fit, 0.95)) / residual_sd(fit);
  // a parameter, a difference, the loss foretold at 70 °Shore and 200
  for (const auto& c :
       {vector_of({0, 0, 1}), vector_of({0, 1, -1}), vector_of({1, 70, 200}), vector_of({-2, 0, 0})}) {
    const double half = t * std::sqrt(c.dot(covariance * c));
    const auto   out  = profile_interval(function, fit.x, c, rise(fit, 0.95));
    CAPTURE(c.transpose(), half);
    check_points(out, function, c, fit.x);
    REQUIRE(out.closed());
    CHECK(out.estimate == c.dot(fit.x));
    CHECK(out.wald_half_width == Approx(half).epsilon(1e-10));
    // τ at an end is right to 1e-6, and it is a straight line
    CHECK(out.upper.value - out.estimate == Approx(half).epsilon(1e-6));
    CHECK(out.estimate - out.lower.value == Approx(half).epsilon(1e-6));
  }
}

TEST_CASE("A combination's profile is that of a parameter in other coordinates") {
  // the initial slope V/K of Michaelis–Menten by its own parameter, and log V − log K by a combination
  const Observations data   = puromycin("treated");
  const auto         by_log = bench::residuals_of(
      [](const Number* b, const double* x) { return exp(b[0]) * x[0] / (exp(b[1]) + x[0]); }, data);
  const auto by_slope = bench::residuals_of(
      [](const Number* b, const double* x) { return b[0] * x[0] / (1.0 + b[0] / b[1] * x[0]); }, data);
  const auto logs  = least_squares(by_log, vector_of({5.0, -3.0}));
  const auto slope = least_squares(by_slope, vector_of({3000.0, 200.0}));
  REQUIRE(logs.usable());
  REQUIRE(slope.usable());
  const auto one = profile_interval(by_log, logs.x, vector_of({1.0, -1.0}), rise(logs, 0.95));
  const auto two = profile_interval(by_slope, slope.x, 0, rise(slope, 0.95));
  REQUIRE(one.closed());
  REQUIRE(two.closed());
  CHECK(std::exp(one.lower.value) == Approx(two.lower.value).epsilon(1e-6));
  CHECK(std::exp(one.upper.value) == Approx(two.upper.value).epsilon(1e-6));
}

TEST_CASE("One parameter, known noise: the ends are roots of the objective itself") {
  // r = (exp(b) − 2)/0.1: χ² rises by q where exp(b) = 2 ± 0.1·√q
  const Residuals function = [](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r = Eigen::VectorXd::Constant(1, (std::exp(b[0]) - 2.0) / 0.1);
    if (j != nullptr) *j = Eigen::MatrixXd::Constant(1, 1, std::exp(b[0]) / 0.1);
    return true;
  };
  const double q   = quantile(boost::math::chi_squared(1.0), 0.95);
  const auto   out = profile_interval(function, vector_of({std::log(2.0)}), 0, q);
  REQUIRE(out.closed());
  CHECK(out.lower.value == Approx(std::log(2.0 - 0.1 * std::sqrt(q))).epsilon(1e-6));
  CHECK(out.upper.value == Approx(std::log(2.0 + 0.1 * std::sqrt(q))).epsilon(1e-6));
  // 20² is the most that χ² can rise by downwards
  const auto open = profile_interval(function, vector_of({std::log(2.0)}), 0, 500.0);
  CHECK(open.lower.end == ProfileEnd::open);
  CHECK(open.lower.rise == Approx(400.0));
  CHECK(open.upper.found());
  CHECK(open.upper.value == Approx(std::log(2.0 + 0.1 * std::sqrt(500.0))).epsilon(1e-6));
}

TEST_CASE("What the data do not tell is open on both sides") {
  // only the sum of two parameters has an effect
  const Residuals function = [](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r = Eigen::VectorXd::LinSpaced(5, 0.0, 1.0).array() + (b[0] + b[1]) - 3.0;
    if (j != nullptr) *j = Eigen::MatrixXd::Ones(5, 2);
    return true;
  };
  const Eigen::VectorXd optimum = vector_of({1.25, 1.25});
  for (Eigen::Index i : {0, 1}) {
    const auto out = profile_interval(function, optimum, i, 1.0);
    CHECK(out.wald_half_width == std::numeric_limits<double>::infinity());
    CHECK(out.lower.end == ProfileEnd::open);
    CHECK(out.upper.end == ProfileEnd::open);
    CHECK(out.upper.rise == Approx(0.0).margin(1e-12));
    check_points(out, function, Eigen::VectorXd::Unit(2, i), optimum);
  }
  const auto sum = profile_interval(function, optimum, vector_of({1.0, 1.0}), 1.0);
  REQUIRE(sum.closed());
  CHECK(sum.upper.value == Approx(2.5 + std::sqrt(1.0 / 5.0)).epsilon(1e-6));
}

TEST_CASE("Where residuals fail the profile is blocked, not ended") {
  const Residuals inside = bench::residuals_of(approach, read("bod", "demand", "Time"));
  const auto      fit    = least_squares(inside, vector_of({20.0, 0.5}));
  const Residuals walled = [&](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    const bool had = inside(b, r, j);
    if (b[1] > 1.2) r[0] = std::numeric_limits<double>::quiet_NaN();
    return had && b[1] > 0.2;
  };
  const auto out = profile_interval(walled, fit.x, 1, rise(fit, 0.95));
  check_points(out, walled, Eigen::VectorXd::Unit(2, 1), fit.x);
  CHECK(out.lower.end == ProfileEnd::blocked);
  CHECK(out.upper.end == ProfileEnd::blocked);
  // up to a thousandth of Wald's half width, 0.56, before the wall
  CHECK(out.lower.value == Approx(0.2).margin(1e-3 * out.wald_half_width));
  CHECK(out.upper.value == Approx(1.2).margin(1e-3 * out.wald_half_width));
  CHECK(out.upper.rise < rise(fit, 0.95));
  CHECK_FALSE(out.closed());
  // a wall beyond the ends is none
  const auto beyond = profile_interval(walled, fit.x, 1, rise(fit, 0.5));
  CHECK(beyond.closed());
}

TEST_CASE("A place lower than the optimum is handed back, not built upon") {
  // two minima: r = (b² − 1, (b − 1)/4), the lower at 1
  const Residuals function = [](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r.resize(2);
    r << b[0] * b[0] - 1.0, 0.25 * (b[0] - 1.0);
    if (j != nullptr) {
      j->resize(2, 1);
      *j << 2.0 * b[0], 0.25;
    }
    return true;
  };
  const auto upper = least_squares(function, vector_of({-0.9}));
  REQUIRE(upper.usable());
  REQUIRE(upper.x[0] < -0.9);
  const auto out = profile_interval(function, upper.x, 0, 2.0);
  REQUIRE(out.better);
  CHECK_FALSE(out.closed());
  CHECK(out.lower.end == ProfileEnd::no_minimum);
  CHECK(out.upper.end == ProfileEnd::no_minimum);
  const auto lower = least_squares(function, *out.better);
  REQUIRE(lower.usable());
  CHECK(lower.x[0] == Approx(1.0).epsilon(1e-9));
  CHECK(lower.cost < upper.cost);
}

TEST_CASE("A profile with nothing to stand on is refused") {
  const Residuals function = bench::residuals_of(approach, read("bod", "demand", "Time"));
  const auto      fit      = least_squares(function, vector_of({20.0, 0.5}));
  const double    nan      = std::numeric_limits<double>::quiet_NaN();
  CHECK_THROWS_AS(profile_interval(function, fit.x, 2, 1.0), std::invalid_argument);
  CHECK_THROWS_AS(profile_interval(function, fit.x, -1, 1.0), std::invalid_argument);
  CHECK_THROWS_AS(profile_interval(function, fit.x, vector_of({1.0}), 1.0), std::invalid_argument);
  CHECK_THROWS_AS(profile_interval(function, fit.x, vector_of({0.0, 0.0}), 1.0), std::invalid_argument);
  CHECK_THROWS_AS(profile_interval(function, fit.x, 0, 0.0), std::invalid_argument);
  CHECK_THROWS_AS(profile_interval(function, fit.x, 0, nan), std::invalid_argument);
  CHECK_THROWS_AS(profile_interval(function, vector_of({nan, 1.0}), 0, 1.0), std::invalid_argument);
  ProfileOptions aside;
  aside.lowest = 1.0;  // the estimate is 0.53
  CHECK_THROWS_AS(profile_interval(function, fit.x, 1, 1.0, aside), std::invalid_argument);
  const Residuals fails = [](const Eigen::VectorXd&, Eigen::VectorXd&, Eigen::MatrixXd*) { return false; };
  CHECK_THROWS_AS(profile_interval(fails, fit.x, 1, 1.0), std::invalid_argument);
}

TEST_CASE("Where a straight line crosses zero, the profile is Fieller's interval") {
  // y = a + b·x with noise of known standard deviation σ: the profile of ρ = −a/b at rise Δ is the set of ρ with
  // (â + b̂·ρ)² ≤ Δ·σ²·(v_aa + 2ρ·v_ab + ρ²·v_bb), whose ends are the roots of a quadratic (Fieller 1954)
  const std::vector<double> x{0, 1, 2, 3, 4, 5, 6}, y{-3.1, -1.7, -1.3, 0.4, 0.7, 2.2, 2.6};
  constexpr double          sigma = 0.4, rise = 2.705543454095404;  // χ²(1) at 90 %
  Eigen::MatrixXd           X(7, 2);
  Eigen::VectorXd           Y(7);
  for (Eigen::Index i = 0; i < 7; ++i) {
    X.row(i) << 1.0, x[static_cast<std::size_t>(i)];
    Y[i] = y[static_cast<std::size_t>(i)];
  }
  const Eigen::Vector2d fit = X.colPivHouseholderQr().solve(Y);
  const Eigen::Matrix2d v   = sigma * sigma * (X.transpose() * X).inverse();
  const double          qa = fit[1] * fit[1] - rise * v(1, 1), qb = 2.0 * (fit[0] * fit[1] - rise * v(0, 1)),
               qc   = fit[0] * fit[0] - rise * v(0, 0);
  const double root = std::sqrt(qb * qb - 4.0 * qa * qc);
  const double low = (-qb - root) / (2.0 * qa), high = (-qb + root) / (2.0 * qa);

  const auto line = [&](const Eigen::VectorXd& p, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r.resize(8);
    r.head(7) = (X * p - Y) / sigma;
    r[7]      = -p[0] / p[1];
    if (j != nullptr) {
      j->resize(8, 2);
      j->topRows(7) = X / sigma;
      j->row(7) << -1.0 / p[1], p[0] / (p[1] * p[1]);
    }
    return true;
  };
  const ProfileInterval interval = profile_of_quantity(line, fit, rise);
  REQUIRE(interval.closed());
  CHECK(interval.estimate == Approx(-fit[0] / fit[1]).epsilon(1e-14));
  // τ at an end is good to 1e-6 of itself, the default tolerance; so is its place, in half widths
  const double half = 0.5 * (high - low);
  CHECK(interval.lower.value == Approx(low).margin(2e-6 * half));
  CHECK(interval.upper.value == Approx(high).margin(2e-6 * half));
  // every place lies on the profile, wherever the penalty left it: P(ρ) by the same closed form
  for (const ProfilePoint& p : interval.points) {
    const double u         = fit[0] + fit[1] * p.value;
    const double true_rise = u * u / (v(0, 0) + 2.0 * p.value * v(0, 1) + p.value * p.value * v(1, 1));
    CHECK(p.rise == Approx(true_rise).margin(1e-9));
  }
  // Wald's, by the slopes of the quantity
  const Eigen::Vector2d g(-1.0 / fit[1], fit[0] / (fit[1] * fit[1]));
  CHECK(interval.wald_half_width == Approx(std::sqrt(rise * g.dot(v * g))).epsilon(1e-10));
}

TEST_CASE("A quantity that is linear has the profile of the combination") {
  const Curve  curve = [](const Number* b, const double* x) { return b[0] * x[0] / (b[1] + x[0]); };
  Observations data;
  data.x               = {{0.02}, {0.06}, {0.11}, {0.22}, {0.56}, {1.1}};
  data.y               = {60.0, 100.0, 125.0, 155.0, 190.0, 205.0};
  const auto residuals = bench::residuals_of(curve, data);
  const auto fit       = least_squares(residuals, Eigen::Vector2d(200.0, 0.1));
  REQUIRE(fit.usable());
  const Eigen::Vector2d c(0.01, 3.0);
  const auto            both = [&](const Eigen::VectorXd& p, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    Eigen::VectorXd head;
    Eigen::MatrixXd slopes;
    if (!residuals(p, head, j != nullptr ? &slopes : nullptr)) return false;
    r.resize(head.size() + 1);
    r << head, c.dot(p);
    if (j != nullptr) {
      j->resize(r.size(), 2);
      *j << slopes, c.transpose();
    }
    return true;
  };
  const double rise    = 4.0 * fit.cost;
  const auto   direct  = profile_interval(residuals, fit.x, Eigen::VectorXd(c), rise);
  const auto   penalty = profile_of_quantity(both, fit.x, rise);
  REQUIRE(direct.closed());
  REQUIRE(penalty.closed());
  // each end to 1e-6 of τ
  const double half = 0.5 * (direct.upper.value - direct.lower.value);
  CHECK(penalty.lower.value == Approx(direct.lower.value).margin(4e-6 * half));
  CHECK(penalty.upper.value == Approx(direct.upper.value).margin(4e-6 * half));
  // a limit on the quantity is where the search ends
  ProfileOptions limited;
  limited.highest = penalty.estimate + 0.3 * (penalty.upper.value - penalty.estimate);
  const auto open = profile_of_quantity(both, fit.x, rise, limited);
  CHECK(open.upper.end == ProfileEnd::open);
  CHECK(open.upper.value == Approx(limited.highest).margin(6e-3 * half));
  CHECK(open.lower.found());
}

TEST_CASE("A bound that the profile meets ends it, and other parameters stay within theirs") {
  // y = a·e^(−b·t), a at most what the data want: as b is moved, a would go beyond
  const Curve  curve = [](const Number* b, const double* x) { return b[0] * exp(-b[1] * x[0]); };
  Observations data;
  data.x               = {{0.5}, {1.0}, {2.0}, {3.0}, {4.0}};
  data.y               = {1.43, 0.99, 0.51, 0.24, 0.13};
  const auto residuals = bench::residuals_of(curve, data);
  const auto fit       = least_squares(residuals, Eigen::Vector2d(1.5, 0.5));
  REQUIRE(fit.usable());
  const double rise = 4.0 * fit.cost;
  double       most = 0.0;
  const auto   seen = [&](const Eigen::VectorXd& p, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    most = std::max(most, p[0]);
    return residuals(p, r, j);
  };
  ProfileOptions options;
  options.fit.lower = Eigen::Vector2d(0.0, 0.0);
  options.fit.upper = Eigen::Vector2d(fit.x[0] * 1.01, 10.0);
  const auto free   = profile_interval(residuals, fit.x, 1, rise),
             bound  = profile_interval(seen, fit.x, 1, rise, options);
  REQUIRE(free.closed());
  REQUIRE(bound.closed());
  CHECK(most <= fit.x[0] * 1.01);
  CHECK(bound.upper.value < free.upper.value);  // a cannot follow upwards
}
