// SPDX-License-Identifier: MIT
#include <cmath>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/csv.hpp"
#include "sim/statistics/power.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

CsvTable reference(const std::string& name) {
  const std::string path = ARRIS_SOURCE_DIR "/tests/data/plan/" + name;
  return parse_csv(path, contents(path));
}

double number(const CsvRow& row, std::size_t column) { return std::stod(row.cells.at(column).text); }

}  // namespace

TEST_CASE("power of the two-sample t test is that of published tables", "[power]") {
  const CsvTable by_n = reference("power_two_sample_t_by_n.csv");
  REQUIRE(by_n.rows.size() == 5);
  const std::vector<double> differences{0.5, 0.8, 1.0};
  for (const CsvRow& row : by_n.rows) {
    for (std::size_t j = 0; j < differences.size(); ++j) {
      INFO("n = " << row.cells[0].text << ", d = " << differences[j]);
      // the figures have 10 digits; both programs take the noncentral t to about 1e-9
      CHECK(power_two_sample_t(differences[j], number(row, 0), 0.05) ==
            Approx(number(row, j + 1)).margin(2e-9));
    }
  }
}

TEST_CASE("values per group for a power are those of published tables", "[power]") {
  const CsvTable table = reference("power_two_sample_t.csv");
  REQUIRE(table.rows.size() == 10);
  for (const CsvRow& row : table.rows) {
    INFO(row.text);
    const double n = per_group_two_sample_t(number(row, 0), number(row, 2), number(row, 1));
    CHECK(n ==
          Approx(number(row, 3)).margin(2.5e-4));  // R stops its search at eps^(1/4) = 1.2e-4, twice that
    CHECK(std::ceil(n) == number(row, 4));
    // and it is a root
    CHECK(power_two_sample_t(number(row, 0), n, number(row, 1)) == Approx(number(row, 2)).margin(1e-9));
  }
  CHECK_THROWS_AS(per_group_two_sample_t(0.0, 0.9, 0.05), std::domain_error);
  CHECK_THROWS_AS(per_group_two_sample_t(0.5, 1.0, 0.05), std::domain_error);
  CHECK_THROWS_AS(per_group_two_sample_t(0.5, 0.02, 0.05), std::domain_error);
}

TEST_CASE("power at its ends", "[power]") {
  CHECK(power_of_t_test(0.0, 1.0, 20.0, 0.05) ==
        Approx(0.025).epsilon(1e-9));                   // half of the level: the right way round
  CHECK(power_of_t_test(0.1, 0.0, 20.0, 0.05) == 1.0);  // nothing scatters
  CHECK(power_of_t_test(1e6, 1.0, 1.0, 0.05) == 1.0);
  CHECK(std::isnan(power_of_t_test(0.1, 1.0, 0.0, 0.05)));
  // with very many degrees of freedom it is that of the normal: Φ(3 − 1.959964) = 0.850838, off by O(1/ν)
  CHECK(power_of_t_test(3.0, 1.0, 1e7, 0.05) == Approx(0.850838).margin(2e-6));
}

TEST_CASE("edges and readings of a comparison are worth what the variance of their means says", "[power]") {
  const ReadingScatter scatter{0.12, 0.09};
  const ComparisonSize size{2, 8, 3, 1};
  // SE² = 2·(0.0144 + 0.0081/3)/8 = 0.004275 by hand
  CHECK(standard_error_of_difference(scatter, size) == Approx(std::sqrt(0.004275)).epsilon(1e-12));
  CHECK(degrees_of_freedom(size) == 14.0);
  CHECK(degrees_of_freedom({3, 8, 3, 4}) == 18.0);
  // as many single values with the same standard deviation are the same comparison
  CHECK(comparison_power(scatter, size, 0.2, 0.05) ==
        Approx(power_two_sample_t(0.2 / std::sqrt(0.0144 + 0.0081 / 3.0), 8.0, 0.05)).epsilon(1e-12));
  // where readings do not scatter, more of them gain nothing; where edges do not, they gain as much as edges but for ν
  CHECK(comparison_power({0.1, 0.0}, {2, 6, 1, 1}, 0.2, 0.05) ==
        comparison_power({0.1, 0.0}, {2, 6, 9, 1}, 0.2, 0.05));
  CHECK(standard_error_of_difference({0.0, 0.1}, {2, 6, 2, 1}) ==
        Approx(standard_error_of_difference({0.0, 0.1}, {2, 12, 1, 1})).epsilon(1e-12));
  // more of anything never harms, a block costs a degree of freedom
  for (int e = 2; e < 30; ++e) {
    for (int r = 1; r < 6; ++r) {
      const double here = comparison_power(scatter, {2, e, r, 1}, 0.1, 0.05);
      CHECK(comparison_power(scatter, {2, e + 1, r, 1}, 0.1, 0.05) > here);
      CHECK(comparison_power(scatter, {2, e, r + 1, 1}, 0.1, 0.05) > here);
      CHECK(comparison_power(scatter, {2, e, r, 2}, 0.1, 0.05) < here);
    }
  }
}

TEST_CASE("the smallest difference is found with the power that was asked for", "[power]") {
  const ReadingScatter scatter{0.12, 0.09};
  for (const int edges : {2, 5, 40}) {
    const ComparisonSize size{3, edges, 2, 2};
    const double         d = smallest_log_difference(scatter, size, 0.9, 0.05 / 3.0);
    // the root is found to 48 bits, and the slope of power against d/SE is below 1
    CHECK(comparison_power(scatter, size, d, 0.05 / 3.0) == Approx(0.9).margin(1e-9));
  }
  CHECK(smallest_log_difference({0.0, 0.0}, {2, 5, 2, 1}, 0.9, 0.05) == 0.0);
  CHECK(std::isnan(smallest_log_difference(scatter, {2, 1, 2, 1}, 0.9, 0.05)));
}

TEST_CASE("simulated experiments find what the formula says", "[power][simulation]") {
  const auto straight = [](double luck) { return 5.0 + luck; };
  struct Case {
    ComparisonSize size;
    double         edge, reading, block, difference, level;
  };
  const std::vector<Case> cases{
      {{2, 6, 3, 1}, 0.10, 0.08, 0.0, 0.15, 0.05},
      {{2, 9, 1, 4}, 0.05, 0.15, 0.5, 0.20, 0.05},  // blocks of unlike sizes, and far apart
      {{4, 5, 2, 2}, 0.10, 0.10, 0.3, 0.20, 0.01},
      {{3, 12, 2, 3}, 0.10, 0.05, 0.1, 0.0, 0.05},  // nothing to find: half the level
  };
  for (const Case& c : cases) {
    const double         formula = comparison_power({c.edge, c.reading}, c.size, c.difference, c.level);
    const SimulatedPower found =
        simulate_power(c.size, {{c.edge, c.reading}}, c.block, c.difference, c.level, straight, 20000, 7);
    INFO(formula << " by formula, " << found.power << " found");
    // logs are normal and the analysis is exact, so only chance remains: 4 standard errors, missed once in 16 000
    CHECK(std::abs(found.power - formula) < 4.0 * std::sqrt(formula * (1.0 - formula) / found.campaigns));
    CHECK(found.standard_error == Approx(std::sqrt(found.power * (1.0 - found.power) / 20000.0)));
  }
  // a seed stands for a result, and blocks fall out of it to the last find
  const auto with = [&](double block, unsigned long long seed) {
    return simulate_power({2, 8, 2, 4}, {{0.1, 0.1}}, block, 0.15, 0.05, straight, 2000, seed).found;
  };
  CHECK(with(0.2, 3) == with(0.2, 3));
  CHECK(with(0.2, 3) != with(0.2, 4));
  CHECK(with(0.0, 3) == with(0.2, 3));
}
