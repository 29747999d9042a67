// SPDX-License-Identifier: MIT
#include <cmath>
#include <cstdio>
#include <functional>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/ask/ask.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/law_fits.hpp"
#include "sim/fit/log_density.hpp"
#include "sim/fit/noise.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/output/simulation_files.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/output/specimen_text.hpp"
#include "sim/simulate/history_tree.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/studies/forecast/specimen_forecast.hpp"
#include "tests/desk.hpp"
#include "tests/nist_strd.hpp"

// Wear of specimens: closed forms, a certified problem fitted along this way, readings that could not be seen, and words.

using namespace arris;
using namespace arris::desk;

namespace {

const std::string pin =
    "[tool.pin]\nkind = \"specimen\"\n[counterface.dry]\n[counterface.oil]\nwear_factor = 0.1\n";

std::string specimen(const std::string& name, const std::string& step) {
  return "[edge." + name + "]\ntool = \"pin\"\nsteps = [ " + step + " ]\n";
}

const std::string loads = "[specimen]\nreference_load_N = 10\nload_exponent = 1.5\n";

double wear_after(const Scenario& s, std::size_t edge, double way) {
  const Prediction at = predict(s, s.edges[edge], {moment_after_passes(s.edges[edge], way)});
  REQUIRE(at.status.usable());
  return at.points.front().reading_N;
}

std::vector<Reading> readings_in(const std::string& csv, const Scenario& s) {
  return parse_readings("r.csv", csv, s);
}

// the error of a readings file, as people read it
std::string readings_fault(const std::string& csv, const Scenario& s) {
  return error_of([&] { (void)readings_in(csv, s); }).what();
}

FitSettings plain_settings() {
  FitSettings out;
  out.rate_effect = out.edge_effect = out.way_effect = out.way_wear_effect = out.wood_effect = false;
  out.operator_effect = out.day_effect = out.lot_effect = out.rules_of_thumb = false;
  out.starts                                                                 = 2;
  return out;
}

FreeParameter wide(const Scenario& s, const std::string& path, double mean, double sd) {
  return free_parameter(s.model, path, {{path, Prior{PriorShape::normal, mean, sd}}});
}

}  // namespace

TEST_CASE("wear by the law of a constant rate is Archard's: linear in the way, a power of the load",
          "[specimens]") {
  const Scenario s = load(pin + loads + "[wear]\nlaw = \"constant-rate\"\nrate_um_per_m = 2e-3\n" +
                          specimen("A", "{ wear = \"dry\", metres = 5000, load_N = 10 }") +
                          specimen("B", "{ wear = \"dry\", metres = 5000, load_N = 40 }") +
                          specimen("C", "{ wear = \"oil\", metres = 5000, load_N = 40 }"))
                         .scenario;
  // k·c·(F/F₀)^n·x: three multiplications and a power, some ulp of each
  for (const double x : {0.0, 1.0, 250.0, 5000.0}) {
    CHECK(wear_after(s, 0, x) == Approx(2e-3 * x).epsilon(1e-12).margin(1e-12));
    CHECK(wear_after(s, 1, x) == Approx(2e-3 * 8.0 * x).epsilon(1e-12).margin(1e-12));
    CHECK(wear_after(s, 2, x) == Approx(2e-3 * 0.8 * x).epsilon(1e-12).margin(1e-12));
  }
}

TEST_CASE("specimens that differ by their load alone are no one history", "[specimens]") {
  const Scenario s = load(pin + loads + "[wear]\nlaw = \"constant-rate\"\nrate_um_per_m = 2e-3\n" +
                          specimen("A", "{ wear = \"dry\", metres = 1000, load_N = 10 }") +
                          specimen("B", "{ wear = \"dry\", metres = 1000, load_N = 40 }"))
                         .scenario;
  CHECK_FALSE(same_work(s.edges[0].steps[0], s.edges[1].steps[0]));
  CHECK(same_work(s.edges[0].steps[0], s.edges[0].steps[0]));
  const CampaignModel model(s, readings_in("specimen,metres,wear_um\nA,1000,2\nB,1000,16\n", s),
                            {free_parameter(s.model, "wear.rate_um_per_m")}, plain_settings());
  Eigen::VectorXd     f;
  model.observe(model.apex(Eigen::VectorXd::Zero(1), false), Eigen::VectorXd::Zero(0), f, nullptr, nullptr);
  CHECK(std::exp(f[0]) == Approx(2.0).epsilon(1e-9));
  CHECK(std::exp(f[1]) == Approx(16.0).epsilon(1e-9));
}

TEST_CASE("wear under a law that slows follows its closed form from the start that is stated",
          "[specimens]") {
  for (const double q : {0.7, 3.25, 6.0}) {
    const Scenario s =
        load(
            pin +
            "[specimen]\nper = \"minute\"\nstart_um = 0.5\n[wear]\nlaw = \"power\"\nrate_um_per_m = 12\nexponent = " +
            std::to_string(q) + "\n" +
            specimen("A", "{ wear = \"dry\", minutes = 40 }, { wear = \"oil\", minutes = 100 }"))
            .scenario;
    // (w₀ + w)^(q+1) = w₀^(q+1) + (q + 1)·k·S·x, over two steps; the relative tolerance of an integration is 1e-6 of w₀ + w
    const auto grown = [&](double severity_minutes) {
      return std::pow(std::pow(0.5, q + 1.0) + (q + 1.0) * 12.0 * severity_minutes, 1.0 / (q + 1.0)) - 0.5;
    };
    INFO(q);
    CHECK(wear_after(s, 0, 40.0) == Approx(grown(40.0)).epsilon(3e-6));
    CHECK(wear_after(s, 0, 140.0) == Approx(grown(40.0 + 10.0)).epsilon(3e-6));
    CHECK(wear_after(s, 0, 0.0) == 0.0);
  }
}

TEST_CASE("a certified nonlinear regression comes out along the way of specimens", "[specimens]") {
  // Misra1a of NIST's Statistical Reference Datasets, y = b₁·(1 − e^(−b₂·x)), as wear: its rate is b₁·b₂·e^(−b₂·x)
  const auto  data      = bench::nist::read_dat("Misra1a");
  const auto  certified = bench::nist::certified_problems().at("Misra1a");
  std::string csv       = "specimen,metres,wear_um\n";
  for (std::size_t i = 0; i < data.y.size(); ++i)
    csv += fmt::format("A,{},{}\n", data.x[i].front(), data.y[i]);
  const Scenario s = load(pin +
                          "[specimen]\nnoise = \"additive\"\n[numerics]\nrelative_tolerance = 1e-10\n"
                          "[wear]\nrate = \"b1*b2*exp(-b2*x)\"\n"
                          "b1 = { value = 250, unit = \"µm\" }\nb2 = { value = 5e-4, unit = \"1/m\" }\n" +
                          specimen("A", "{ wear = \"dry\", metres = 1000 }"))
                         .scenario;
  // priors some hundred times as wide as the standard errors, about the certified values to three digits: they move the optimum by
  // (2.7/1000)² = 7e-6 of its distance from there, 0.08 µm, and as little along the direction that both share
  const CampaignModel model(s, readings_in(csv, s),
                            {wide(s, "wear.b1", 239, 1e3), wide(s, "wear.b2", 5.5e-4, 1e-3)},
                            plain_settings());
  Eigen::VectorXd     start(2);
  start << 0.011, -0.05;  // the second of the certified starts: 250 and 5e-4
  CHECK(check_gradient(model, start).passed());
  const FitPoint point = fit_from(model, start);
  REQUIRE(point.usable);
  // a search ends where a step is 1e-6 of the standard deviation of a prior: 1e-3 µm, and 1e-9 1/m
  CHECK(model.parameters()[0].value(point.u[0]) == Approx(certified.value[0]).margin(2e-3));
  CHECK(model.parameters()[1].value(point.u[1]) == Approx(certified.value[1]).margin(2e-9));
  // standard errors over the scatter are those certified, which take RSS/(n − 2) for it; the priors narrow them by 4e-6
  const FitResult result = fit(model);
  REQUIRE(result.converged);
  const double sigma     = std::sqrt(certified.rss / static_cast<double>(certified.n - 2)),
               ours      = result.best.spread.reading * model.typical_um();
  const auto& covariance = result.information.covariance;
  CHECK(std::sqrt(covariance(0, 0)) * 1e3 / ours == Approx(certified.sd[0] / sigma).epsilon(1e-4));
  CHECK(std::sqrt(covariance(1, 1)) * 1e-3 / ours == Approx(certified.sd[1] / sigma).epsilon(1e-4));
  // the mode of log σ with a prior that is flat down there counts one reading less: √(12/11)
  CHECK(ours == Approx(sigma * std::sqrt(12.0 / 11.0)).epsilon(5e-3));
}

TEST_CASE("readings below what can be seen count by the probability of that", "[specimens]") {
  const std::string text =
      pin + "[specimen]\ndetection_um = 2\n[wear]\nlaw = \"constant-rate\"\nrate_um_per_m = 2e-3\n" +
      specimen("A", "{ wear = \"dry\", metres = 5000 }");
  const Scenario    s = load(text).scenario;
  const std::string csv =
      "specimen,metres,wear_um,wear_sd_um\nA,500,0,0.4\nA,900,1.1,0.4\nA,1000,0,0.4\nA,1500,3.6,0.6\nA,3000,6.7,0.9\nA,5000,11,1.5\n";
  const auto readings = readings_in(csv, s);
  CHECK(readings[0].is_below);
  CHECK(readings[1].is_below);
  CHECK(readings[1].reading_N == 2.0);
  CHECK_FALSE(readings[3].is_below);
  const CampaignModel model(
      s, readings,
      {free_parameter(s.model, "wear.rate_um_per_m",
                      {{"wear.rate_um_per_m", Prior{PriorShape::log_normal, 2e-3, 1000.0}}})},
      plain_settings());
  // the density by hand: Φ((log 2 − log f)/σ) of what was not seen, normal in the log of the rest
  const auto by_hand = [&](double k) {
    const double way[]{500, 900, 1000, 1500, 3000, 5000}, wear[]{2, 2, 2, 3.6, 6.7, 11},
        sd[]{0.4, 0.4, 0.4, 0.6, 0.9, 1.5};
    double sum = -0.5 * std::pow(std::log(k / 2e-3) / std::log(1000.0), 2);
    for (int i = 0; i < 6; ++i) {
      const double z = (std::log(k * way[i]) - std::log(wear[i])) / (sd[i] / wear[i]);
      sum += i < 3 ? std::log(0.5 * std::erfc(z / std::sqrt(2.0))) : -0.5 * z * z;
    }
    return sum;
  };
  double       low = std::log(5e-4), high = std::log(1e-2);  // golden section
  const double ratio = 0.5 * (std::sqrt(5.0) - 1.0);
  for (int i = 0; i < 80; ++i) {
    const double a = high - ratio * (high - low), b = low + ratio * (high - low);
    (by_hand(std::exp(a)) < by_hand(std::exp(b)) ? low : high) =
        by_hand(std::exp(a)) < by_hand(std::exp(b)) ? a : b;
  }
  const FitResult result = fit(model);
  REQUIRE(result.converged);
  // the search ends at 1e-6 of the prior's log 1000, a golden section at the root of rounding
  CHECK(std::log(model.parameters()[0].value(result.best.u[0])) == Approx(0.5 * (low + high)).margin(2e-5));
  // differences of the density are those by hand
  const LogPosterior density(model);
  const auto         at = [&](double k) {
    Eigen::VectorXd x(density.size());
    x.setZero();
    x[0] = model.parameters()[0].scaled(k);
    return density.at(x, nullptr);
  };
  CHECK(at(2.4e-3) - at(1.7e-3) == Approx(by_hand(2.4e-3) - by_hand(1.7e-3)).epsilon(1e-9));
}

TEST_CASE("slopes of the density are exact with noise that adds, is heavy, and leaves readings unseen",
          "[specimens]") {
  const std::string noise = GENERATE("log", "additive");
  const std::string shape = GENERATE("log-normal", "student-t");
  INFO(noise << ", " << shape);
  const Scenario s = load(pin + loads + "detection_um = 0.5\nnoise = \"" + noise + "\"\n" +
                          "[wear]\nlaw = \"power\"\nrate_um_per_m = 2e-3\nexponent = 0.6\n" +
                          specimen("A", "{ wear = \"dry\", metres = 5000, load_N = 10 }") +
                          specimen("B", "{ wear = \"oil\", metres = 5000, load_N = 40 }"))
                         .scenario;
  const auto readings = readings_in(
      "specimen,metres,wear_um,wear_sd_um\nA,500,0.9,\nA,1500,2.6,\nA,5000,30,\nB,100,0,\nB,2000,0.3,\nB,4000,1.9,0.2\nB,5000,2.2,0.2\n",
      s);
  FitSettings settings = plain_settings();
  settings.rate_effect = true;
  settings.noise       = shape;
  const CampaignModel model(
      s, readings,
      {free_parameter(s.model, "wear.rate_um_per_m"), free_parameter(s.model, "wear.exponent"),
       free_parameter(s.model, "specimen.load_exponent"), free_parameter(s.model, "specimen.start_um"),
       free_parameter(s.model, "counterface.oil.wear_factor")},
      settings);
  CHECK(check_gradient(model, Eigen::VectorXd::Constant(5, 0.1)).passed());
  const LogPosterior density(model);
  Eigen::VectorXd    x(density.size()), slope;
  for (Eigen::Index i = 0; i < x.size(); ++i) x[i] = 0.3 * std::sin(1.7 * static_cast<double>(i) + 0.4);
  x[5] = std::log(0.2);  // scatter of readings
  REQUIRE(std::isfinite(density.at(x, &slope)));
  for (Eigen::Index i = 0; i < x.size(); ++i) {
    // central differences: of h² ~ 1e-8 and the integration's 1e-6 over 2·h
    constexpr double h  = 1e-4;
    Eigen::VectorXd  up = x, down = x;
    up[i] += h;
    down[i] -= h;
    INFO(i);
    CHECK((density.at(up, nullptr) - density.at(down, nullptr)) / (2.0 * h) ==
          Approx(slope[i]).epsilon(2e-3).margin(2e-2));
  }
}

TEST_CASE("a reading of no wear is taken where it can be, and refused by what to do elsewhere",
          "[specimens]") {
  const std::string steps = specimen("A", "{ wear = \"dry\", metres = 1000 }");
  const std::string csv   = "specimen,metres,wear_um\nA,0,0\nA,100,0\nA,1000,3\n";
  const Scenario    log   = load(pin + steps).scenario;
  const std::string fault = readings_fault(csv, log);
  CHECK_THAT(fault, Catch::Contains("wear_um = 0 has no logarithm"));
  CHECK_THAT(fault, Catch::Contains("detection_um under [specimen]"));
  CHECK_THAT(fault, Catch::Contains("The same in line 3"));
  const Scenario seen = load(pin + "[specimen]\ndetection_um = 0.5\n" + steps).scenario;
  const auto     some = readings_in(csv, seen);
  REQUIRE(some.size() == 3);
  CHECK(some[0].excluded == "nothing had worn, and nothing was seen");
  CHECK(some[1].is_below);
  const Scenario additive =
      load(pin + "[specimen]\nnoise = \"additive\"\n[wear]\nlaw = \"constant-rate\"\n" + steps).scenario;
  const auto all = readings_in("specimen,metres,wear_um\nA,0,-0.2\nA,100,0\nA,1000,3\n", additive);
  CHECK(all[0].reading_N == -0.2);
  CHECK(all[1].reading_N == 0.0);
  const FitResult result = fit(
      CampaignModel(additive, all, {free_parameter(additive.model, "wear.rate_um_per_m")}, plain_settings()));
  CHECK(result.converged);
  CHECK_THAT(readings_fault("edge,metres,reading_gf\nA,100,120\n", log),
             Catch::Contains("the column reading_gf is of blades"));
  CHECK_THAT(readings_fault("specimen,minutes,wear_um\nA,100,12\n", log), Catch::Contains("step or metres"));
  CHECK(readings_in("specimen,metres,wear_mm\nA,1000,0.25\n", log).front().reading_N == 250.0);
}

TEST_CASE("what makes no sense for a specimen is refused by its reason", "[specimens]") {
  const std::string steps = specimen("A", "{ wear = \"dry\", metres = 1000 }");
  const auto        fault = [&](const std::string& text) { return std::string(load_error(text).what()); };
  CHECK_THAT(fault(pin + "[tester]\nslope_N_per_um = 3\n" + steps), Catch::Contains("[tester] is of blades"));
  CHECK_THAT(fault(pin + "[coefficients]\nabrasion = 0.1\n" + steps),
             Catch::Contains("[coefficients] is of blades"));
  CHECK_THAT(fault(pin + "[scatter]\nedge_cv = 0.1\n" + steps), Catch::Contains("edge_cv is of blades"));
  CHECK_THAT(fault(pin + "[output]\nreading_limit_gf = 100\n" + steps), Catch::Contains("wear_limit_um"));
  CHECK_THAT(fault(pin + specimen("A", "{ cut = \"sugar maple\", passes = 10 }")),
             Catch::Contains("Write { wear = "));
  CHECK_THAT(fault(pin + specimen("A", "{ wear = \"dri\", metres = 10 }")), Catch::Contains("dry"));
  CHECK_THAT(fault(pin + specimen("A", "{ wear = \"dry\", minutes = 10 }")),
             Catch::Contains("specimens here wear per metre"));
  CHECK_THAT(fault(pin + specimen("A", "{ wear = \"dry\", metres = 10, load_N = 5 }")),
             Catch::Contains("reference_load_N"));
  CHECK_THAT(fault(pin + "[specimen]\nper = \"hour\"\n" + steps), Catch::Contains("metre, minute or pass"));
  CHECK_THAT(fault(iron + pin + steps), Catch::Contains("\"iron\" is a blade"));
  CHECK_THAT(fault(shop("{ wear = \"dry\", metres = 10 }")), Catch::Contains("a blade cuts wood"));
  CHECK_THAT(fault("[specimen]\nper = \"pass\"\n" + shop(one_hone)), Catch::Contains("no tool is one"));

  Campaign campaign;
  campaign.loaded = load(pin + steps);
  const Arguments arguments;
  const auto refused = [&](const std::function<void()>& ask) { return std::string(error_of(ask).what()); };
  CHECK_THAT(refused([&] { (void)ask::upkeep(arguments, campaign, {}); }),
             Catch::Contains("neither stropped"));
  CHECK_THAT(refused([&] { (void)ask::compare(arguments, campaign, {}, {}, nullptr); }),
             Catch::Contains("ways of sharpening"));
  CHECK_THAT(refused([&] { (void)ask::sensitivity(arguments, campaign, {}); }),
             Catch::Contains("a sensitivity analysis is of blades"));
  CHECK_THAT(refused([&] { (void)ask::forecast(arguments, campaign, {}, {}, nullptr); }),
             Catch::Contains("has no numbers for these specimens"));
}

TEST_CASE("specimens are told in their own quantity and units", "[specimens]") {
  const std::string text =
      pin + loads +
      "quantity = \"flank wear\"\nunit = \"mm\"\nper = \"minute\"\n[output]\nwear_limit_um = 300\n"
      "[wear]\nlaw = \"constant-rate\"\nrate_um_per_m = 9\n" +
      specimen("A", "{ wear = \"dry\", minutes = 40, load_N = 10 }, { read = \"end\" }");
  const Loaded           loaded = load(text);
  const SimulationResult result = simulate(loaded.scenario);
  const std::string      said   = simulation_answer(loaded, result) + simulation_overview(loaded, result) +
                           edge_text(loaded, result.edges.front());
  INFO(said);
  CHECK_THAT(said, Catch::Contains("A reaches a flank wear of 0.300 mm after 33.3 minutes"));
  for (const char* word : {"gf", "radius", "passes", "edge", "wood", "µm"})
    CHECK_THAT(said, !Catch::Contains(word));
  CHECK_THAT(simulation_csv(loaded, result), Catch::Contains("step,count,minutes,wear_mm"));
  CHECK(result.edges.front().life.passes == Approx(300.0 / 9.0).epsilon(1e-6));

  // what is resolved loads to the same
  const Loaded again = load(resolved_toml(loaded, false));
  CHECK(resolved_toml(again, false) == resolved_toml(loaded, false));
  CHECK(simulate(again.scenario).edges.front().track.back().reading_N ==
        result.edges.front().track.back().reading_N);

  const auto readings =
      readings_in("specimen,minutes,wear_mm\nA,10,0.08\nA,20,0.19\nA,40,0.35\n", loaded.scenario);
  const CampaignModel model(loaded.scenario, readings, parameters_of_fit(loaded.scenario, {}, readings),
                            plain_settings());
  CHECK(model.parameters().size() == 1);
  CHECK(model.parameters().front().unit == "µm/min");
  const FitReport   report = fit_report(model, {.profiles = true, .draws = 0, .threads = 0});
  const std::string page   = fit_line(model, report) + fit_page(model, report, true);
  INFO(page);
  CHECK_THAT(page, Catch::Contains("of 1 specimen"));
  CHECK_THAT(page, Catch::Contains("wear of A after 40 minutes"));
  for (const char* word : {" gf", "radius", "radii", " passes", "mean edge", "wood", "tester"})
    CHECK_THAT(page, !Catch::Contains(word));
}

TEST_CASE("priors of a wear law lie where the readings are, and what is free is what was varied",
          "[specimens]") {
  const Scenario s = load(pin + loads + specimen("A", "{ wear = \"dry\", metres = 5000, load_N = 10 }") +
                          specimen("B", "{ wear = \"oil\", metres = 5000, load_N = 40 }"))
                         .scenario;
  const auto readings =
      readings_in("specimen,metres,wear_um\nA,1000,40\nA,5000,200\nB,1000,32\nB,5000,160\n", s);
  CHECK(usual_parameters(s, readings) == std::vector<std::string>{"wear.parting_um2_per_m",
                                                                  "specimen.load_exponent",
                                                                  "counterface.oil.wear_factor"});
  const Scenario here = scaled_to_readings(s, readings);
  // every law wears 80 µm, the geometric mean, over 2236 m at the reference load, to the bisection's 1e-9 and the steps' 1e-6
  for (const std::string law : {"shared-load", "constant-rate", "square-root", "power", "settling"}) {
    INFO(law);
    const Scenario under = under_law(here, law);
    CHECK(under.model.specimen.typical_um == Approx(80.0).epsilon(1e-9));
    CHECK(reference_growth_um(under.model.wear, wear_scale(under)) ==
          Approx(std::pow(40.0 * 200.0 * 32.0 * 160.0, 0.25)).epsilon(1e-5));
  }
}

TEST_CASE("additive noise is told in micrometres, drawn or at its best", "[specimens]") {
  const Scenario s = load(pin + "[specimen]\nnoise = \"additive\"\n[wear]\nlaw = \"constant-rate\"\n" +
                          specimen("A", "{ wear = \"dry\", metres = 1000 }"))
                         .scenario;
  // on a line of 0.04 µm/m but for ±1 µm
  const auto readings =
      readings_in("specimen,metres,wear_um\nA,200,9\nA,400,15\nA,600,25\nA,800,31\nA,1000,41\n", s);
  const CampaignModel model(s, readings, {wide(s, "wear.rate_um_per_m", 0.04, 0.02)}, plain_settings());
  const FitReport     report = fit_report(model, {.profiles = false, .draws = 400, .threads = 1});
  REQUIRE(report.draws.converged);
  const std::string page = fit_page(model, report, false);
  const auto        at   = page.find("sd of readings, µm");
  REQUIRE(at != std::string::npos);
  // the median of its draws is of the size of the scatter that was put in, about 1 µm
  double low = 0.0, middle = 0.0;
  REQUIRE(std::sscanf(page.c_str() + at + std::string("sd of readings, µm").size(), "%lf %lf", &low,
                      &middle) == 2);
  CHECK(middle > 0.5);
  CHECK(middle < 3.0);
}
