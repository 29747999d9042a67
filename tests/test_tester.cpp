// SPDX-License-Identifier: MIT
#include <cmath>

#include <catch2/catch.hpp>

#include "sim/laws/tester.hpp"
#include "sim/laws/tester_inverse.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::laws;
using bench::off;

namespace {

// what double arithmetic leaves of a formula of a dozen operations without cancellation: some units in the last place
constexpr double exact = 1e-14;

TesterLaw<double> any_tester(bench::Dice& dice) {
  const double start = dice.log_between(0.05, 2);
  return {start, dice.log_between(0.1, 50), start + dice.between(1, 20), dice.uniform(),
          dice.between(0, 0.5)};
}

}  // namespace

TEST_CASE("A perfect edge reads the filament's own resistance") {
  bench::Dice dice(31);
  for (int i = 0; i < 50; ++i) {
    const auto tester = any_tester(dice);
    CHECK(off(tester.reading_N(0.0, 0.0, 15 * degree), tester.cut_resistance_N) < exact);
  }
}

TEST_CASE("The reading rises with the slope of the tester at first and saturates in the end") {
  bench::Dice dice(32);
  for (int i = 0; i < 50; ++i) {
    const auto   tester = any_tester(dice);
    const double span   = tester.saturation_N - tester.cut_resistance_N;
    // F − F₀ = S·r to a share S·r/span, here 1e-6; the difference of the forces loses span/(S·r)·ε of that
    const double fine = 1e-6 * span / tester.slope_N_per_um;
    CHECK(off(tester.reading_N(fine, 0.0, 15 * degree) - tester.cut_resistance_N,
              tester.slope_N_per_um * fine) < 1.1e-6);
    // and the saturation to a share span/(S·r)
    const double blunt = 1e6 * span / tester.slope_N_per_um;
    CHECK(off(tester.reading_N(blunt, 0.0, 15 * degree), tester.saturation_N) < 1.1e-6);
    // half of the way up at S·r = span
    CHECK(off(tester.reading_N(span / tester.slope_N_per_um, 0.0, 15 * degree),
              0.5 * (tester.saturation_N + tester.cut_resistance_N)) < exact);
  }
}

TEST_CASE("Readings rise with radius and burr and never pass the saturation") {
  bench::Dice dice(33);
  for (int i = 0; i < 500; ++i) {
    const auto   tester = any_tester(dice);
    const double r = dice.log_between(0.02, 50), b = dice.log_between(0.01, 20),
                 alpha = dice.between(8, 30) * degree;
    const double f     = tester.reading_N(r, b, alpha);
    CHECK(tester.reading_N(1.01 * r, b, alpha) > f);
    CHECK(tester.reading_N(r, 1.01 * b, alpha) >= f);
    CHECK(f < tester.saturation_N);
  }
}

TEST_CASE("A burr reads like its share of radius") {
  const TesterLaw<double> tester{0.5, 3.0, 8.0, 0.3, 0.05};
  CHECK(off(tester.reading_N(0.4, 2.0, 15 * degree), tester.reading_N(1.0, 0.0, 15 * degree)) < exact);
}

TEST_CASE("The wedge angle enters only through the filament's own resistance") {
  const TesterLaw<double> none{0.5, 3.0, 8.0, 0.3, 0.0}, some{0.5, 3.0, 8.0, 0.3, 0.05};
  for (double included_deg : {20.0, 30.0, 45.0}) {
    CHECK(none.reading_N(0.7, 0.2, 0.5 * included_deg * degree) == none.reading_N(0.7, 0.2, 15 * degree));
    const double change = 0.5 * 0.05 * (std::tan(0.5 * included_deg * degree) - std::tan(15 * degree));
    CHECK(std::abs(some.reading_N(0.0, 0.0, 0.5 * included_deg * degree) - (0.5 + change)) < exact);
  }
}

TEST_CASE("Lengths scaled up and the slope scaled down leave every reading as it was") {
  // so readings alone cannot tell one from the other
  bench::Dice dice(34);
  for (int i = 0; i < 100; ++i) {
    const auto   tester = any_tester(dice);
    const double r = dice.log_between(0.02, 50), b = dice.between(0, 5), scale = dice.log_between(0.1, 10);
    auto         scaled = tester;
    scaled.slope_N_per_um /= scale;
    CHECK(off(scaled.reading_N(scale * r, scale * b, 0.3), tester.reading_N(r, b, 0.3)) < exact);
  }
}

TEST_CASE("The example of the tester's header holds, in newton and gram-force") {
  const TesterLaw<double> tester{0.5, 3.0, 8.0, 0.3, 0.05};
  const double            f = tester.reading_N(0.3, 0.0, 15 * degree);
  CHECK(std::abs(f - 1.30) <= 0.005);
  CHECK(std::abs(in_gram_force(1.30) - 133) <= 0.5);
  CHECK(off(in_gram_force(9.80665e-3), 1.0) < exact);  // the definition of the gram-force
}

TEST_CASE("A blunt bar shears the whole section of the filament") {
  CHECK(off(filament_saturation_N(163.0, 0.25), 163.0 * pi * 0.125 * 0.125) < exact);
  CHECK(std::abs(filament_saturation_N(163.0, 0.25) - 8.0) <=
        0.05);  // the figure in physics and materials: 8 N
}

TEST_CASE("The tester of a model reads as its table says") {
  const auto model  = bench::workshop();
  const auto tester = tester_law(model.tester);
  CHECK(tester.cut_resistance_N == model.tester.cut_resistance_N);
  CHECK(tester.slope_N_per_um == model.tester.slope_N_per_um);
  CHECK(tester.saturation_N == model.tester.saturation_N);
  CHECK(tester.burr_share == model.tester.burr_share);
  CHECK(tester.wedge_share == model.tester.wedge_share);
}

TEST_CASE("The radius that was met comes back from the reading") {
  const laws::TesterLaw<double> tester{0.5, 3.0, 8.0, 0.3, 0.05};
  for (const double radius : {0.02, 0.3, 2.0, 40.0}) {
    for (const double burr : {0.0, 1.5}) {
      for (const double half : {0.17, 0.35})
        CHECK(laws::met_radius_um(tester.at_angle(half), tester.reading_N(radius, burr, half), burr) ==
              Approx(radius).epsilon(1e-9));
    }
  }
  CHECK(laws::met_radius_um(tester.at_angle(0.26), tester.reading_N(0.0, 0.5, 0.26), 1.0) < 0.0);
}
