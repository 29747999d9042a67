// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <boost/random/bernoulli_distribution.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/uniform_01.hpp>
#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/fit/law_draws.hpp"
#include "sim/laws/wear/law_names.hpp"
#include "sim/simulate/way.hpp"
#include "sim/statistics/clustered_share.hpp"
#include "sim/studies/forecast/in_hand.hpp"
#include "sim/studies/weigh/forward.hpp"
#include "tests/desk.hpp"
#include "tests/program.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

// so many edges off one stone, read ready and four times in wood, after 20, 60, 140 and 300 passes
std::string worn_edges(int edges, const std::string& more = {}) {
  std::string text =
      iron + "[scatter]\nreading_cv = 0.04\nedge_cv = 0.08\nrate_cv = 0.1\noperator_cv = 0\nlot_cv = 0\n" +
      more;
  for (int e = 1; e <= edges; ++e) {
    text += fmt::format(
        "[edge.E{}]\ntool = \"iron\"\nsteps = [ {{ hone = \"soft waterstone, JIS #1000\", strokes = 60 }},\n"
        "  {{ back = \"soft waterstone, JIS #1000\", strokes = 10 }}, {{ read = \"ready\", replicates = 2 }},\n",
        e);
    for (const int passes : {20, 40, 80, 160})
      text += fmt::format(
          "  {{ cut = \"sugar maple\", passes = {0} }}, {{ read = \"{0} more\", replicates = 2 }},\n",
          passes);
    text += "]\n";
  }
  return text;
}

const std::string square_root = "[wear]\nlaw = \"square-root\"\n";

ForwardSettings forward_settings(int moments) {
  ForwardSettings settings;
  settings.moments    = moments;
  settings.fit.starts = 1;
  settings.fit.free   = {"tester.slope_N_per_um", "wear.section_um2_per_m"};
  settings.members    = 200;
  return settings;
}

std::vector<Reading> drawn_from(const Scenario& scenario, unsigned long long seed) {
  return invent_readings(scenario, seed, {"A"}, {"lot"}, 1);
}

// Clopper and Pearson by definition: the p at which so many hits or more (or fewer) have the probability `tail`
double binomial_at_most(int hits, int n, double p) {
  double sum = 0.0;
  for (int k = 0; k <= hits; ++k)
    sum += std::exp(std::lgamma(n + 1.0) - std::lgamma(k + 1.0) - std::lgamma(n - k + 1.0) + k * std::log(p) +
                    (n - k) * std::log1p(-p));
  return sum;
}

}  // namespace

TEST_CASE("the interval of a share counted in clusters", "[forward][clusters]") {
  // equal shares tell nothing of how clusters differ: as many trials as clusters; the ends of none and of all are closed
  std::vector<Cluster> ones(11, {0.0, 1.0});
  const ClusteredShare none = clustered_share(ones, 0.9);
  CHECK(none.low == 0.0);
  CHECK(none.effective == 11.0);
  CHECK(none.high == Approx(1.0 - std::pow(0.05, 1.0 / 11.0)).epsilon(1e-12));
  for (Cluster& c : ones) c.hits = 1.0;
  CHECK(clustered_share(ones, 0.9).low == Approx(std::pow(0.05, 1.0 / 11.0)).epsilon(1e-12));
  CHECK(clustered_share(ones, 0.9).high == 1.0);

  // 21 clusters of one with 14 hits: v = p(1 − p)/(K − 1), so that n* = 20, and 13.333 hits of them. Against the definition at 13 and 14 hits of 20, between which it lies
  std::vector<Cluster> some(21, {0.0, 1.0});
  for (std::size_t i = 0; i < 14; ++i) some[i].hits = 1.0;
  const ClusteredShare share = clustered_share(some, 0.9);
  CHECK(share.share == Approx(14.0 / 21.0));
  CHECK(share.effective == Approx(20.0).epsilon(1e-12));
  CHECK(1.0 - binomial_at_most(13, 20, share.low) < 0.05);
  CHECK(1.0 - binomial_at_most(12, 20, share.low) > 0.05);
  CHECK(binomial_at_most(13, 20, share.high) < 0.05);
  CHECK(binomial_at_most(14, 20, share.high) > 0.05);

  // clusters that go together tell as much as one reading of each: v = p(1 − p)/(K − 1), t narrower by the ratio of quantiles
  std::vector<Cluster> together(21, {0.0, 5.0});
  for (std::size_t i = 0; i < 14; ++i) together[i].hits = 5.0;
  // t quantiles of 95 % for 104 and 20 degrees of freedom, R 4.2: qt(0.95, c(104, 20))
  CHECK(clustered_share(together, 0.9).effective ==
        Approx(20.0 * std::pow(1.659637 / 1.724718, 2)).epsilon(1e-5));
  // and never more than the readings themselves
  std::vector<Cluster> apart(21, {3.0, 5.0});
  apart[0].hits = 2.0;
  CHECK(clustered_share(apart, 0.9).effective == 105.0);
  CHECK(clustered_share({{3.0, 5.0}}, 0.9).effective == 1.0);
  CHECK(std::isnan(clustered_share({}, 0.9).share));
  CHECK(clustered_share({{0.0, 0.0}, {1.0, 2.0}}, 0.9).share == 0.5);
}

TEST_CASE("the interval of a share holds where members of a cluster go together", "[forward][clusters]") {
  boost::random::mt19937_64         engine(5);
  boost::random::uniform_01<double> uniform;
  int                               held = 0, by_readings = 0;
  constexpr int                     trials = 2000;
  for (int trial = 0; trial < trials; ++trial) {
    std::vector<Cluster> clusters, single;
    for (int k = 0; k < 12; ++k) {
      // 0.9 on the mean over clusters: in one of five 0.6, in the others 0.975
      const double p = uniform(engine) < 0.2 ? 0.6 : 0.975;
      Cluster      c;
      for (int i = 0; i < 6; ++i) {
        const bool hit = uniform(engine) < p;
        c.members += 1.0;
        c.hits += hit ? 1.0 : 0.0;
        single.push_back({hit ? 1.0 : 0.0, 1.0});
      }
      clusters.push_back(c);
    }
    const auto holds = [](const ClusteredShare& s) { return s.low <= 0.9 && 0.9 <= s.high ? 1 : 0; };
    held += holds(clustered_share(clusters, 0.9));
    by_readings += holds(clustered_share(single, 0.9));
  }
  // 90 % or more, less three standard errors of 2000 trials (2 %); readings counted as independent hold less often
  CHECK(held >= 0.88 * trials);
  CHECK(by_readings < held);
}

TEST_CASE("readings that were held back are foretold as the edge in hand", "[forward]") {
  const Scenario scenario = load(worn_edges(5, square_root)).scenario;
  const auto     readings = drawn_from(scenario, 3);
  const auto     settings = forward_settings(3);
  const auto     result   = weigh_forward(scenario, readings, settings);
  REQUIRE(result.units.size() == 5);
  CHECK(result.groups == 5);
  for (const ForwardUnit& unit : result.units) {
    CHECK(unit.failure.empty());
    CHECK(unit.now == 60.0);
    CHECK(unit.kept.size() == 6);
    REQUIRE(unit.held.size() == 4);
    CHECK(unit.held.front().passes == 140.0);
    CHECK(unit.held.back().passes == 300.0);
    CHECK(unit.held.front().moments_ahead == 1);
    CHECK(unit.held.back().moments_ahead == 2);
    CHECK_FALSE(unit.held.back().beyond);
    CHECK(unit.held.back().moment == "160 more");
    for (const HeldReading& h : unit.held) {
      CHECK(h.most.low < h.half.low);
      CHECK(h.half.high < h.most.high);
      CHECK(std::isfinite(h.log_score));
    }
  }

  // by hand, for E2: the fit of what is left, and the forecast that the command makes
  std::vector<Reading> left;
  for (const Reading& r : readings) {
    if (r.edge != 1 || passes_since_sharpened(scenario.edges[1], r.moment) <= 60.0) left.push_back(r);
  }
  LawFit law;
  law.name  = "square-root";
  law.model = std::make_shared<const CampaignModel>(scenario, left, parameters_of_fit(scenario, settings.fit),
                                                    settings.fit);
  law.usable = true;
  law.weight = 1.0;
  set_optimum(law, fit(*law.model));
  FittedDraws draws;
  draws.laws              = draws_of_laws({{law}, 5, false}, {.draws = 200});
  draws.edges             = 5;
  const Ensemble ensemble = ensemble_of(draws, scenario, 200);
  HandSettings   hand;
  hand.fit          = settings.fit;
  hand.life.limit_N = 1e6;
  hand.life.passes  = 240.0;
  const Moment last = readings[2 * 4 + 10].moment;
  REQUIRE(passes_since_sharpened(scenario.edges[1], last) == 300.0);
  const HandReadings ahead = readings_ahead(at_best(scenario, ensemble), ensemble, 1, left, {last}, hand);
  const HeldReading& held  = result.units[1].held.back();
  const Band         band  = ahead.band(0, 0.9, 0.0);
  CHECK(held.most.low == band.low);
  CHECK(held.most.high == band.high);
  CHECK(held.log_score == ahead.log_density(0, std::log(held.reading_N), 0.0));

  // the curve of forecast --from-now where it comes to as many passes. What the laws miss is drawn along all passes that are looked at, which
  // are others there, so it is left out; and steps of wood are parted elsewhere, so that integrations differ by their tolerance
  Ensemble exact = ensemble;
  for (EnsembleLaw& of : exact.laws) of.discrepancy = {};
  const Scenario     best     = at_best(scenario, exact);
  const HandForecast forecast = forecast_in_hand(best, exact, 1, left, hand);
  CHECK(forecast.now == 60.0);
  REQUIRE(forecast.at.back() == 300.0);
  const HandReadings  there = readings_ahead(best, exact, 1, left, {last}, hand);
  std::vector<double> curve;
  for (Eigen::Index i = 0; i < there.log_N.rows(); ++i) curve.push_back(std::exp(there.log_N(i, 0)));
  std::sort(curve.begin(), curve.end());
  CHECK(0.5 * (curve[99] + curve[100]) == Approx(forecast.curve_N.back().middle).epsilon(1e-5));
}

TEST_CASE("a score is the same on any number of threads", "[forward]") {
  const Scenario scenario = load(worn_edges(4, square_root)).scenario;
  const auto     readings = drawn_from(scenario, 8);
  auto           settings = forward_settings(2);
  settings.threads        = 1;
  const auto one          = weigh_forward(scenario, readings, settings);
  settings.threads        = 3;
  const auto three        = weigh_forward(scenario, readings, settings);
  for (std::size_t u = 0; u < one.units.size(); ++u) {
    for (std::size_t i = 0; i < one.units[u].held.size(); ++i) {
      const HeldReading &a = one.units[u].held[i], &b = three.units[u].held[i];
      CHECK(a.most.low == b.most.low);
      CHECK(a.half.high == b.half.high);
      CHECK(a.log_score == b.log_score);
    }
  }
}

TEST_CASE("bands hold where the scatter is right, and do not where it is stated wrong", "[forward]") {
  const Scenario       scenario = load(worn_edges(12, square_root)).scenario;
  std::vector<Reading> readings = drawn_from(scenario, 11);
  const auto           settings = forward_settings(2);
  const auto           right    = weigh_forward(scenario, readings, settings);
  const auto           scores   = scores_of(right);
  CHECK(scores.front().readings == 72);
  CHECK(scores.front().edges == 12);
  CHECK(scores.front().most.high >= 0.9);
  CHECK(scores.front().half.low <= 0.5);
  CHECK(scores.front().half.high >= 0.5);
  CHECK(scores.front().in_most > scores.front().in_half);
  const Answer answer = forward_answer(right, "r.csv");
  CHECK_THAT(answer.headline, Catch::StartsWith(fmt::format(
                                  "Of 72 readings held back, {} ({:.0f} %) lay in their 90 % bands: ",
                                  scores.front().in_most, 100.0 * scores.front().in_most / 72.0)));

  // each reading claims to be good to half a per cent, and scatters by 4: the luck of edges has to carry it, which foretells nothing
  for (Reading& r : readings) r.reading_cv = 0.005;
  auto without_luck            = settings;
  without_luck.fit.edge_effect = without_luck.fit.rate_effect = false;
  const Answer narrow = forward_answer(weigh_forward(scenario, readings, without_luck), "r.csv");
  CHECK_THAT(narrow.headline,
             Catch::Contains("fewer than should") && Catch::Contains("claim more than they know"));
  CHECK_THAT(narrow.remarks.back(), Catch::StartsWith("See in arris fit what the model misses"));
  // and to 30 per cent
  for (Reading& r : readings) r.reading_cv = 0.3;
  const Answer wide = forward_answer(weigh_forward(scenario, readings, settings), "r.csv");
  CHECK_THAT(wide.headline, Catch::Contains("The 50 % bands hold 100 %") &&
                                Catch::Contains("such forecasts know more than they claim"));
}

TEST_CASE("a curve that no law has is found out", "[forward]") {
  // wear that sets in late: ready and after 60 passes edges read as the law says, later they turn dull at once
  const Scenario       scenario = load(worn_edges(10, square_root)).scenario;
  std::vector<Reading> readings = drawn_from(scenario, 21);
  for (Reading& r : readings) {
    const double passes = passes_since_sharpened(scenario.edges[static_cast<std::size_t>(r.edge)], r.moment);
    // every third edge only: the others tell the forecast nothing of it
    if (r.edge % 3 == 0 && passes > 100.0) r.reading_N *= passes > 200.0 ? 3.0 : 2.0;
  }
  const auto result = weigh_forward(scenario, readings, forward_settings(3));
  const auto scores = scores_of(result);
  CHECK(scores.front().above > scores.front().below);
  // the edges that turned dull are those that were foretold worst
  std::vector<std::pair<double, int>> by_score;
  for (const ForwardUnit& unit : result.units) {
    double sum = 0.0;
    for (const HeldReading& h : unit.held) sum += h.log_score;
    by_score.emplace_back(sum, unit.edge);
  }
  std::sort(by_score.begin(), by_score.end());
  for (std::size_t k = 0; k < 4; ++k) CHECK(by_score[k].second % 3 == 0);
}

TEST_CASE("what is held back ends where an edge is sharpened again", "[forward]") {
  const std::string    text     = iron + square_root + R"(
[edge.A]
tool = "iron"
steps = [ { hone = "soft waterstone, JIS #1000", strokes = 60 }, { read = "ready" }, { cut = "sugar maple", passes = 30 }, { read = "a" },
          { cut = "teak", passes = 50 }, { read = "b" }, { hone = "soft waterstone, JIS #1000", strokes = 40 }, { read = "again" },
          { cut = "sugar maple", passes = 30 }, { read = "c" } ]
[edge.B]
tool = "iron"
steps = [ { hone = "soft waterstone, JIS #1000", strokes = 60 }, { read = "ready" }, { cut = "sugar maple", passes = 30 }, { read = "a" } ]
[edge.C]
tool = "iron"
steps = [ { hone = "soft waterstone, JIS #1000", strokes = 60 }, { cut = "sugar maple", passes = 90 }, { read = "late" } ]
)";
  const Scenario       scenario = load(text).scenario;
  std::vector<Reading> readings = drawn_from(scenario, 2);
  Reading              seen     = readings[2];
  seen.reading_N                = not_given;
  seen.apex_radius_um           = 1.0;
  seen.apex_radius_sd_um        = 0.1;
  readings.push_back(seen);
  auto settings            = forward_settings(1);
  settings.fit.wood_effect = settings.fit.way_effect = settings.fit.way_wear_effect = false;
  const auto result = weigh_forward(scenario, readings, settings);
  REQUIRE(result.units.size() == 2);
  const ForwardUnit& a = result.units[0];
  CHECK(a.failure.empty());
  CHECK(a.kept.size() == 1);
  REQUIRE(a.held.size() == 2);
  CHECK(a.held[0].passes == 30.0);
  CHECK(a.held[1].passes == 80.0);  // in the next wood
  CHECK_FALSE(a.held[1].beyond);    // C was read after 90
  CHECK(result.units[1].held.size() == 1);
  CHECK(result.later == 2);
  CHECK(result.lengths == 1);
  const Answer answer = forward_answer(result, "r.csv");
  const auto   says   = [&](const std::string& sentence) {
    return std::find(answer.remarks.begin(), answer.remarks.end(), sentence) != answer.remarks.end();
  };
  CHECK(
      says("2 readings were taken after a later sharpening of the edge, neither fitted with it nor scored."));
  CHECK(says("1 measurement was of radius, recession or mass held back with readings, and not scored."));
  CHECK_THAT(answer.headline, Catch::Contains("so few edges cannot tell"));

  // three moments: none has four
  CHECK(weigh_forward(scenario, readings, forward_settings(2)).units.size() == 1);
  CHECK_THROWS_WITH(weigh_forward(scenario, readings, forward_settings(3)),
                    Catch::Contains("no edge was read at more than 3 moments") && Catch::Contains("1 … 2"));
  readings = {readings[0], readings.end()[-2]};
  CHECK_THROWS_WITH(weigh_forward(scenario, readings, forward_settings(1)),
                    Catch::Contains("no edge was read at two moments after one sharpening"));
}

TEST_CASE("beyond the range of the others is told apart", "[forward]") {
  const Scenario       scenario = load(worn_edges(6, square_root)).scenario;
  std::vector<Reading> readings = drawn_from(scenario, 4);
  // only E1 was read after 300 passes
  std::erase_if(readings, [&](const Reading& r) {
    return r.edge != 0 && passes_since_sharpened(scenario.edges[0], r.moment) > 200.0;
  });
  const auto result = weigh_forward(scenario, readings, forward_settings(3));
  const auto scores = scores_of(result);
  REQUIRE(scores.size() == 5);
  CHECK(scores[0].says == "all");
  CHECK(scores[1].says == "within the passes of other edges");
  CHECK(scores[2].says == "beyond the passes of other edges");
  CHECK(scores[2].readings == 2);
  CHECK(scores[2].edges == 1);
  CHECK(scores[1].readings + scores[2].readings == scores[0].readings);
  CHECK(scores[3].says == "the next moment");
  CHECK(scores[3].readings == 12);
  CHECK(scores[4].says == "2 moments ahead");
  CHECK_THAT(forward_answer(result, "r.csv").headline,
             Catch::Contains("Beyond the passes after which other edges were read it was "));
}

TEST_CASE("noise of Student's t is that of a single reading too", "[forward][forecast]") {
  const Scenario scenario = load(worn_edges(4, square_root)).scenario;
  const auto     readings = drawn_from(scenario, 6);
  Ensemble       ensemble;
  ensemble.values.resize(20000, 0);
  Spread spread = stated_spread(scenario);
  spread.edge = spread.rate = 1e-6;
  spread.person = spread.lot = spread.day = 0.0;
  ensemble.spreads.assign(20000, spread);
  HandSettings hand;
  hand.life.limit_N               = not_given;
  hand.fit.noise                  = "student-t";
  const Moment               last = readings[9].moment;
  const std::vector<Reading> first(readings.begin(), readings.begin() + 4);
  const auto                 width = [&] {
    const Band band = readings_ahead(scenario, ensemble, 0, first, {last}, hand).band(0, 0.9, 0.0);
    return 0.5 * std::log(band.high / band.low) / spread.reading;
  };
  // quantiles of 95 %: R 4.2, qt(0.95, 4) and qnorm(0.95); of 20 000 draws they are good to 2.2·sqrt(0.05·0.95/20000)/(2·density) < 2 %
  CHECK(width() == Approx(2.131847).epsilon(0.04));
  hand.fit.noise = "log-normal";
  CHECK(width() == Approx(1.644854).epsilon(0.04));
}

TEST_CASE("weigh --forward tells, writes and refuses", "[forward][program]") {
  const Folder folder;
  write(folder / "bare.toml", worn_edges(4));
  REQUIRE(run(folder, {"simulate", "bare.toml", "--invent-readings", "r.csv", "-q", "--operators", "A",
                       "--lots", "L"})
              .code == 0);
  write(folder / "c.toml", with(worn_edges(4), "[scatter]", "[readings]\nfile = \"r.csv\"\n[scatter]"));
  const Outcome told =
      run(folder, {"weigh", "c.toml", "--forward", "3", "--law", "square-root,constant-rate", "--starts", "1",
                   "--members", "100", "--csv", "f.csv", "--json", "f.json", "--out", "f.h5"});
  CHECK(told.code == 0);
  CHECK(has(told.out, "Of 16 readings held back, "));
  CHECK(has(told.out, "under 2 wear laws, each by its weight"));
  const auto rows = lines(contents(folder / "f.csv"));
  REQUIRE(rows.size() == 17);
  CHECK(
      rows[0] ==
      "edge,moment,operator,passes,passes_now,moments_ahead,reading_gf,foretold_gf,low_90_gf,high_90_gf,low_50_gf,high_50_gf,inside_90,inside_50,beyond,log_score");
  CHECK(contents(folder / "f.json").find("\"kind\": \"forward\"") != std::string::npos);
  CHECK(run(folder, {"report", "f.h5", "--out", "f.html"}).code == 0);
  CHECK(has(contents(folder / "f.html"), "Whether forecasts of this campaign hold"));
  for (const char* figure : {"scores", "units"})
    CHECK(run(folder, {"report", "f.h5", "--figure", figure, "--out", std::string(figure) + ".svg"}).code ==
          0);

  const Outcome far = run(folder, {"weigh", "c.toml", "--forward", "5"});
  CHECK(far.code == 2);
  CHECK(has(far.err, "no edge was read at more than 5 moments after one sharpening"));
  CHECK(has(far.err, "1 … 4"));
  CHECK(run(folder, {"weigh", "c.toml", "--forward", "0"}).code == 2);
  const Outcome alone = run(folder, {"weigh", "c.toml", "--members", "100"});
  CHECK(alone.code == 2);
  CHECK(has(alone.err, "--members is given without --forward"));
  CHECK(run(folder, {"weigh", "c.toml", "--forward", "2", "--law", "powr"}).code == 2);
}
