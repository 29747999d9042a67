// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>

#include <catch2/catch.hpp>

#include "sim/history/stages.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

// an edge that begins at 0.5 µm without a burr and then cuts, so that its life can be worked out by hand
std::string keen(const std::string& more = {}) {
  return iron + "apex_radius_um = 0.5\nburr_um = 0\n" + more + "[edge.A]\ntool = \"iron\"\nsteps = [\n  ";
}
const std::string constant =
    "[coefficients]\nnicks_um_per_km = 0\nchip_load_N_per_m = 0\ncollapse_load_N_per_m = 0\n[wear]\nlaw = \"constant-rate\"\n"
    "rate_um_per_m = 0.002\n";

ForecastSettings until(double gf, double passes = 5000.0) {
  ForecastSettings s;
  s.limit_N    = laws::in_newton(gf);
  s.limit_name = "as asked";
  s.passes     = passes;
  return s;
}

double life(const Scenario& scenario, double gf, double passes = 5000.0) {
  return forecast(scenario, {}, single_member(scenario), {0}, until(gf, passes))
      .edges.at(0)
      .mean_passes.middle;
}

}  // namespace

TEST_CASE("a limit is crossed where a curve goes through it", "[forecast]") {
  std::vector<double> grid;
  for (int i = 0; i <= 100; ++i) grid.push_back(0.01 * i * i);
  const auto line = [](double x) { return 1.0 + x; };
  CHECK(passes_to_limit(grid, line, 31.25) == Approx(30.25).margin(1e-6));  // sought to a millionth
  CHECK(passes_to_limit(grid, line, 0.5) == 0.0);
  CHECK(passes_to_limit(grid, line, 101.5) == infinity);
  // a fresh edge above the limit that comes below it counts from its lowest point on
  const auto dip = [](double x) { return 10.0 + (x - 20.0) * (x - 20.0) / 40.0; };
  CHECK(passes_to_limit(grid, dip, 12.5) == Approx(30.0).margin(1e-6));
  CHECK(passes_to_limit(grid, dip, 9.9) == 0.0);
  // one that stands at the limit at a point of the grid, and one that was read there before
  CHECK(passes_to_limit(grid, line, 1.0 + grid[40]) == Approx(grid[40]).margin(1e-6));
  std::vector<double> known;
  for (const double x : grid) known.push_back(dip(x));
  CHECK(passes_to_limit(grid, known, dip, 12.5) == passes_to_limit(grid, dip, 12.5));
}

TEST_CASE("a law that outruns the blade before the passes looked at has a life all the same", "[forecast]") {
  const Loaded loaded = load(keen("[wear]\nlaw = \"power\"\nrate_um_per_m = 0.02\nexponent = -1\n") +
                             "{ cut = \"eastern white pine\", passes = 10, pass_m = 0.5 },\n]\n");
  CHECK_FALSE(
      simulate_edge(loaded.scenario, working_history(loaded.scenario.edges[0], 20000.0)).status.usable());
  const double seen = life(loaded.scenario, 600.0, 800.0);
  CHECK(seen > 1.0);
  CHECK(life(loaded.scenario, 600.0, 20000.0) == Approx(seen).epsilon(1e-3));
}

TEST_CASE("the life of an edge that wears at a constant rate is that worked out by hand", "[forecast]") {
  const Loaded loaded =
      load(keen(constant) + "{ cut = \"eastern white pine\", passes = 10, pass_m = 0.5 },\n]\n");
  const auto&  model = loaded.scenario.model;
  const auto   law   = tester_law(model.tester);
  const double half  = 15.0 * laws::degree;
  const auto blade  = assemble_blade(model.tools[0], model.steels[0].hardness_GPa, model.steels[0].carbide_um,
                                     model.coefficients.carbide_share, model.steels[0].wear_ratio);
  const double rate = 0.002 * severity(model, blade, model.woods[0]) * 0.5;  // µm per pass
  for (const double radius : {0.6, 1.0, 2.0}) {
    const double gf     = laws::in_gram_force(law.reading_N(radius, 0.0, half));
    const double passes = life(loaded.scenario, gf, 20000.0);
    // the integration is good to 1e-6 of the radius, and straight lines are met by monotone cubics
    CHECK(passes == Approx((radius - 0.5) / rate).epsilon(1e-5));
  }
}

TEST_CASE("harder and more siliceous woods shorten the life of an edge", "[forecast][physics]") {
  const auto in = [](const std::string& wood) {
    const Loaded loaded =
        load(keen("[wood.own]\n" + wood) + "{ cut = \"own\", passes = 10, pass_m = 0.5 },\n]\n");
    return life(loaded.scenario, 180.0, 1e6);
  };
  double before = infinity;
  for (const char* hardness : {"2000", "4000", "8000"}) {
    const double passes = in(std::string("side_hardness_N = ") + hardness + "\nsilica_pct = 0\n");
    CHECK(passes < before);
    before = passes;
  }
  before = infinity;
  for (const char* silica : {"0", "0.3", "1.2"}) {
    const double passes = in(std::string("side_hardness_N = 4000\nsilica_pct = ") + silica + "\n");
    CHECK(passes < before);
    before = passes;
  }
}

TEST_CASE("an obtuser bevel never fails sooner by collapse", "[forecast][physics]") {
  // wear switched off but for collapse: an apex thinner than it can bear gives way, the obtuser the later
  const auto at = [](int angle) {
    std::string tool = iron;
    tool             = with(tool, "primary_bevel_deg = 25", "primary_bevel_deg = " + std::to_string(angle));
    tool             = with(tool, "micro_bevel_deg = 30\n", "");
    const Loaded loaded = load(
        tool + "apex_radius_um = 0.1\nburr_um = 0\n[wear]\nlaw = \"constant-rate\"\nrate_um_per_m = 1e-6\n" +
        "[edge.A]\ntool = \"iron\"\nsteps = [\n  { cut = \"white oak\", passes = 10, pass_m = 0.5 },\n]\n");
    // measured on the radius, since the wedge itself enters the reading a little
    const auto&  law = tester_law(loaded.scenario.model.tester);
    const double gf  = laws::in_gram_force(law.reading_N(0.12, 0.0, 0.5 * angle * laws::degree));
    return life(loaded.scenario, gf, 1e5);
  };
  double before = 0.0;
  for (const int angle : {20, 25, 30, 35, 40}) {
    const double passes = at(angle);
    CHECK(passes >= before);
    before = passes;
  }
  CHECK(at(20) < at(40));
}

TEST_CASE("next edges scatter as edges do, and the mean edge only as far as parameters are unknown",
          "[forecast]") {
  const Loaded loaded =
      load(keen(constant) + "{ cut = \"eastern white pine\", passes = 10, pass_m = 0.5 },\n]\n");
  Ensemble one  = single_member(loaded.scenario);
  Ensemble many = one;
  many.values.resize(4000, 0);
  many.spreads.assign(4000, one.spreads[0]);
  const double limit = 320.0;
  for (Spread& s : many.spreads) s.edge = 0.0;
  const auto same = forecast(loaded.scenario, {}, many, {0}, until(limit, 20000.0)).edges.at(0);
  CHECK(same.mean_passes.low == same.mean_passes.high);
  CHECK(same.next_passes.low == same.mean_passes.middle);
  for (Spread& s : many.spreads) s.edge = 0.1;
  const auto apart = forecast(loaded.scenario, {}, many, {0}, until(limit, 20000.0)).edges.at(0);
  CHECK(apart.mean_passes.low == apart.mean_passes.high);
  // the next edge begins at e^η·0.5 and grows e^η times as fast in what is read: it crosses where r = r*·e^−η
  const auto& model = loaded.scenario.model;
  const auto  blade = assemble_blade(model.tools[0], model.steels[0].hardness_GPa, model.steels[0].carbide_um,
                                     model.coefficients.carbide_share, model.steels[0].wear_ratio);
  const double rate = 0.002 * severity(model, blade, model.woods[0]) * 0.5;
  const double end  = 0.5 + rate * apart.mean_passes.middle;
  const auto   at   = [&](double eta) { return (end * std::exp(-eta) - 0.5) / rate; };
  // 5 and 95 % points of 4000 draws: their standard error is about 1/(φ(1.645)·√4000)·√(0.05·0.95) = 0.033 s.d.; four of them
  CHECK(apart.next_passes.low == Approx(at(0.16449)).margin(std::abs(at(0.16449) - at(0.16449 + 0.0133))));
  CHECK(apart.next_passes.high ==
        Approx(at(-0.16449)).margin(std::abs(at(-0.16449) - at(-0.16449 - 0.0133))));
}

TEST_CASE("a forecast is the same at any number of threads", "[forecast]") {
  const Loaded loaded =
      load(keen() + "{ strop = \"MDF\", laps = 5 },\n{ cut = \"white oak\", passes = 10 },\n]\n");
  const auto draws = prior_ensemble(loaded.scenario, {}, 100, 5);
  auto       s     = until(200.0);
  s.threads        = 1;
  const auto a     = forecast(loaded.scenario, loaded.workshop, draws, {0}, s);
  s.threads        = 2;
  const auto b     = forecast(loaded.scenario, loaded.workshop, draws, {0}, s);
  CHECK(answer_csv(forecast_answer(a, loaded.workshop, draws)) ==
        answer_csv(forecast_answer(b, loaded.workshop, draws)));
  CHECK(a.edges[0].next_N[20].high == b.edges[0].next_N[20].high);
}

TEST_CASE("an edge with which the same is done as with one that is known is not worked out again",
          "[forecast]") {
  const std::string stropped = "{ strop = \"MDF\", laps = 5 },\n",
                    cut      = "{ cut = \"white oak\", passes = 10 },\n]\n";
  const std::string edge     = "tool = \"iron\"\nsteps = [\n";
  const Loaded      loaded =
      load(keen() + stropped + cut + "[edge.B]\n" + edge + stropped + "{ read = \"stropped\" },\n" + cut +
           "[edge.C]\n" + edge + "{ strop = \"MDF\", laps = 50 },\n" + cut);
  const auto draws = prior_ensemble(loaded.scenario, {}, 100, 5);
  const auto of    = [&](const std::vector<std::size_t>& edges, const ForecastSettings& s,
                      const Forecast* known) {
    return forecast(loaded.scenario, loaded.workshop, draws, edges, s, {}, known).edges;
  };
  const ForecastSettings          settings = until(200.0);
  const std::vector<EdgeForecast> all      = of({0, 1, 2}, settings, nullptr);
  CHECK(all[1].edge == "B");
  CHECK(all[1].member_passes == of({1}, settings, nullptr)[0].member_passes);
  CHECK(all[2].member_passes != all[0].member_passes);
  // a mark tells where an answer comes from
  constexpr double mark             = 1234.0;
  Forecast         known            = forecast(loaded.scenario, loaded.workshop, draws, {0}, settings);
  known.edges[0].mean_passes.middle = mark;
  const std::vector<EdgeForecast> with_known = of({1, 2}, settings, &known);
  CHECK(with_known[0].edge == "B");
  CHECK(with_known[0].mean_passes.middle == mark);
  CHECK(with_known[1].mean_passes.middle == all[2].mean_passes.middle);
  // with other settings nothing of it holds, nor of other members
  for (const ForecastSettings& other : {until(220.0), until(200.0, 4000.0)})
    CHECK(of({1}, other, &known)[0].mean_passes.middle == of({1}, other, nullptr)[0].mean_passes.middle);
  known.members = 99;
  CHECK(of({1}, settings, &known)[0].mean_passes.middle == all[1].mean_passes.middle);
}

TEST_CASE("limits never reached, exceeded at once, and edges that never cut are told in words",
          "[forecast]") {
  const Loaded loaded = load(keen() + "{ cut = \"white oak\", passes = 10 },\n]\n");
  const auto   text   = [&](double gf, double passes) {
    const auto one = single_member(loaded.scenario);
    return answer_text(forecast_answer(
            forecast(loaded.scenario, loaded.workshop, one, {0}, until(gf, passes)), loaded.workshop, one));
  };
  const std::string never = text(790.0, 50.0);
  CHECK(
      never.find(
          "Edge A (iron) in white oak is still below 790 gf after 50 passes: it lasts longer than was looked.") !=
      std::string::npos);
  CHECK(never.find("more than 50") != std::string::npos);
  const std::string at_once = text(60.0, 50.0);
  CHECK(at_once.find("No pass is within the limit of 60 gf for edge A") != std::string::npos);
  for (const std::string& t : {never, at_once}) {
    CHECK(t.find("nan") == std::string::npos);
    CHECK(t.find("inf ") == std::string::npos);
  }
  const Loaded idle = load(shop(one_hone));
  const Error  error =
      error_of([&] { (void)forecast(idle.scenario, {}, single_member(idle.scenario), {0}, until(100.0)); });
  CHECK(error.exit() == Exit::usage);
  CHECK(error.diagnostics().front().code == "no-cut");
}

TEST_CASE("quantiles interpolate between order statistics and bear infinity", "[forecast]") {
  CHECK(quantile({4.0, 1.0, 3.0, 2.0}, 0.5) == 2.5);
  CHECK(quantile({4.0, 1.0, 3.0, 2.0}, 0.0) == 1.0);
  CHECK(quantile({4.0, 1.0, 3.0, 2.0}, 1.0) == 4.0);
  CHECK(quantile({1.0, infinity, infinity}, 0.9) == infinity);
  CHECK(quantile({1.0, 2.0, infinity}, 0.25) == 1.5);
  CHECK(std::isnan(quantile({}, 0.5)));
}

TEST_CASE("members of another configuration are refused", "[forecast]") {
  const Loaded loaded = load(keen() + "{ cut = \"white oak\", passes = 10 },\n]\n");
  auto         draws  = prior_ensemble(loaded.scenario, {}, 3, 1);
  draws.paths[0]      = "wood.boxwood.extractive_factor";
  const Error error   = error_of([&] { (void)member_of(loaded.scenario.model, draws, 0); });
  CHECK(error.diagnostics().front().code == "unknown-parameter");
}
