// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numeric>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/input/readings_csv.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/statistics/t_tests.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/studies/compare/worth.hpp"
#include "sim/studies/costs.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

const std::string stone = "{ hone = \"soft waterstone, JIS #1000\", strokes = 30 },\n  ";
const std::string cut   = "{ cut = \"white oak\", passes = 100 },\n";

std::string edge(const std::string& name, const std::string& steps, const std::string& route = {}) {
  return "[edge." + name + "]\ntool = \"iron\"\n" + (route.empty() ? "" : "route = \"" + route + "\"\n") +
         "steps = [\n  " + steps + "]\n";
}

CompareSettings until(double gf) {
  CompareSettings s;
  s.life.limit_N    = laws::in_newton(gf);
  s.life.limit_name = "as asked";
  return s;
}

Comparing compare_all(const Loaded& loaded, const Ensemble& draws,
                      const std::vector<Reading>& readings = {}) {
  std::vector<std::size_t> all;
  for (std::size_t i = 0; i < loaded.scenario.edges.size(); ++i) all.push_back(i);
  return compare_ways(loaded.scenario, loaded.workshop, draws, all, readings, until(300.0));
}

}  // namespace

TEST_CASE("wear of shoe soles, in pairs and not", "[compare][published]") {
  // MASS, shoes: soles of two materials on the feet of ten boys (Box, Hunter & Hunter 1978); R 4.2.2 (computed)
  const std::vector<double> a{13.2, 8.2, 10.9, 14.3, 10.7, 6.6, 9.5, 10.8, 8.8, 13.3},
      b{14.0, 8.8, 11.2, 14.2, 11.8, 6.4, 9.8, 11.3, 9.3, 13.6};
  const TTest pairs = paired_test(a, b, 0.95);
  CHECK(pairs.difference == Approx(-0.41).epsilon(1e-12));
  CHECK(pairs.t == Approx(-3.3488765).epsilon(2e-8));
  CHECK(pairs.dof == 9.0);
  CHECK(pairs.p == Approx(0.008538781).epsilon(1e-7));
  CHECK(pairs.low == Approx(-0.6869539058).epsilon(1e-9));
  CHECK(pairs.high == Approx(-0.1330460942).epsilon(1e-9));
  const TTest welch = welch_test(a, b);
  // for samples of one size Welch's t is that of pooled scatter; only its degrees of freedom differ
  CHECK(welch.t == Approx(-0.36891055).epsilon(1e-7));
  CHECK(welch.dof < 18.0);
  CHECK(welch.dof > 17.9);
  CHECK(welch.p == Approx(0.716498).epsilon(1e-4));
}

TEST_CASE("two tests to one side say when a difference is surely small", "[compare]") {
  const TTest t = t_test(0.0, 1.0, 1e6);
  // in the limit of the normal distribution: P(Z > 1.6449) = 5 %
  CHECK(t.p_not_equivalent(1.6449) == Approx(0.05).margin(1e-4));
  CHECK(t.p_not_equivalent(1.0) > 0.05);
  CHECK(t_test(1.0, 1.0, 1e6).p_not_equivalent(1.6449) > t.p_not_equivalent(1.6449));
  CHECK_THROWS_AS(welch_test({1.0}, {1.0, 2.0}), std::domain_error);
  CHECK_THROWS_AS(paired_test({1.0, 2.0}, {0.0, 1.0}), std::domain_error);  // differences all the same
}

TEST_CASE("edges that are all sharpened alike are compared by their tools", "[compare]") {
  const std::string hard =
      "[tool.hard]\nsteel = \"M2\"\nwidth_mm = 50\nthickness_mm = 3\nprimary_bevel_deg = 25\nmicro_bevel_deg = 30\n";
  const auto on = [](const std::string& name, const std::string& tool) {
    return with(edge(name, stone + "{ read = \"new\" },\n  " + cut), "\"iron\"", "\"" + tool + "\"");
  };
  const std::string text =
      iron + hard + on("A", "iron") + on("B", "iron") + on("C", "hard") + on("D", "hard");
  const Loaded loaded   = load(text);
  const auto   readings = parse_readings(
        "r.csv", "edge,step,reading_gf\nA,new,200\nB,new,206\nC,new,150\nD,new,154\n", loaded.scenario);
  const Comparing c = compare_all(loaded, single_member(loaded.scenario), readings);
  CHECK(c.by_tool);
  REQUIRE(c.ways.size() == 2);
  CHECK(c.ways[0].edges == std::vector<std::string>{"A", "B"});
  CHECK(c.ways[1].edges == std::vector<std::string>{"C", "D"});
  CHECK(c.ways[0].plan.tool_name == "iron");
  CHECK(c.ways[1].plan.tool_name == "hard");
  CHECK(c.ways[1].read_gf == Approx(std::sqrt(150.0 * 154.0)).epsilon(1e-9));
  // each lives as forecast has it on its own steel
  CHECK(c.ways[0].passes.middle != c.ways[1].passes.middle);
  const Answer answer = compare_answer(c, loaded.workshop, single_member(loaded.scenario));
  INFO(answer_text(answer));
  CHECK(answer.headline.rfind("Ready for work, ", 0) == 0);
  CHECK(answer.headline.find("hard was read lowest, 152 gf") != std::string::npos);
  CHECK(std::any_of(answer.remarks.begin(), answer.remarks.end(), [](const std::string& remark) {
    return remark.rfind("All edges are sharpened alike, so that it is their tools that are compared", 0) == 0;
  }));
  CHECK(column(answer.table("ways"), "tool").texts == std::vector<std::string>{"iron", "hard"});
  // on a tool that is named they are one way
  CompareSettings on_one = until(300.0);
  on_one.tool            = "iron";
  CHECK(error_of([&] {
          (void)compare_ways(loaded.scenario, loaded.workshop, single_member(loaded.scenario), {0, 1, 2, 3},
                             readings, on_one);
        })
            .diagnostics()
            .front()
            .code == "no-ways");
}

TEST_CASE("edges with the same steps follow one way, and each way is run on one tool", "[compare]") {
  const Loaded loaded =
      load(iron + edge("A", stone + "{ read = \"new\" },\n  " + cut) + edge("B", stone + cut) +
           edge("C", stone + "{ strop = \"MDF\", laps = 20 },\n  " + cut));
  const Comparing c = compare_all(loaded, single_member(loaded.scenario));
  REQUIRE(c.ways.size() == 2);
  CHECK(c.ways[0].edges == std::vector<std::string>{"A", "B"});
  CHECK(c.ways[1].edges == std::vector<std::string>{"C"});
  CHECK(c.ways[1].name == "soft waterstone, JIS #1000 + MDF");
  CHECK(c.wood == "white oak");
  CHECK(c.ways[0].strokes == 30.0);
  CHECK(c.ways[1].strokes == 50.0);
  // what the model has of the step is what a simulation has
  const auto simulated = simulate_edge(loaded.scenario, loaded.scenario.edges[2]);
  CHECK(c.ways[1].steps.back().after.reading_N == simulated.steps[1].after.reading_N);
  // members run in lanes, whose radius is that of the scalar path to ten errors of 1e-6; a reading moves no more than it
  CHECK(c.ways[1].reading_N.middle == Approx(simulated.steps[1].after.reading_N).epsilon(1e-5));
  CHECK(c.ways[1].ratio.middle ==
        Approx(c.ways[1].reading_N.middle / c.ways[0].reading_N.middle).epsilon(1e-12));
  const Error one = error_of([&] {
    const Loaded alone = load(iron + edge("A", stone + cut) + edge("B", stone + cut));
    (void)compare_all(alone, single_member(alone.scenario));
  });
  CHECK(one.diagnostics().front().code == "no-ways");
}

TEST_CASE("a way that differs by next to nothing is no difference that matters", "[compare]") {
  const Loaded loaded =
      load(iron + edge("A", stone + cut) +
           edge("B", "{ hone = \"soft waterstone, JIS #1000\", strokes = 30.01 },\n  " + cut));
  const auto draws = prior_ensemble(loaded.scenario, {}, 50, 3);
  const auto c     = compare_all(loaded, draws);
  CHECK(c.ways[1].claim.within == 1.0);
  const std::string text = answer_text(compare_answer(c, loaded.workshop, draws));
  CHECK(text.find("no difference that matters") != std::string::npos);
  CHECK(text.find("nan") == std::string::npos);
  CHECK(text.find("money is left out") != std::string::npos);  // no price and no wage are stated
}

TEST_CASE("time and money of a sharpening are those counted by hand", "[compare][costs]") {
  const Loaded loaded = load(
      "[workshop]\nstrokes_per_minute = 30\nlaps_per_minute = 20\nstep_min = 1\nhone_min = 2\n"
      "wage_per_hour = 30\nusable_blade_mm = 10\n"
      "[price.\"soft waterstone\"]\nprice = 60\nlife_strokes = 6000\n"
      "flatten_every_strokes = 300\nflatten_min = 4\n[price.MDF]\nprice = 8\nlife_strokes = 400\n" +
      iron + edge("A", stone + cut) + edge("B", stone + "{ strop = \"MDF\", laps = 20 },\n  " + cut));
  const Comparing c = compare_all(loaded, single_member(loaded.scenario));
  // 2 to begin, 1 to take up the stone, 30 strokes at 30 a minute, and a tenth of a flattening of 4
  CHECK(c.ways[0].minutes == Approx(2.0 + 1.0 + 1.0 + 0.4).epsilon(1e-12));
  CHECK(c.ways[0].money == Approx(4.4 * 0.5 + 30.0 * 0.01).epsilon(1e-12));
  // and 1 to take up the strop, 20 laps at 20 a minute, which use it up by a twentieth
  CHECK(c.ways[1].minutes == Approx(4.4 + 2.0).epsilon(1e-12));
  CHECK(c.ways[1].money == Approx(6.4 * 0.5 + 0.3 + 0.4).epsilon(1e-12));
  CHECK(c.ways[0].sharpenings == Approx(1e4 / c.ways[0].blade_loss_um).epsilon(1e-12));
}

namespace {

// a bench whose minutes and prices are counted by hand; the strop is dear
const std::string priced =
    "[workshop]\nstrokes_per_minute = 30\nlaps_per_minute = 20\nstep_min = 1\nhone_min = 2\nwage_per_hour = 30\n"
    "currency = \"EUR\"\nsharpenings_per_year = 50\n"
    "[price.\"soft waterstone\"]\nprice = 60\nlife_strokes = 6000\nflatten_every_strokes = 300\nflatten_min = 4\n"
    "flatten_price = 2\nsoak_min = 3\nclean_min = 1\n"
    "[price.\"lapping film\"]\nprice = 2\nlife_strokes = 100\nchange_min = 5\n"
    "[price.MDF]\nprice = 800\nlife_strokes = 400\nclean_min = 0.5\n";
const std::string film = "{ hone = \"lapping film, 0.3 µm\", strokes = 20 },\n  ";
// a stone whose burr is taken off on the back, and a film that takes the edge far beyond it
const std::string turned = stone + "{ back = \"soft waterstone, JIS #1000\", strokes = 20 },\n  ";
const std::string finish =
    "{ hone = \"lapping film, 0.3 µm\", strokes = 200 },\n  { back = \"lapping film, 0.3 µm\", strokes = 60 },\n  ";
const std::string mdf = "{ strop = \"MDF\", laps = 20 },\n  ";

CompareSettings a_year(const Loaded& loaded) {
  CompareSettings s = until(300.0);
  s.sharpenings     = loaded.workshop.pace.sharpenings_per_year;
  return s;
}

Comparing compare_year(const Loaded& loaded, const Ensemble& draws) {
  std::vector<std::size_t> all(loaded.scenario.edges.size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  return compare_ways(loaded.scenario, loaded.workshop, draws, all, {}, a_year(loaded));
}

double number_in(const Answer& answer, const std::string& table, const std::string& name, std::size_t row) {
  return column(answer.table(table), name).numbers.at(row);
}

}  // namespace

TEST_CASE("soaking, cleaning, changing and flattening are counted part by part", "[compare][costs]") {
  const Loaded loaded = load(priced + iron + edge("A", stone + cut) + edge("B", stone + film + mdf + cut));
  const Answer answer = compare_answer(compare_year(loaded, single_member(loaded.scenario)), loaded.workshop,
                                       single_member(loaded.scenario));
  // stone: 2 to begin, 1 to take it up, 3 to soak, 1 to clean; 30 strokes; a tenth of a flattening, which uses up a tenth of 2
  CHECK(number_in(answer, "costs", "handling_min", 0) == Approx(7.0).epsilon(1e-12));
  CHECK(number_in(answer, "costs", "working_min", 0) == Approx(1.0).epsilon(1e-12));
  CHECK(number_in(answer, "costs", "flatten_min", 0) == Approx(0.4).epsilon(1e-12));
  CHECK(number_in(answer, "costs", "media", 0) == Approx(0.3).epsilon(1e-12));
  CHECK(number_in(answer, "costs", "flatten", 0) == Approx(0.2).epsilon(1e-12));
  CHECK(number_in(answer, "costs", "money", 0) == Approx(0.3 + 0.2 + 8.4 * 0.5).epsilon(1e-12));
  // and the film: 1 to take it up, a fifth of a sheet of 2 that takes a fifth of 5 minutes to change; the strop: 1.5 and 40
  CHECK(number_in(answer, "costs", "handling_min", 1) == Approx(7.0 + 1.0 + 1.0 + 1.5).epsilon(1e-12));
  CHECK(number_in(answer, "costs", "media", 1) == Approx(0.3 + 0.4).epsilon(1e-12));
  CHECK(number_in(answer, "costs", "strops", 1) == Approx(40.0).epsilon(1e-12));
  // a year is fifty of them, and its parts are all of it
  for (std::size_t way : {0U, 1U}) {
    CHECK(number_in(answer, "costs", "money_per_year", way) ==
          Approx(50.0 * number_in(answer, "costs", "money", way)).epsilon(1e-12));
    CHECK(number_in(answer, "costs", "money", way) ==
          Approx(number_in(answer, "costs", "media", way) + number_in(answer, "costs", "strops", way) +
                 number_in(answer, "costs", "flatten", way) + number_in(answer, "costs", "time", way))
              .epsilon(1e-12));
    CHECK(number_in(answer, "costs", "money", way) == number_in(answer, "ways", "money", way));
  }
  // sheets of film: a fifth each time, ten a year
  const auto& materials = column(answer.table("used_up"), "material").texts;
  const auto  sheets    = static_cast<std::size_t>(
      std::find(materials.begin(), materials.end(), "lapping film, 0.3 µm") - materials.begin());
  CHECK(number_in(answer, "used_up", "pieces_per_year", sheets) == Approx(10.0).epsilon(1e-12));
  CHECK(answer_text(answer).find("At 50 sharpenings a year") != std::string::npos);
}

TEST_CASE("minutes and prices that nobody stated leave a year out", "[compare][costs]") {
  const Loaded loaded = load(iron + edge("A", stone + cut) + edge("B", stone + film + cut));
  const Answer answer = compare_answer(compare_all(loaded, single_member(loaded.scenario)), loaded.workshop,
                                       single_member(loaded.scenario));
  CHECK(answer_text(answer).find("a year") == std::string::npos);
  CHECK(std::isnan(number_in(answer, "costs", "money", 0)));
  CHECK_THROWS_AS(column(answer.table("costs"), "money_per_year"), std::out_of_range);
  CHECK_THROWS_AS(answer.table("strops"), std::out_of_range);
}

TEST_CASE("a material is worth keeping where no way without it is as sharp", "[compare][worth]") {
  const Loaded    loaded = load(priced + iron + edge("A", turned + cut) + edge("B", turned + finish + cut));
  const Comparing c      = compare_year(loaded, prior_ensemble(loaded.scenario, {}, 50, 3));
  REQUIRE(c.materials.size() == 2);
  // every way uses the stone, so that these ways do not tell; without the film the edge stays as rough as off a #1000
  CHECK(c.materials[0].materials == std::vector<std::string>{"soft waterstone, JIS #1000"});
  CHECK(c.materials[0].without.empty());
  CHECK(c.materials[1].materials == std::vector<std::string>{"lapping film, 0.3 µm"});
  CHECK(c.materials[1].without_N == c.ways[0].reading_N.middle);
  CHECK(c.materials[1].ratio.middle ==
        Approx(c.ways[0].reading_N.middle / c.ways[1].reading_N.middle).epsilon(1e-12));
  CHECK(c.materials[1].claim.above > 0.66);
  CHECK_THAT(keeping_verdict(c.materials[1], true, 0.1), Catch::StartsWith("worth keeping, likely"));
  CHECK(keeping_verdict(c.materials[0], true, 0.1) == "every way uses it");
}

TEST_CASE("a strop is set against nothing, and against the finest medium in its place", "[compare][worth]") {
  const Loaded loaded =
      load(priced + iron + edge("A", turned + mdf + cut) + edge("B", turned + finish + cut));
  const auto      draws = prior_ensemble(loaded.scenario, {}, 50, 3);
  const Comparing c     = compare_year(loaded, draws);
  REQUIRE(c.strops.size() == 2);
  const StropWorth &alone = c.strops[0], &film_instead = c.strops[1];
  CHECK(alone.instead.empty());
  CHECK(film_instead.instead == "lapping film, 0.3 µm");
  // what stands in its place is a way that edge B follows: its numbers are those of that way
  CHECK(film_instead.instead_N == c.ways[1].reading_N.middle);
  CHECK(film_instead.money_instead == c.ways[1].money);
  CHECK(film_instead.ratio.middle ==
        Approx(c.ways[0].reading_N.middle / c.ways[1].reading_N.middle).epsilon(1e-12));
  // without the strop it is the stone alone
  const Loaded bare  = load(iron + edge("A", turned + cut));
  const auto   honed = simulate_edge(bare.scenario, bare.scenario.edges[0]);
  CHECK(alone.instead_N == Approx(honed.steps[1].after.reading_N).epsilon(1e-5));
  CHECK(alone.money_with - alone.money_instead == Approx(40.0 + 2.5 * 0.5).epsilon(1e-12));
  // a strop of 800 that lasts 400 laps, against a film that is sharper for less
  std::string text = answer_text(compare_answer(c, loaded.workshop, draws));
  std::replace(text.begin(), text.end(), '\n', ' ');  // wherever its lines break
  CHECK(text.find("lapping film, 0.3 µm in its place") != std::string::npos);
  CHECK(text.find("not worth its price") != std::string::npos);
}

TEST_CASE("a strop without a price is not called the better buy", "[compare][worth]") {
  const auto said = [](const std::string& bench) {
    const Loaded loaded = load(bench + iron + edge("A", turned + mdf + cut) + edge("B", turned + film + cut));
    const auto   draws  = prior_ensemble(loaded.scenario, {}, 50, 3);
    std::string  text   = answer_text(compare_answer(compare_year(loaded, draws), loaded.workshop, draws));
    std::replace(text.begin(), text.end(), '\n', ' ');
    return text;
  };
  const std::string cheap = with(priced, "price = 800", "price = 1"),
                    none =
                        with(priced, "[price.MDF]\nprice = 800\nlife_strokes = 400\nclean_min = 0.5\n", "");
  // a year of film costs more than one of this strop
  REQUIRE(said(cheap).find("The strop is the better buy.") != std::string::npos);
  CHECK(said(none).find("The strop is the better buy.") == std::string::npos);
  CHECK(said(none).find("without a price for MDF") != std::string::npos);
}

TEST_CASE("no way is said to last longest where that is not likely", "[compare]") {
  // the film takes next to nothing off the life, and versions of the model do not agree which way
  const Loaded loaded =
      load(iron + edge("A", stone + cut) +
           edge("B", "{ hone = \"soft waterstone, JIS #1000\", strokes = 30.01 },\n  " + cut));
  const auto draws        = prior_ensemble(loaded.scenario, {}, 50, 3);
  Comparing  c            = compare_all(loaded, draws);
  c.ways[0].passes.middle = 100.0;
  c.ways[1].passes.middle = 150.0;
  const auto said         = [&](double outlasts) {
    c.ways[1].outlasts = outlasts;
    return compare_answer(c, loaded.workshop, draws).headline;
  };
  CHECK(said(0.9).find(c.ways[1].name + " lasts longest by the model") != std::string::npos);
  CHECK(said(0.55).find("Which lasts longest in white oak is not known: the model has 100 for " +
                        c.ways[0].name + " and 150 for " + c.ways[1].name) != std::string::npos);
  CHECK(said(not_given).find("the readings cannot tell; the model alone has") != std::string::npos);
  c.ways[1].claim.evidence = Evidence::confounded;
  CHECK(said(0.9).find("lasts longest by the model") == std::string::npos);
  // that it hangs on the law is said at once, and how far, for which ways, below
  c.hangs_on_law = "It hangs on the wear law how many times as long as A others last: B 0.7 to 1.4.";
  CHECK(said(0.9).find("hangs on the wear law") != std::string::npos);
  CHECK(said(0.9).find(c.hangs_on_law) == std::string::npos);
  const Answer answer  = compare_answer(c, loaded.workshop, draws);
  const auto   is_told = [&](const std::string& remark) { return remark == c.hangs_on_law; };
  CHECK(std::any_of(answer.remarks.begin(), answer.remarks.end(), is_told));
}

TEST_CASE("the way that was read lowest stands beside the one that the model has lowest", "[compare]") {
  // the model has the film sharper; the readings have the stone so
  const std::string    read   = "{ read = \"ready\" },\n  ";
  const Loaded         loaded = load(iron + edge("A", stone + read + cut) + edge("A2", stone + read + cut) +
                                     edge("B", stone + film + read + cut) + edge("B2", stone + film + read + cut));
  std::vector<Reading> readings;
  const double         gf[] = {100.0, 121.0, 150.0, 150.0};
  for (std::size_t e = 0; e < 4; ++e) {
    Reading r;
    r.edge        = static_cast<int>(e);
    r.moment      = {read_step(loaded.scenario.edges[e], "ready"), 0.0};
    r.moment_name = "ready";
    r.replicate   = 1;
    r.reading_N   = laws::in_newton(gf[e]);
    readings.push_back(r);
  }
  const Ensemble  alone = single_member(loaded.scenario);
  const Comparing c     = compare_all(loaded, alone, readings);
  CHECK(c.ways[0].read_gf == Approx(110.0).epsilon(1e-9));  // geometric
  CHECK(c.ways[1].read_gf == Approx(150.0).epsilon(1e-9));
  const Answer answer = compare_answer(c, loaded.workshop, alone);
  // what was read comes first
  CHECK(answer.headline.rfind("On the iron, ready for work, " + c.ways[0].name +
                                  " was read lowest, 110 gf; by the model " + c.ways[1].name +
                                  " reads lowest, about ",
                              0) == 0);
  CHECK(answer.headline.find(" (it was read as 150 gf)") != std::string::npos);
  CHECK(column(answer.table("ways"), "read_gf").numbers[1] == Approx(150.0).epsilon(1e-9));

  // where several people read, one of them may be why the model's column is far from what was read
  const auto who_read = [&] {
    std::string text =
        answer_text(compare_answer(compare_all(loaded, alone, readings), loaded.workshop, alone));
    std::replace(text.begin(), text.end(), '\n', ' ');
    return text.find("for the mean of the operators of this campaign") != std::string::npos;
  };
  CHECK(!who_read());
  readings[0].operator_name = "K";
  readings[1].operator_name = "M";
  CHECK(who_read());
}

TEST_CASE("routes are compared by their readings, edge by edge", "[compare]") {
  std::string text =
      iron + "[route.one]\nsteps = [" + stone + "]\n[route.other]\nsteps = [" + stone + stone + "]\n";
  for (int i = 0; i < 5; ++i) text += edge(fmt::format("A{}", i), "{ read = \"new\" },\n  " + cut, "one");
  for (int i = 0; i < 5; ++i) text += edge(fmt::format("B{}", i), "{ read = \"new\" },\n  " + cut, "other");
  const Loaded         loaded = load(text);
  std::vector<Reading> readings;
  const double         luck[] = {-0.06, -0.03, 0.0, 0.03, 0.06};
  for (std::size_t e = 0; e < 10; ++e) {
    for (int k = 0; k < 2; ++k) {
      Reading r;
      r.edge      = static_cast<int>(e);
      r.moment    = {read_step(loaded.scenario.edges[e], "new"), 0.0};
      r.replicate = k + 1;
      r.reading_N = 1.5 * std::exp(luck[e % 5] + (k == 0 ? 0.01 : -0.01) + (e < 5 ? 0.0 : 0.2));
      readings.push_back(r);
    }
  }
  std::vector<std::string> too_few;
  auto                     found = measured_differences(loaded.scenario, readings, 0.1, too_few);
  REQUIRE(found.size() == 1);
  CHECK(too_few.empty());
  CHECK(found[0].edges_first == 5);
  // built so: the means of the logs differ by 0.2, and edges by the same luck in both
  CHECK(found[0].welch.middle == Approx(std::exp(-0.2)).epsilon(1e-12));
  CHECK(found[0].mixed.middle == Approx(std::exp(-0.2)).epsilon(1e-9));
  // scatter of edge means: √(0.06²·2·2 + …)/…: s² = (2·0.06² + 2·0.03²)/4 = 0.00225; SE = √(2·0.00225/5) = 0.03, 8 degrees
  const TTest by_hand = t_test(-0.2, 0.03, 8.0);
  CHECK(found[0].welch.low == Approx(std::exp(by_hand.low)).epsilon(1e-10));
  CHECK(found[0].welch_p == Approx(by_hand.p).epsilon(1e-9));
  // balanced, so the mixed model comes to the same standard error, as far as its variances are maximised
  CHECK(found[0].mixed.low == Approx(std::exp(by_hand.low)).epsilon(1e-3));
  CHECK(found[0].detectable > 1.0);
  CHECK(found[0].equivalence_p > 0.5);
  // one edge of a route says nothing of how edges of it differ
  for (Reading& r : readings) {
    if (r.edge > 5) r.excluded = "left out";
  }
  found = measured_differences(loaded.scenario, readings, 0.1, too_few);
  CHECK(too_few == std::vector<std::string>{"other"});
  CHECK(std::isnan(found.at(0).welch_p));
}

TEST_CASE("what an edge read as it went to work is its own last reading", "[compare]") {
  const std::string strop = "{ strop = \"MDF\", laps = 20 },\n  ", off = "{ read = \"off the stone\" },\n  ",
                    ready = "{ read = \"stropped\" },\n  ";
  const Loaded loaded =
      load(iron + edge("A", stone + off + strop + ready + cut) +
           edge("B", stone + off + strop + strop + ready + cut) + edge("bare", stone + off + cut) +
           edge("unread", stone + off + strop + strop + strop + cut));
  std::vector<Reading> readings;
  const auto           read = [&](int e, const char* moment, double gf, const char* who) {
    Reading r;
    r.edge          = e;
    r.moment        = {read_step(loaded.scenario.edges[static_cast<std::size_t>(e)], moment), 0.0};
    r.moment_name   = moment;
    r.replicate     = 1;
    r.reading_N     = laws::in_newton(gf);
    r.operator_name = who;
    readings.push_back(r);
  };
  for (int e = 0; e < 4; ++e) read(e, "off the stone", 200.0 + e, e == 2 ? "M" : "K");
  for (int e = 0; e < 2; ++e) read(e, "stropped", 120.0 + e, "K");
  const Comparing c = compare_all(loaded, single_member(loaded.scenario), readings);
  REQUIRE(c.ways.size() == 4);
  CHECK(c.ways[0].read_gf == Approx(120.0).epsilon(1e-9));
  CHECK(c.ways[1].read_gf == Approx(121.0).epsilon(1e-9));
  // that is not stropped is ready as it comes off the stone; what was stropped after its last reading was not read so
  CHECK(c.ways[2].read_gf == Approx(202.0).epsilon(1e-9));
  CHECK(std::isnan(c.ways[3].read_gf));
  // and was read by another one than the way that it is held against, under a moment of another name
  CHECK(c.ways[2].claim.evidence == Evidence::confounded);
  CHECK(c.ways[1].claim.evidence != Evidence::confounded);
  CHECK(c.ways[1].claim.read_ratio == Approx(121.0 / 120.0).epsilon(1e-9));
}

TEST_CASE("of many pairs of ways none differs by chance alone, and what is not known is said once",
          "[compare]") {
  std::string text = iron;
  std::string done = stone;
  for (const char* route : {"r", "s", "t", "u"}) {
    text += fmt::format("[route.{}]\nsteps = [{}]\n", route, done);
    done += stone;
    for (int i = 0; i < 3; ++i)
      text += edge(fmt::format("{}{}", route, i), "{ read = \"new\" },\n  " + cut, route);
  }
  const Loaded         loaded = load(text);
  std::vector<Reading> readings;
  // the third way a little apart from the others: by itself that would pass for real against one of them
  const double of_way[] = {0.0, 0.02, 0.17, 0.05}, luck[] = {-0.06, 0.0, 0.06};
  for (std::size_t e = 0; e < loaded.scenario.edges.size(); ++e) {
    for (int k = 0; k < 2; ++k) {
      Reading r;
      r.edge      = static_cast<int>(e);
      r.moment    = {read_step(loaded.scenario.edges[e], "new"), 0.0};
      r.replicate = k + 1;
      r.reading_N = 1.5 * std::exp(luck[e % 3] + (k == 0 ? 0.01 : -0.01) + of_way[e / 3]);
      readings.push_back(r);
    }
  }
  std::vector<std::string> too_few;
  const auto               found = measured_differences(loaded.scenario, readings, 0.1, too_few);
  REQUIRE(found.size() == 6);
  std::vector<double> alone, together;
  for (const MeasuredDifference& d : found) {
    alone.push_back(d.mixed_p);
    together.push_back(d.mixed_p_of_all);
  }
  CHECK(*std::min_element(alone.begin(), alone.end()) < 0.05);
  CHECK(*std::min_element(together.begin(), together.end()) > 0.05);
  CHECK(*std::min_element(together.begin(), together.end()) ==
        Approx(6.0 * *std::min_element(alone.begin(), alone.end())).epsilon(1e-12));
  const Ensemble one   = single_member(loaded.scenario);
  Comparing      c     = compare_all(loaded, one, readings);
  int            pairs = 0, together_said = 0;
  for (const std::string& remark : compare_answer(c, loaded.workshop, one).remarks) {
    pairs += remark.rfind("Read ", 0) == 0 ? 1 : 0;
    together_said += remark.find("no difference is shown for 6 of the 6 pairs") != std::string::npos ? 1 : 0;
    CHECK(remark.find("the difference is real") == std::string::npos);
  }
  CHECK(pairs == 0);
  CHECK(together_said == 1);
}

TEST_CASE("lives that were measured tell how many times as long a way lasts", "[compare][lives]") {
  const std::string strop                     = "{ strop = \"MDF\", laps = 20 },\n  ",
                    film                      = "{ strop = \"MDF\", laps = 60 },\n  ";
  std::string                            text = iron, csv = "edge,passes,reading_gf\n";
  const std::vector<std::pair<int, int>> between{{10, 20}, {20, 30}, {15, 25}, {30, 50}};
  for (std::size_t i = 0; i < between.size(); ++i) {
    const auto& [low, high] = between[i];
    text += edge(fmt::format("A{}", i), stone + cut) + edge(fmt::format("B{}", i), stone + strop + cut);
    csv += fmt::format("A{0},{1},150\nA{0},{2},200\nB{0},{3},150\nB{0},{4},200\n", i, low, high, 2 * low,
                       2 * high);
  }
  text += edge("C", stone + film + cut);
  csv += "C,90,120\n";
  const Loaded             loaded   = load(text);
  const auto               readings = parse_readings("r.csv", csv, loaded.scenario);
  std::vector<std::size_t> all(loaded.scenario.edges.size());
  std::iota(all.begin(), all.end(), std::size_t{0});
  const Ensemble  one = single_member(loaded.scenario);
  const Comparing c   = compare_ways(loaded.scenario, loaded.workshop, one, all, readings, until(180.0));
  REQUIRE(c.ways.size() == 3);
  REQUIRE(c.lives.size() == 3);
  CHECK(std::isnan(c.lives[0].ratio));
  // every life of the second way is twice one of the first: so is its scale, whatever the shape; steps of the search end at 1e-7 of
  // a standard error
  CHECK(c.lives[1].ratio == Approx(2.0).epsilon(1e-7));
  CHECK(c.lives[1].interval.low < 2.0);
  CHECK(c.lives[1].interval.high > 2.0);
  // 0.05 is where a 95 % interval touches 1; this one is of 90 %
  CHECK((c.lives[1].p < 0.10) == (c.lives[1].interval.low > 1.0));
  CHECK(c.lives[2].lives.ended == 0);
  CHECK(std::isnan(c.lives[2].ratio));
  const Answer      answer = compare_answer(c, loaded.workshop, one);
  const std::string told   = answer_text(answer);
  INFO(told);
  CHECK(told.find("lasted 2.00 times as long") != std::string::npos);
  CHECK(told.find("none has crossed") != std::string::npos);
  CHECK((answer.headline.find("differ by more than chance") != std::string::npos) == (c.lives[1].p < 0.05));
  CHECK(told.find("nan") == std::string::npos);
  CHECK(column(answer.table("measured_lives"), "ratio").numbers.at(1) == Approx(2.0).epsilon(1e-7));
  // where one person watched one way and another the other, no more is claimed of which lasts longer
  std::string by_two = csv;
  for (std::size_t at = by_two.find('\n'); at != std::string::npos; at = by_two.find('\n', at + 1)) {
    const std::size_t line = at == 0 ? 0 : by_two.rfind('\n', at - 1) + 1;
    by_two.insert(at, line == 0 ? ",operator" : by_two[line] == 'A' ? ",K" : ",M");
    at = by_two.find('\n', at);
  }
  Ensemble two = one;
  two.spreads.push_back(two.spreads.front());
  two.values.resize(2, 0);
  const Comparing plain   = compare_ways(loaded.scenario, loaded.workshop, two, all, readings, until(180.0));
  const Comparing blurred = compare_ways(loaded.scenario, loaded.workshop, two, all,
                                         parse_readings("r.csv", by_two, loaded.scenario), until(180.0));
  CHECK_FALSE(std::isnan(plain.ways[1].outlasts));
  CHECK(std::isnan(blurred.ways[1].outlasts));
  // of edges that nobody watched nothing is said
  CHECK(compare_ways(loaded.scenario, loaded.workshop, one, all, {}, until(180.0)).lives.empty());
}
