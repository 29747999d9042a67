// SPDX-License-Identifier: MIT
#include <cmath>

#include <catch2/catch.hpp>

#include "sim/input/loader.hpp"
#include "sim/laws/chipping.hpp"
#include "sim/simulate/simulate.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::laws;
using bench::off;

namespace {

double deepest(double wood, double carbide_um, double included_deg) {
  return Chipping<double>::deepest_um(270.0, wood, 7.1e9, carbide_um, 0.5 * included_deg * degree);
}

}  // namespace

TEST_CASE("A few degrees decide whether an apex chips, and carbides, and the wood") {
  CHECK(std::abs(deepest(1.0, 2.5, 30.0) - 3.0) <= 0.1);  // the examples of the header
  CHECK(std::abs(deepest(1.0, 2.5, 25.0) - 4.4) <= 0.1);
  for (double angle = 20.0; angle < 45.0; angle += 1.0) {
    CHECK(deepest(1.0, 2.5, angle + 1.0) < deepest(1.0, 2.5, angle));
    CHECK(deepest(1.0, 8.0, angle) > deepest(1.0, 2.5, angle));
    CHECK(deepest(0.4, 2.5, angle) < deepest(1.0, 2.5, angle));
  }
  const auto limit = [](double z) { return Chipping<double>::limit_of_um(z, 3.0); };
  CHECK(limit(2.6) == 0.0);
  CHECK(limit(4.4) == Approx(1.4));
}

TEST_CASE("Chips grow as a plain integration of their rate does, past their limit as nicks alone") {
  const auto tol = bench::at_tolerance(1e-12);
  for (const Chipping<double> law : {Chipping<double>{1.4, 60.0, 1.5e-3}, Chipping<double>{0.0, 60.0, 1.5e-3},
                                     Chipping<double>{1.4, 60.0, 0.0}}) {
    for (double start : {0.0, 0.7, 3.0}) {
      const auto stage = bench::plain_stage<1>([&](const auto& c, double) {
        return std::array{std::max(0.0, law.limit_um - c[0]) / law.length_m + law.nicks_um_per_m};
      });
      double     half  = law.after_um(start, 40.0);
      for (double path : {1.0, 80.0, 2000.0}) {
        CAPTURE(law.limit_um, law.nicks_um_per_m, start, path);
        CHECK(law.after_um(start, path) ==
              Approx(bench::end_of<1>(stage, {start}, path, tol).y[0]).epsilon(1e-7).margin(1e-12));
        if (path > 40.0)
          CHECK(off(law.after_um(half, path - 40.0) + 1.0, law.after_um(start, path) + 1.0) <
                1e-12);  // in two parts
      }
    }
  }
}

TEST_CASE("A nick is honed out by as much as it is deep, along the bevel") {
  CHECK(chip_left_um(100.0, 0.0, 0.5) == 100.0);
  CHECK(off(chip_left_um(100.0, 20.0, 0.5), 60.0) < 1e-14);
  CHECK(chip_left_um(100.0, 60.0, 0.5) == 0.0);
  CHECK(chip_left_um(0.0, 10.0, 0.5) == 0.0);
}

TEST_CASE("What the next honing takes is what a honing then takes") {
  const auto result = [](const std::string& steps, const std::string& tool = {}) {
    const auto loaded = load_scenario(
        "next.toml",
        "[tool.iron]\nsteel = \"A2\"\nwidth_mm = 50\nthickness_mm = 3\nprimary_bevel_deg = 25\nmicro_bevel_deg = 30\n" +
            tool + "[edge.A]\ntool = \"iron\"\nsteps = [\n" + steps + "]\n");
    return simulate(loaded.scenario, 1).edges.front();
  };
  const std::string
      honed =
          "{ hone = \"soft waterstone, JIS #1000\", strokes = 10, after_burr = true },\n{ hone = \"hard waterstone, JIS #8000\", strokes = 60 },\n",
      strops =
          "{ strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 40 },\n{ cut = \"sugar maple\", passes = 20 },\n";
  const EdgeResult keen = result(honed);
  CHECK(keen.next_honing.depth_um == 0.0);
  const EdgeResult worn = result(honed + strops + strops);
  CHECK(worn.next_honing.medium == "soft waterstone, JIS #1000");
  CHECK(worn.next_honing.depth_um == worn.steps.back().after.dub_depth_um);
  CHECK(worn.next_honing.strokes > 1.0);
  // the tip is met over half of the edge after as many strokes
  const EdgeResult again = result(
      honed + strops + strops +
      "{ dress = \"soft waterstone, JIS #1000\" },\n{ hone = \"soft waterstone, JIS #1000\", strokes = 200 },\n");
  CHECK(again.steps.back().strokes_to_burr == Approx(worn.next_honing.strokes).epsilon(0.02));
  CHECK(again.steps.back().after.dub_um == 0.0);
  // a nick is what has to be honed out where it is deeper
  const EdgeResult nicked =
      result("{ hone = \"soft waterstone, JIS #1000\", strokes = 5 },\n", "chip_um = 50\n");
  CHECK(nicked.next_honing.depth_um == Approx(0.5 * nicked.steps.back().after.chip_um));
  CHECK(nicked.next_honing.strokes > 30.0);
}
