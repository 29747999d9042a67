// SPDX-License-Identifier: MIT
// How the search for a routine saves histories, and that what it saves does not change what it finds.
#include <array>
#include <cmath>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/laws/gram_force.hpp"
#include "sim/studies/upkeep/cycles_by_passes.hpp"
#include "sim/studies/upkeep/upkeep.hpp"
#include "tests/fixture.hpp"

using namespace arris;

namespace {

Scenario scenario_of_honing(std::vector<Step> honing, double passes) {
  honing.emplace_back(bench::cut(bench::wood::oak, passes));
  honing.emplace_back(bench::strop(bench::backing::thin_hide, bench::compound::oxide, 20));
  honing.emplace_back(bench::cut(bench::wood::oak, passes));
  Scenario s;
  s.model = bench::workshop();
  s.edges = {bench::plan(bench::tool::iron, honing)};
  return s;
}

UpkeepSettings keeping(double reading_gf, int stroppings) {
  UpkeepSettings out;
  out.limit_gf        = reading_gf;
  out.most_stroppings = stroppings;
  return out;
}

/// Three stones and the back: enough of them that a cycle repeats itself.
std::vector<Step> thorough() {
  return {bench::hone(bench::medium::coarse, 10, true), bench::hone(bench::medium::middle, 30),
          bench::hone(bench::medium::fine, 40), bench::back(bench::medium::fine, 10)};
}

}  // namespace

TEST_CASE("nicks that a honing leaves add up over fifty cycles, of which few are run", "[upkeep]") {
  constexpr double limit_N = 2.5, depth_um = 60.0, closeness = 1e-4;
  Scenario         s = scenario_of_honing({bench::hone(bench::medium::middle, 25)}, 300);
  s.model.coefficients.nicks_um_per_km *= 100.0;  // more than the honing takes off
  const Workshop              shop;
  const UpkeepCycle           cycle(s.model, upkeep_steps(s.edges[0]), shop, {}, limit_N);
  const std::array<double, 1> stretches{300.0};
  EdgeInUse                   edge{&cycle, cycle.worn_to(limit_N), stretches};
  edge.state.bevel_depth_um = depth_um;

  EdgeState<double>   each = edge.state;
  Cycle               last;
  std::vector<double> chips;
  for (int i = 0; i < 50; ++i) {
    each.bevel_depth_um = depth_um;
    REQUIRE(cycle.cycle(each, stretches, last).usable());
    chips.push_back(each.chip_um);
  }
  REQUIRE(chips[49] > 3.0 * chips[9]);

  EdgeInUse* const one = &edge;
  steady_each({&one, 1}, closeness);
  REQUIRE(edge.status.usable());
  // what a cycle adds is told from two that agree to the closeness: as far off as that is after fifty
  CHECK(edge.state.chip_um == Approx(chips[49]).epsilon(2.0 * closeness));
  CHECK(edge.made.worst_N == Approx(last.worst_N).epsilon(10.0 * closeness));
  CHECK(edge.made.minutes == Approx(last.minutes).epsilon(1e-12));  // the honing has no strokes that vary
  CHECK(edge.histories <= 30);  // 100 for fifty honings and as many stretches
}

TEST_CASE("between numbers of passes that were worked out cycles lie on a curve", "[upkeep]") {
  using namespace upkeep_search;
  const Scenario s = scenario_of_honing(thorough(), 20);
  Workshop       shop;
  shop.pace.grind_land_mm       = 0.8;
  const auto           settings = keeping(250.0, 2);
  const Task           task     = task_of(s, s.edges[0], shop, settings, {});
  const Leading        leading  = lead(task);
  const Lands          lands    = lands_of(task, leading);
  const int            longest  = 400;
  const CyclesByPasses known(task, lands, longest);

  for (const int passes : {1, 3, 7, 11, 19, 37}) {
    for (int stroppings = 0; stroppings <= 2; ++stroppings) {
      const Pair pair{passes, stroppings};
      const auto stretches = pair.stretches();
      const auto cycles    = known.of(pair);
      REQUIRE(cycles.size() == lands.depths_um.size());
      for (std::size_t land = 0; land < cycles.size(); ++land) {
        INFO(passes << " passes, " << stroppings << " stroppings, land " << land);
        EdgeState<double> state = lands.worn[land];
        Cycle             exact;
        REQUIRE(task.exact.steady(state, stretches, 1e-6, exact).usable());
        REQUIRE(cycles[land].usable);
        CHECK(cycles[land].passes == exact.passes);
        // a few times the closeness of a search: one that stops at it, and a curve that is believed at it
        CHECK(cycles[land].minutes == Approx(exact.minutes).epsilon(3.0 * CyclesByPasses::closeness));
        CHECK(cycles[land].worst_N == Approx(exact.worst_N).epsilon(3.0 * CyclesByPasses::closeness));
        CHECK(cycles[land].mean_N == Approx(exact.mean_N).epsilon(3.0 * CyclesByPasses::closeness));
        CHECK(cycles[land].gain_um == Approx(exact.gain_um).epsilon(3.0 * CyclesByPasses::closeness));
      }
    }
  }
  // with every number of passes worked out by itself, each on every land: a honing, and 1, 3 and 5 histories until the next
  const std::size_t all = lands.depths_um.size() * static_cast<std::size_t>(longest) * (2 + 4 + 6);
  CHECK(6 * known.histories() < all);
}

TEST_CASE("a search runs a small part of the histories that every pair would take", "[upkeep]") {
  const Scenario s = scenario_of_honing(thorough(), 20);
  const Workshop shop;
  for (const double limit : {280.0, 320.0}) {
    const UpkeepResult found = upkeep(s, s.edges[0], shop, keeping(limit, 6));
    INFO(limit << " gf: " << found.searched << " pairs, " << found.histories << " histories");
    REQUIRE(found.searched > 100);
    // 7 numbers of stroppings: a honing, and 7 histories on average until the next, on each land
    CHECK(3 * found.histories < found.searched * 8 * found.depths_um.size());
  }
}
