// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/files.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/columns.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/simulate/simulate.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

Loaded boatyard() { return load_scenario_file(ARRIS_SOURCE_DIR "/configs/boatyard/boatyard.toml"); }

bool same_point(const TrackPoint& a, const TrackPoint& b) {
  const auto& columns = track_columns().numbers;
  return std::all_of(columns.begin(), columns.end(),
                     [&](const auto& column) { return same_bits(column.value(a), column.value(b)); });
}

bool same_edge(const EdgeResult& a, const EdgeResult& b) {
  const auto same_step = [](const StepSummary& x, const StepSummary& y) {
    const auto& columns = step_columns();
    return std::all_of(columns.numbers.begin(), columns.numbers.end(),
                       [&](const auto& column) { return same_bits(column.value(x), column.value(y)); }) &&
           std::all_of(columns.text.begin(), columns.text.end(),
                       [&](const auto& column) { return column.value(x) == column.value(y); });
  };
  return a.name == b.name && a.message == b.message && same_bits(a.life.passes, b.life.passes) &&
         std::equal(a.track.begin(), a.track.end(), b.track.begin(), b.track.end(), same_point) &&
         std::equal(a.steps.begin(), a.steps.end(), b.steps.begin(), b.steps.end(), same_step);
}

// A case in which the radius grows by 0.01 µm with every pass of one metre and nothing else happens: a wear law of
// constant rate, the reference wood and steel, the reference angle, no collapse, no burr. Severity is 1 but for rounding.
const std::string linear_shop =
    "[steel.reference]\nhardness_GPa = 7.1\n"
    "[wood.reference]\nside_hardness_N = 3150\n"
    "[wear]\nlaw = \"constant-rate\"\nrate_um_per_m = 0.01\n"
    "[coefficients]\nnicks_um_per_km = 0\nchip_load_N_per_m = 0\ncollapse_load_N_per_m = 0\n"
    "[tester]\ncut_resistance_N = 0.5\nslope_N_per_um = 3\nsaturation_N = 500\n" +
    with(iron, "\"O1\"", "\"reference\"") + "apex_radius_um = 1\n";

double after_passes(double passes) { return 1.0 + 0.01 * passes; }

// passes at which the tester reads `newton`, from its law solved for the radius
double passes_at(double newton) {
  const double above  = newton - 0.5;
  const double radius = above / (1.0 - above / (500.0 - 0.5)) / 3.0;
  return (radius - 1.0) / 0.01;
}

Step step_of(const std::string& text, const std::string& tool = iron) {
  return load(shop(text, tool)).scenario.edges.at(0).steps.back();
}

}  // namespace

TEST_CASE("a step is recorded at its start, its end and between", "[simulation]") {
  using Points = std::vector<double>;
  // evenly for strokes and laps
  CHECK(record_at(step_of("{ hone = \"oilstone, 9 µm\", strokes = 100 },"), 4) == Points{0, 25, 50, 75, 100});
  CHECK(record_at(step_of("{ back = \"oilstone, 9 µm\", strokes = 3 },"), 2) == Points{0, 1.5, 3});
  CHECK(record_at(step_of("{ strop = \"MDF\", laps = 10 },"), 1) == Points{0, 10});
  // with the square of the share for passes, where an edge changes fastest at first
  CHECK(record_at(step_of("{ cut = \"teak\", passes = 100 },"), 4) == Points{0, 6.25, 25, 56.25, 100});
  // once where nothing is counted
  CHECK(record_at(step_of("{ read = \"new\" },"), 24) == Points{0});
  CHECK(record_at(step_of("{ hone = \"oilstone, 9 µm\", strokes = 1 },\n{ dress = \"oilstone, 9 µm\" },"),
                  24) == Points{0});
  CHECK(record_at(step_of("{ hone = \"oilstone, 9 µm\", strokes = 0 },"), 24) == Points{0});
  CHECK(record_at(step_of("{ cut = \"teak\", passes = 0 },"), 24) == Points{0});
  // as far as it may go where the burr decides, at least a stroke apart
  CHECK(record_at(step_of("{ hone = \"oilstone, 9 µm\", strokes = 4, after_burr = true, max_strokes = 6 },"),
                  2) == Points{0, 2, 4, 6, 8, 10, 12, 14});
  CHECK(record_at(step_of("{ hone = \"oilstone, 9 µm\", strokes = 1, after_burr = true, max_strokes = 3 },"),
                  24) == Points{0, 1, 2, 3, 4, 5});

  for (const char* count : {"33.3", "1e7", "0.1", "1e-300"}) {
    for (const int points : {1, 2, 7, 10000}) {
      INFO(count << " passes at " << points << " points");
      const auto at = record_at(step_of(std::string("{ cut = \"teak\", passes = ") + count + " },"), points);
      CHECK(at.front() == 0.0);
      CHECK(at.back() == std::stod(count));
      CHECK(std::adjacent_find(at.begin(), at.end(), [](double a, double b) { return !(a < b); }) ==
            at.end());
      CHECK(at.size() <= static_cast<std::size_t>(points) + 1);
    }
  }
}

TEST_CASE("a curve goes forward: steps, counts, strokes, passes and path", "[simulation]") {
  const Loaded           loaded = boatyard();
  const SimulationResult result = simulate(loaded.scenario);
  REQUIRE(result.usable());
  for (std::size_t e = 0; e < result.edges.size(); ++e) {
    const auto& track = result.edges[e].track;
    const auto& plan  = loaded.scenario.edges[e];
    INFO(plan.name);
    double passes = 0.0, path_m = 0.0;
    for (const Step& step : plan.steps) {
      if (const auto* cut = std::get_if<CutStep>(&step)) {
        passes += cut->passes;
        path_m += cut->passes * cut->pass_m;
      }
    }
    // sums of a few dozen terms
    CHECK(track.back().passes == Approx(passes).epsilon(1e-13));
    CHECK(track.back().path_m == Approx(path_m).epsilon(1e-13));
    std::set<int> steps;
    for (std::size_t i = 0; i < track.size(); ++i) {
      steps.insert(track[i].step);
      if (i == 0) continue;
      const TrackPoint &before = track[i - 1], &now = track[i];
      CHECK((now.step == before.step || now.step == before.step + 1));
      CHECK((now.step == before.step ? now.count > before.count : now.count == 0.0));
      CHECK(now.strokes >= before.strokes);
      CHECK(now.passes >= before.passes);
      CHECK(now.path_m >= before.path_m);
      CHECK(now.blade_loss_um >= before.blade_loss_um);
    }
    CHECK(steps.size() == plan.steps.size());  // every step has a point
  }
}

TEST_CASE("what a step leaves is what the next one finds", "[simulation]") {
  const Loaded           loaded = boatyard();
  const SimulationResult result = simulate(loaded.scenario);
  for (std::size_t e = 0; e < result.edges.size(); ++e) {
    const EdgeResult& edge = result.edges[e];
    const EdgePlan&   plan = loaded.scenario.edges[e];
    const auto&       tool = loaded.scenario.model.tools[static_cast<std::size_t>(plan.tool)];
    INFO(plan.name);
    REQUIRE(edge.steps.size() == plan.steps.size());
    CHECK(edge.steps.front().before.apex_radius_um == tool.apex_radius_um);
    CHECK(edge.steps.front().before.land_mm ==
          Approx(tool.land_mm).epsilon(1e-15));  // to a depth and back again
    for (std::size_t i = 0; i < edge.steps.size(); ++i) {
      const StepSummary& step = edge.steps[i];
      CHECK(step.index == static_cast<int>(i));
      CHECK(step.verb == verb_of(plan.steps[i]));
      CHECK(step.subject == subject_of(plan.steps[i]));
      if (i > 0) CHECK(same_point(step.before, edge.steps[i - 1].after));
      // the last point of a step on the curve is the state after it
      const auto last = std::find_if(edge.track.rbegin(), edge.track.rend(),
                                     [&](const TrackPoint& p) { return p.step == step.index; });
      REQUIRE(last != edge.track.rend());
      CHECK(same_point(*last, step.after));
      const bool abrades = step.verb == "hone" || step.verb == "back" || step.verb == "strop";
      CHECK((abrades ? step.steel_removed_mg > 0.0 : step.steel_removed_mg == 0.0));
      const bool counts = abrades || step.verb == "cut";
      CHECK(std::isnan(step.count) == !counts);
      CHECK(std::isnan(step.thinnest_shaving_um) == (step.verb != "cut"));
    }
  }
}

TEST_CASE("predictions at moments are points of the curve", "[simulation]") {
  const Loaded        loaded = boatyard();
  const auto&         plan   = loaded.scenario.edges.at(0);
  const auto          edge   = simulate_edge(loaded.scenario, plan);
  std::vector<Moment> moments;
  for (const StepSummary& s : edge.steps) moments.push_back({s.index, s.after.count});
  const Prediction prediction = predict(loaded.scenario, plan, moments);
  REQUIRE(prediction.points.size() ==
          moments.size() - std::count_if(edge.steps.begin(), edge.steps.end(),
                                         [](const StepSummary& s) { return s.verb == "dress"; }));
  // Points are interpolated between steps of the integration, which are the same whatever points are asked for.
  for (std::size_t i = 0; i < moments.size(); ++i)
    CHECK(same_point(prediction.points[i], edge.steps[i].after));
}

TEST_CASE("the life of an edge, worked out by hand", "[simulation][life]") {
  const std::string output = "[output]\npoints_per_step = 10000\nreading_limit_gf = ";
  const auto        life   = [&](const std::string& steps, double limit_gf) {
    const Loaded loaded = load(output + std::to_string(limit_gf) + "\n" + shop(steps, linear_shop));
    return simulate_edge(loaded.scenario, loaded.scenario.edges.at(0)).life;
  };
  const std::string cut = "{ cut = \"reference\", passes = 1000, pass_m = 1 },";
  // 1000 gf; the curve is a chord between points at most 2·1000/10⁴ = 0.2 passes apart. In passes the reading bends by
  // F″/F′ = 2·3·0.01/499.5 = 1.2e-4 at most, so the chord errs by 0.2²·1.2e-4/8 = 6e-7 passes; it is bisected to 1e-6.
  const Life once = life(cut, 1000.0);
  CHECK(once.asked);
  CHECK(once.reached);
  CHECK_FALSE(once.from_start);
  CHECK(std::abs(once.passes - passes_at(9.80665)) < 1.6e-6);
  // in the second of two cuts, counted from the first pass on; a reading between them changes nothing
  const std::string half = "{ cut = \"reference\", passes = 150, pass_m = 1 },";
  REQUIRE(passes_at(9.80665) > 160.0);
  const Life second = life(half + "\n{ read = \"between\" },\n" + cut, 1000.0);
  CHECK(std::abs(second.passes - passes_at(9.80665)) < 1.6e-6);
  // crossed by a stone between two cuts: at the first pass after it, and not before the first of all
  const std::string stone   = "\n{ hone = \"plated diamond, 300 µm\", strokes = 100, force_N = 200 },\n";
  const Life        spoiled = life("{ cut = \"reference\", passes = 10, pass_m = 1 }," + stone + cut, 500.0);
  CHECK(spoiled.reached);
  CHECK_FALSE(spoiled.from_start);
  CHECK(spoiled.passes == 10.0);
  // not within the passes simulated
  const Life outlasts = life(half, 1000.0);
  CHECK(outlasts.asked);
  CHECK_FALSE(outlasts.reached);
  CHECK(std::isnan(outlasts.passes));
  // before the first pass
  const Life blunt = life(cut, 300.0);
  CHECK(blunt.reached);
  CHECK(blunt.from_start);
  CHECK(blunt.passes == 0.0);
  // what only a fresh edge reads does not count: the burr goes, the reading falls, and then it rises
  const Loaded     fresh = load(output + "1000\n" + shop(cut, linear_shop + "burr_um = 10\n"));
  const EdgeResult edge  = simulate_edge(fresh.scenario, fresh.scenario.edges.at(0));
  REQUIRE(edge.track.front().reading_N > 9.80665);
  CHECK(edge.life.reached);
  CHECK_FALSE(edge.life.from_start);
  CHECK(edge.life.passes > 100.0);  // the burr is gone by then, and radius alone decides
  // only wood wears it
  CHECK_FALSE(life("{ read = \"new\" },", 300.0).reached);
  // nobody asked
  const Loaded loaded = load(shop(cut, linear_shop));
  CHECK_FALSE(simulate_edge(loaded.scenario, loaded.scenario.edges.at(0)).life.asked);
}

TEST_CASE("an edge skates from where the apex is too round for the shaving", "[simulation]") {
  // 0.3·r passes 0.6 µm at r = 2 µm, after 100 passes; the curve has a point at every whole pass: 100²·(1/100)²
  const Loaded loaded = load("[output]\npoints_per_step = 100\n" +
                             shop("{ cut = \"reference\", passes = 400, pass_m = 1, shaving_um = 0.6 },\n"
                                  "{ cut = \"reference\", passes = 1, pass_m = 1, shaving_um = 100 },",
                                  linear_shop));
  const auto   edge   = simulate_edge(loaded.scenario, loaded.scenario.edges.at(0));
  // the points near 100 passes are 400·0.50² = 100 and 400·0.51²; at the first the shaving is just as thick, but for
  // rounding, so either may be told
  CHECK((edge.steps[0].skates_after_passes == 100.0 ||
         edge.steps[0].skates_after_passes == Approx(104.04).epsilon(1e-14)));
  // a history of some hundred steps of rounding
  CHECK(edge.steps[0].thinnest_shaving_um == Approx(0.3 * after_passes(400)).epsilon(1e-12));
  CHECK(std::isnan(edge.steps[1].skates_after_passes));
}

TEST_CASE("an edge that fails is marked and the others are kept", "[simulation][failure]") {
  const std::string hone   = "{ hone = \"soft waterstone, JIS #1000\", strokes = 20 }";
  const std::string steps  = "steps = [ " + hone + ", { read = \"new\" } ]\n";
  const std::string others = "[edge.B]\ntool = \"iron\"\n" + steps + "[edge.C]\ntool = \"iron\"\n" + steps;
  const Loaded      loaded = load(
           shop(
               hone +
               ",\n{ hone = \"lapping film, 0.02 µm\", strokes = 3, after_burr = true, max_strokes = 7 },\n{ read = \"new\" },") +
           others);
  const auto result = simulate(loaded.scenario);
  CHECK_FALSE(result.usable());
  const EdgeResult& a = result.edges.at(0);
  CHECK(a.status.code == RunStatus::Code::no_burr);
  CHECK(a.status.step == 1);
  CHECK(a.status.count == 7.0);
  CHECK(
      a.message ==
      "edge \"A\", step 2 (hone lapping film, 0.02 µm), after 7: no burr in 7 strokes. The medium is too fine for so blunt an apex, or the land too wide. Start on a coarser medium, or raise max_strokes.");
  CHECK(a.steps.size() == 1);  // the step that went well
  CHECK(a.track.back().step == 1);
  for (const std::size_t e : {1U, 2U}) {
    const EdgeResult& edge = result.edges.at(e);
    CHECK(edge.status.usable());
    CHECK(edge.message.empty());
    CHECK(same_edge(edge, simulate_edge(loaded.scenario, loaded.scenario.edges.at(e))));
    CHECK(same_point(edge.track.back(), edge.steps.back().after));
  }
  // what failed does not look like a result
  CHECK(predict(loaded.scenario, loaded.scenario.edges.at(0), {{0, 20.0}}).points.empty());
  CHECK(simulation_answer(loaded, result) == "3 edges simulated; 1 failed, see below.");
  CHECK(simulation_overview(loaded, result).find("failed") != std::string::npos);
  CHECK(edge_text(loaded, a).find("Stopped: edge \"A\", step 2") != std::string::npos);
}

TEST_CASE("a run that fails says in which step, when, why and what to do", "[simulation][failure]") {
  const Loaded loaded = load("[numerics]\nmax_steps = 10\nrelative_tolerance = 1e-12\n" +
                             shop("{ hone = \"oilstone, 20 µm\", strokes = 1000000 },"));
  const auto   edge   = simulate_edge(loaded.scenario, loaded.scenario.edges.at(0));
  CHECK(edge.status.code == RunStatus::Code::too_many_steps);
  CHECK(edge.message.rfind("edge \"A\", step 1 (hone oilstone, 20 µm), after ", 0) == 0);
  const std::string end =
      ": the integration gave up after numerics.max_steps steps. A rate is very fast against the length of the step. Check sizes and forces of this step, or raise max_steps.";
  CHECK(edge.message.substr(edge.message.size() - end.size()) == end);

  RunStatus status;
  status.code  = RunStatus::Code::not_finite;
  status.step  = 0;
  status.count = 12.345;
  CHECK(
      describe(status, loaded.scenario.edges.at(0)) ==
      "edge \"A\", step 1 (hone oilstone, 20 µm), after 12.35: a rate became infinite or undefined. A size, hardness or force of this step is probably far outside what the laws are for. Check them with `arris check`.");
  CHECK(describe(RunStatus{}, loaded.scenario.edges.at(0)).empty());
}

TEST_CASE("results are the same bits at any number of threads", "[simulation][threads]") {
  const Scenario scenario = boatyard().scenario;
  const auto     one      = simulate(scenario, 1);
  REQUIRE(one.edges.size() == scenario.edges.size());
  for (const int threads : {2, 7, 0}) {
    INFO(threads);
    const auto many = simulate(scenario, threads);
    CHECK(std::equal(one.edges.begin(), one.edges.end(), many.edges.begin(), many.edges.end(), same_edge));
  }
}

TEST_CASE("progress counts every edge once", "[simulation][threads]") {
  const Scenario scenario = boatyard().scenario;
  for (const int threads : {1, 4}) {
    std::vector<std::size_t> seen;
    std::set<std::size_t>    totals;
    (void)simulate(scenario, threads, [&](std::size_t done, std::size_t all) {
      totals.insert(all);
      seen.push_back(done);
    });
    CHECK(totals == std::set<std::size_t>{scenario.edges.size()});
    std::vector<std::size_t> wanted;
    for (std::size_t i = 1; i <= scenario.edges.size(); ++i) wanted.push_back(i);
    CHECK(seen == wanted);
  }
}

TEST_CASE("more points on a curve do not change the edge", "[simulation]") {
  const auto after = [](int points) {
    const Loaded loaded =
        load("[output]\npoints_per_step = " + std::to_string(points) + "\n" +
             shop(one_hone + "\n{ strop = \"MDF\", laps = 5 },\n{ cut = \"teak\", passes = 100 },"));
    return simulate_edge(loaded.scenario, loaded.scenario.edges.at(0)).steps.back().after;
  };
  CHECK(same_point(after(1), after(24)));
  CHECK(same_point(after(1), after(10000)));
}

TEST_CASE("the longest and the largest that a configuration may ask for", "[simulation]") {
  const std::string fine_curves = "[output]\npoints_per_step = 10000\n";
  // no blade has so much steel: the edge ends there, and says so
  const Loaded worn_away =
      load(fine_curves + shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 1000000 },\n"
                              "{ strop = \"MDF\", laps = 1000000 },\n"
                              "{ cut = \"angelique\", passes = 10000000, pass_m = 100 },"));
  const auto gone = simulate_edge(worn_away.scenario, worn_away.scenario.edges.at(0));
  CHECK(gone.status.code == RunStatus::Code::beyond_blade);
  CHECK(gone.message.find("nan") == std::string::npos);
  CHECK_FALSE(gone.message.empty());
  // as far as a blade goes
  const Loaded loaded = load(fine_curves + shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 500 },\n"
                                                "{ strop = \"MDF\", laps = 10000 },\n"
                                                "{ cut = \"angelique\", passes = 10000, pass_m = 1 },"));
  const auto   edge   = simulate_edge(loaded.scenario, loaded.scenario.edges.at(0));
  REQUIRE(edge.status.usable());
  // every step begins and ends with a point, and neighbours that round to the same count are one
  CHECK(edge.track.size() <= 3 * 10001);
  for (const TrackPoint& p : edge.track) {
    CHECK(std::isfinite(p.reading_N));
    CHECK(p.reading_N <= loaded.scenario.model.tester.saturation_N);
  }
}

TEST_CASE("a history of nothing changes nothing", "[simulation]") {
  const Loaded loaded =
      load(shop("{ hone = \"oilstone, 9 µm\", strokes = 0 },\n{ back = \"oilstone, 9 µm\", strokes = 0 },\n"
                "{ strop = \"felt\", laps = 0 },\n{ cut = \"teak\", passes = 0 },\n{ read = \"new\" },"));
  const auto edge = simulate_edge(loaded.scenario, loaded.scenario.edges.at(0));
  REQUIRE(edge.status.usable());
  const TrackPoint& start = edge.steps.front().before;
  for (const StepSummary& s : edge.steps) {
    CHECK(s.after.apex_radius_um == start.apex_radius_um);
    CHECK(s.after.scratch_um == start.scratch_um);
    CHECK(s.after.reading_N == start.reading_N);
    CHECK(s.after.strokes == 0.0);
    CHECK(s.after.passes == 0.0);
    CHECK(s.steel_removed_mg == 0.0);
  }
}
