// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <set>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/certainty.hpp"
#include "sim/figures/dots.hpp"
#include "sim/figures/palette.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/input/by_cause.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/misses_said.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/report/page.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/studies/compare/way_names.hpp"
#include "sim/studies/readings/read_campaign.hpp"
#include "sim/studies/upkeep/upkeep.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

const std::string hone_1000 = "{ hone = \"soft waterstone, JIS #1000\", strokes = 30 },\n  ";
const std::string hone_8000 = "{ hone = \"hard waterstone, JIS #8000\", strokes = 30 },\n  ";
const std::string on_hide   = "{ strop = \"thin hide on wood\", laps = 20 },\n  ";
const std::string read_off  = "{ read = \"off the stone\" },\n  ";
const std::string in_oak    = "{ cut = \"white oak\", passes = 100 },\n";

std::string bench_edge(const std::string& name, const std::string& steps, const std::string& route) {
  return fmt::format("[edge.{}]\ntool = \"iron\"\nroute = \"{}\"\nsteps = [\n  {}]\n", name, route, steps);
}

const std::string routes = "[route.stone]\nsteps = [" + hone_1000 + "]\n[route.\"fine finish\"]\nsteps = [" +
                           hone_8000 +
                           "]\n[route.plate]\nsteps = [{ hone = \"plated diamond, 25 µm\", strokes = 30 }]\n";
const std::string finish = "{ follow = \"fine finish\" },\n  ";

// three edges of a stone, one of them with another stone behind it, and two of a plate
std::string six_edges() {
  return iron + routes + bench_edge("A", read_off + on_hide + in_oak, "stone") +
         bench_edge("B", read_off + on_hide + in_oak, "stone") +
         bench_edge("C", finish + read_off + on_hide + in_oak, "stone") +
         bench_edge("D", read_off + on_hide + in_oak, "plate") +
         bench_edge("E", read_off + on_hide + in_oak, "plate");
}

std::vector<WaySteps> ways_before_the_cut(const Loaded& loaded) {
  std::vector<WaySteps> ways;
  for (const EdgePlan& plan : loaded.scenario.edges) {
    std::size_t cut = 0;
    while (cut < plan.steps.size() && !std::holds_alternative<CutStep>(plan.steps[cut])) ++cut;
    ways.push_back(steps_before(plan, cut));
  }
  return ways;
}

}  // namespace

TEST_CASE("words for how likely something is have the bounds that were published", "[words]") {
  // Mastrandrea et al. 2010, table 1
  CHECK(likelihood_word(0.99) == "virtually certain");
  CHECK(likelihood_word(0.9899) == "very likely");
  CHECK(likelihood_word(0.90) == "very likely");
  CHECK(likelihood_word(0.8999) == "likely");
  CHECK(likelihood_word(0.66) == "likely");
  CHECK(likelihood_word(0.50) == "about as likely as not");
  CHECK(likelihood_word(0.33) == "about as likely as not");
  CHECK(likelihood_word(0.32) == "unlikely");
  CHECK(likelihood_word(0.09) == "very unlikely");
  CHECK(likelihood_word(0.009) == "exceptionally unlikely");
  CHECK(likelihood(0.93) == "very likely (93 %)");
  // a thousand models make nothing certain
  CHECK(likelihood(1.0) == "virtually certain (over 99 %)");
  CHECK(likelihood(0.0) == "exceptionally unlikely (below 1 %)");
  CHECK(likelihood(not_given) == "not known");
  for (const double share : {0.995, 0.95, 0.7, 0.5, 0.2, 0.05, 0.001})
    CHECK(likelihood_scale().find(likelihood_word(share)) != std::string::npos);
}

TEST_CASE("a way is all that is done before the first cut, by the shortest words", "[compare][words]") {
  const Loaded loaded = load(six_edges());
  const auto   names  = way_names(ways_before_the_cut(loaded));
  CHECK(names[2] == "stone then hard waterstone, JIS #8000 + thin hide on wood");
  CHECK(names[3].rfind("plate + thin hide on wood", 0) == 0);
  // laps and compounds only where nothing shorter tells ways apart
  const Loaded laps =
      load(iron + routes + bench_edge("A", on_hide + in_oak, "stone") +
           bench_edge("B", "{ strop = \"thin hide on wood\", laps = 60 },\n  " + in_oak, "stone") +
           bench_edge("C", "{ strop = \"MDF\", laps = 60 },\n  " + in_oak, "stone"));
  CHECK(way_names(ways_before_the_cut(laps)) == std::vector<std::string>{"stone + thin hide on wood, 20 laps",
                                                                         "stone + thin hide on wood, 60 laps",
                                                                         "stone + MDF"});
  const Loaded compounds =
      load(iron + routes + bench_edge("A", on_hide + in_oak, "stone") +
           bench_edge(
               "B", "{ strop = \"thin hide on wood\", compound = \"diamond 1 µm\", laps = 20 },\n  " + in_oak,
               "stone"));
  CHECK(way_names(ways_before_the_cut(compounds)) ==
        std::vector<std::string>{"stone + thin hide on wood, bare",
                                 "stone + thin hide on wood with diamond 1 µm"});
  // once for strops that follow one another alike, as an edge that is touched up often has them
  const Loaded often =
      load(iron + routes + bench_edge("A", on_hide + on_hide + on_hide + in_oak, "stone") +
           bench_edge("B", on_hide + on_hide + "{ strop = \"MDF\", laps = 60 },\n  " + in_oak, "stone"));
  CHECK(way_names(ways_before_the_cut(often)) ==
        std::vector<std::string>{"stone + thin hide on wood, 3 times",
                                 "stone + thin hide on wood, 2 times + MDF"});
}

TEST_CASE("edges are put together only where all that was done before is the same", "[compare][words]") {
  const Loaded loaded = load(six_edges());
  const auto   readings =
      parse_readings("r.csv",
                     "edge,step,reading_gf\nA,off the stone,200\nA,off the stone,210\n"
                     "B,off the stone,220\nB,off the stone,230\nC,off the stone,120\nC,off the stone,125\n"
                     "D,off the stone,300\nD,off the stone,310\nE,off the stone,330\nE,off the stone,335\n",
                     loaded.scenario);
  std::vector<std::string> too_few;
  const auto               found = measured_differences(loaded.scenario, readings, 0.1, too_few);
  REQUIRE(found.size() == 3);
  CHECK(found[0].first == "stone");
  CHECK(found[0].second == "stone then hard waterstone, JIS #8000");
  CHECK(found[0].moment == "off the stone");
  CHECK(found[1].second == "plate");
  // C is not among the edges of the stone
  CHECK(found[1].edges_first == 2);
  CHECK(found[1].mean_first_gf == Approx(std::pow(200.0 * 210.0 * 220.0 * 230.0, 0.25)).epsilon(1e-9));
  CHECK(too_few == std::vector<std::string>{"stone then hard waterstone, JIS #8000"});
}

TEST_CASE("readings stand side by side before any model", "[readings][words]") {
  std::string text = iron + routes, csv = "edge,step,passes,reading_gf,operator\n";
  for (int i = 0; i < 7; ++i) {
    text += bench_edge(fmt::format("A{}", i), read_off + on_hide + "{ read = \"stropped\" },\n  " + in_oak,
                       "stone");
    // A6 was stropped with a burr on, which the wood takes off
    const double stropped = i == 6 ? 260.0 : 120.0 + i, worn = 140.0 + i;
    for (const double luck : {0.99, 1.01}) {
      csv += fmt::format("A{},off the stone,,{},K\n", i, luck * (200.0 + i));
      csv += fmt::format("A{},stropped,,{},K\n", i, luck * stropped);
      csv += fmt::format("A{},,100,{},K\n", i, luck * worn);
    }
  }
  text += bench_edge("P", read_off + on_hide + "{ read = \"stropped\" },\n  " + in_oak, "plate");
  csv += "P,stropped,,180,K\nP,stropped,,182,K\n";
  const Loaded loaded   = load(text);
  const auto   readings = parse_readings("r.csv", csv, loaded.scenario);
  const auto   c        = read_campaign(loaded.scenario, readings, nullptr, 1);
  CHECK(c.moments == std::vector<std::string>{"off the stone", "stropped", "100 passes"});
  CHECK(c.ready == "stropped");
  CHECK(c.readings == 44);
  CHECK(c.edges == 8);
  REQUIRE(c.less.size() == 1);
  CHECK(c.less[0].edge == "A6");
  CHECK(c.less[0].ratio == Approx(146.0 / 260.0).epsilon(1e-9));
  std::set<std::string> apart;
  for (const StandsApart& a : c.apart) apart.insert(a.edge);
  CHECK(apart == std::set<std::string>{"A6"});
  // seven edges of one way leave six degrees of freedom, and the single one of the other takes their scatter
  REQUIRE(c.differences.size() == 1);
  CHECK(c.edge_dof == 6.0);
  CHECK(c.differences[0].other == "plate + thin hide on wood");
  CHECK(c.differences[0].low < c.differences[0].ratio);
  CHECK(c.differences[0].ratio < c.differences[0].high);
  const Answer      answer = readings_answer(c, readings, loaded.scenario, "r.csv");
  const std::string told   = answer_text(answer);
  INFO(told);
  CHECK(told.find("nan") == std::string::npos);
  CHECK(std::any_of(answer.remarks.begin(), answer.remarks.end(), [](const std::string& remark) {
    return remark.find("most likely a burr that was left on it and wore off") != std::string::npos;
  }));
  CHECK(answer.headline.rfind("44 readings of 8 edges at 3 moments, by K.", 0) == 0);
  CHECK(column(answer.table("readings"), "reading_gf").numbers.size() == 44);
  CHECK_FALSE(c.all_equal);
  // readings filled down a column were not measured, and nothing else is said of them
  auto equal = readings;
  for (Reading& r : equal) r.reading_N = laws::in_newton(150.0);
  const Answer of_equal =
      readings_answer(read_campaign(loaded.scenario, equal, nullptr, 1), equal, loaded.scenario, "r.csv");
  CHECK(of_equal.headline.find("All 44 readings are 150 gf.") != std::string::npos);
  CHECK(of_equal.headline.find("lowest") == std::string::npos);
  CHECK(of_equal.headline.find("differ by 0 %") == std::string::npos);
  // of readings in another unit the first sentences say so
  auto half = readings;
  for (std::size_t i = 0; i < half.size(); i += 2) half[i].reading_N /= 101.97;
  CHECK(readings_answer(read_campaign(loaded.scenario, half, nullptr, 1), half, loaded.scenario, "r.csv")
            .headline.find("they look like newtons in a column of gram-force") != std::string::npos);
  // beside a model, a fall that it does not have is a misfit
  const auto beside = read_campaign(loaded.scenario, readings, &loaded.scenario, 1);
  CHECK(beside.has_model);
  CHECK(beside.cells.front().model_gf > 0.0);
}

TEST_CASE("moments that are called by their passes stand in the order of these", "[words]") {
  std::string text = iron;
  for (const char* name : {"A", "B"})
    text += fmt::format("[edge.{}]\ntool = \"iron\"\nsteps = [ {{ cut = \"sugar maple\", passes = 200 }} ]\n",
                        name);
  const Loaded         loaded = load(text);
  std::vector<Reading> readings;
  const auto           add = [&](int edge, double passes) {
    Reading r;
    r.edge        = edge;
    r.moment      = {0, passes};
    r.moment_name = fmt::format("{:g} passes", passes);
    r.reading_N   = laws::in_newton(100.0 + passes + edge);
    readings.push_back(r);
  };
  for (const double passes : {0.0, 15.0, 60.0, 120.0}) add(0, passes);
  for (const double passes : {0.0, 30.0, 90.0, 120.0}) add(1, passes);
  CHECK(
      read_campaign(loaded.scenario, readings, nullptr, 1).moments ==
      std::vector<std::string>{"0 passes", "15 passes", "30 passes", "60 passes", "90 passes", "120 passes"});
}

TEST_CASE("one cause is told once, with the lines where it is", "[config][words]") {
  std::string text = iron;
  for (int i = 0; i < 12; ++i)
    text +=
        fmt::format("[edge.E{}]\ntool = \"iron\"\nsteps = [\n  {{ cut = \"oakwood\", passes = 9 }},\n]\n", i);
  const Error error = error_of([&] { (void)load(text); });
  REQUIRE(error.diagnostics().size() == 1);
  const Diagnostic& d = error.diagnostics().front();
  CHECK(d.code == "unknown-wood");
  CHECK(d.line == 10);
  CHECK(d.cause.find("The same in lines 15, 20,") != std::string::npos);
  CHECK(d.cause.find("and 3 more") != std::string::npos);
  // faults that differ stay
  CHECK(by_cause({{.code = "a", .what = "x", .line = 1}, {.code = "a", .what = "y", .line = 2}}).size() == 2);
}

TEST_CASE("names that people use are found, or get a suggestion", "[config][words]") {
  const auto next = [](const std::string& steps) {
    return error_of([&] { (void)load(shop(steps)); }).diagnostics().front().next;
  };
  CHECK(next("{ strop = \"leather\", laps = 5 },").find("\"thin hide on wood\"") != std::string::npos);
  CHECK(next("{ cut = \"beech\", passes = 5 },").find("\"American beech\"") != std::string::npos);
  const std::string oak = next("{ cut = \"European oak\", passes = 5 },");
  CHECK(oak.find("\"white oak\"") != std::string::npos);
  CHECK(oak.find("\"northern red oak\"") != std::string::npos);
  CHECK(next("{ cut = \"suger maple\", passes = 5 },").find("Did you mean \"sugar maple\"?") == 0);
  CHECK_NOTHROW(load(shop("{ strop = \"MDF\", compound = \"green compound\", laps = 5 },")));
  for (const char* steel : {"1.2379", "100Cr6", "HS6-5-4", "A11"})
    CHECK_NOTHROW(load(shop(one_hone, with(iron, "\"O1\"", fmt::format("\"{}\"", steel)))));
}

TEST_CASE("every reading is a dot, and maps stay light where an edge is sharp", "[figures][words]") {
  figures::DotFigure f{.title = "t", .x_label = "gf", .limit = 200.0, .limit_says = "limit"};
  f.groups.push_back(
      {"stropped",
       {{"A", "stone", {120.0, 130.0}, {}, 125.0, not_given}, {"B", "", {150.0}, {}, 150.0, 140.0}}});
  for (const double width : {720.0, 350.0}) {
    const std::string svg  = figures::dots_svg(f, width, "d");
    int               dots = 0;
    for (auto at = svg.find("<circle"); at != std::string::npos; at = svg.find("<circle", at + 1)) ++dots;
    // three readings and one of the model, and two of the key
    CHECK(dots == 3 + 1 + 2);
  }
  const std::string style = figures::figure_style();
  CHECK(style.find("prefers-color-scheme:dark){.fig .step-0{fill-opacity:0.95}") != std::string::npos);
}

TEST_CASE("a model is no surer than the readings of the same two ways", "[compare][words]") {
  // a great difference by the model; of the readings two edges of each say little, as they differ as much
  const std::string read_ready = "{ read = \"ready\" },\n  ";
  const Loaded      loaded     = load(iron + routes + bench_edge("A", read_ready + in_oak, "stone") +
                                      bench_edge("B", read_ready + in_oak, "stone") +
                                      bench_edge("C", on_hide + read_ready + in_oak, "stone") +
                                      bench_edge("D", on_hide + read_ready + in_oak, "stone"));
  const auto        readings   = parse_readings(
               "r.csv", "edge,step,reading_gf\nA,ready,200\nB,ready,300\nC,ready,180\nD,ready,290\n", loaded.scenario);
  const Ensemble           draws = prior_ensemble(loaded.scenario, {}, 60, 3);
  std::vector<std::size_t> all{0, 1, 2, 3};
  CompareSettings          settings;
  settings.life.limit_N = laws::in_newton(400.0);
  const auto alone      = compare_ways(loaded.scenario, loaded.workshop, draws, all, {}, settings);
  const auto read       = compare_ways(loaded.scenario, loaded.workshop, draws, all, readings, settings);
  REQUIRE(alone.ways.size() == 2);
  CHECK(std::isnan(alone.ways[1].claim.read_below));
  // s² = (ln(300/200)²/2 + ln(290/180)²/2)/2 with 2 degrees of freedom, standard error s
  const double low = std::log(300.0 / 200.0), high = std::log(290.0 / 180.0);
  const double s = std::sqrt((0.5 * low * low + 0.5 * high * high) / 2.0);
  const double t = 0.5 * std::log(180.0 * 290.0 / (200.0 * 300.0)) / s;
  // Student's t with two degrees of freedom: P(T > t) = 1/2 − t/(2·√(2 + t²))
  const double by_hand = 0.5 - t / (2.0 * std::sqrt(2.0 + t * t));
  CHECK(read.ways[1].claim.read_below == Approx(by_hand).epsilon(1e-9));
  CHECK(alone.ways[1].claim.below > by_hand);
  CHECK(read.ways[1].claim.below == Approx(by_hand).epsilon(1e-9));
  CHECK(read.ways[1].claim.evidence == Evidence::readings);
}

namespace {

const std::string read_when_ready = "{ read = \"ready\" },\n  ";

// two edges of a stone and two of a stone and a strop, on an iron; one of a plate, on a chisel that is wider
std::string two_ways_and_a_chisel() {
  return iron + "[tool.chisel]\nsteel = \"O1\"\nwidth_mm = 60\nthickness_mm = 3\nprimary_bevel_deg = 25\n" +
         "micro_bevel_deg = 30\n" + routes + bench_edge("A", read_when_ready + in_oak, "stone") +
         bench_edge("B", read_when_ready + in_oak, "stone") +
         bench_edge("C", on_hide + read_when_ready + in_oak, "stone") +
         bench_edge("D", on_hide + read_when_ready + in_oak, "stone") +
         with(bench_edge("E", read_when_ready + in_oak, "plate"), "\"iron\"", "\"chisel\"");
}

struct Compared {
  Comparing found;
  Answer    answer;
};

Compared compared_with(const std::string& csv) {
  const Loaded    loaded   = load(two_ways_and_a_chisel());
  const auto      readings = parse_readings("r.csv", csv, loaded.scenario);
  const Ensemble  draws    = prior_ensemble(loaded.scenario, {}, 60, 3);
  CompareSettings settings;
  settings.life.limit_N = laws::in_newton(400.0);
  Compared out;
  out.found  = compare_ways(loaded.scenario, loaded.workshop, draws, {0, 1, 2, 3, 4}, readings, settings);
  out.answer = compare_answer(out.found, loaded.workshop, draws);
  return out;
}

}  // namespace

TEST_CASE("where ways were read by different people, the readings cannot tell, and no certainty is named",
          "[compare][words]") {
  const auto c = compared_with(
      "edge,step,reading_gf,operator\nA,ready,200,K\nB,ready,210,K\nC,ready,110,M\nD,ready,115,M\n");
  const Claim& claim = c.found.ways[1].claim;
  CHECK(claim.evidence == Evidence::confounded);
  CHECK(claim.with == std::vector<std::string>{"operators"});
  CHECK(std::isnan(claim.below));
  CHECK(std::isnan(claim.within));
  const std::string verdict = column(c.answer.table("against"), "verdict").texts[1];
  CHECK(verdict.rfind(
            "the readings cannot tell, as the two were read by different operators; by the model alone", 0) ==
        0);
  CHECK(std::isnan(column(c.answer.table("ways"), "below_reference").numbers[1]));
  // nor do the readings beside each other
  const Loaded loaded   = load(two_ways_and_a_chisel());
  const auto   readings = parse_readings(
        "r.csv", "edge,step,reading_gf,operator\nA,ready,200,K\nB,ready,210,K\nC,ready,110,M\nD,ready,115,M\n",
        loaded.scenario);
  const ReadCampaign read = read_campaign(loaded.scenario, readings, nullptr, 1);
  REQUIRE(read.differences.size() == 1);
  CHECK(read.differences[0].with == std::vector<std::string>{"operators"});
  const Answer side = readings_answer(read, readings, loaded.scenario, "r.csv");
  CHECK(side.headline.find("read by different operators than it, so that the readings cannot tell") !=
        std::string::npos);
  CHECK(side.headline.find("by more than edges differ") == std::string::npos);
  // at 0 passes an edge is as ready as before them
  const auto at_none =
      compared_with("edge,passes,reading_gf,operator\nA,0,200,K\nB,0,210,K\nC,0,110,M\nD,0,115,M\n");
  CHECK(at_none.found.ways[1].claim.evidence == Evidence::confounded);
  CHECK(at_none.found.ways[1].read_gf == Approx(std::sqrt(110.0 * 115.0)));
  // by one person they tell
  CHECK(compared_with(
            "edge,step,reading_gf,operator\nA,ready,200,K\nB,ready,210,K\nC,ready,110,K\nD,ready,115,K\n")
            .found.ways[1]
            .claim.evidence == Evidence::readings);
}

TEST_CASE("where model and readings disagree, that is said, and not that both are as likely",
          "[compare][words]") {
  // by the model a strop makes it sharper; it was read otherwise
  const auto c = compared_with(
      "edge,step,reading_gf,operator\nA,ready,100,K\nB,ready,104,K\nC,ready,200,K\nD,ready,210,K\n");
  CHECK(c.found.ways[1].claim.evidence == Evidence::contradicted);
  CHECK(std::isnan(c.found.ways[1].claim.below));
  const std::string verdict = column(c.answer.table("against"), "verdict").texts[1];
  CHECK(verdict.rfind("the model and the readings disagree, as it was read 101 % more", 0) == 0);
}

TEST_CASE("of ways that were not read together the model speaks alone, no surer than readings would be",
          "[compare][words]") {
  // edge E was read, but on another blade than the one of the comparison
  const auto c = compared_with(
      "edge,step,reading_gf,operator\nA,ready,150,K\nB,ready,260,K\nC,ready,110,K\nD,ready,170,K\nE,ready,300,K\n");
  REQUIRE(c.found.tool == "iron");
  REQUIRE(c.found.ways.size() == 3);
  const Way& plate = c.found.ways[2];
  CHECK(plate.claim.evidence == Evidence::model);
  CHECK(std::isnan(plate.read_gf));
  const double ab = std::log(260.0 / 150.0), cd = std::log(170.0 / 110.0);
  const double s = std::sqrt((0.5 * ab * ab + 0.5 * cd * cd) / 2.0);
  // one edge of each, standard error s·√2, two degrees of freedom
  const double t       = std::log(plate.ratio.middle) / (s * std::sqrt(2.0));
  const double allowed = 0.5 - t / (2.0 * std::sqrt(2.0 + t * t));
  CHECK(std::abs(plate.claim.below - 0.5) <= std::abs(allowed - 0.5) + 1e-9);
  const std::string verdict = column(c.answer.table("against"), "verdict").texts[2];
  CHECK(verdict.rfind("by the model alone, ", 0) == 0);
  CHECK(verdict.find("virtually certain") == std::string::npos);
}

TEST_CASE("means of edges are no better known than their readings scatter", "[readings][words]") {
  const Loaded loaded = load(two_ways_and_a_chisel());
  // edges of a way have one mean, of two readings that are far apart
  const double far      = 1.3;
  std::string  csv      = "edge,step,reading_gf\n";
  const auto   add_pair = [&](const char* edge, double mean) {
    csv += fmt::format("{0},ready,{1}\n{0},ready,{2}\n", edge, mean * far, mean / far);
  };
  add_pair("A", 200.0);
  add_pair("B", 201.0);
  add_pair("C", 150.0);
  add_pair("D", 151.0);
  const auto read = read_campaign(loaded.scenario, parse_readings("r.csv", csv, loaded.scenario), nullptr, 1);
  // variance of a reading: 2·ln²1.3 from one degree of freedom an edge; half of that is left to the mean of two
  CHECK(read.edge_sd == Approx(std::log(far)).epsilon(1e-9));
  CHECK(read.edges_alike_sd < 0.01);
}

TEST_CASE("a force that differs stands in the name of a way", "[compare][words]") {
  const auto strop = [](int newton, int laps) {
    return fmt::format("{{ strop = \"thin hide on wood\", laps = {}, force_N = {} }},\n  ", laps, newton);
  };
  const Loaded loaded = load(iron + routes + bench_edge("A", strop(10, 20) + in_oak, "stone") +
                             bench_edge("B", strop(6, 20) + in_oak, "stone"));
  CHECK(way_names(ways_before_the_cut(loaded)) ==
        std::vector<std::string>{"stone + thin hide on wood at 10 N", "stone + thin hide on wood at 6 N"});
  const Loaded three = load(iron + routes + bench_edge("A", strop(10, 20) + in_oak, "stone") +
                            bench_edge("B", strop(6, 20) + in_oak, "stone") +
                            bench_edge("C", strop(10, 30) + in_oak, "stone"));
  CHECK(way_names(ways_before_the_cut(three)) ==
        std::vector<std::string>{"stone + thin hide on wood, 20 laps at 10 N",
                                 "stone + thin hide on wood, 20 laps at 6 N",
                                 "stone + thin hide on wood, 30 laps at 10 N"});
  // and where it differs beside other things, a sentence says so
  const Loaded other =
      load(iron + routes + bench_edge("A", strop(10, 20) + in_oak, "stone") +
           bench_edge("B", "{ strop = \"MDF\", laps = 20, force_N = 6 },\n  " + in_oak, "stone"));
  const Ensemble  alone = single_member(other.scenario);
  CompareSettings settings;
  settings.life.limit_N = laws::in_newton(400.0);
  const auto answer     = compare_answer(
          compare_ways(other.scenario, other.workshop, alone, {0, 1}, {}, settings), other.workshop, alone);
  CHECK(std::any_of(answer.remarks.begin(), answer.remarks.end(), [](const std::string& remark) {
    return remark.find("6 N (B) and 10 N (A)") != std::string::npos;
  }));
}

TEST_CASE("ways of the blade of the comparison come first, and one of them is the reference",
          "[compare][words]") {
  const std::string chisel =
      "[tool.chisel]\nsteel = \"O1\"\nwidth_mm = 20\nthickness_mm = 3\nprimary_bevel_deg = 25\n"
      "micro_bevel_deg = 30\n";
  const auto   on_chisel = [](std::string text) { return with(std::move(text), "\"iron\"", "\"chisel\""); };
  const Loaded loaded    = load(iron + chisel + routes + bench_edge("A", in_oak, "stone") +
                                on_chisel(bench_edge("B", on_hide + in_oak, "stone")) +
                                on_chisel(bench_edge("C", in_oak, "plate")));
  CompareSettings settings;
  settings.life.limit_N = laws::in_newton(400.0);
  const auto c =
      compare_ways(loaded.scenario, loaded.workshop, single_member(loaded.scenario), {0, 1, 2}, {}, settings);
  CHECK(c.tool == "chisel");
  CHECK(c.ways.front().edges == std::vector<std::string>{"B"});
  CHECK(c.ways.back().edges == std::vector<std::string>{"A"});
}

TEST_CASE("what a fit misses stands whole in one section of a page", "[report][words]") {
  const std::string whole =
      std::string(misses_lead) + " Edges of route film read 35 % less than the model says.";
  const auto section = [](const char* kind, std::string answer) {
    report::Section s;
    s.kind   = kind;
    s.answer = std::move(answer);
    return s;
  };
  report::Page page;
  page.sections = {section("forecast", "It lasts. " + whole), section("compare", "It is sharp. " + whole)};
  page.verdict =
      report::Verdict{.question = "?", .sentence = "!", .figure = {}, .certainty = {whole}, .next = {}};
  report::say_misses_once(page);
  CHECK(page.sections[0].answer == "It lasts. " + whole);  // without the fit it stands where it is
  page.sections.push_back(
      section("fit", "6 parameters. Edges of route film read 35 % less than the model says."));
  report::say_misses_once(page);
  CHECK(page.sections[0].answer == std::string("It lasts. ") + misses_elsewhere);
  CHECK(page.sections[1].answer == std::string("It is sharp. ") + misses_elsewhere);
  CHECK(page.verdict->certainty.front() == misses_elsewhere);
  CHECK(page.sections[2].answer.find("35 % less") != std::string::npos);
}

TEST_CASE("a life over a touch-up is said to be one", "[simulation][words]") {
  const Loaded loaded =
      load("[output]\nreading_limit_gf = 230\n" + iron + "[edge.A]\ntool = \"iron\"\nsteps = [\n  " +
           hone_1000 + "{ back = \"soft waterstone, JIS #1000\", strokes = 20 },\n  " + on_hide + in_oak +
           on_hide + "{ cut = \"white oak\", passes = 5000 },\n]\n");
  const SimulationResult result = simulate(loaded.scenario, 1);
  REQUIRE(result.edges.front().life.reached);
  REQUIRE(result.edges.front().life.passes > 100.0);
  CHECK(simulation_overview(loaded, result).find(", touched up") != std::string::npos);
  CHECK(edge_text(loaded, result.edges.front()).find("touched up on the way") != std::string::npos);
}

TEST_CASE("an edge that starts above the limit, dips and rises again is told as it is",
          "[simulation][words]") {
  // burr left on, a long stretch in wood; the limit between the fresh reading and the lowest
  const std::string steps = hone_1000 + "{ cut = \"sugar maple\", passes = 400 },";
  const Loaded      bare  = load(shop(steps));
  const EdgeResult  edge  = simulate_edge(bare.scenario, bare.scenario.edges.front());
  double            fresh = not_given, least = HUGE_VAL;
  for (const StepSummary& s : edge.steps) {
    if (s.verb == "cut") fresh = s.before.reading_N;
  }
  for (const TrackPoint& p : edge.track) {
    if (p.passes > 0.0) least = std::min(least, p.reading_N);
  }
  REQUIRE(least < 0.9 * fresh);
  const double      limit_gf = std::round(laws::in_gram_force(std::sqrt(least * fresh)));
  const Loaded      loaded   = load(shop(steps) + fmt::format("[output]\nreading_limit_gf = {}\n", limit_gf));
  const auto        result   = simulate(loaded.scenario, 1);
  const std::string answer   = simulation_answer(loaded, result),
                    text     = edge_text(loaded, result.edges.front());
  INFO(answer << "\n" << text);
  CHECK(answer.find("A starts above") != std::string::npos);
  CHECK(answer.find("as the burr wears off") != std::string::npos);
  CHECK(text.find("It starts at") != std::string::npos);
  CHECK(text.find("comes below that after about") != std::string::npos);
  CHECK(text.find("It passes") == std::string::npos);
}

TEST_CASE("the routine that is safe comes first, the bold one second", "[upkeep][words]") {
  const Loaded loaded =
      load(shop(hone_1000 + hone_8000 + "{ back = \"hard waterstone, JIS #8000\", strokes = 10 },\n  " +
                on_hide + in_oak));
  UpkeepSettings settings;
  settings.limit_gf        = 250.0;
  settings.most_stroppings = 2;
  UpkeepResult result = upkeep(loaded.scenario, loaded.scenario.edges.front(), loaded.workshop, settings);
  result.members.resize(200);
  result.caution          = {{result.best.passes, 0.45, 10.0}, {75, 0.95, 13.0}, {50, 1.0, 20.0}};
  const Ensemble ensemble = single_member(loaded.scenario);
  const Answer   answer   = upkeep_answer(result, loaded.workshop, settings, ensemble);
  INFO(answer.headline);
  const auto safe = answer.headline.find("every 75 passes"), bold = answer.headline.find("Bolder");
  CHECK(safe != std::string::npos);
  CHECK(safe < bold);
  CHECK(answer.headline.find("in 190 of 200 versions of the model") < bold);
  CHECK(answer.headline.find("in 90 of 200 versions only") != std::string::npos);
  CHECK(answer.headline.find("never rises above") == std::string::npos);
  // where none is safe it does not sound so
  result.caution             = {{result.best.passes, 0.2, 10.0}, {50, 0.4, 20.0}};
  const std::string doubtful = upkeep_answer(result, loaded.workshop, settings, ensemble).headline;
  CHECK(doubtful.find("The best values of the model alone") != std::string::npos);
  CHECK(doubtful.find("so that none is safe to follow: even ") != std::string::npos);
}
