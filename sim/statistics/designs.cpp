// SPDX-License-Identifier: MIT
#include "sim/statistics/designs.hpp"

#include <cmath>
#include <cstdint>
#include <numeric>
#include <utility>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/sobol.hpp>
#include <boost/random/uniform_01.hpp>
#include <boost/random/uniform_int_distribution.hpp>

namespace arris {
namespace {

// the first 53 digits after the binary point, all that a double has
double fraction_of(std::uint64_t digits) { return static_cast<double>(digits >> 11U) * 0x1p-53; }

std::vector<double> sobol_points(std::size_t count, std::size_t inputs, unsigned long long seed) {
  std::vector<std::uint64_t> shift(inputs, 0);
  if (seed != 0) {
    boost::random::mt19937_64 random(seed);
    for (std::uint64_t& digits : shift) digits = random();
  }
  std::vector<double>  points(count * inputs);
  boost::random::sobol sequence(inputs);
  for (std::size_t i = 0; i < points.size(); ++i) {
    // the engine leaves the point at the origin out
    const std::uint64_t digits = i < inputs ? 0 : sequence();
    points[i]                  = fraction_of(digits ^ shift[i % inputs]);
  }
  return points;
}

std::vector<double> latin_hypercube_points(std::size_t count, std::size_t inputs, unsigned long long seed) {
  boost::random::mt19937_64         random(seed);
  boost::random::uniform_01<double> within;
  std::vector<double>               points(count * inputs);
  std::vector<std::size_t>          slice(count);
  for (std::size_t input = 0; input < inputs; ++input) {
    std::iota(slice.begin(), slice.end(), std::size_t{0});
    for (std::size_t i = count; i > 1; --i)
      std::swap(slice[i - 1], slice[boost::random::uniform_int_distribution<std::size_t>(0, i - 1)(random)]);
    for (std::size_t row = 0; row < count; ++row)
      points[row * inputs + input] =
          (static_cast<double>(slice[row]) + within(random)) / static_cast<double>(count);
  }
  return points;
}

}  // namespace

std::optional<DesignKind> design_kind(std::string_view name) {
  if (name == "sobol") return DesignKind::sobol;
  if (name == "latin-hypercube") return DesignKind::latin_hypercube;
  return std::nullopt;
}

std::vector<double> unit_design(DesignKind kind, std::size_t count, std::size_t inputs,
                                unsigned long long seed) {
  return kind == DesignKind::sobol ? sobol_points(count, inputs, seed)
                                   : latin_hypercube_points(count, inputs, seed);
}

double DesignRange::at(double u) const {
  return log ? low * std::pow(high / low, u) : low + (high - low) * u;
}

}  // namespace arris
