// SPDX-License-Identifier: MIT
#include <cmath>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/fit/fit_report.hpp"
#include "sim/input/readings_csv.hpp"
#include "tests/desk.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::desk;
using bench::off;

namespace {

// honed, read, used, read
const Loaded& yard() {
  static const Loaded loaded = load(
      shop(
          "{ read = \"new\" }, { hone = \"soft waterstone, JIS #1000\", strokes = 30 }, { read = \"honed\" }, { cut = \"white oak\", passes = 100 }, { read = \"worn\" },") +
      "[edge.B]\ntool = \"iron\"\nsteps = [ { cut = \"white oak\", passes = 100 }, { read = \"worn\" } ]\n");
  return loaded;
}

std::vector<Reading> parse(const std::string& text) { return parse_readings("r.csv", text, yard().scenario); }
std::string          told(const std::string& text) {
           return error_of([&] { (void)parse(text); }).what();
}

}  // namespace

TEST_CASE("what wears off in wood is the section that the apex has lost", "[mass]") {
  auto       model = bench::workshop();
  const auto tool  = bench::tool::iron;
  const auto blade = bench::blade_of(model, tool);
  const auto g     = laws::Wedge<double>{blade.included}.section_factor();
  const auto tol   = bench::at_tolerance(1e-10);
  const auto r0    = bench::tool_of(model, tool).apex_radius_um;
  const auto once =
      bench::run(model, bench::plan(tool, {bench::cut(bench::wood::oak, 300)}), tol, {0.0, 100.0, 300.0});
  const auto at = [&](std::size_t i) -> const auto& { return once.witness.seen.at(i); };
  REQUIRE(once.witness.seen.size() == 3);
  CHECK(at(0).ledger.steel_worn_um_mm == 0.0);
  for (std::size_t i = 1; i < 3; ++i) {
    const double r = at(i).state.apex_radius_um;
    // the same formula; a difference of squares loses a digit
    CHECK(off(at(i).ledger.steel_worn_um_mm, 1e-3 * g * (r * r - r0 * r0)) < 1e-13);
  }
  CHECK(once.ledger.steel_worn_um_mm == at(2).ledger.steel_worn_um_mm);
  CHECK(once.ledger.steel_removed_um_mm == 0.0);
  // µm·mm × m × 7850 kg/m³: 1e-9 m³ per µm·mm·m, 1e6 mg per kg
  CHECK(off(mass_loss_mg(once.ledger, blade.width_m), once.ledger.steel_worn_um_mm * 50e-3 * 7.85) < 1e-14);

  // honing in between makes the apex finer and takes no wear back
  const auto twice =
      bench::run(model,
                 bench::plan(tool, {bench::cut(bench::wood::oak, 300), bench::hone(bench::medium::fine, 40),
                                    bench::cut(bench::wood::oak, 50)}),
                 tol);
  const auto honed = bench::run(
      model, bench::plan(tool, {bench::cut(bench::wood::oak, 300), bench::hone(bench::medium::fine, 40)}),
      tol);
  const double before = honed.state.apex_radius_um, after = twice.state.apex_radius_um;
  CHECK(honed.ledger.steel_worn_um_mm == once.ledger.steel_worn_um_mm);
  CHECK(off(twice.ledger.steel_worn_um_mm,
            honed.ledger.steel_worn_um_mm + 1e-3 * g * (after * after - before * before)) < 1e-13);
  CHECK(twice.ledger.steel_removed_um_mm == honed.ledger.steel_removed_um_mm);
}

TEST_CASE("a track tells the mass lost so far, and it never comes back", "[mass]") {
  const EdgeResult edge = simulate_edge(yard().scenario, yard().scenario.edges[0]);
  REQUIRE(edge.status.usable());
  CHECK(edge.track.front().mass_loss_mg == 0.0);
  double before = 0.0, removed = 0.0;
  for (const TrackPoint& p : edge.track) {
    CHECK(p.mass_loss_mg >= before);
    before = p.mass_loss_mg;
  }
  for (const StepSummary& s : edge.steps) removed += s.steel_removed_mg;
  CHECK(removed > 0.0);
  CHECK(before > removed);  // wood took the rest
}

TEST_CASE("faults of a loss of mass", "[mass][readings]") {
  CHECK(told("edge,step,mass_loss_mg\nA,new,3\n") ==
        "r.csv:2:7: the edge \"A\" cannot have lost mass at \"new\" [nothing-lost]\n"
        "  2 | A,new,3\n"
        "    |       ^\n"
        "  Mass is counted from the start of its history, and nothing is honed, stropped or cut before.\n"
        "  Leave the cell empty, or begin the history with what was done before the blade was weighed.\n");
  CHECK(told("edge,passes,mass_loss_mg\nB,0,3\n").find("[nothing-lost]") != std::string::npos);
  CHECK(told("edge,step,mass_loss_mg\nA,worn,-3\n") ==
        "r.csv:2:8: mass_loss_mg = -3 must be above 0 [out-of-range]\n"
        "  2 | A,worn,-3\n"
        "    |        ^^\n"
        "  Leave the cell empty where it was not measured.\n");
  CHECK(told("edge,step,mass_loss_mg,mass_loss_sd_mg\nA,worn,3,0\n") ==
        "r.csv:2:10: mass_loss_sd_mg = 0 must be above 0 [out-of-range]\n"
        "  2 | A,worn,3,0\n"
        "    |          ^\n");
  CHECK(told("edge,step,mass_loss_mg\nA,worn,some\n").find("a measured loss of mass [not-a-number]") !=
        std::string::npos);
  // left out with a reason it may be anything above zero
  CHECK(parse("edge,step,mass_loss_mg,excluded\nA,new,3,wet\nA,worn,3,\n").size() == 2);
}

TEST_CASE("losses of mass survive being written and read", "[mass][readings]") {
  auto readings = parse(
      "edge,passes,step,reading_gf,mass_loss_mg,mass_loss_sd_mg\nA,,honed,,0.3,\nB,40,,120,1e-3,2e-4\n");
  REQUIRE(readings.size() == 2);
  CHECK(std::isnan(readings[0].mass_loss_sd_mg));
  readings[0].mass_loss_mg = 0.1 + 0.2;  // has no short decimal
  const auto back          = parse(readings_text(readings, yard().scenario, {}));
  REQUIRE(back.size() == 2);
  for (std::size_t i = 0; i < 2; ++i) {
    CHECK(same_bits(back[i].mass_loss_mg, readings[i].mass_loss_mg));
    CHECK(same_bits(back[i].mass_loss_sd_mg, readings[i].mass_loss_sd_mg));
  }
}

TEST_CASE("a campaign predicts losses of mass, with their derivatives", "[mass][fit]") {
  const Scenario& s        = yard().scenario;
  const auto      readings = parse(
           "edge,step,passes,reading_gf,mass_loss_mg,mass_loss_sd_mg\nA,honed,,,1.2,0.1\nA,worn,,200,1.3,\nB,,40,,0.02,0.01\n");
  const std::vector<std::string> paths{"wear.parting_um2_per_m", "coefficients.abrasion",
                                       "tester.slope_N_per_um",
                                       "medium.soft waterstone, JIS #1000.cutting_rate"};
  std::vector<FreeParameter>     parameters;
  for (const auto& path : paths) parameters.push_back(free_parameter(s.model, path));
  const CampaignModel model(s, readings, parameters, {});
  REQUIRE(model.size() == 4);
  // A was read, fresh and in wood; an edge that was only weighed has no luck to speak of
  CHECK(model.members(EffectKind::edge) == 1);
  CHECK(model.members(EffectKind::rate) == 1);
  CHECK(model.effect_count() == 2);
  const Observation &honed = model.observations()[0], &weighed = model.observations()[2];
  CHECK(honed.kind == Observation::Kind::mass_loss);
  for (const int column : honed.effect) CHECK(column == -1);
  CHECK(honed.known_sd == Approx(0.1 / 1.2));
  CHECK(weighed.known_sd == Approx(unstated_mass_loss_sd_mg / 1.3));
  // what the track says
  Eigen::VectorXd f;
  model.observe(model.apex(Eigen::VectorXd::Zero(4), false), Eigen::VectorXd::Zero(2), f, nullptr, nullptr);
  const auto points = predict(s, s.edges[0], {readings[0].moment, readings[1].moment}).points;
  CHECK(std::exp(f[0]) == Approx(points[0].mass_loss_mg).epsilon(1e-12));  // closed forms on either path
  // from a radius that lanes and the adaptive path know to ten times the tolerance of 1e-6
  CHECK(std::exp(f[2]) == Approx(points[1].mass_loss_mg).epsilon(1e-5));
  CHECK(std::exp(f[3]) ==
        Approx(predict(s, s.edges[1], {readings[2].moment}).points[0].mass_loss_mg).epsilon(1e-12));
  const GradientCheck check = check_gradient(model, Eigen::VectorXd::Constant(4, 0.1));
  for (const auto& row : check.rows) {
    INFO(row.parameter << " " << row.worst);
    CHECK(row.worst <= check.allowed);
  }
}

TEST_CASE("wear is found from losses of mass alone", "[mass][fit]") {
  const Scenario& s     = yard().scenario;
  const auto      wear  = free_parameter(s.model, "wear.parting_um2_per_m");
  Scenario        truth = s;
  truth.model           = with_parameters(s.model, {wear}, Eigen::VectorXd::Constant(1, 0.8));
  std::string text      = "edge,passes,mass_loss_mg,mass_loss_sd_mg\n";
  for (const double passes : {25.0, 50.0, 100.0}) {
    const double mg = predict(truth, truth.edges[1], {{0, passes}}).points.at(0).mass_loss_mg;
    text += fmt::format("B,{},{},{}\n", passes, mg, 0.02 * mg);
  }
  FitSettings settings;
  settings.starts = 2;
  const CampaignModel model(s, parse(text), {wear}, settings);
  const FitResult     result = fit(model);
  REQUIRE(result.converged);
  // The prior pulls by (σ/slope)²: log-mass has the slope log 3 times about 1 in u, three measurements of 2 % leave
  // (0.02/1.1)²/3 = 1e-4 of the way to 0.
  CHECK(result.best.u[0] == Approx(0.8).margin(1e-3));
}
