// SPDX-License-Identifier: MIT
#include <array>
#include <cmath>

#include <catch2/catch.hpp>

#include "sim/integrate/lanes_series.hpp"
#include "tests/fixture.hpp"

using namespace arris::lanes;
using arris::bench::Dice;

namespace {

// As much of a number as a series asks for. With `Slopes` the sums are loops, without they are written out.
template <int Slopes>
struct Alone {
  using Value                 = Alone;
  static constexpr int slopes = Slopes;

  double x = 0.0;

  Alone() = default;
  Alone(double a) : x(a) {}
  friend Alone operator+(Alone a, Alone b) { return a.x + b.x; }
  friend Alone operator*(Alone a, Alone b) { return a.x * b.x; }
  friend Alone fma(Alone a, Alone b, Alone c) { return std::fma(a.x, b.x, c.x); }
};

constexpr int order = 12;

// a sum of a dozen products, of either sign and of about 1 in size, in whatever order
constexpr double rounding = 1e-14;

}  // namespace

TEMPLATE_TEST_CASE_SIG("sums of products of a series are those of its definition", "[lanes]",
                       ((int Slopes), Slopes), 0, 1) {
  using Number = Alone<Slopes>;
  Dice                  dice(3);
  Series<Number, order> a, b;
  for (int k = 0; k <= order; ++k) a[k] = dice.normal(), b[k] = dice.normal();
  orders<Number, 1, order + 1>([&](auto k) {
    const int n = k;
    INFO("coefficient " << n);
    double whole = 0.0, but_first = 0.0, inner = 0.0;
    for (int j = 0; j <= n; ++j) {
      whole += a[j].x * b[n - j].x;
      if (j > 0) but_first += a[j].x * b[n - j].x;
    }
    for (int j = 1; j < n; ++j) inner += a[j].x * a[n - j].x;
    CHECK(std::abs(products<0>(a, b, k).x - whole) < rounding);
    CHECK(std::abs(products<1>(a, b, k).x - but_first) < rounding);
    CHECK(std::abs(inner_square(a, k).x - inner) < rounding);
    CHECK(static_cast<int>(next_of(k)) == n + 1);
  });
}

TEMPLATE_TEST_CASE_SIG("a series by its recurrence sums to its function, to its order", "[lanes]",
                       ((int Slopes), Slopes), 0, 1) {
  using Number = Alone<Slopes>;
  // y′ = −y², y(0) = 1: y = 1/(1 + x)
  Series<Number, order> y;
  y[0] = 1.0;
  orders<Number, 0, order>([&](auto k) { y[next_of(k)] = products<0>(y, y, k) * Number(-1.0 / next_of(k)); });
  double last = 0.0;
  for (const double x : {0.4, 0.2, 0.1}) {
    const double error = std::abs(y.at(x).x - 1.0 / (1.0 + x));
    // the terms left out are x^13/(1 + x): half of x leaves a share of 2^−13, and a tenth more of that
    if (last > 0.0) CHECK(error < 1.2 * std::pow(0.5, order + 1) * last + 1e-16);
    CHECK(error < 1.01 * std::pow(x, order + 1) / (1.0 + x) + 1e-15);
    last = error;
  }
}

TEST_CASE("sums go from the middle outwards, and take everything once", "[lanes]") {
  for (int n = 1; n <= 12; ++n) {
    std::array<int, 12> seen{};
    for (int i = 0; i < n; ++i) ++seen[static_cast<std::size_t>(outwards(n, i))];
    for (int i = 0; i < n; ++i) CHECK(seen[static_cast<std::size_t>(i)] == 1);
    CHECK(outwards(n, n - 1) == n - 1);
  }
}
