// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/weibull_distribution.hpp>
#include <catch2/catch.hpp>

#include "sim/input/csv.hpp"
#include "sim/input/files.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/studies/forecast.hpp"
#include "sim/studies/measured_lives.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

}  // namespace

TEST_CASE("a censored Weibull life test has the scale, shape and likelihood that were published", "[lives]") {
  const std::string path  = std::string(ARRIS_SOURCE_DIR) + "/tests/data/lives/nist_weibull_censored.csv";
  const CsvTable    table = parse_csv(path, read_text(path, Exit::data));
  std::vector<ObservedLife> lives;
  int                       failed = 0, units = 0;
  for (const auto& row : table.rows) {
    const double at    = std::stod(row.cells[0].text);
    const bool   fails = row.cells[1].text == "1";
    const int    count = std::stoi(row.cells[2].text);
    lives.push_back({at, infinity, count});
    if (fails) lives.back().high = at;
    failed += fails ? count : 0;
    units += count;
  }
  REQUIRE(failed == 10);
  REQUIRE(units == 20);
  const WeibullFit fit = fit_weibull(lives);
  REQUIRE(fit.usable);
  // seven published figures, of which the last is rounded
  CHECK(fit.scale == Approx(606.5276).margin(6e-5));
  CHECK(fit.shape == Approx(1.720797).margin(6e-7));
  CHECK(fit.log_likelihood == Approx(-75.13462).margin(6e-6));
  // the times in another unit, and units one by one, tell the same
  std::vector<ObservedLife> days;
  for (const ObservedLife& life : lives) {
    for (int i = 0; i < life.count; ++i) days.push_back({life.low / 24.0, life.high / 24.0});
  }
  const WeibullFit again = fit_weibull(days);
  REQUIRE(again.usable);
  CHECK(24.0 * again.scale ==
        Approx(fit.scale).epsilon(1e-9));  // the search ends a millionth of a standard error off
  CHECK(again.shape == Approx(fit.shape).epsilon(1e-9));
  // by the product limit half of them have not failed before the tenth failure, and then just half
  std::vector<double> at;
  std::vector<bool>   ended;
  for (const ObservedLife& life : days) {
    at.push_back(24.0 * life.low);
    ended.push_back(std::isfinite(life.high));
  }
  CHECK(product_limit_median(at, ended) == Approx(386.0));
}

TEST_CASE("exponential lives that are half known have the rate of ends over time watched", "[lives]") {
  // with β held at 1 the scale would be Σt/ends; β is free, so the check is that of the likelihood equations: slopes vanish
  const std::vector<ObservedLife> lives{{10, 10}, {20, 20}, {35, 35}, {40, infinity}, {40, infinity}};
  const WeibullFit                fit = fit_weibull(lives);
  REQUIRE(fit.usable);
  double sum = 0.0, logs = 0.0, weighted = 0.0;
  for (const ObservedLife& life : lives) {
    const double power = std::pow(life.low / fit.scale, fit.shape);
    sum += power;
    weighted += power * std::log(life.low / fit.scale);
    if (std::isfinite(life.high)) logs += std::log(life.low / fit.scale);
  }
  // ∂/∂η: Σ(t/η)^β = ends; ∂/∂β: ends/β + Σ log(t/η) = Σ (t/η)^β·log(t/η); slopes are left at 1e-7 of their scatter
  CHECK(sum == Approx(3.0).epsilon(1e-6));
  CHECK(3.0 / fit.shape + logs == Approx(weighted).epsilon(1e-6));
}

TEST_CASE("lives between readings are told as well as lives themselves, nearly", "[lives]") {
  // 400 lives of scale 200 and shape 2.5, once exactly, once between readings every 40 passes, watched to 240
  boost::random::mt19937_64                   engine(5);
  boost::random::weibull_distribution<double> draw(2.5, 200.0);
  std::vector<ObservedLife>                   exact, read;
  for (int i = 0; i < 400; ++i) {
    const double life = draw(engine);
    exact.push_back({life, life});
    const double low = 40.0 * std::floor(life / 40.0);
    read.push_back(life > 240.0 ? ObservedLife{240.0, infinity} : ObservedLife{low, low + 40.0});
  }
  const WeibullFit a = fit_weibull(exact), b = fit_weibull(read);
  REQUIRE(a.usable);
  REQUIRE(b.usable);
  for (const WeibullFit& fit : {a, b}) {
    // four standard errors
    CHECK(std::abs(std::log(fit.scale / 200.0)) < 4.0 * std::sqrt(fit.covariance(0, 0)));
    CHECK(std::abs(std::log(fit.shape / 2.5)) < 4.0 * std::sqrt(fit.covariance(1, 1)));
    const auto median = fit.quantile(0.5);
    CHECK(median.low < median.value);
    CHECK(median.value == Approx(fit.scale * std::pow(std::log(2.0), 1.0 / fit.shape)).epsilon(1e-12));
  }
  // standard errors of exact lives from the expected information: 1.108/(β²n) and 0.608/n, to the 10 % of 400 lives
  CHECK(std::sqrt(a.covariance(0, 0)) == Approx(std::sqrt(1.108665 / (2.5 * 2.5 * 400.0))).epsilon(0.1));
  CHECK(std::sqrt(a.covariance(1, 1)) == Approx(std::sqrt(0.607927 / 400.0)).epsilon(0.1));
  CHECK(b.covariance(1, 1) > a.covariance(1, 1));
}

TEST_CASE("lives that tell no distribution are not given one", "[lives]") {
  CHECK_FALSE(fit_weibull({}).usable);
  CHECK_FALSE(fit_weibull({{10, infinity}, {20, infinity}}).usable);
  CHECK_FALSE(fit_weibull({{10, 10}, {10, 10}}).usable);
  CHECK_THROWS_AS(fit_weibull({{10, 5}}), std::invalid_argument);
  CHECK_THROWS_AS(fit_weibull({{-1, 5}}), std::invalid_argument);
  CHECK(std::isinf(product_limit_median({10, 20, 30}, {true, false, false})));
  CHECK(product_limit_median({30, 10, 20}, {true, true, true}) == 20.0);
}

TEST_CASE("readings tell which edges crossed the limit, and between which passes", "[lives][forecast]") {
  std::string text = iron + "apex_radius_um = 0.5\n[route.stones]\nsteps = [ " + one_hone + " ]\n";
  for (const char* name : {"A", "B", "C", "D", "E", "F"}) {
    text += std::string("[edge.") + name +
            "]\ntool = \"iron\"\nroute = \"stones\"\nsteps = [\n  { read = \"new\" },\n"
            "  { cut = \"white oak\", passes = 100 },\n  { read = \"again\" },\n"
            "  { cut = \"white oak\", passes = 100 },\n  { hone = \"soft waterstone, JIS #1000\", strokes = "
            "5 },\n"
            "  { cut = \"white oak\", passes = 100 },\n]\n";
  }
  const Loaded loaded = load(text);
  const auto   readings =
      parse_readings("r.csv",
                     "edge,step,passes,reading_gf,excluded\n"
                     "A,new,,150,\nA,again,,170,\nA,,200,190,\n"     // between 100 and 200: at 150
                     "B,new,,190,\nB,,50,150,\nB,,90,170,\n"         // fresh above it, still good at 90
                     "C,new,,200,\nC,,20,190,\nC,,60,210,\n"         // never below it
                     "D,new,,150,\n"                                 // not read in wood: nothing known
                     "E,,30,150,\nE,,60,300,slipped\nE,,250,300,\n"  // after the stone it is another edge
                     "F,,40,100,\nF,,40,110,\nF,,60,200,\n",
                     loaded.scenario);
  const auto lives = measured_lives(loaded.scenario, readings, {0, 1, 2, 3, 4, 5}, 1.8 * 0.980665);
  REQUIRE(lives.size() == 1);
  const MeasuredLives& m = lives.front();
  CHECK(m.wood == "white oak");
  REQUIRE(m.edges == std::vector<std::string>{"A", "B", "C", "E", "F"});
  CHECK(m.ended == 3);
  CHECK(m.still_good == 2);
  CHECK(m.lives[0].low == 100.0);
  CHECK(m.lives[0].high == 200.0);
  CHECK(m.lives[1].low == 90.0);
  CHECK(std::isinf(m.lives[1].high));
  CHECK(m.lives[2].low == 0.0);
  CHECK(m.lives[2].high == 20.0);
  CHECK(m.lives[3].low == 30.0);
  CHECK(std::isinf(m.lives[3].high));
  CHECK(m.lives[4].low == 40.0);
  CHECK(m.lives[4].high == 60.0);
  // ends at 20 (5 left), 30 watched, about 55 (3 left): 4/5·2/3 = 0.53, 90 watched, 150: nobody left
  CHECK(m.median == Approx(150.0).margin(1e-9));
  CHECK(m.weibull.usable);

  ForecastSettings settings;
  settings.limit_N        = 1.8 * 0.980665;
  settings.limit_name     = "as asked";
  const Ensemble ensemble = single_member(loaded.scenario);
  const Answer   answer =
      forecast_answer(forecast(loaded.scenario, loaded.workshop, ensemble, {0, 1, 2, 3, 4, 5}, settings),
                      loaded.workshop, ensemble, lives);
  const std::string told = answer_text(answer);
  INFO(told);
  CHECK(told.find("of 5 edges, 3 crossed 180 gf, and 2 were still good") != std::string::npos);
  CHECK(column(answer.table("measured_lives"), "median_passes").numbers.at(0) == Approx(150.0).margin(1e-9));
  CHECK(told.find("nan") == std::string::npos);
}
