// SPDX-License-Identifier: MIT
#include <algorithm>

#include <catch2/catch.hpp>

#include "sim/studies/history_tree.hpp"
#include "tests/fixture.hpp"

using namespace arris;

namespace {

// two edges that part at the strop, one that is honed otherwise, one that only begins like the first, one with another blade
std::vector<EdgePlan> plans() {
  const auto stones = [](std::vector<Step> then) {
    std::vector<Step> steps{bench::hone(bench::medium::coarse, 20, true),
                            bench::hone(bench::medium::middle, 30), bench::read("off the stones")};
    steps.insert(steps.end(), then.begin(), then.end());
    return steps;
  };
  return {
      bench::plan(bench::tool::iron,
                  stones({bench::strop(bench::backing::thin_hide, bench::compound::oxide, 20),
                          bench::cut(bench::wood::maple, 100)})),
      bench::plan(bench::tool::iron,
                  stones({bench::strop(bench::backing::soft_hide, bench::compound::oxide, 20),
                          bench::cut(bench::wood::maple, 100)})),
      bench::plan(bench::tool::iron,
                  {bench::hone(bench::medium::film, 40), bench::cut(bench::wood::oak, 10)}),
      bench::plan(bench::tool::iron, stones({})),
      bench::plan(bench::tool::chisel, stones({bench::cut(bench::wood::maple, 100)})),
  };
}

const std::vector<std::vector<Moment>> moments{{{1, 10.0}, {2, 0.0}, {4, 0.0}, {4, 50.0}, {4, 100.0}},
                                               {{2, 0.0}, {3, 7.0}, {4, 100.0}},
                                               {{1, 10.0}},
                                               {{0, 3.0}, {2, 0.0}},
                                               {{3, 100.0}}};

}  // namespace

TEST_CASE("Histories that begin alike are run once as far as they are alike, and show the same bits") {
  const auto        model = bench::workshop();
  const auto        all   = plans();
  const HistoryTree tree(all, moments);
  // 5 + 5 + 2 + 3 + 4 steps alone; the second shares three with the first, the fourth all of its three
  CHECK(tree.steps_alone() == 19);
  CHECK(tree.steps_run() == 13);
  for (const int threads : {1, 2}) {
    std::vector<EdgeState<double>> seen(12);
    std::vector<double>            strokes(12), calls(12, 0.0);
    const auto                     failed =
        tree.run(model, {}, threads, [&](std::size_t place, const auto& state, const auto& ledger) {
          seen[place]    = state;
          strokes[place] = ledger.strokes;
          calls[place] += 1.0;
        });
    REQUIRE(failed.plan == -1);
    std::size_t place = 0;
    for (std::size_t e = 0; e < all.size(); ++e) {
      for (const Moment& m : moments[e]) {
        auto plan = all[e];
        plan.steps.resize(static_cast<std::size_t>(m.step) + 1);
        const auto alone = bench::run(model, plan, {}, {m.count});
        const auto sight = std::find_if(
            alone.witness.seen.begin(), alone.witness.seen.end(),
            [&](const auto& s) { return s.step == static_cast<std::size_t>(m.step) && s.count == m.count; });
        REQUIRE(sight != alone.witness.seen.end());
        CAPTURE(e, m.step, m.count);
        CHECK(calls[place] == 1.0);
        CHECK(seen[place].apex_radius_um == sight->state.apex_radius_um);
        CHECK(seen[place].burr_um == sight->state.burr_um);
        CHECK(seen[place].bevel_depth_um == sight->state.bevel_depth_um);
        CHECK(strokes[place] == sight->ledger.strokes);
        ++place;
      }
    }
    CHECK(place == 12);
  }
}

TEST_CASE("A history that fails is named with the step at which it does, whatever it shares with others") {
  auto all                = plans();
  auto honed              = bench::hone(bench::medium::fine, 5, true);
  honed.max_strokes       = 1.0;  // no burr comes so soon on an edge that has cut a day long
  all[1].steps[3]         = bench::cut(bench::wood::teak, 1e5);
  all[1].steps[4]         = honed;
  const auto        model = bench::workshop();
  const HistoryTree tree(all, moments);
  const auto        failed = tree.run(model, {}, 2, [](std::size_t, const auto&, const auto&) {});
  CHECK(failed.plan == 1);
  CHECK(failed.status.code == RunStatus::Code::no_burr);
  CHECK(failed.status.step == 4);
}

TEST_CASE("What is only written about a step does not part two histories, what is done does") {
  auto a = bench::hone(bench::medium::middle, 30), b = a;
  b.note = "on the bench by the window";
  CHECK(same_work(a, b));
  b.force_N += 1.0;
  CHECK_FALSE(same_work(a, b));
  CHECK(same_work(bench::read("one"), bench::read("another")));
  CHECK_FALSE(same_work(bench::read("one"), bench::dress(bench::medium::middle)));
}
