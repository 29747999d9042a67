// SPDX-License-Identifier: MIT
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/csv.hpp"
#include "sim/input/files.hpp"
#include "sim/statistics/variance_components.hpp"
#include "tests/mixed_design.hpp"

namespace {

using namespace arris;
using bench::Builder;
using bench::table_of;

// the search stops where a step would change a variance by 1e-7 of its standard error, which is below the variance itself
// by less than ten here: what is left is the rounding of the published digits, 1e-6
constexpr double near_enough = 1e-5;

// The searches from every combination of starts at these shares of the truth: none may stall, and all end at one place.
void check_from_everywhere(const MixedModel& model, const std::vector<double>& truth) {
  const std::vector<double> shares{1e-3, 3e-2, 1.0, 30.0, 1e3};
  std::size_t               all = 1;
  for (std::size_t i = 0; i < truth.size(); ++i) all *= shares.size();
  for (std::size_t k = 0; k < all; ++k) {
    std::vector<double> start;
    std::size_t         rest = k;
    for (const double sd : truth) {
      start.push_back(sd * shares[rest % shares.size()]);
      rest /= shares.size();
    }
    const auto found = variance_components(model, start);
    INFO("start " << k << ": " << start[0] << ", " << start[1] << "; " << found.iterations << " rounds");
    CHECK(found.converged);
    CHECK(found.iterations < 100);
    CHECK(found.residual_sd == Approx(truth[0]).epsilon(near_enough));
    for (std::size_t g = 1; g < truth.size(); ++g)
      CHECK(found.group_sd[g - 1] == Approx(truth[g]).epsilon(near_enough));
  }
}

}  // namespace

TEST_CASE("variance of dyestuff batches is that of restricted maximum likelihood") {
  const CsvTable table = table_of("dyestuff.csv");
  Builder        b(table);
  b.response("Yield");
  b.intercept();
  b.random({"Batch"});
  const auto found = variance_components(b.finish(), {50.0, 20.0});
  REQUIRE(found.converged);
  CHECK(std::pow(found.group_sd[0], 2) == Approx(1764.05).epsilon(near_enough));
  CHECK(std::pow(found.residual_sd, 2) == Approx(2451.25).epsilon(near_enough));
  check_from_everywhere(b.model, {std::sqrt(2451.25), std::sqrt(1764.05)});
}

TEST_CASE("variances of nested pastes are those of restricted maximum likelihood") {
  const CsvTable table = table_of("pastes.csv");
  Builder        b(table);
  b.response("strength");
  b.intercept();
  b.random({"batch"});
  b.random({"batch", "cask"});
  const auto found = variance_components(b.finish(), {1.0, 1.0, 1.0});
  REQUIRE(found.converged);
  CHECK(std::pow(found.group_sd[0], 2) ==
        Approx(1.65730796).epsilon(1e-4));  // R printed eight digits of a flat optimum
  CHECK(std::pow(found.group_sd[1], 2) == Approx(8.43366793).epsilon(1e-4));
  CHECK(std::pow(found.residual_sd, 2) == Approx(0.67799995).epsilon(1e-4));
  check_from_everywhere(b.model, {found.residual_sd, found.group_sd[0], found.group_sd[1]});
}

TEST_CASE("variances and likelihood of workers at machines are those of restricted maximum likelihood") {
  const CsvTable table = table_of("machines.csv");
  Builder        b(table);
  b.response("score");
  b.intercept();
  b.fixed_level("Machine", "B");
  b.fixed_level("Machine", "C");
  b.random({"Worker"});
  b.random({"Worker", "Machine"});
  const MixedModel& model = b.finish();
  const auto        found = variance_components(model, {1.0, 3.0, 3.0});
  REQUIRE(found.converged);
  CHECK(std::pow(found.group_sd[0], 2) == Approx(22.8584376872).epsilon(1e-4));
  CHECK(std::pow(found.group_sd[1], 2) == Approx(13.9094085985).epsilon(1e-4));
  CHECK(std::pow(found.residual_sd, 2) == Approx(0.9246306).epsilon(1e-4));
  CHECK(found.log_likelihood == Approx(-107.843784).margin(1e-4));
  check_from_everywhere(model, {found.residual_sd, found.group_sd[0], found.group_sd[1]});
}

TEST_CASE("a group that is not there ends at the smallest standard deviation, not at a NaN") {
  MixedModel m;
  m.design.resize(12, 5);
  m.response.resize(12);
  for (int i = 0; i < 12; ++i) {
    m.design.row(i).setZero();
    m.design(i, 0)         = 1.0;
    m.design(i, 1 + i % 4) = 1.0;
    const int round        = i / 4;
    m.response[i]          = 4.0 + round;  // the same three values in every group: nothing between groups
  }
  m.weights        = Eigen::VectorXd::Ones(12);
  m.known_sd       = Eigen::VectorXd::Zero(12);
  m.group          = {MixedModel::flat, 0, 0, 0, 0};
  m.groups         = 1;
  const auto found = variance_components(m, {1.0, 1.0});
  REQUIRE(found.converged);
  CHECK(found.group_sd[0] == VarianceComponents::smallest_sd);
  // all of the scatter, n − 1, but for the smallest σ: (1e-4)² of the variance
  CHECK(found.residual_sd == Approx(std::sqrt(8.0 / 11.0)).epsilon(1e-6));
  // wherever the search begins, it comes to rest at the bound, and says that it has converged
  for (const double sd : {1e-4, 1e-2, 1.0, 1e2, 1e4}) {
    for (const double residual : {1e-3, 1.0, 1e3}) {
      const auto again = variance_components(m, {residual, sd});
      INFO("start " << residual << ", " << sd);
      CHECK(again.converged);
      CHECK(again.group_sd[0] == VarianceComponents::smallest_sd);
      CHECK(again.residual_sd == Approx(found.residual_sd).epsilon(1e-6));
    }
  }
}

TEST_CASE("degrees of freedom behind a mean are those of its t test") {
  // a balanced study, k groups of n: the grand mean varies as σ_g²/k + σ²/(k·n), a mean square between groups, known with
  // k − 1 degrees of freedom; without groups, with n − 1
  constexpr int k = 7, n = 3;
  MixedModel    m;
  m.design   = Eigen::MatrixXd::Zero(k * n, 1 + k);
  m.response = Eigen::VectorXd::Zero(k * n);
  m.group    = {MixedModel::flat};
  m.groups   = 1;
  for (int i = 0; i < k * n; ++i) m.design(i, 0) = m.design(i, 1 + i / n) = 1.0;
  for (int g = 0; g < k; ++g) m.group.push_back(0);
  m.weights          = Eigen::VectorXd::Ones(k * n);
  m.known_sd         = Eigen::VectorXd::Zero(k * n);
  const auto mean_of = [](const MixedModel& of) {
    return Eigen::MatrixXd(Eigen::VectorXd::Unit(of.design.cols(), 0));
  };
  CHECK(degrees_of_freedom(m, {0.3, 0.5}, mean_of(m))[0] ==
        Approx(k - 1).epsilon(1e-9));  // exact: rounding only
  MixedModel plain = m;
  plain.design     = Eigen::MatrixXd::Ones(k * n, 1);
  plain.group      = {MixedModel::flat};
  plain.groups     = 0;
  CHECK(degrees_of_freedom(plain, {0.3}, mean_of(plain))[0] == Approx(k * n - 1).epsilon(1e-9));
  plain.known_sd.setConstant(0.3);
  CHECK(std::isinf(degrees_of_freedom(plain, {0.3}, mean_of(plain))[0]));
}

TEST_CASE("a row of known noise counts by its own standard deviation") {
  MixedModel m;  // two rows, one unknown mean: the precise one wins in proportion to its precision
  m.design         = Eigen::MatrixXd::Ones(3, 1);
  m.response       = Eigen::Vector3d(0.0, 0.0, 10.0);
  m.weights        = Eigen::VectorXd::Ones(3);
  m.known_sd       = Eigen::Vector3d(1.0, 1.0, 100.0);
  m.group          = {MixedModel::flat};
  const auto found = variance_components(m, {1.0});
  // log density of the three rows about their weighted mean, the mean integrated out; by hand
  const double w = 1.0 + 1.0 + 1e-4, mean = 10.0 * 1e-4 / w;
  const double quad    = 2.0 * mean * mean + 1e-4 * (10.0 - mean) * (10.0 - mean);
  const double by_hand = -0.5 * (2.0 * std::log(2.0 * M_PI) + std::log(1e4) + std::log(w) + quad);
  CHECK(found.log_likelihood == Approx(by_hand).epsilon(1e-12));
}

TEST_CASE("columns that each unit has of its own are what they are as columns of the design", "[variance]") {
  // 12 units of 6 rows with two columns each, of which the second may be missing, beside four that units share, a fixed effect and
  // rows of known noise: all by closed-form numbers without a pattern
  constexpr int units = 12, per = 6, shared = 4, fixed = 3, rows = units * per, more = 2;
  const bool    with_second = GENERATE(true, false);
  MixedModel    nested;
  nested.design        = Eigen::MatrixXd::Zero(rows + more, fixed + shared);
  nested.response      = Eigen::VectorXd::Zero(rows + more);
  nested.weights       = Eigen::VectorXd::Ones(rows + more);
  nested.known_sd      = Eigen::VectorXd::Zero(rows + more);
  nested.nested.slopes = Eigen::Matrix2Xd::Zero(2, rows + more);
  nested.nested.unit.assign(rows + more, -1);
  nested.nested.units = units;
  nested.nested.group = {0, with_second ? 2 : MixedModel::flat};
  nested.groups       = with_second ? 3 : 2;
  nested.group        = {MixedModel::unit, MixedModel::unit, MixedModel::flat, 1, 1, 1, 1};
  for (int i = 0; i < rows + more; ++i) {
    for (int j = 0; j < fixed; ++j) nested.design(i, j) = std::sin(1.0 + 7.3 * i + 2.1 * j * j);
    nested.response[i] = 2.0 * std::cos(3.7 * i) + std::sin(3.0 * std::floor(static_cast<double>(i) / per)) +
                         0.3 * (i % shared);
    if (i % 5 == 0 || i >= rows) nested.known_sd[i] = 0.5;
    if (i >= rows) continue;
    nested.weights[i]                               = 1.0 + 0.3 * std::abs(std::sin(1.9 * i));
    nested.design(i, fixed + i * 7 % shared)        = 1.0;
    nested.nested.unit[static_cast<std::size_t>(i)] = i / per;
    nested.nested.slopes(0, i)                      = 1.0 + 0.1 * std::sin(5.1 * i);
    if (with_second) nested.nested.slopes(1, i) = 0.3 * (i % per);
  }
  MixedModel dense = nested;
  dense.nested     = {};
  for (int unit = 0; unit < units; ++unit) {
    for (int w = 0; w < (with_second ? 2 : 1); ++w) {
      Eigen::VectorXd column          = Eigen::VectorXd::Zero(rows + more);
      column.segment(unit * per, per) = nested.nested.slopes.row(w).segment(unit * per, per).transpose();
      dense.design.conservativeResize(rows + more, dense.design.cols() + 1);
      dense.design.rightCols(1) = column;
      dense.group.push_back(nested.nested.group[static_cast<std::size_t>(w)]);
    }
  }
  std::vector<double> sd{0.8, 0.4, 0.3};
  if (with_second) sd.push_back(0.2);
  // the same formulas in another order: what is left is rounding, 1e-16 by some 1e4 of condition
  const auto by_units = variance_components(nested, sd), by_columns = variance_components(dense, sd);
  REQUIRE(by_units.converged);
  CHECK(by_units.log_likelihood == Approx(by_columns.log_likelihood).epsilon(1e-12));
  CHECK(by_units.residual_sd == Approx(by_columns.residual_sd).epsilon(near_enough));
  for (std::size_t g = 0; g < by_columns.group_sd.size(); ++g) {
    CHECK(by_units.group_sd[g] == Approx(by_columns.group_sd[g]).epsilon(near_enough));
    CHECK(deviance_of_group(nested, sd, static_cast<int>(g)) ==
          Approx(deviance_of_group(dense, sd, static_cast<int>(g))).margin(1e-8));
  }
  const Eigen::MatrixXd information = log_sd_information(dense, sd);
  CHECK((log_sd_information(nested, sd) - information).cwiseAbs().maxCoeff() < 1e-11 * information.norm());
  Eigen::MatrixXd combinations = Eigen::MatrixXd::Zero(dense.design.cols(), 2);
  combinations(0, 0) = combinations(2, 1) = combinations(fixed, 1) = 1.0;
  const Eigen::VectorXd dof = degrees_of_freedom(dense, sd, combinations);
  CHECK((degrees_of_freedom(nested, sd, combinations.topRows(fixed + shared)) - dof).norm() <
        1e-9 * dof.norm());
}
