// SPDX-License-Identifier: MIT
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>

#include <catch2/catch.hpp>

#include "tests/any_history.hpp"

using namespace arris;
using bench::off;

namespace {

std::vector<double> evenly(double to, int intervals) {
  std::vector<double> at;
  for (int i = 0; i <= intervals; ++i) at.push_back(to * i / intervals);
  return at;
}

bool all_nan(const EdgeState<double>& e) {
  bool all = true;
  EdgeState<double>::components([&](const char*, double x) { all = all && std::isnan(x); }, e);
  return all;
}

bool same_bits(double a, double b) {
  return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
}

bool same_bits(const EdgeState<double>& a, const EdgeState<double>& b) {
  bool same = true;
  EdgeState<double>::components([&](const char*, double x, double y) { same = same && same_bits(x, y); }, a,
                                b);
  return same;
}

// but for rounding on the way into the variables of a stage and back
bool same_but_for_rounding(const EdgeState<double>& a, const EdgeState<double>& b) {
  constexpr double two_bits = 4.0 * std::numeric_limits<double>::epsilon();
  bool             same     = true;
  EdgeState<double>::components(
      [&](const char*, double x, double y) { same = same && std::abs(x - y) <= two_bits * std::abs(y); }, a,
      b);
  return same;
}

bool same_bits(const Ledger<double>& a, const Ledger<double>& b) {
  if (a.strokes_on_medium.size() != b.strokes_on_medium.size()) return false;
  for (std::size_t i = 0; i < a.strokes_on_medium.size(); ++i) {
    if (!same_bits(a.strokes_on_medium[i], b.strokes_on_medium[i])) return false;
  }
  return same_bits(a.strokes, b.strokes) && same_bits(a.passes, b.passes) && same_bits(a.path_m, b.path_m) &&
         same_bits(a.path_since_abrasive_m, b.path_since_abrasive_m) &&
         same_bits(a.steel_removed_um_mm, b.steel_removed_um_mm);
}

}  // namespace

// events

TEST_CASE("Strokes after the burr are counted as it is raised along the edge") {
  const auto model  = bench::workshop();
  const auto run_of = [&](std::vector<Step> steps) {
    return bench::run(model, bench::plan(bench::tool::iron, std::move(steps)), bench::at_tolerance(1e-11));
  };
  const auto after = run_of({bench::hone(bench::medium::middle, 12, true)});
  REQUIRE(after.status.usable());
  const double at = after.witness.outcomes[0].strokes_to_burr;
  CHECK(at > 1.0);
  const double count = after.witness.outcomes[0].count;
  CHECK(off(after.ledger.strokes, count) < 1e-15);
  CHECK(off(after.ledger.strokes_on_medium[bench::medium::middle], count) < 1e-15);

  // the same number of strokes without asking for the burr ends in the same state, and notes the burr at the same place
  const auto plain = run_of({bench::hone(bench::medium::middle, count)});
  CHECK(off(plain.witness.outcomes[0].strokes_to_burr, at) <
        1e-9);  // some dozen steps of 1e-11 over the fall of r
  CHECK(plain.witness.outcomes[0].count == count);
  EdgeState<double>::components([&](const char*, double a, double b) { CHECK(std::abs(a - b) <= 1e-9 * b); },
                                after.state, plain.state);

  // where the burr is noted the radius is the stated multiple of the medium's own floor
  const auto     noted = run_of({bench::hone(bench::medium::middle, at)});
  const auto     blade = bench::blade_of(model, bench::tool::iron);
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  const auto stage = assemble(
      bench::hone(bench::medium::middle, 0), model, blade,
      initial_state(model.tools[bench::tool::iron], blade, model.tester.contact_distance_um), ledger);
  const double own = stage.floor.radius_um(stage.own_scratch(stage.start_depth_um));
  CHECK(off(noted.state.apex_radius_um, laws::apex_reached_ratio * own) < 1e-9);

  // more strokes after the burr are so many more, once all of the edge has one
  const auto many = run_of({bench::hone(bench::medium::middle, 60, true)});
  const auto more = run_of({bench::hone(bench::medium::middle, 68, true)});
  CHECK(off(more.witness.outcomes[0].count, many.witness.outcomes[0].count + 8) < 1e-9);
  // and the share of the edge that has one, added up stroke by stroke, is what was asked for
  std::vector<double> points;
  for (double n = 0.0; n < 400.0; n += 0.01) points.push_back(n);
  const auto fine =
      bench::run(model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, count)}),
                 bench::at_tolerance(1e-9), points);
  double sum = 0.0;  // rectangles of 0.01 over a smooth function: good to a share of 0.01
  for (const auto& p : fine.witness.seen)
    sum += 0.01 * std::clamp(0.5 + (laws::apex_reached_ratio * own - p.state.apex_radius_um) / own, 0.0, 1.0);
  CHECK(std::abs(sum - 12.0) < 0.3);  // straight ramp for the smooth one: the same area to that
}

TEST_CASE("The strokes until the burr have no kink where it is there from the first") {
  // the slope of the end against the radius of the start, over starts blunt and keen, from jets and from differences
  auto       model = bench::workshop();
  const auto plan  = bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 12, true)});
  const auto count = [&](double radius_um) {
    model.tools[bench::tool::iron].apex_radius_um = radius_um;
    return bench::run(model, plan, bench::at_tolerance(1e-11)).ledger.strokes;
  };
  double last = count(0.3), change = 0.0, steepest = 0.0;
  for (double r = 0.31; r < 3.0; r += 0.01) {
    const double next = count(r), slope = (next - last) / 0.01;
    // no two neighbouring slopes differ by more than a tenth of the steepest: a kink would jump by all of it
    if (r > 0.315) CHECK(std::abs(slope - change) < 0.1 * std::max(steepest, 10.0));
    steepest = std::max(steepest, std::abs(slope));
    change   = slope;
    last     = next;
  }
  CHECK(steepest > 1.0);
}

TEST_CASE("Where the apex is reached already the burr takes no strokes") {
  const auto model = bench::workshop();
  const auto r =
      bench::run(model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 200, true),
                                                        bench::hone(bench::medium::middle, 5, true)}));
  REQUIRE(r.status.usable());
  CHECK(r.witness.outcomes[0].strokes_to_burr > 0.0);
  CHECK(r.witness.outcomes[1].strokes_to_burr == 0.0);
  CHECK(off(r.witness.outcomes[1].count, 5.0) < 1e-9);  // bisected to 1e-13 of the 2010 strokes it may take
}

TEST_CASE(
    "A medium too fine for the apex raises no burr, and the run ends with numbers that cannot be taken for a result") {
  const auto model     = bench::workshop();
  auto       hopeless  = bench::hone(bench::medium::film, 10, true);
  hopeless.max_strokes = 30;
  const auto r         = bench::run(
              model, bench::plan(bench::tool::chisel, {bench::read("start"), hopeless, bench::read("end")}));
  CHECK_FALSE(r.status.usable());
  CHECK(r.status.code == RunStatus::Code::no_burr);
  CHECK(r.status.step == 1);
  CHECK(r.status.count == 30.0);
  CHECK(all_nan(r.state));
  CHECK(r.witness.outcomes.size() == 1);  // only the step before it counts as done
}

TEST_CASE("Too many steps and rates that are not numbers are failures with their step and NaN everywhere") {
  auto       model = bench::workshop();
  const auto plan  = bench::plan(bench::tool::iron,
                                 {bench::cut(bench::wood::pine, 10), bench::hone(bench::medium::coarse, 100)});
  Tolerances tight = bench::at_tolerance(1e-10);
  tight.max_steps  = 12;
  const auto slow  = bench::run(model, plan, tight);
  CHECK(slow.status.code == RunStatus::Code::too_many_steps);
  CHECK(slow.status.step == 1);
  CHECK(slow.status.count > 0.0);
  CHECK(slow.status.count < 100.0);
  CHECK(all_nan(slow.state));

  model.media[bench::medium::coarse].cutting_rate = std::numeric_limits<double>::quiet_NaN();
  const auto broken                               = bench::run(model, plan);
  CHECK(broken.status.code == RunStatus::Code::not_finite);
  CHECK(broken.status.step == 1);
  CHECK(all_nan(broken.state));
  CHECK(broken.witness.outcomes.size() == 1);
}

// what is kept count of

TEST_CASE("Honing removes the section between the old bevels and the new") {
  const auto model = bench::workshop();
  for (const int tool : {bench::tool::iron, bench::tool::chisel, bench::tool::knife}) {
    const auto blade = bench::blade_of(model, tool);
    const auto start =
        initial_state(model.tools[static_cast<std::size_t>(tool)], blade, model.tester.contact_distance_um);
    const auto r = bench::run(model, bench::plan(tool, {bench::hone(bench::medium::middle, 150)}));
    REQUIRE(r.status.usable());
    const double h0 = start.bevel_depth_um, h = r.state.bevel_depth_um;
    // land c·h swept over dh, or the same land all the way, on one face or two; mm of land on µm of depth
    const double section = blade.land_per_depth > 0.0 ? 0.5e-3 * blade.land_per_depth * (h * h - h0 * h0)
                                                      : blade.full_land_mm * (h - h0);
    CAPTURE(tool);
    // closed forms both; the squares cancel by a few digits
    CHECK(off(r.ledger.steel_removed_um_mm, blade.both_sides ? 2.0 * section : section) < 1e-12);
  }
}

TEST_CASE("The ledger counts strokes, laps, passes and path, and dressing makes a medium fresh") {
  const auto model  = bench::workshop();
  auto       in_oak = bench::cut(bench::wood::oak, 40);
  in_oak.pass_m     = 0.5;
  const auto after  = [&](std::vector<Step> steps) {
    return bench::run(model, bench::plan(bench::tool::iron, std::move(steps)));
  };
  const auto r =
      after({bench::hone(bench::medium::middle, 30), bench::back(bench::medium::fine, 7), in_oak, in_oak,
             bench::strop(bench::backing::board, bench::compound::oxide, 11), in_oak, bench::read("end")});
  REQUIRE(r.status.usable());
  CHECK(r.ledger.strokes == 48.0);
  CHECK(r.ledger.passes == 120.0);
  CHECK(r.ledger.path_m == 60.0);
  CHECK(r.ledger.path_since_abrasive_m == 20.0);
  CHECK(r.ledger.strokes_on_medium[bench::medium::middle] == 30.0);
  CHECK(r.ledger.strokes_on_medium[bench::medium::fine] == 7.0);

  // a glazed medium removes less; dressed, as much as at first
  const auto removed = [&](std::vector<Step> steps) {
    return after(std::move(steps)).ledger.steel_removed_um_mm;
  };
  const auto   bout = [] { return bench::hone(bench::medium::film, 50); };
  const double one = removed({bout()}), two = removed({bout(), bout()});
  const double dressed = removed({bout(), bench::dress(bench::medium::film), bout()});
  CHECK(two < 2.0 * one);
  CHECK(off(dressed, 2.0 * one) < 1e-14);
}

TEST_CASE("Reading an edge leaves it as it is and is seen at its place") {
  const auto model = bench::workshop();
  const auto r     = bench::run(
          model, bench::plan(bench::tool::iron, {bench::cut(bench::wood::oak, 40), bench::read("a")}), {}, {0.0});
  REQUIRE(r.witness.seen.size() == 2);
  CHECK(r.witness.seen[1].step == 1);
  CHECK(same_bits(r.witness.seen[1].state, r.state));
  CHECK(same_bits(r.witness.after_step[0], r.witness.after_step[1]));
}

TEST_CASE("Points of a step run from the state before it to the state after it, with the ledger of each") {
  const auto model = bench::workshop();
  const auto r     = bench::run(
          model,
          bench::plan(bench::tool::iron,
                      {bench::hone(bench::medium::middle, 20, true), bench::back(bench::medium::fine, 20),
                       bench::strop(bench::backing::thin_hide, bench::compound::oxide, 20),
                       bench::cut(bench::wood::maple, 20)}),
          {}, evenly(20, 40));
  REQUIRE(r.status.usable());
  EdgeState<double> before =
      initial_state(model.tools[bench::tool::iron], bench::blade_of(model, bench::tool::iron),
                    model.tester.contact_distance_um);
  double      strokes = 0.0, removed = 0.0, path = 0.0;
  std::size_t seen = 0;
  for (const auto& sight : r.witness.seen) {
    if (sight.count == 0.0) {
      CAPTURE(sight.step);
      CHECK(same_but_for_rounding(sight.state, before));
    }
    if (sight.step > 0 && sight.count == 20.0) {
      CHECK(same_bits(sight.state, r.witness.after_step[sight.step]));
      before = sight.state;
    }
    if (sight.step == 0) before = r.witness.after_step[0];
    CHECK(sight.ledger.strokes >= strokes);
    CHECK(sight.ledger.steel_removed_um_mm >= removed);
    CHECK(sight.ledger.path_m >= path);
    strokes = sight.ledger.strokes;
    removed = sight.ledger.steel_removed_um_mm;
    path    = sight.ledger.path_m;
    ++seen;
  }
  CHECK(seen == std::size_t{4} * 41);
  CHECK(path == r.ledger.path_m);
  CHECK(removed == r.ledger.steel_removed_um_mm);
}

TEST_CASE("Points on both sides of a burr lie on one smooth curve with the ledger counting on") {
  const auto model = bench::workshop();
  const auto find =
      bench::run(model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 10, true)}));
  const double              at = find.witness.outcomes[0].strokes_to_burr;
  const std::vector<double> points{0.0, 0.5 * at, at - 1e-6, at + 1e-6, at + 5.0, at + 9.5};
  const auto                r = bench::run(
                     model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 10, true)}), {}, points);
  REQUIRE(r.witness.seen.size() == points.size());
  for (std::size_t i = 0; i < points.size(); ++i) {
    CHECK(r.witness.seen[i].count == points[i]);
    CHECK(std::abs(r.witness.seen[i].ledger.strokes - points[i]) < 1e-9);  // rounding of sums of some tens
  }
  // over 2e-6 strokes the radius falls by less than 1e-6 µm
  CHECK(std::abs(r.witness.seen[2].state.apex_radius_um - r.witness.seen[3].state.apex_radius_um) < 2e-6);
  CHECK(same_bits(r.state, find.state));
}

// determinism

TEST_CASE("The same history gives the same bits, watched or not, in fresh or used work space") {
  bench::Dice       dice(52);
  EdgeState<double> state;
  Ledger<double>    ledger;
  for (int i = 0; i < 30; ++i) {
    const auto model = bench::any_model(dice);
    const auto plan  = bench::any_plan(model, dice);
    const auto first = bench::run(model, plan), again = bench::run(model, plan);
    const auto watched = bench::run(model, plan, {}, evenly(500, 5000));
    CHECK(same_bits(first.state, again.state));
    CHECK(same_bits(first.state, watched.state));
    CHECK(same_bits(first.ledger, watched.ledger));
    CHECK(first.status.integration_steps == watched.status.integration_steps);

    HistoryObserver<double> nobody;  // work space with what the history before has left in it
    const auto              status = run_history(model, plan, Tolerances{}, state, ledger, nobody);
    CHECK(status.code == first.status.code);
    CHECK(same_bits(first.state, state));
    if (status.usable()) CHECK(same_bits(first.ledger, ledger));
  }
}

TEST_CASE("After the first run the work space is used again, not allocated anew") {
  const auto              model = bench::workshop();
  const auto              plan  = bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 10)});
  EdgeState<double>       state;
  Ledger<double>          ledger;
  HistoryObserver<double> nobody;
  run_history(model, plan, Tolerances{}, state, ledger, nobody);
  const double* storage = ledger.strokes_on_medium.data();
  run_history(model, plan, Tolerances{}, state, ledger, nobody);
  CHECK(ledger.strokes_on_medium.data() == storage);
}

// what edges do

TEST_CASE("More passes never sharpen an edge whose burr is gone") {
  bench::Dice dice(53);
  for (int i = 0; i < 100; ++i) {
    auto      model                                     = bench::any_model(dice);
    const int tool                                      = dice.below(static_cast<int>(model.tools.size()));
    model.tools[static_cast<std::size_t>(tool)].burr_um = 0.0;
    const int  wood                                     = dice.below(static_cast<int>(model.woods.size()));
    const auto r = bench::run(model, bench::plan(tool, {bench::cut(wood, 1000)}), bench::at_tolerance(1e-9),
                              evenly(1000, 300));
    REQUIRE(r.status.usable());
    double before = 0.0;
    for (const auto& sight : r.witness.seen) {
      const double reading = bench::reading_N(model, tool, sight.state);
      CHECK(reading >= before * (1 - 1e-8));  // points err by some tolerances
      before = reading;
    }
  }
}

TEST_CASE("An edge with a burr can read better after its first passes, and then only worse") {
  auto model                                    = bench::workshop();
  model.tools[bench::tool::iron].apex_radius_um = 0.5;
  model.tools[bench::tool::iron].burr_um        = 3.0;
  const auto r = bench::run(model, bench::plan(bench::tool::iron, {bench::cut(bench::wood::pine, 2000)}), {},
                            evenly(2000, 2000));
  std::vector<double> readings;
  for (const auto& s : r.witness.seen)
    readings.push_back(bench::reading_N(model, bench::tool::iron, s.state));
  const auto best = std::min_element(readings.begin(), readings.end());
  CHECK(best != readings.begin());
  CHECK(std::is_sorted(best, readings.end()));
  CHECK(readings.back() > *best);
}

TEST_CASE("A fine edge set on a coarse medium blunts to what that medium leaves") {
  const auto model = bench::workshop();
  const auto r     = bench::run(
          model, bench::plan(bench::tool::iron,
                             {bench::hone(bench::medium::middle, 300), bench::hone(bench::medium::fine, 1000),
                              bench::hone(bench::medium::coarse, 30), bench::hone(bench::medium::coarse, 3000)}));
  REQUIRE(r.status.usable());
  const auto& edge = r.witness.after_step;
  CHECK(edge[1].apex_radius_um < edge[0].apex_radius_um);
  CHECK(edge[2].apex_radius_um > edge[1].apex_radius_um);
  const auto     blade = bench::blade_of(model, bench::tool::iron);
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  const auto   coarse = assemble(bench::hone(bench::medium::coarse, 1), model, blade, edge[3], ledger);
  const double floor  = coarse.floor.radius_um(coarse.own_scratch(edge[3].bevel_depth_um));
  // 3000 strokes are long enough for the rest of the way to fall below a ten-thousandth
  CHECK(off(edge[3].apex_radius_um, floor) < 1e-4);
}

TEST_CASE("Skipping a grit costs strokes on the last medium") {
  const auto model              = bench::workshop();
  const auto strokes_until_fine = [&](const std::vector<Step>& before) {
    auto steps = before;
    steps.emplace_back(bench::hone(bench::medium::fine, 20000));
    const auto r = bench::run(model, bench::plan(bench::tool::iron, steps), {}, evenly(20000, 20000));
    REQUIRE(r.status.usable());
    const auto&    start = r.witness.after_step[before.size() - 1];
    Ledger<double> ledger;
    ledger.reset(model.media.size());
    const auto   stage = assemble(bench::hone(bench::medium::fine, 1), model,
                                  bench::blade_of(model, bench::tool::iron), start, ledger);
    const double goal  = 1.1 * stage.floor.radius_um(stage.own_scratch(start.bevel_depth_um));
    for (const auto& sight : r.witness.seen) {
      if (sight.step == before.size() && sight.state.apex_radius_um <= goal) return sight.count;
    }
    return std::numeric_limits<double>::infinity();
  };
  const double directly = strokes_until_fine({bench::hone(bench::medium::coarse, 60, true)});
  const double between  = strokes_until_fine(
       {bench::hone(bench::medium::coarse, 60, true), bench::hone(bench::medium::middle, 60, true)});
  CAPTURE(directly, between);
  CHECK(std::isfinite(directly));
  CHECK(between > 0.0);
  CHECK(directly > 1.2 * between);
}

TEST_CASE(
    "A whole bevel at 25 degrees reads like a micro-bevel at 30 off the same stone but takes longer to a burr") {
  auto  model = bench::workshop();
  auto& tool  = model.tools[bench::tool::iron];
  struct Outcome {
    double reading_N, strokes_to_burr;
  };
  const auto honed = [&](double micro_deg) {
    tool.micro_bevel_deg = micro_deg;
    // until nothing changes any more; strokes in one go, so that the stone glazes alike
    const auto r =
        bench::run(model, bench::plan(bench::tool::iron, {bench::hone(bench::medium::middle, 30000),
                                                          bench::back(bench::medium::middle, 60)}));
    REQUIRE(r.status.usable());
    CHECK(off(r.witness.after_step[1].apex_radius_um, r.witness.after_step[0].apex_radius_um) < 1e-4);
    return Outcome{bench::reading_N(model, bench::tool::iron, r.state),
                   r.witness.outcomes[0].strokes_to_burr};
  };
  const auto whole = honed(25.0), micro = honed(30.0);
  CAPTURE(whole.reading_N, micro.reading_N, whole.strokes_to_burr, micro.strokes_to_burr);
  CHECK(off(whole.reading_N, micro.reading_N) < 0.03);
  CHECK(micro.strokes_to_burr > 1.0);
  CHECK(whole.strokes_to_burr > 1.5 * micro.strokes_to_burr);
}

TEST_CASE("Nothing in the prior box hones or strops below 0.02 micrometres") {
  bench::Dice dice(54);
  for (int i = 0; i < 200; ++i) {
    const auto model = bench::any_model(dice);
    const int  tool  = dice.below(static_cast<int>(model.tools.size()));
    const auto r     = bench::run(
            model,
            bench::plan(tool, {bench::hone(bench::medium::fine, 2000), bench::hone(bench::medium::film, 2000),
                               bench::back(bench::medium::film, 20),
                               bench::strop(bench::backing::thin_hide, bench::compound::bare, 500)}),
            {}, evenly(2000, 50));
    REQUIRE(r.status.usable());
    CHECK(model.coefficients.floor_radius_um >= 0.02);
    // below the floor the radius can only rise: an undershoot is an error of the integration, of tolerance size
    for (const auto& sight : r.witness.seen) CHECK(sight.state.apex_radius_um >= 0.02 * (1 - 1e-5));
  }
}

TEST_CASE("No state of an edge ever turns negative or passes for a number when it is none") {
  bench::Dice dice(55);
  for (int i = 0; i < 200; ++i) {
    const auto model = bench::any_model(dice);
    const auto r     = bench::run(model, bench::any_plan(model, dice), {}, evenly(100, 100));
    for (const auto& sight : r.witness.seen) {
      EdgeState<double>::components(
          [&](const char* name, double value) {
            CAPTURE(i, sight.step, sight.count, name);
            // a burr that is all but gone may be off by the absolute tolerance
            CHECK(value >= -1e-9 * r.status.integration_steps);
          },
          sight.state);
      CHECK(sight.state.apex_radius_um > 0.0);
      CHECK(sight.state.scratch_um > 0.0);
    }
  }
}
