// SPDX-License-Identifier: MIT
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <map>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <sys/wait.h>

#include "sim/fit/fit.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/output/plan_files.hpp"
#include "sim/simulate/way.hpp"
#include "sim/studies/plan/plan.hpp"
#include "sim/studies/plan/plan_groups.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

// one iron, a long route and a short one; a second iron that only the short one knows
const std::string yard = R"([tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
apex_radius_um = 3
[tool.other]
steel = "A2"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
micro_bevel_deg = 30
apex_radius_um = 3
[route.long]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 40 },
  { hone = "soft waterstone, JIS #4000", strokes = 60 },
  { back = "soft waterstone, JIS #4000", strokes = 10 },
]
[route.short]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 60 },
  { back = "soft waterstone, JIS #1000", strokes = 10 },
]
[edge.A2]
tool = "other"
route = "short"
steps = [ { read = "new" } ]
[edge.L]
tool = "iron"
route = "long"
steps = [
  { read = "off the stones" },
  { strop = "soft hide", compound = "chromium oxide 0.5 µm", laps = 40 },
  { read = "stropped" },
  { cut = "sugar maple", passes = 60 },
  { cut = "sugar maple", passes = 200 },
  { read = "worn" },
]
[edge.S]
tool = "iron"
route = "short"
steps = [ { cut = "sugar maple", passes = 260 }, { read = "worn" } ]
)";

const Loaded& loaded() {
  static const Loaded all = load(yard);
  return all;
}

PlanKnowledge priors(int members = 8) {
  return knowledge_from_priors(loaded().scenario, loaded().fit, members, 1);
}

Plan plan_of(const PlanSettings& settings) {
  return plan_experiment(loaded().scenario, loaded().fit, loaded().workshop.pace, priors(), settings);
}

PlanSettings quick() {
  PlanSettings s;
  s.difference_pct = 25.0;
  s.campaigns      = 200;
  return s;
}

// the sheet with readings of the model in it, scattered by a twentieth; `every` n-th row only
std::string filled(const std::string& sheet, const Plan& plan, int every) {
  boost::random::mt19937_64                  engine(3);
  boost::random::normal_distribution<double> normal;
  std::string                                out;
  std::size_t                                row = 0;
  for (const std::string& line : lines(sheet)) {
    if (line.starts_with('#') || line.starts_with("code,")) {
      out += line + "\n";
      continue;
    }
    const Reading&   r     = plan.sheet.at(row++);
    const auto       where = plan.scenario.edges[static_cast<std::size_t>(r.edge)];
    const Prediction model = predict(plan.scenario, where, {r.moment});
    const double     gf    = model.points.at(0).reading_N * std::exp(0.05 * normal(engine)) / 9.80665e-3;
    REQUIRE(line.find(",,") != std::string::npos);  // the blank
    out += row % static_cast<std::size_t>(every) == 0 ? with(line, ",,", fmt::format(",{:.1f},", gf)) + "\n"
                                                      : line + "\n";
  }
  CHECK(row == plan.sheet.size());
  return out;
}

struct Outcome {
  int         code;
  std::string text;  ///< both outputs
};

Outcome run(const Folder& folder, const std::string& words) {
  const std::string line =
      "cd '" + folder.path().string() + "' && '" + ARRIS_PROGRAM + "' " + words + " 2>&1";
  std::FILE* pipe = ::popen(line.c_str(), "r");
  if (pipe == nullptr) throw std::runtime_error("no shell");
  Outcome                out;
  std::array<char, 4096> buffer;
  for (std::size_t got; (got = std::fread(buffer.data(), 1, buffer.size(), pipe)) > 0;)
    out.text.append(buffer.data(), got);
  const int status = ::pclose(pipe);
  out.code         = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return out;
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("a history can be read where it is not read yet, and is the same history", "[plan]") {
  const EdgePlan& whole = loaded().scenario.edges[1];
  REQUIRE(whole.name == "L");
  const Stop comparison = comparison_stop(whole, true);
  CHECK(comparison.step == 2);
  const std::vector<Stop>  stops{comparison, {4, 10.0}, {4, 40.0}, {6, 20.0}, {6, 60.0}, {7, 130.0}};
  const EdgePlan           read = read_at(whole, stops, 3);
  std::vector<std::string> told;
  for (const Step& step : read.steps) told.push_back(fmt::format("{} {:g}", verb_of(step), count_of(step)));
  CHECK(told == std::vector<std::string>{"hone 40", "hone 60", "back 10", "read 0", "strop 10", "read 0",
                                         "strop 30", "read 0", "cut 20", "read 0", "cut 40", "read 0",
                                         "cut 130", "read 0"});
  CHECK(read.route == "long");
  CHECK(read.route_steps == 3);
  // the apex at each read step is that of the undivided history: each part restarts the integration, which may err by the
  // relative tolerance, 1e-6, in every one of its steps; a hundred of them
  std::vector<Moment> parted, undivided{{2, 10.0}, {4, 10.0}, {4, 40.0}, {6, 20.0}, {6, 60.0}, {7, 130.0}};
  for (std::size_t i = 0; i < read.steps.size(); ++i) {
    if (std::holds_alternative<ReadStep>(read.steps[i])) parted.push_back({static_cast<int>(i), 0.0});
  }
  const Prediction a = predict(loaded().scenario, read, parted),
                   b = predict(loaded().scenario, whole, undivided);
  REQUIRE(a.points.size() == 6);
  REQUIRE(b.points.size() == 6);
  for (std::size_t i = 0; i < 6; ++i) {
    INFO(i);
    CHECK(a.points[i].apex_radius_um == Approx(b.points[i].apex_radius_um).epsilon(1e-4));
    CHECK(a.points[i].burr_um == Approx(b.points[i].burr_um).epsilon(1e-4).margin(1e-6));
    CHECK(a.points[i].passes == b.points[i].passes);
  }
  // read within the route, it follows that no longer
  const EdgePlan within = read_at(whole, {{0, 40.0}, comparison}, 1);
  CHECK(within.route.empty());
  CHECK(within.route_steps == 0);
}

TEST_CASE("moments that can be read are named as the configuration or a craftsman would", "[plan]") {
  const EdgePlan& plan = loaded().scenario.edges[1];
  CHECK(describe_stop(plan, {2, 10.0}) == "off the stones");
  CHECK(describe_stop(plan, {4, 1.0}) == "after 1 lap on soft hide");
  CHECK(describe_stop(plan, {4, 40.0}) == "stropped");
  CHECK(describe_stop(plan, {6, 20.0}) == "after 20 passes in sugar maple");
  CHECK(describe_stop(plan, {7, 130.0}) == "after 130 passes in sugar maple, 190 in all");
  CHECK(describe_stop(plan, {7, 200.0}) == "worn");
  CHECK(describe_stop(plan, {0, 40.0}) == "after hone soft waterstone, JIS #1000");
  CHECK(describe_stop(plan, {-1, 0.0}) == "as it was");
  const auto counts = [&](ReadAt at, int step) {
    std::vector<double> out;
    for (const Stop& s : candidate_stops(plan, comparison_stop(plan, true), at)) {
      if (s.step == step) out.push_back(s.count);
    }
    return out;
  };
  CHECK(counts(ReadAt::laps, 4) == std::vector<double>{1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 40});
  CHECK(counts(ReadAt::laps, 6).empty());
  CHECK(counts(ReadAt::passes, 6) == std::vector<double>{1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 40, 50, 60});
  CHECK(counts(ReadAt::passes, 4) == std::vector<double>{40});  // before the first pass
  CHECK(counts(ReadAt::passes, 2) == std::vector<double>{10});  // that of the comparison
}

TEST_CASE("a plan has the size that its scatter asks for", "[plan]") {
  const Plan plan = plan_of(quick());
  REQUIRE(plan.groups.size() == 2);
  CHECK(plan.groups[0].name == "short");
  CHECK(plan.groups[0].pattern == 2);  // not A2, which is of another tool than the other group has
  CHECK(plan.groups[1].pattern == 1);
  CHECK(plan.same_tool);
  // readings scatter as the configuration states: log-normal of that coefficient of variation
  const double cv = loaded().scenario.model.scatter.reading_cv;
  CHECK(plan.scatter.reading_sd == Approx(std::sqrt(std::log1p(cv * cv))).epsilon(1e-12));
  // an edge's luck is a factor on its apex, of which the tester sees a part
  const double edge = loaded().scenario.model.scatter.edge_cv;
  CHECK(plan.scatter.edge_sd < std::sqrt(std::log1p(edge * edge)));
  CHECK(plan.scatter.edge_sd > 0.2 * edge);
  REQUIRE(plan.reaches);
  double least = 1e9;
  for (const PlanSize& s : plan.sizes) {
    CHECK(s.power >= 0.9);
    CHECK(size_of(plan, s.edges - 1, s.readings).power < 0.9);  // no edge more than is needed
    CHECK(s.taken == 2 * s.edges * s.readings * 3);
    CHECK(s.filaments == static_cast<int>(std::ceil(1.1 * s.taken - 1e-9)));
    least = std::min(least, s.hours);
  }
  CHECK(plan.size.hours == least);
  CHECK(plan.smallest_pct <= 25.0);
  CHECK(plan.size.power >= 0.9);
  // a smaller difference needs more
  PlanSettings finer   = quick();
  finer.difference_pct = 15.0;
  CHECK(plan_of(finer).size.edges > plan.size.edges);
  // what is asked for is done, even where it does not reach
  PlanSettings fixed = quick();
  fixed.edges        = 2;
  fixed.readings     = 2;
  const Plan small   = plan_of(fixed);
  CHECK_FALSE(small.reaches);
  CHECK(small.size.edges == 2);
  CHECK(small.size.readings == 2);
  CHECK(small.smallest_pct > 25.0);
  CHECK(small.sheet.size() == 2 * 2 * 2 * 3);
}

TEST_CASE("the planned readings teach what the slopes say they do", "[plan]") {
  const Plan plan = plan_of(quick());
  REQUIRE(plan.parameters.size() == plan.share_after.size());
  for (std::size_t i = 0; i < plan.parameters.size(); ++i) {
    CHECK(plan.share_before[i] == Approx(1.0).epsilon(1e-9));  // nothing was read yet
    CHECK(plan.share_after[i] < 1.0 + 1e-9);
  }
  CHECK(*std::min_element(plan.share_after.begin(), plan.share_after.end()) < 0.5);
  for (const PlannedGroup& g : plan.groups) {
    CHECK(g.moments.size() == 3);
    CHECK(std::count_if(g.moments.begin(), g.moments.end(),
                        [](const PlannedMoment& m) { return m.comparison; }) == 1);
    for (const PlannedMoment& m : g.moments) CHECK(m.worth >= 0.0);
    CHECK(g.moments.front().comparison);  // off the stones comes first
  }
  // with as many edges and readings, fewer moments never teach more, about no parameter
  PlanSettings one = quick();
  one.moments      = 1;
  one.edges        = plan.size.edges;
  one.readings     = plan.size.readings;
  const Plan least = plan_of(one);
  REQUIRE(least.groups.front().moments.size() == 1);
  double gained = 0.0;
  for (std::size_t i = 0; i < plan.parameters.size(); ++i) {
    CHECK(plan.share_after[i] <= least.share_after[i] * (1.0 + 1e-9));  // roundings of the inverse
    gained += std::log(least.share_after[i] / plan.share_after[i]);
  }
  CHECK(gained > 0.5);
}

TEST_CASE("a plan foretells what simulate does from the same fit, ways with it", "[plan]") {
  const EdgePlan& pattern  = loaded().scenario.edges.at(1);
  PlanKnowledge   known    = priors();
  const auto      plan_now = [&] {
    return plan_experiment(loaded().scenario, loaded().fit, loaded().workshop.pace, known, quick());
  };
  const Plan before          = plan_now();
  known.ensemble.effects     = {{EffectKind::way, way_at(pattern, {2, not_given})}};
  known.ensemble.effect_best = Eigen::VectorXd::Constant(1, 0.5);
  known.ensemble.effect_logs =
      Eigen::MatrixXd::Constant(static_cast<Eigen::Index>(known.ensemble.size()), 1, 0.5);
  const Plan after    = plan_now();
  const auto compared = [](const Plan& plan) {
    for (const PlannedMoment& m : plan.groups.at(1).moments) {
      if (m.comparison) return m.reading_N;
    }
    return not_given;
  };
  REQUIRE(after.groups.at(1).name == "long");
  const Prediction seen = predict(as_read(loaded().scenario, known.ensemble), pattern, {{2, not_given}});
  CHECK(compared(after) == Approx(seen.points.at(0).reading_N).epsilon(1e-6));
  CHECK(compared(after) > 1.05 * compared(before));
}

TEST_CASE("what no planned reading shows is named with the edges that would show it", "[plan]") {
  // a pad blunts where it sinks past the apex: on a soft, thick hide, stropped long; the groups are not stropped at all
  std::string text =
      with(yard, "  { strop = \"soft hide\", compound = \"chromium oxide 0.5 µm\", laps = 40 },\n", "");
  text =
      with(text, "  { read = \"stropped\" },\n", "") +
      "[edge.long-stropped]\ntool = \"iron\"\nroute = \"long\"\nsteps = [ { strop = \"soft hide\", compound = \"chromium oxide 0.5 µm\", laps = 200 }, { read = \"stropped\" } ]\n";
  const Loaded all = load(text);
  FitSettings  fit;
  fit.free        = {"tester.slope_N_per_um", "coefficients.radius_per_scratch", "coefficients.dub_share"};
  PlanSettings s  = quick();
  s.groups        = {"L", "S"};
  const Plan plan = plan_experiment(all.scenario, fit, all.workshop.pace,
                                    knowledge_from_priors(all.scenario, fit, 16, 1), s);
  CHECK(plan.share_after[2] == Approx(1.0).epsilon(1e-9));
  REQUIRE(plan.after.undetermined.size() == 1);
  CHECK(plan.after.undetermined[0].parameters == std::vector<int>{2});
  REQUIRE(plan.settling);
  CHECK(plan.settling->edge == "long-stropped");
  CHECK(plan.settling->variance_before == Approx(1.0).epsilon(1e-9));
  CHECK(plan.settling->variance_after < 0.7);
  const auto remarks = plan_answer(plan).remarks;
  CHECK(std::any_of(remarks.begin(), remarks.end(), [](const std::string& r) {
    return has(r, "next to nothing about dub share") && has(r, "those with the history of long-stropped");
  }));
}

TEST_CASE("a run sheet is balanced, ordered as histories go on, and blind", "[plan][sheet]") {
  PlanSettings s  = quick();
  s.edges         = 7;
  s.readings      = 2;
  s.operators     = {"K", "M"};
  s.lots          = {"N-1", "N-2"};
  const Plan plan = plan_of(s);
  CHECK(plan.blocks == 4);
  REQUIRE(plan.sheet.size() == 2 * 7 * 2 * 3);
  std::set<std::string> codes, names;
  for (std::size_t e = static_cast<std::size_t>(plan.first_edge); e < plan.scenario.edges.size(); ++e) {
    const EdgePlan& edge = plan.scenario.edges[e];
    CHECK(codes.insert(edge.code).second);
    CHECK(names.insert(edge.name).second);
    CHECK(edge.code.size() == 3);
  }
  CHECK(codes.size() == 14);
  // every edge is read twice at each of three stages, by one operator with one lot, and never goes back
  std::map<int, std::vector<const Reading*>> of_edge;
  for (const Reading& r : plan.sheet) of_edge[r.edge].push_back(&r);
  std::map<std::pair<std::string, std::string>, std::map<char, int>> in_block;
  for (const auto& [edge, rows] : of_edge) {
    REQUIRE(rows.size() == 6);
    for (std::size_t i = 0; i < 6; ++i) {
      CHECK(rows[i]->moment_name == fmt::format("stage {}", i / 2 + 1));
      CHECK(rows[i]->replicate == static_cast<int>(i % 2) + 1);
      CHECK(rows[i]->operator_name == rows[0]->operator_name);
      CHECK(rows[i]->filament_lot == rows[0]->filament_lot);
      CHECK(std::isnan(rows[i]->reading_N));
    }
    ++in_block[{rows[0]->operator_name, rows[0]->filament_lot}]
              [plan.scenario.edges[static_cast<std::size_t>(edge)].name.front()];
  }
  CHECK(in_block.size() == 4);
  for (const auto& [block, count] : in_block) CHECK(count.at('s') == count.at('l'));
  // the order of a round is not that of the edges, and not that of the round before
  std::vector<int> first, second;
  for (std::size_t i = 0; i < 4; ++i) first.push_back(plan.sheet[i].edge);
  for (std::size_t i = 4; i < 8; ++i) second.push_back(plan.sheet[i].edge);
  CHECK(std::set<int>(first.begin(), first.end()) == std::set<int>(second.begin(), second.end()));

  // what goes to the tester says nothing of routes, woods or names
  const std::string sheet = run_sheet(plan, "next.toml");
  for (const char* word : {"short", "long", "maple", "hide", "off the stones", "iron"})
    CHECK_FALSE(has(sheet, word));
  CHECK(has(
      sheet,
      "# Run sheet of arris plan, seed 1: 84 readings of 14 edges in this order; have 93 filaments ready.\n"));
  CHECK(has(sheet, "Sharp edges cut"));
  CHECK(has(sheet, "\ncode,step,reading_gf,replicate,operator,filament_lot,note,excluded\n"));

  // a seed stands for a sheet, whatever the number of threads
  PlanSettings again = s;
  again.threads      = 1;
  CHECK(same_text(run_sheet(plan_of(again), "next.toml"), sheet));
  again.threads = 3;
  CHECK(same_text(run_sheet(plan_of(again), "next.toml"), sheet));
  again.seed = 2;
  CHECK(run_sheet(plan_of(again), "next.toml") != sheet);
}

TEST_CASE("a run sheet that is filled in, or half filled in, is fitted", "[plan][sheet][fit]") {
  PlanSettings s  = quick();
  s.edges         = 6;
  s.readings      = 2;
  const Plan plan = plan_of(s);
  // the configuration of the plan, as a user would load it
  const std::string toml    = plan_toml(plan, "yard.toml", "next.csv");
  const Loaded      planned = load(toml, {{"yard.toml", yard}});
  CHECK(planned.readings_files.at(0) == "next.csv");
  REQUIRE(planned.scenario.edges.size() == plan.scenario.edges.size());
  for (const EdgePlan& edge : plan.scenario.edges) {
    const auto find = [&](const EdgePlan& p) { return p.name == edge.name; };
    const auto same = std::find_if(planned.scenario.edges.begin(), planned.scenario.edges.end(), find);
    REQUIRE(same != planned.scenario.edges.end());
    CHECK(same->code == edge.code);
    CHECK(same->route == edge.route);
    CHECK(same->steps.size() == edge.steps.size());
  }
  // and its resolved form keeps the codes
  CHECK(has(resolved_toml(planned, false), fmt::format("code = \"{}\"\n", plan.scenario.edges.back().code)));

  const std::string sheet = run_sheet(plan, "next.toml");
  const Error       blank = error_of([&] { (void)parse_readings("next.csv", sheet, planned.scenario); });
  CHECK(codes(blank) == std::vector<std::string>{"no-readings"});
  for (const int every : {1, 2}) {
    const auto readings = parse_readings("next.csv", filled(sheet, plan, every), planned.scenario);
    CHECK(readings.size() == plan.sheet.size() / static_cast<std::size_t>(every));
    for (const Reading& r : readings)
      CHECK_FALSE(planned.scenario.edges[static_cast<std::size_t>(r.edge)].code.empty());
    std::vector<FreeParameter> free{free_parameter(planned.scenario.model, "tester.slope_N_per_um"),
                                    free_parameter(planned.scenario.model, "wear.parting_um2_per_m")};
    FitSettings                settings;
    settings.starts = 2;
    const CampaignModel model(planned.scenario, readings, free, settings);
    const FitResult     result = fit(model);
    CHECK(result.converged);
    // the readings came from the priors' medians, u = 0: within 4 posterior standard deviations
    for (Eigen::Index i = 0; i < 2; ++i)
      CHECK(std::abs(result.best.u[i]) < 4.0 * std::sqrt(result.information.covariance(i, i)));
    CHECK(result.best.spread.reading ==
          Approx(0.05).epsilon(0.4));  // of 72 or 36 readings: s.e. 12 %, thrice that
  }
}

TEST_CASE("codes stand for edges in a readings file", "[plan][sheet][readings]") {
  const Scenario s =
      load(yard + "[edge.X]\ntool = \"iron\"\ncode = \"K7\"\nsteps = [ { read = \"new\" } ]\n").scenario;
  const auto told = [&](const std::string& text) {
    return std::string(error_of([&] { (void)parse_readings("r.csv", text, s); }).what());
  };
  const auto parse = [&](const std::string& text) { return parse_readings("r.csv", text, s); };
  CHECK(parse("code,step,reading_gf\nK7,new,120\n").at(0).edge == 3);
  CHECK(parse("edge,code,step,reading_gf\n,K7,new,120\nX,,new,121\nX,K7,new,122\n").size() == 3);
  CHECK(has(told("code,step,reading_gf\nK8,new,120\n"),
            "the configuration has no edge of the code \"K8\" (allowed: K7) [unknown-edge]"));
  CHECK(has(told("code,step,reading_gf\n,new,120\n"), "the row names no edge [unknown-edge]"));
  CHECK(has(told("edge,code,step,reading_gf\nL,K7,worn,120\n"),
            "the code \"K7\" is that of the edge \"X\", not of \"L\" [unknown-edge]"));
  CHECK(has(std::string(error_of([] {
                          (void)parse_readings("r.csv", "code,step,reading_gf\nK8,new,120\n",
                                               loaded().scenario);
                        }).what()),
            "none: no edge of it has a code"));
  const Error twice =
      load_error(yard + "[edge.X]\ntool = \"iron\"\ncode = \"K7\"\nsteps = [ { read = \"new\" } ]\n" +
                 "[edge.Y]\ntool = \"iron\"\ncode = \"K7\"\nsteps = [ { read = \"new\" } ]\n");
  CHECK(codes(twice) == std::vector<std::string>{"given-twice"});
  const Error odd =
      load_error(yard + "[edge.X]\ntool = \"iron\"\ncode = \"K\\n7\"\nsteps = [ { read = \"new\" } ]\n");
  CHECK(codes(odd) == std::vector<std::string>{"bad-name"});
}

TEST_CASE("groups that cannot be compared are refused", "[plan]") {
  const auto code_of = [&](const PlanSettings& s) {
    const Error error = error_of([&] { (void)plan_of(s); });
    CHECK(error.exit() == Exit::usage);
    return codes(error).at(0);
  };
  PlanSettings s = quick();
  s.groups       = {"long"};
  CHECK(code_of(s) == "too-few-groups");
  s.groups = {"long", "S", "long"};
  CHECK(code_of(s) == "given-twice");
  s.groups = {"A2", "S"};
  s.at     = ReadAt::laps;
  CHECK(code_of(s) == "nothing-to-choose");
  s                = quick();
  s.difference_pct = 0.5;
  CHECK(code_of(s) == "out-of-reach");
  // blades that differ are told
  s             = quick();
  s.groups      = {"long", "A2"};
  const Plan p  = plan_of(s);
  const auto as = plan_answer(p).cautions;
  CHECK_FALSE(p.same_tool);
  CHECK(std::any_of(as.begin(), as.end(), [](const std::string& c) { return has(c, "different blades"); }));
  CHECK(
      std::any_of(as.begin(), as.end(), [](const std::string& c) { return has(c, "fewer than 3 moments"); }));
  CHECK(p.groups[1].moments.size() == 1);
}

TEST_CASE("the answer of a plan says what to do, why, and on what it rests", "[plan][answer]") {
  const Plan        plan = plan_of(quick());
  const Answer      a    = plan_answer(plan);
  const std::string text = fmt::format("{}", fmt::join(a.remarks, "\n"));
  CHECK(has(a.headline, fmt::format("hone {} edges for each group", plan.size.edges)));
  CHECK(has(a.headline, fmt::format("{} filaments", plan.size.filaments)));
  CHECK(has(text, "200 simulated experiments of this size found it"));
  CHECK(has(text, "S for short and L for long; all of the tool iron"));
  CHECK(has(a.rests_on, "Rests on rules of thumb of the trade, no measurement"));
  CHECK(a.cautions.back() == usual_caution());
  CHECK_FALSE(has(answer_text(a), "nan"));
  CHECK(column(a.table("key"), "code").texts.size() == 2 * static_cast<std::size_t>(plan.size.edges));
  CHECK(column(a.table("moments"), "when").texts.at(0) == "after back soft waterstone, JIS #1000");
  for (const AnswerTable& t : a.tables) {
    for (const AnswerColumn& c : t.columns) CHECK(c.size() == t.rows());
  }
}

TEST_CASE("the program plans, writes a sheet that fit takes, and refuses what makes no sense",
          "[plan][program]") {
  const Folder folder;
  write(folder / "yard.toml", yard);
  const Outcome planned = run(folder, "plan yard.toml -d 25 --sheet next.csv --json plan.json --quiet");
  INFO(planned.text);
  REQUIRE(planned.code == 0);
  CHECK(planned.text.empty());
  CHECK(folder.names() == std::vector<std::string>{"next.csv", "next.toml", "plan.json", "yard.toml"});
  const auto json = nlohmann::json::parse(contents(folder / "plan.json"));
  CHECK(json["kind"] == "plan");
  CHECK(json["settings"]["filaments"].get<int>() > 0);

  // blank, it is refused with what to do; with readings in the first rows it is taken
  const Outcome blank = run(folder, "fit next.toml --quiet");
  CHECK(blank.code == 3);
  CHECK(has(blank.text, "Fill in the readings"));
  PlanSettings same;  // what the program was asked for
  same.difference_pct = 25.0;
  const Plan plan =
      plan_experiment(loaded().scenario, loaded().fit, loaded().workshop.pace, priors(32), same);
  CHECK(same_text(contents(folder / "next.csv"), run_sheet(plan, "next.toml")));
  CHECK(same_text(contents(folder / "next.toml"), plan_toml(plan, "yard.toml", "next.csv")));
  const std::string sheet = filled(contents(folder / "next.csv"), plan, 2);
  write(folder / "next.csv", sheet);
  const Outcome fitted = run(
      folder, "fit next.toml --free tester.slope_N_per_um --starts 1 --no-profiles --draws 500 --out fit.h5");
  INFO(fitted.text);
  CHECK(fitted.code == 0);
  const std::string taken = fmt::format("{} measurements", plan.sheet.size() / 2);
  CHECK(has(fitted.text, taken));

  // planned on from there: by the readings, and by the draws
  CHECK(has(run(folder, "plan next.toml -d 25").text, "to " + taken));
  const Outcome drawn = run(folder, "plan yard.toml --fit fit.h5 -d 25");
  CHECK(drawn.code == 0);
  CHECK(has(drawn.text, "posterior draws of 1 parameters, fitted to " + taken));

  struct Case {
    std::string words;
    int         code;
    std::string told;
  };
  REQUIRE(run(folder, "plan yard.toml -d 25 --out plan.h5 --quiet").code == 0);
  const std::vector<Case> cases{
      {"plan yard.toml --edges 1", 2, "[too-few-edges]"},
      {"plan yard.toml --power 1", 2, "--power 1 must be a number (allowed: 0.1 … 0.999) [bad-option]"},
      {"plan yard.toml --difference 0", 2,
       "--difference 0 must be a number (allowed: 0.1 … 1000) [bad-option]"},
      {"plan yard.toml --difference ten", 2, "[bad-option]"},
      {"plan yard.toml --difference nan", 2, "[bad-option]"},
      {"plan yard.toml --groups long,shrt", 2, "Did you mean \"short\"?"},
      {"plan yard.toml --groups long", 2, "[too-few-groups]"},
      {"plan yard.toml --at strokes", 2, "(allowed: passes or laps) [bad-option]"},
      {"plan yard.toml --operators A,A", 2, "[bad-option]"},
      {"plan yard.toml --sheet sheet.txt", 2, "(allowed: a name that ends in .csv) [bad-option]"},
      {"plan yard.toml --sheet next.csv", 2, "[would-overwrite]"},
      {"plan yard.toml --sheet yard.csv", 2, "[would-overwrite]"},  // yard.toml would be lost
      {"plan yard.toml --fit none.h5", 3, "[no-such-file]"},
      {"plan yard.toml --fit plan.h5", 3, "[not-a-fit]"},
  };
  for (const Case& c : cases) {
    INFO(c.words);
    const Outcome outcome = run(folder, c.words);
    INFO(outcome.text);
    CHECK(outcome.code == c.code);
    CHECK(has(outcome.text, c.told));
  }
  CHECK(contents(folder / "yard.toml") == yard);
  CHECK(contents(folder / "next.csv") == sheet);
  // a fit of another campaign: one of its parameters is none of this
  const std::string settling = with(yard, "[route.long]", "[wear]\nlaw = \"settling\"\n[route.long]");
  write(folder / "settling.toml",
        with(with(contents(folder / "next.toml"), "yard.toml", "settled.toml"), "next.csv", "few.csv"));
  write(folder / "settled.toml", settling);
  std::string few;  // eight rows, every other one blank
  int         rows = -1;
  for (const std::string& line : lines(sheet)) {
    if (line.starts_with('#') || rows++ < 8) few += line + "\n";
  }
  write(folder / "few.csv", few);
  const Outcome refit = run(
      folder,
      "fit settling.toml --free wear.settle_um --quiet --starts 1 --no-profiles --draws 100 --out other.h5");
  INFO(refit.text);
  REQUIRE(refit.code == 0);
  const Outcome foreign = run(folder, "plan yard.toml --fit other.h5");
  INFO(foreign.text);
  CHECK(foreign.code == 3);
  CHECK(has(foreign.text, "[another-campaign]"));

  // a fit of this campaign serves another edge of it, and a tool that goes by another name
  const std::string added =
      yard + "[edge.new]\ntool = \"iron\"\nroute = \"short\"\nsteps = [ { read = \"new\" } ]\n";
  write(folder / "added.toml", added);
  CHECK(run(folder, "forecast added.toml --fit fit.h5 --members 20 --limit 300 --edge L").code == 0);
  // but not one in which something that the fit held fixed has changed
  struct Change {
    std::string what, old, now, told;
  };
  const std::vector<Change> changes{
      {"tool", "micro_bevel_deg = 30", "micro_bevel_deg = 33",
       "tool.iron.micro_bevel_deg is 33 here and 30 in the fit"},
      {"tester", "[route.long]", "[tester]\nsaturation_N = 9\n[route.long]",
       "tester.saturation_N is 9 here and "},
      {"coefficients", "[route.long]", "[coefficients]\ndub_share = 0.5\n[route.long]",
       "coefficients.dub_share is 0.5 here and "},
      {"law", "[route.long]", "[wear]\nlaw = \"settling\"\n[route.long]",
       "the wear law is settling here, and was "}};
  for (const Change& change : changes) {
    INFO(change.what);
    write(folder / "changed.toml", with(yard, change.old, change.now));
    for (const std::string command : {"forecast changed.toml --limit 300", "compare changed.toml"}) {
      const Outcome refused = run(folder, command + " --fit fit.h5 --members 20");
      INFO(refused.text);
      CHECK(refused.code == 3);
      CHECK(has(refused.text, "[another-campaign]"));
      CHECK(has(refused.text, change.told));
      CHECK(has(refused.text, "give it another name"));
    }
  }
}

TEST_CASE("where no edge follows a route, a plan tells ways of sharpening apart", "[plan]") {
  const std::string stone = "{ hone = \"soft waterstone, JIS #1000\", strokes = 20 }";
  const std::string wood  = "{ cut = \"sugar maple\", passes = 60 }";
  std::string       text  = desk::iron;
  const auto        edge  = [&](const std::string& name, const std::string& strop) {
    text += fmt::format("[edge.{}]\ntool = \"iron\"\nsteps = [{}, {}{}]\n", name, stone, strop, wood);
  };
  edge("A1", "");
  edge("A2", "");
  edge("B1", "{ strop = \"thin hide on wood\", laps = 20 }, ");
  edge("B2", "{ strop = \"thin hide on wood\", laps = 20 }, ");
  bool                     same_tool = false;
  std::vector<std::string> names;
  for (const PlanGroup& group : groups_of(desk::load(text).scenario, {}, same_tool))
    names.push_back(group.name);
  CHECK(names == std::vector<std::string>{"A1", "B1"});
  CHECK(same_tool);
  text.resize(text.find("[edge.B1]"));
  CHECK_THROWS_WITH(groups_of(desk::load(text).scenario, {}, same_tool),
                    Catch::Contains("\"A1\" is the only group"));
}
