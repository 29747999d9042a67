// SPDX-License-Identifier: MIT
#include <algorithm>

#include <catch2/catch.hpp>

#include "sim/simulate/history_tree.hpp"
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

template <class See>
HistoryTree::Failure run_one(const HistoryTree& tree, const Model<double>& model, InstructionSet set,
                             const See& see) {
  return tree
      .run<double>(
          1, [&](std::size_t) -> const Model<double>& { return model; }, {}, see, set)
      .front();
}

}  // namespace

TEST_CASE("Histories that begin alike are run once as far as they are alike, and show the same bits") {
  const auto        model = bench::workshop();
  const auto        all   = plans();
  const HistoryTree tree(all, moments);
  // 5 + 5 + 2 + 3 + 4 steps alone; the second shares three with the first, the fourth all of its three
  CHECK(tree.steps_alone() == 19);
  CHECK(tree.steps_run() == 13);
  {
    std::vector<EdgeState<double>> seen(12);
    std::vector<double>            strokes(12), calls(12, 0.0);
    const auto                     failed = run_one(tree, model, InstructionSet::none,
                                                    [&](std::size_t, std::size_t place, const auto& state, const auto& ledger) {
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

TEST_CASE(
    "In lanes a tree shows of several models what each shows alone, to the same bits, and the scalar path to the tolerance") {
  const HistoryTree          tree(plans(), moments);
  std::vector<Model<double>> models(5, bench::workshop());
  for (std::size_t m = 0; m < models.size(); ++m) {
    models[m].coefficients.abrasion *= 0.8 + 0.1 * static_cast<double>(m);
    models[m].coefficients.dub_share *= 1.3 - 0.1 * static_cast<double>(m);
  }
  using Sights      = std::vector<EdgeState<double>>;
  const auto in_one = [&](std::size_t first, std::size_t count) {
    std::vector<Sights> seen(count, Sights(12));
    const auto          failed = tree.run<double>(
        count, [&](std::size_t m) -> const Model<double>& { return models[first + m]; }, {},
        [&](std::size_t m, std::size_t place, const auto& state, const auto&) { seen[m][place] = state; });
    REQUIRE(failed.size() == count);
    for (const auto& f : failed) CHECK(f.plan == -1);
    return seen;
  };
  const auto together = in_one(0, models.size());
  for (std::size_t m = 0; m < models.size(); ++m) {
    const auto alone = in_one(m, 1).front();
    Sights     scalar(12);
    const auto failed = run_one(
        tree, models[m], InstructionSet::none,
        [&](std::size_t, std::size_t place, const auto& state, const auto&) { scalar[place] = state; });
    REQUIRE(failed.plan == -1);
    for (std::size_t place = 0; place < 12; ++place) {
      CAPTURE(m, place);
      CHECK(together[m][place].apex_radius_um == alone[place].apex_radius_um);
      CHECK(together[m][place].burr_um == alone[place].burr_um);
      // both paths are asked for 1e-6 a step: 1e-5 is ten such errors in a row, and the burr's growth has joints, where a
      // step errs by thrice as much (test_lanes.cpp)
      CHECK(alone[place].apex_radius_um == Approx(scalar[place].apex_radius_um).epsilon(1e-5));
      CHECK(alone[place].burr_um == Approx(scalar[place].burr_um).epsilon(3e-5).margin(3e-7));
    }
  }
}

TEST_CASE("A history that fails is named with the step at which it does, whatever it shares with others") {
  auto all          = plans();
  auto honed        = bench::hone(bench::medium::fine, 5, true);
  honed.max_strokes = 1.0;  // no burr comes so soon on an edge that has cut a day long
  all[1].steps[3]   = bench::cut(bench::wood::teak, 1e5);
  all[1].steps[4]   = honed;
  auto model        = bench::workshop();
  for (auto& tool : model.tools) tool.thickness_mm = 1e4;  // so that the quick medium has room for its land
  const HistoryTree tree(all, moments);
  const auto        failed =
      run_one(tree, model, InstructionSet::none, [](std::size_t, std::size_t, const auto&, const auto&) {});
  CHECK(failed.plan == 1);
  CHECK(failed.status.code == RunStatus::Code::no_burr);
  CHECK(failed.status.step == 4);
  // of two models in lanes the one whose medium raises a burr at once fails nowhere
  auto quick = model;
  quick.media[static_cast<std::size_t>(honed.medium)].cutting_rate *= 1e4;
  const auto in_lanes = tree.run<double>(
      2, [&](std::size_t m) -> const Model<double>& { return m == 0 ? model : quick; }, {},
      [](std::size_t, std::size_t, const auto&, const auto&) {});
  CHECK(in_lanes[0].plan == 1);
  CHECK(in_lanes[0].status.code == RunStatus::Code::no_burr);
  CHECK(in_lanes[0].status.step == 4);
  CHECK(in_lanes[1].plan == -1);
}

TEST_CASE("An edge that no blade can have ends its history, in lanes too") {
  auto  model       = bench::workshop();
  auto& iron        = model.tools[static_cast<std::size_t>(bench::tool::iron)];
  iron.thickness_mm = 0.2;
  iron.land_mm      = 0.05;
  const auto plan   = bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 20),
                                                      bench::cut(bench::wood::teak, 1e7), bench::read("worn")});
  const auto r      = bench::run(model, plan);
  CHECK(r.status.code == RunStatus::Code::beyond_blade);
  CHECK(r.status.step == 1);
  CHECK(r.status.count == 1e7);
  const HistoryTree tree({plan}, {{{2, not_given}}});
  const auto        failed = tree.run<double>(
      1, [&](std::size_t) -> const Model<double>& { return model; }, {},
      [](std::size_t, std::size_t, const auto&, const auto&) {});
  CHECK(failed[0].status.code == RunStatus::Code::beyond_blade);
  CHECK(failed[0].status.step == 1);
  // a blade that is thick enough has that edge
  iron.thickness_mm = 25.0;
  CHECK(bench::run(model, plan).status.usable());
}

TEST_CASE("What is only written about a step does not part two histories, what is done does") {
  auto a = bench::hone(bench::medium::middle, 30), b = a;
  b.note = "on the bench by the window";
  CHECK(same_work(a, b));
  b.force_N = 21.0;
  CHECK_FALSE(same_work(a, b));
  CHECK(same_work(bench::read("one"), bench::read("another")));
  CHECK_FALSE(same_work(bench::read("one"), bench::dress(bench::medium::middle)));
}
