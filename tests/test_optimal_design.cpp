// SPDX-License-Identifier: MIT
#include <cmath>
#include <functional>
#include <numeric>
#include <sstream>
#include <string>
#include <vector>

#include <Eigen/Dense>
#include <catch2/catch.hpp>

#include "sim/input/csv.hpp"
#include "sim/statistics/optimal_design.hpp"
#include "tests/desk.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

// where a textbook's curve is best measured
std::vector<double> published(const std::string& model) {
  const std::string path = ARRIS_SOURCE_DIR "/tests/data/plan/d_optimal_examples.csv";
  for (const CsvRow& row : parse_csv(path, contents(path)).rows) {
    if (row.cells[0].text.rfind(model, 0) != 0) continue;
    std::vector<double> out;
    std::istringstream  points(row.cells[3].text);
    for (std::string point; std::getline(points, point, ';');) out.push_back(std::stod(point));
    return out;
  }
  FAIL("no design for " << model);
  return {};
}

using Slopes = std::function<std::vector<double>(double)>;  // of the curve against its parameters, at a time

DesignProblem problem_of(const Slopes& slopes, const std::vector<double>& times, int wanted) {
  DesignProblem p;
  const auto    P = static_cast<Eigen::Index>(slopes(times[1]).size());
  p.slopes.emplace_back(static_cast<Eigen::Index>(times.size()), P);
  for (std::size_t i = 0; i < times.size(); ++i) {
    const auto row = slopes(times[i]);
    for (Eigen::Index j = 0; j < P; ++j)
      p.slopes[0](static_cast<Eigen::Index>(i), j) = row[static_cast<std::size_t>(j)];
  }
  p.unit.assign(times.size(), 0);
  p.copies = {1.0};
  p.wanted = {wanted};
  return p;
}

std::vector<double> evenly(double from, double to, double step) {
  std::vector<double> out;
  const auto          n = std::lround((to - from) / step);
  for (long i = 0; i <= n; ++i)
    out.push_back(from + (to - from) * static_cast<double>(i) / static_cast<double>(n));
  return out;
}

struct Curve {
  const char* name;
  Slopes      slopes;
  double      from, to, step;
};

const std::vector<Curve>& curves() {
  static const std::vector<Curve> all{
      {"Michaelis-Menten Vx/(K+x)",
       [](double x) {
         return std::vector<double>{x / (0.08 + x), -205.0 * x / std::pow(0.08 + x, 2)};
       },
       0.0, 1.1, 0.001},
      {"exponential decay",
       [](double t) {
         return std::vector<double>{std::exp(-0.5 * t), -t * std::exp(-0.5 * t)};
       },
       0.0, 20.0, 0.01},
      {"exponential rise",
       [](double t) {
         return std::vector<double>{1.0 - std::exp(-0.5 * t), t * std::exp(-0.5 * t)};
       },
       0.0, 6.0, 0.01},
      {"3-parameter exponential approach",
       [](double t) {
         return std::vector<double>{1.0, -std::exp(-0.4 * t), t * std::exp(-0.4 * t)};
       },
       0.0, 10.0, 0.02},
      {"power law a t^n",
       [](double t) {
         return std::vector<double>{std::sqrt(t), std::log(t) * std::sqrt(t)};
       },
       1.0, 100.0, 0.1},
      {"Box-Lucas",
       [](double t) {
         const double a = 0.7, b = 0.2, ea = std::exp(-a * t), eb = std::exp(-b * t), d = a - b;
         return std::vector<double>{-b / (d * d) * (eb - ea) + a / d * t * ea,
                                    a / (d * d) * (eb - ea) - a / d * t * eb};
       },
       0.0, 20.0, 0.01},
      {"compartment",
       [](double t) {
         const double ea = std::exp(-4.298 * t), eb = std::exp(-0.05884 * t);
         return std::vector<double>{21.8 * t * ea, -21.8 * t * eb, eb - ea};
       },
       0.0, 40.0, 0.02},
  };
  return all;
}

double log_det(const Eigen::MatrixXd& m) { return std::log(m.determinant()); }

}  // namespace

TEST_CASE("the exchange finds the D-optimal designs of textbook curves", "[design]") {
  for (const Curve& curve : curves()) {
    INFO(curve.name);
    const std::vector<double> expected = published(curve.name);
    const std::vector<double> times    = evenly(curve.from, curve.to, curve.step);
    const int                 P        = static_cast<int>(expected.size());
    const OptimalDesign       found    = optimal_design(problem_of(curve.slopes, times, P), 5, 1);
    REQUIRE(found.chosen.size() == expected.size());
    for (std::size_t i = 0; i < expected.size(); ++i) {
      // the criterion is flat at its top, so the best of the grid may lie beside the nearest: one step of the grid
      CHECK(times[static_cast<std::size_t>(found.chosen[i])] ==
            Approx(expected[i]).margin(1.01 * curve.step));
    }
  }
}

TEST_CASE("more measurements than parameters go to the same points, in equal shares", "[design]") {
  const Curve&              curve    = curves()[5];
  const std::vector<double> expected = published(curve.name), times = evenly(0.0, 20.0, 0.05);
  DesignProblem             problem = problem_of(curve.slopes, times, 6);
  problem.repeats                   = true;
  const OptimalDesign found         = optimal_design(problem, 5, 1);
  for (std::size_t i = 0; i < 6; ++i)
    CHECK(times[static_cast<std::size_t>(found.chosen[i])] == Approx(expected[i / 3]).margin(0.0505));
}

TEST_CASE("the variance of prediction has its largest values at the points of a D-optimal design",
          "[design]") {
  // equivalence theorem of Kiefer and Wolfowitz: x'M⁻¹x ≤ P/n everywhere, with n measurements in equal shares
  for (const Curve& curve : curves()) {
    INFO(curve.name);
    const std::vector<double> times   = evenly(curve.from, curve.to, curve.step);
    const auto                P       = curve.slopes(times[1]).size();
    const DesignProblem       problem = problem_of(curve.slopes, times, static_cast<int>(P));
    const OptimalDesign       found   = optimal_design(problem, 5, 1);
    Eigen::MatrixXd M = Eigen::MatrixXd::Zero(static_cast<Eigen::Index>(P), static_cast<Eigen::Index>(P));
    for (const int c : found.chosen) M += problem.slopes[0].row(c).transpose() * problem.slopes[0].row(c);
    double largest = 0.0;
    for (Eigen::Index i = 0; i < problem.slopes[0].rows(); ++i) {
      const Eigen::VectorXd x = problem.slopes[0].row(i).transpose();
      largest                 = std::max(largest, x.dot(M.ldlt().solve(x)));
    }
    // at a chosen point it is 1; half a step of the grid away from the true optimum it rises by the square of a small number
    CHECK(largest == Approx(1.0).margin(0.002));
  }
}

TEST_CASE("the criterion is the determinant with what is shared integrated out", "[design]") {
  bench::Dice            dice(5);
  constexpr int          C = 9, P = 4, members = 3;
  const std::vector<int> chosen{0, 2, 3, 5, 8};
  DesignProblem          problem;
  problem.unit    = {0, 0, 0, 1, 1, 1, 1, 2, 2};
  problem.copies  = {3.0, 1.0, 5.0};
  problem.wanted  = {2, 2, 1};
  double expected = 0.0;
  for (int k = 0; k < members; ++k) {
    Eigen::MatrixXd X(C, P), before = Eigen::MatrixXd::Identity(P, P);
    Eigen::VectorXd z(C);
    for (int i = 0; i < C; ++i) {
      z[i] = dice.normal();
      for (int j = 0; j < P; ++j) X(i, j) = dice.normal();
    }
    before(0, 1) = before(1, 0) = 0.3;
    problem.slopes.push_back(X);
    problem.shared.push_back(z);
    problem.before.push_back(before);
    // the long way: the covariance of the readings of one edge is I + z·z', and edges are independent
    Eigen::MatrixXd M = before;
    for (int u = 0; u < 3; ++u) {
      std::vector<int> rows;
      for (const int c : chosen) {
        if (problem.unit[static_cast<std::size_t>(c)] == u) rows.push_back(c);
      }
      const auto      n = static_cast<Eigen::Index>(rows.size());
      Eigen::MatrixXd x(n, P), V = Eigen::MatrixXd::Identity(n, n);
      for (Eigen::Index i = 0; i < n; ++i) {
        x.row(i) = X.row(rows[static_cast<std::size_t>(i)]);
        for (Eigen::Index j = 0; j < n; ++j)
          V(i, j) += z[rows[static_cast<std::size_t>(i)]] * z[rows[static_cast<std::size_t>(j)]];
      }
      M += problem.copies[static_cast<std::size_t>(u)] * x.transpose() * V.inverse() * x;
    }
    expected += log_det(M) / members;
  }
  // a dozen roundings of numbers of order 10
  CHECK(design_criterion(problem, chosen) == Approx(expected).epsilon(1e-12));
}

TEST_CASE("the exchange finds the best of all designs of a small problem, and keeps what is fixed",
          "[design]") {
  bench::Dice dice(11);
  for (int trial = 0; trial < 20; ++trial) {
    constexpr int C = 10, P = 3;
    DesignProblem problem;
    problem.slopes.emplace_back(C, P);
    problem.shared.emplace_back(C);
    for (int i = 0; i < C; ++i) {
      problem.shared[0][i] = dice.normal();
      for (int j = 0; j < P; ++j) problem.slopes[0](i, j) = dice.normal();
    }
    problem.before = {Eigen::MatrixXd::Identity(P, P)};
    problem.unit   = {0, 0, 0, 0, 0, 1, 1, 1, 1, 1};
    problem.copies = {2.0, 1.0};
    problem.wanted = {3, 2};
    problem.fixed  = {1};
    double best    = -1e300;
    for (int mask = 0; mask < 1 << C; ++mask) {
      std::vector<int> rows;
      int              first = 0, second = 0;
      for (int i = 0; i < C; ++i) {
        if ((mask >> i & 1) == 0) continue;
        rows.push_back(i);
        ++(i < 5 ? first : second);
      }
      if (first == 3 && second == 2 && (mask & 2) != 0)
        best = std::max(best, design_criterion(problem, rows));
    }
    const OptimalDesign found = optimal_design(problem, 20, 1);
    CHECK(found.criterion == Approx(best).epsilon(1e-12));
    CHECK(found.criterion == Approx(design_criterion(problem, found.chosen)).epsilon(1e-12));
    CHECK(std::count(found.chosen.begin(), found.chosen.end(), 1) == 1);
    CHECK(std::is_sorted(found.chosen.begin(), found.chosen.end()));
    CHECK(std::adjacent_find(found.chosen.begin(), found.chosen.end()) == found.chosen.end());
  }
}

TEST_CASE("a design problem whose sizes do not match is refused", "[design]") {
  DesignProblem problem = problem_of(curves()[1].slopes, evenly(0.0, 20.0, 1.0), 2);
  CHECK_NOTHROW(optimal_design(problem, 1, 1));
  problem.wanted = {50};
  CHECK_THROWS_AS(optimal_design(problem, 1, 1), std::invalid_argument);
  problem.wanted = {2, 2};
  CHECK_THROWS_AS(optimal_design(problem, 1, 1), std::invalid_argument);
  // one row cannot determine two parameters
  problem.wanted = {1};
  CHECK(std::isinf(optimal_design(problem, 3, 1).criterion));
}
