// SPDX-License-Identifier: MIT
#include <cmath>

#include <catch2/catch.hpp>

#include "sim/input/readings_csv.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/studies/measured_lives.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

TEST_CASE("readings tell which edges crossed the limit, and between which passes", "[lives][forecast]") {
  std::string text = iron + "apex_radius_um = 0.5\n[route.stones]\nsteps = [ " + one_hone + " ]\n";
  for (const char* name : {"A", "B", "C", "D", "E", "F"}) {
    text +=
        std::string("[edge.") + name +
        "]\ntool = \"iron\"\nroute = \"stones\"\nsteps = [\n  { read = \"new\" },\n"
        "  { cut = \"white oak\", passes = 100 },\n  { read = \"again\" },\n"
        "  { cut = \"white oak\", passes = 100 },\n  { hone = \"soft waterstone, JIS #1000\", strokes = 5 },\n"
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
