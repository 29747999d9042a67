// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <limits>
#include <map>
#include <numbers>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/statistics/least_squares.hpp"
#include "tests/curve.hpp"
#include "tests/nist_strd.hpp"

using namespace arris;
using bench::Curve;
using bench::matching_digits;
using bench::Number;
using bench::Observations;
using namespace arris::bench::nist;

namespace {

// y = b0·(1 − exp(−b1·t)), b = (200, 0.5), at five times, without noise
Observations clean_approach() {
  Observations out;
  for (double t : {1.0, 2.0, 3.0, 5.0, 8.0}) {
    out.y.push_back(200.0 * (1.0 - std::exp(-0.5 * t)));
    out.x.push_back({t});
  }
  return out;
}

}  // namespace

TEST_CASE("All certified nonlinear regressions converge from both starts") {
  const auto problems = certified_problems();
  REQUIRE(problems.size() == 27);
  REQUIRE(nist_curves().size() == 27);
  std::string table = "problem    start  digits of b   sd  rss  iterations  evaluations  Jacobians\n";
  struct Row {
    std::string name;
    int         start;
    double      parameters, sd, rss;
    bool        usable, cheap;
  };
  std::vector<Row> rows;
  for (const auto& [name, problem] : problems) {
    const Observations data = read_dat(name);
    CAPTURE(name);
    REQUIRE(data.y.size() == problem.n);
    const Residuals function = bench::residuals_of(nist_curves().at(name), data);
    for (int start : {0, 1}) {
      LeastSquaresOptions options;
      // MGH10 from its first start creeps along a valley in which b1 falls to 1e-53 and rises again: about 1000 steps
      if (name == "MGH10") options.max_iterations = 2000;
      const LeastSquaresResult fit = least_squares(function, vector_of(problem.start[start]), options);
      const Row                row{name, start + 1, fewest_digits(fit.x, problem.value),
                    fewest_digits(bench::standard_deviations(fit), problem.sd),
                    matching_digits(2.0 * fit.cost, problem.rss), fit.usable(),
                    // an evaluation without derivatives to an iteration at most, and never two Jacobians
                    fit.evaluations - fit.jacobians <= fit.iterations && fit.jacobians <= fit.iterations + 1};
      rows.push_back(row);
      char line[120];
      std::snprintf(line, sizeof line, "%-10s %5d %12.1f %4.1f %4.1f %11d %12d %10d%s\n", name.c_str(),
                    row.start, row.parameters, row.sd, row.rss, fit.iterations, fit.evaluations,
                    fit.jacobians, row.usable ? "" : "  not converged");
      table += line;
    }
  }
  INFO(table);
  for (const Row& row : rows) {
    CAPTURE(row.name, row.start);
    CHECK(row.usable);
    CHECK(row.cheap);
    // Certified values have 11 digits. Where the search ends the residual lies within about 1e-8 of square on the tangent
    // plane, 1e-8·√dof standard deviations of a parameter: 8 digits if the standard deviation is a tenth of the value.
    CHECK(row.parameters >= 8.0);
    // Residuals of Lanczos1 are the rounding of its data: its sum of squares, and with it the standard deviations, hold
    // what double arithmetic leaves, two digits or less.
    if (row.name == "Lanczos1") continue;
    CHECK(row.rss >= 8.0);
    // J depends on the parameters, and its inverse on what is left of nearly parallel columns
    CHECK(row.sd >= 6.0);
  }
}

TEST_CASE("A linear problem is solved in one step") {
  Eigen::MatrixXd A(6, 3);
  Eigen::VectorXd x(3), r(6);
  A << 1, 0.1, 3e4, 1, 0.4, 1e4, 1, 0.9, -2e4, 1, 1.6, 5e3, 1, 2.5, -1e4, 1, 3.6, 2e4;
  x << 3.0, -200.0, 0.004;
  // a residual square on all columns, so that x is the minimum
  r = Eigen::VectorXd::LinSpaced(6, -1.0, 1.0).array().square();
  r -= A * A.householderQr().solve(r);
  const Eigen::VectorXd y      = A * x + r;
  const Residuals       linear = [&](const Eigen::VectorXd& at, Eigen::VectorXd& out, Eigen::MatrixXd* j) {
    out = A * at - y;
    if (j != nullptr) *j = A;
    return true;
  };
  LeastSquaresOptions undamped;
  undamped.first_damping  = 0.0;
  undamped.max_iterations = 2;
  const auto once         = least_squares(linear, Eigen::VectorXd::Zero(3), undamped);
  CAPTURE((once.x - x).transpose(), once.iterations);
  REQUIRE(once.usable());
  CHECK(once.iterations == 1);
  // y of some 700 is rounded to 1e-13, and nearly parallel columns, of length 2, 5 and 4e4, make ten times that of it
  const Eigen::Vector3d rounding(5e-12, 5e-12, 1e-15);
  CHECK(((once.x - x).cwiseAbs().array() <= rounding.array()).all());
  CHECK(once.cost == Approx(0.5 * r.squaredNorm()).epsilon(1e-12));

  // damping only delays: a step leaves λ over the square of the smallest singular value (scaled, about 0.2) of the way,
  // and λ falls by three from 1e-3: 2e-10 of it after four steps
  const auto damped = least_squares(linear, Eigen::VectorXd::Zero(3));
  CAPTURE((damped.x - x).transpose(), damped.iterations);
  REQUIRE(damped.usable());
  CHECK(damped.iterations <= 6);
  CHECK((damped.x - x).cwiseQuotient(x).cwiseAbs().maxCoeff() < 1e-9);
}

TEST_CASE("Scaling a parameter scales the answer and nothing else") {
  const Residuals function = bench::residuals_of(nist_curves().at("Rat42"), read_dat("Rat42"));
  Eigen::VectorXd start(3), unit(3);
  start << 100.0, 1.0, 0.1;
  unit << 1024.0 * 1024.0, 1.0 / 4096.0, 1.0 / 1048576.0;  // powers of 2, so that rounding is the same
  const Residuals scaled = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    if (!function(x.cwiseProduct(unit), r, j)) return false;
    if (j != nullptr) *j = *j * unit.asDiagonal();
    return true;
  };
  const auto plain = least_squares(function, start);
  const auto other = least_squares(scaled, start.cwiseQuotient(unit));
  REQUIRE(plain.usable());
  REQUIRE(other.usable());
  CHECK(other.iterations == plain.iterations);
  CHECK(other.x.cwiseProduct(unit) == plain.x);
}

TEST_CASE("The same call gives the same bits") {
  const Residuals       function = bench::residuals_of(nist_curves().at("MGH09"), read_dat("MGH09"));
  const Eigen::VectorXd start    = vector_of({25.0, 39.0, 41.5, 39.0});
  const auto            one = least_squares(function, start), two = least_squares(function, start);
  CHECK(one.x == two.x);
  CHECK(one.cost == two.cost);
  CHECK(one.evaluations == two.evaluations);
}

TEST_CASE("Where residuals cannot be had at the start nothing is fitted") {
  const double    nan   = std::numeric_limits<double>::quiet_NaN();
  const Residuals fails = [](const Eigen::VectorXd&, Eigen::VectorXd&, Eigen::MatrixXd*) { return false; };
  const Residuals wrong = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r = Eigen::VectorXd::Constant(3, nan);
    if (j != nullptr) *j = Eigen::MatrixXd::Ones(3, x.size());
    return true;
  };
  const Residuals wrong_derivative = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r = Eigen::VectorXd::Ones(3);
    if (j != nullptr) *j = Eigen::MatrixXd::Constant(3, x.size(), nan);
    return true;
  };
  for (const Residuals& function : {fails, wrong, wrong_derivative}) {
    const auto fit = least_squares(function, Eigen::VectorXd::Ones(2));
    CHECK(fit.status == LeastSquaresStatus::bad_start);
    CHECK_FALSE(fit.usable());
    CHECK(std::isnan(fit.cost));  // no cost that could pass for a good one
    CHECK(fit.evaluations == 1);
  }
}

TEST_CASE("Residuals that fail away from the start are survived") {
  const Residuals inside = bench::residuals_of(approach, clean_approach());
  const double    nan    = std::numeric_limits<double>::quiet_NaN();
  int             met    = 0;
  // outside of 0 < b1 < 2 there is nothing, and the way from (1, 0.01) would lead there
  const auto      in_range = [](const Eigen::VectorXd& b) { return b[1] > 0.0 && b[1] < 2.0; };
  const Residuals refuses  = [&](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    if (in_range(b)) return inside(b, r, j);
    ++met;
    return false;
  };
  const Residuals poisons = [&](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    const bool had = inside(b, r, j);
    if (!in_range(b)) {
      ++met;
      r[2] = nan;
    }
    return had;
  };
  const Residuals poisons_derivative = [&](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    const bool had = inside(b, r, j);
    if (!in_range(b) && j != nullptr) {
      ++met;
      (*j)(1, 1) = std::numeric_limits<double>::infinity();
    }
    return had;
  };
  for (const Residuals& function : {refuses, poisons, poisons_derivative}) {
    for (double h : {0.1, 0.0}) {  // with acceleration and without
      LeastSquaresOptions options;
      options.curvature_step = h;
      met                    = 0;
      const auto fit         = least_squares(function, vector_of({1.0, 0.01}), options);
      CAPTURE(h, fit.x.transpose(), fit.iterations);
      REQUIRE(fit.usable());
      if (h == 0.0) CHECK(met > 0);  // with acceleration the bend may warn of them before they are tried
      CHECK(fit.residuals.allFinite());
      CHECK(matching_digits(fit.x[0], 200.0) > 9.0);
      CHECK(matching_digits(fit.x[1], 0.5) > 9.0);
    }
  }
}

TEST_CASE("A search without damping recovers from steps that go too far") {
  // full steps from beyond 1.39 fly off to ever larger values: the cost must be brought down by damping, in a few trials
  const Residuals bow = [](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r = 10.0 * x.array().atan().matrix();
    if (j != nullptr) *j = Eigen::MatrixXd::Constant(1, 1, 10.0 / (1.0 + x[0] * x[0]));
    return true;
  };
  LeastSquaresOptions options;
  options.curvature_step = 0.0;
  options.first_damping  = 0.0;
  for (const double start : {1.5, 2.0, -3.0}) {
    const LeastSquaresResult found = least_squares(bow, Eigen::VectorXd::Constant(1, start), options);
    INFO(start << " after " << found.evaluations);
    CHECK(found.status == LeastSquaresStatus::converged);
    // no residual is left at 0: to what a step may be short by
    CHECK(std::abs(found.x[0]) < 1e-6);
    // seven or so to find a damping that is felt, and twenty as it fades by thirds
    CHECK(found.evaluations <= 40);
  }
}

TEST_CASE("A minimum behind a wall is not called one") {
  const Residuals inside = bench::residuals_of(approach, clean_approach());
  const Residuals walled = [&](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    return b[1] > 0.6 && inside(b, r, j);  // the minimum is at 0.5
  };
  const auto fit = least_squares(walled, vector_of({150.0, 1.0}));
  CHECK(fit.status == LeastSquaresStatus::stalled);
  CHECK_FALSE(fit.usable());
  CHECK(fit.residuals.allFinite());
  CHECK(fit.x[1] > 0.6);
  CHECK(fit.cost < 0.5 * [&] {
    Eigen::VectorXd r;
    walled(vector_of({150.0, 1.0}), r, nullptr);
    return r.squaredNorm();
  }());
}

TEST_CASE("A wrong derivative stalls") {
  const Residuals right = bench::residuals_of(approach, clean_approach());
  const Residuals wrong = [&](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    if (!right(b, r, j)) return false;
    if (j != nullptr) *j = -*j;
    return true;
  };
  const auto fit = least_squares(wrong, vector_of({150.0, 1.0}));
  CHECK(fit.status == LeastSquaresStatus::stalled);
  CHECK(fit.x == vector_of({150.0, 1.0}));  // no step uphill was taken
}

TEST_CASE("An undetermined combination stays where it was") {
  Observations data;
  for (int i = 0; i < 8; ++i) {
    data.x.push_back({0.5 * i});
    data.y.push_back(3.0 + 2.0 * 0.5 * i + (i % 2 == 0 ? 0.1 : -0.1));
  }
  SECTION("a sum of two parameters, and one without effect") {
    const Curve sum = [](const Number* b, const double* x) { return b[0] + b[1] + b[2] * x[0] + 0.0 * b[3]; };
    const auto  fit = least_squares(bench::residuals_of(sum, data), vector_of({1.0, 5.0, 0.0, 7.0}));
    REQUIRE(fit.usable());
    CHECK(fit.x[3] == 7.0);
    // equal columns share the way: 1 + 5 has 4 too many at first, and the difference must stay 4
    CHECK(fit.x[1] - fit.x[0] == Approx(4.0).margin(1e-6));
    const Curve line      = [](const Number* b, const double* x) { return b[0] + b[1] * x[0]; };
    const auto  identical = least_squares(bench::residuals_of(line, data), vector_of({0.0, 0.0}));
    CHECK(fit.x[0] + fit.x[1] == Approx(identical.x[0]).epsilon(1e-9));
    CHECK(fit.cost == Approx(identical.cost).epsilon(1e-12));
  }
  SECTION("a product of two parameters") {
    const Curve product = [](const Number* b, const double* x) { return b[0] + b[1] * b[2] * x[0]; };
    const auto  fit     = least_squares(bench::residuals_of(product, data), vector_of({1.0, 1.0, 1.0}));
    REQUIRE(fit.usable());
    CHECK(fit.x.cwiseAbs().maxCoeff() < 10.0);
    const Curve line = [](const Number* b, const double* x) { return b[0] + b[1] * x[0]; };
    CHECK(fit.cost ==
          Approx(least_squares(bench::residuals_of(line, data), vector_of({0.0, 0.0})).cost).epsilon(1e-12));
  }
  SECTION("fewer residuals than parameters") {
    const Residuals one = [](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
      r = Eigen::VectorXd::Constant(1, x[0] * x[1] - 6.0);
      if (j != nullptr) {
        j->resize(1, 2);
        *j << x[1], x[0];
      }
      return true;
    };
    const auto fit = least_squares(one, vector_of({1.0, 2.0}));
    REQUIRE(fit.usable());
    CHECK(fit.x[0] * fit.x[1] == Approx(6.0).epsilon(1e-12));
    CHECK(fit.x.cwiseAbs().maxCoeff() < 10.0);
  }
}

TEST_CASE("Noise of an integrator does not hide the minimum") {
  // as an integrator of tolerance 1e-9 would: errors that jump about with the parameters, others without derivatives
  const Residuals clean = bench::residuals_of(nist_curves().at("Misra1a"), read_dat("Misra1a"));
  const Residuals noisy = [&](const Eigen::VectorXd& b, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    if (!clean(b, r, j)) return false;
    for (Eigen::Index i = 0; i < r.size(); ++i) {
      r[i] += 50.0 * 1e-9 *
              std::sin(1e12 * b[1] + 1e7 * b[0] + 10.0 * static_cast<double>(i) + (j != nullptr ? 1.0 : 0.0));
    }
    return true;
  };
  for (const auto& start : {vector_of({500.0, 1e-4}), vector_of({250.0, 5e-4})}) {
    const auto fit = least_squares(noisy, start), exact = least_squares(clean, start);
    CAPTURE(fit.x.transpose(), fit.iterations, exact.iterations);
    CHECK(fit.usable());
    CHECK(fit.evaluations <= 2 * exact.evaluations);
    // A cost that is wrong by ‖r‖·5e-8 hides steps up to √(2·5e-8·‖r‖): 2e-4 of the residual's length 0.35, so about
    // 2e-4·√12 standard deviations, which are 1.1 % of b1 and 1.3 % of b2.
    CHECK(matching_digits(fit.x[0], exact.x[0]) > 4.0);
    CHECK(matching_digits(fit.x[1], exact.x[1]) > 4.0);
  }
}

TEST_CASE("Too few iterations are told") {
  LeastSquaresOptions options;
  options.max_iterations = 3;
  const auto fit         = least_squares(bench::residuals_of(nist_curves().at("MGH09"), read_dat("MGH09")),
                                         vector_of({25.0, 39.0, 41.5, 39.0}), options);
  CHECK(fit.status == LeastSquaresStatus::max_iterations);
  CHECK_FALSE(fit.usable());
  CHECK(fit.iterations == 3);
}

namespace {

LeastSquaresOptions within(const std::vector<double>& lower, const std::vector<double>& upper) {
  LeastSquaresOptions options;
  options.lower = Eigen::Map<const Eigen::VectorXd>(lower.data(), static_cast<Eigen::Index>(lower.size()));
  options.upper = Eigen::Map<const Eigen::VectorXd>(upper.data(), static_cast<Eigen::Index>(upper.size()));
  return options;
}

}  // namespace

TEST_CASE("A linear problem in a box has the minimum of its active set") {
  // residuals A·x − y with correlated columns: the box minimum is found by hand from all 3³ faces
  Eigen::MatrixXd A(4, 3);
  A << 1.0, 0.8, 0.2, 0.0, 1.0, -0.5, 0.3, 0.0, 1.0, 0.7, -0.4, 0.6;
  const Eigen::VectorXd y         = (Eigen::VectorXd(4) << 3.0, -2.0, 1.5, 2.5).finished();
  const auto            residuals = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r = A * x - y;
    if (j != nullptr) *j = A;
    return true;
  };
  const Eigen::Vector3d low(-0.5, -0.7, 0.1), high(1.5, 2.0, 0.6);
  double                best = std::numeric_limits<double>::infinity();
  Eigen::Vector3d       by_hand;
  for (int face = 0; face < 27; ++face) {
    Eigen::Vector3d           x;
    std::vector<Eigen::Index> open;
    for (int i = 0, rest = face; i < 3; ++i, rest /= 3) {
      x[i] = rest % 3 == 0 ? low[i] : rest % 3 == 1 ? high[i] : 0.0;
      if (rest % 3 == 2) open.push_back(i);
    }
    if (!open.empty()) {
      const Eigen::MatrixXd part = A(Eigen::all, open);
      const Eigen::VectorXd step = part.colPivHouseholderQr().solve(y - A * x);
      for (std::size_t k = 0; k < open.size(); ++k) x[open[k]] = step[static_cast<Eigen::Index>(k)];
    }
    if ((x.array() < low.array() - 1e-12).any() || (x.array() > high.array() + 1e-12).any()) continue;
    const double cost = 0.5 * (A * x - y).squaredNorm();
    if (cost < best) {
      best    = cost;
      by_hand = x;
    }
  }
  auto options = within({low[0], low[1], low[2]}, {high[0], high[1], high[2]});
  for (const Eigen::Vector3d& start : {Eigen::Vector3d(0, 0, 0.3), low, high, Eigen::Vector3d(9, -9, 9)}) {
    const auto fit = least_squares(residuals, start, options);
    REQUIRE(fit.usable());
    CHECK(fit.cost == Approx(best).epsilon(1e-12));
    for (int i = 0; i < 3; ++i) {
      CHECK(fit.x[i] == Approx(by_hand[i]).margin(1e-9));  // the root of what the cost is good to
      const bool at_end = by_hand[i] == low[i] || by_hand[i] == high[i];
      CHECK((std::find(fit.held.begin(), fit.held.end(), i) != fit.held.end()) == at_end);
      if (at_end) CHECK(fit.x[i] == by_hand[i]);  // exactly there
    }
  }
}

TEST_CASE("Bounds that are not met change nothing, and no place beyond one is ever tried") {
  // exponential decay, y = 2·e^(−0.7 t) with noise by hand; once free, once in a wide box, once with the rate held back
  const std::vector<double> t{0, 1, 2, 3, 4, 5}, y{2.05, 0.97, 0.52, 0.22, 0.14, 0.04};
  double                    largest = 0.0;
  const auto                decay   = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    largest = std::max(largest, x[1]);
    r.resize(6);
    if (j != nullptr) j->resize(6, 2);
    for (Eigen::Index i = 0; i < 6; ++i) {
      const double e = std::exp(-x[1] * t[static_cast<std::size_t>(i)]);
      r[i]           = x[0] * e - y[static_cast<std::size_t>(i)];
      if (j != nullptr) j->row(i) << e, -t[static_cast<std::size_t>(i)] * x[0] * e;
    }
    return true;
  };
  const Eigen::VectorXd start = Eigen::Vector2d(1.0, 0.3);
  const auto            free  = least_squares(decay, start),
             wide             = least_squares(decay, start, within({-50, -50}, {50, 50}));
  REQUIRE(free.usable());
  REQUIRE(wide.usable());
  CHECK(wide.held.empty());
  CHECK((wide.x.array() == free.x.array()).all());
  // no bound on a side is none, not one that is always near
  const double infinity  = std::numeric_limits<double>::infinity();
  const auto   open_ends = least_squares(decay, start, within({-infinity, -50}, {infinity, infinity}));
  CHECK(open_ends.held.empty());
  CHECK((open_ends.x.array() == free.x.array()).all());
  REQUIRE(free.x[1] > 0.6);

  largest         = 0.0;
  const auto held = least_squares(decay, start, within({0, 0}, {50, 0.6}));
  REQUIRE(held.usable());
  CHECK(largest <= 0.6);
  CHECK(held.x[1] == 0.6);
  CHECK(held.held == std::vector<Eigen::Index>{1});
  // with the rate at its bound the size is a linear problem
  double above = 0.0, below = 0.0;
  for (std::size_t i = 0; i < 6; ++i) {
    above += y[i] * std::exp(-0.6 * t[i]);
    below += std::exp(-1.2 * t[i]);
  }
  CHECK(held.x[0] == Approx(above / below).epsilon(1e-9));
}

TEST_CASE("residuals that bend out of the tangent plane cost few steps") {
  // least at 5, where Gauss–Newton's steps leave a share |λ| of the way (Dennis & Schnabel 1983, from memory): at 0.9 it takes 170 of
  // them for eight digits. Three of these at once, each with a share of its own
  const std::array<double, 3> shares{0.9, -0.9, 0.6};
  const Residuals             bent = [&](const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* j) {
    r.resize(6);
    if (j != nullptr) j->setZero(6, 3);
    for (Eigen::Index i = 0; i < 3; ++i) {
      const double share = shares[static_cast<std::size_t>(i)];
      const double d     = x[i] - 5.0;
      r[2 * i]           = d + 1.0;
      r[2 * i + 1]       = share * d * d + d - 1.0;
      if (j == nullptr) continue;
      (*j)(2 * i, i)     = 1.0;
      (*j)(2 * i + 1, i) = 2.0 * share * d + 1.0;
    }
    return true;
  };
  LeastSquaresOptions options;
  options.step_tolerance     = 1e-14;  // only the gradient ends it
  options.gradient_tolerance = 1e-9;
  const auto fit             = least_squares(bent, Eigen::Vector3d(5.3, 5.2, 4.8), options);
  REQUIRE(fit.usable());
  // the gradient is 2·(1 − λ)·(x − 5) in each and at most 1e-9·‖r‖·√2 = 3.5e-9, over 0.2
  CHECK((fit.x.array() - 5.0).abs().maxCoeff() < 2e-8);
  CHECK(fit.jacobians <= 25);
}
