// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numbers>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/statistics/designs.hpp"
#include "sim/statistics/sobol_indices.hpp"

using namespace arris;

namespace {

constexpr double a = 7.0, b = 0.1;

// Ishigami & Homma 1990 (from memory), on [−π, π]³
double ishigami(const std::vector<double>& x) {
  return std::sin(x[0]) + a * std::pow(std::sin(x[1]), 2) + b * std::pow(x[2], 4) * std::sin(x[0]);
}

// f at the points of A, B and of A with one coordinate of B
SobolSample sample_of_ishigami(std::size_t n) {
  const auto        both = unit_design(DesignKind::sobol, n, 6, 3);
  const DesignRange range{-std::numbers::pi, std::numbers::pi};
  SobolSample       sample;
  sample.ab.resize(3);
  for (std::size_t p = 0; p < n; ++p) {
    std::vector<double> of_a, of_b;
    for (std::size_t i = 0; i < 3; ++i) {
      of_a.push_back(range.at(both[6 * p + i]));
      of_b.push_back(range.at(both[6 * p + 3 + i]));
    }
    sample.a.push_back(ishigami(of_a));
    sample.b.push_back(ishigami(of_b));
    for (std::size_t i = 0; i < 3; ++i) {
      auto mixed = of_a;
      mixed[i]   = of_b[i];
      sample.ab[i].push_back(ishigami(mixed));
    }
  }
  return sample;
}

}  // namespace

TEST_CASE("a Sobol sequence is that of its direction numbers", "[sensitivity]") {
  // the first points of the sequence in three dimensions, as Joe & Kuo print them in their notes (from memory); scipy's numbers stand
  // against those of up to 200 inputs in the tests of the Python package
  const std::vector<double> first{0.0,   0.0,   0.0,   0.5,   0.5,   0.5,   0.75,  0.25,
                                  0.25,  0.25,  0.75,  0.75,  0.375, 0.375, 0.625, 0.875,
                                  0.875, 0.125, 0.625, 0.125, 0.875, 0.125, 0.625, 0.375};
  CHECK(unit_design(DesignKind::sobol, 8, 3, 0) == first);
  // a digital shift leaves one point in each of 2ⁿ slices of every coordinate
  const auto shifted = unit_design(DesignKind::sobol, 256, 5, 7);
  CHECK(shifted != unit_design(DesignKind::sobol, 256, 5, 8));
  for (std::size_t i = 0; i < 5; ++i) {
    std::vector<bool> met(256, false);
    for (std::size_t p = 0; p < 256; ++p) met[static_cast<std::size_t>(shifted[5 * p + i] * 256.0)] = true;
    CHECK(std::all_of(met.begin(), met.end(), [](bool is_met) { return is_met; }));
  }
}

TEST_CASE("a Latin hypercube has one point in each slice of every input", "[sensitivity]") {
  const std::size_t                     n      = 37;
  const auto                            points = unit_design(DesignKind::latin_hypercube, n, 3, 5);
  std::vector<std::vector<std::size_t>> slices(3);
  for (std::size_t p = 0; p < n; ++p) {
    for (std::size_t i = 0; i < 3; ++i)
      slices[i].push_back(static_cast<std::size_t>(points[3 * p + i] * static_cast<double>(n)));
  }
  CHECK(slices[0] != slices[1]);  // in orders of their own
  for (auto& of : slices) {
    std::sort(of.begin(), of.end());
    for (std::size_t i = 0; i < n; ++i) CHECK(of[i] == i);
  }
  CHECK(points == unit_design(DesignKind::latin_hypercube, n, 3, 5));
  CHECK(design_kind("latin-hypercube") == DesignKind::latin_hypercube);
  CHECK_FALSE(design_kind("grid").has_value());
  CHECK(DesignRange{1.0, 100.0, true}.at(0.5) == Approx(10.0));
}

TEST_CASE("indices of Ishigami's function are those of its integrals", "[sensitivity]") {
  const auto   indices = sobol_indices(sample_of_ishigami(1 << 13), 100, 1);
  const double of_1 = 0.5 * std::pow(1 + b * std::pow(std::numbers::pi, 4) / 5, 2), of_2 = a * a / 8,
               of_13 = 8 * b * b * std::pow(std::numbers::pi, 8) / 225, variance = of_1 + of_2 + of_13;
  const double first[] = {of_1 / variance, of_2 / variance, 0.0},
               total[] = {(of_1 + of_13) / variance, of_2 / variance, of_13 / variance};
  // printed in many places
  CHECK(first[0] == Approx(0.3139).margin(5e-5));
  CHECK(total[2] == Approx(0.2437).margin(5e-5));
  for (std::size_t i = 0; i < 3; ++i) {
    // independent points would err by about 1/√n = 0.011; those of a Sobol sequence err by less
    CHECK(indices[i].first == Approx(first[i]).margin(0.011));
    CHECK(indices[i].total == Approx(total[i]).margin(0.011));
    // an interval of independent points is some 3/√n wide at most, and holds the estimate
    CHECK(indices[i].first_low < indices[i].first);
    CHECK(indices[i].first_high > indices[i].first);
    CHECK(indices[i].total_low < indices[i].total);
    CHECK(indices[i].total_high > indices[i].total);
    CHECK(indices[i].total_high - indices[i].total_low < 3.0 / std::sqrt(1 << 13) * 2.0);
  }
  CHECK(indices[2].first_low < 0.0);  // an index of 0: its interval spans 0
  CHECK(indices[2].first_high > 0.0);
}
