// SPDX-License-Identifier: MIT
#include <cmath>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/loader.hpp"
#include "sim/studies/fit_report.hpp"
#include "sim/studies/weigh.hpp"

namespace {

using namespace arris;

// eight edges of three kinds, read off the stones, stropped and twice in wood
const std::string campaign = [] {
  std::string text = R"(
[tool.iron]
steel             = "O1"
width_mm          = 50
thickness_mm      = 3.2
primary_bevel_deg = 25
micro_bevel_deg   = 30
apex_radius_um    = 3
[route.stones]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 40 },
  { hone = "soft waterstone, JIS #4000", strokes = 60 },
  { hone = "hard waterstone, JIS #8000", strokes = 80 },
  { back = "hard waterstone, JIS #8000", strokes = 10 },
]
[route.coarse]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 60 },
  { back = "soft waterstone, JIS #1000", strokes = 10 },
]
)";
  for (int e = 1; e <= 8; ++e) {
    text += "[edge.E" + std::to_string(e) + "]\ntool = \"iron\"\nroute = \"" +
            (e % 3 == 0 ? "coarse" : "stones") + "\"\nsteps = [\n";
    text += "  { read = \"off the stones\", replicates = 3 },\n";
    if (e % 2 == 0)
      text +=
          "  { strop = \"soft hide\", compound = \"chromium oxide 0.5 µm\", laps = 40 }, { read = "
          "\"stropped\", replicates = 3 },\n";
    text += "  { cut = \"sugar maple\", passes = 60 }, { read = \"worn\", replicates = 3 },\n";
    text += "  { cut = \"sugar maple\", passes = 200 }, { read = \"well worn\", replicates = 3 },\n]\n";
  }
  return text;
}();

const std::vector<std::string> usual{"coefficients.radius_per_scratch", "coefficients.drape",
                                     "wear.parting_um2_per_m", "tester.slope_N_per_um",
                                     "tester.cut_resistance_N"};

Scenario scenario_of(const std::string& extra = {}) {
  return load_scenario("campaign.toml", campaign + extra).scenario;
}

std::vector<FreeParameter> free_of(const Scenario& s, const std::vector<std::string>& paths) {
  std::vector<FreeParameter> out;
  for (const auto& path : paths) out.push_back(free_parameter(s.model, path));
  return out;
}

FitSettings settings_of(int starts = 2) {
  FitSettings s;
  s.starts = starts;
  return s;
}

std::vector<Reading> readings_of(const Scenario& s, unsigned long long seed) {
  return invent_readings(s, seed, {"A", "B"}, {"lot"}, 1);
}

}  // namespace

TEST_CASE("a fit finds the parameters that readings without noise were drawn from") {
  const Scenario        truth      = scenario_of();
  const auto            parameters = free_of(truth, usual);
  const Eigen::VectorXd at         = (Eigen::VectorXd(5) << 0.6, -0.5, 0.4, -0.3, 0.2).finished();
  Scenario              shifted    = truth;
  shifted.model                    = with_parameters(truth.model, parameters, at);
  shifted.model.scatter            = {0.0, 0.0, 0.0, 0.0};
  FitSettings settings             = settings_of();
  settings.edge_effect             = false;
  const CampaignModel model(truth, readings_of(shifted, 1), parameters, settings);
  const FitResult     result = fit(model);
  REQUIRE(result.converged);
  // without noise the standard deviation falls to its bound, so that the priors pull with weight (1e-4)² only; what is
  // left is the tolerance of the integration, 1e-6 in each reading, over the weakest direction
  for (Eigen::Index i = 0; i < 5; ++i) CHECK(result.best.u[i] == Approx(at[i]).margin(2e-3));
}

TEST_CASE("exact derivatives of a campaign agree with differences, also beyond one run of derivatives") {
  const Scenario           s    = scenario_of();
  std::vector<std::string> many = usual;
  many.insert(many.end(), {"coefficients.abrasion", "coefficients.size_exponent", "coefficients.burr_growth",
                           "coefficients.burr_loss_strop", "wood.sugar maple.extractive_factor",
                           "steel.O1.wear_ratio", "tester.saturation_N"});
  const CampaignModel model(s, readings_of(s, 1), free_of(s, many), settings_of());
  const GradientCheck check = check_gradient(model, Eigen::VectorXd::Constant(12, 0.2));
  for (const auto& row : check.rows) {
    INFO(row.parameter << " " << row.worst);
    CHECK(row.worst <= check.allowed);
  }
  CHECK(check.rows.size() == 12);
}

TEST_CASE("starts agree, and threads change no bit of a fit") {
  const Scenario      s = scenario_of();
  const CampaignModel model(s, readings_of(s, 5), free_of(s, usual), settings_of(6));
  const FitResult     one = fit(model, 1), two = fit(model, 2);
  REQUIRE(one.converged);
  CHECK(one.agreeing >= 5);
  CHECK((one.best.u.array() == two.best.u.array()).all());
  CHECK(one.best.log_posterior == two.best.log_posterior);
  for (std::size_t i = 0; i < one.starts.size(); ++i)
    CHECK(one.starts[i].log_posterior == two.starts[i].log_posterior);
}

TEST_CASE("nominal 90 % intervals cover the truth about nine times in ten") {
  // 24 campaigns of 5 parameters, drawn from the priors' inner half: 120 intervals, of which 108 ± 3.3 should cover if
  // they were independent; those of one campaign are not, so 5 standard deviations are allowed below
  const Scenario base =
      scenario_of("[scatter]\nreading_cv = 0.08\nedge_cv = 0.08\noperator_cv = 0\nlot_cv = 0\n");
  const auto parameters = free_of(base, usual);
  int        covered = 0, all = 0;
  for (unsigned seed = 1; seed <= 24; ++seed) {
    Eigen::VectorXd at(5);
    for (Eigen::Index i = 0; i < 5; ++i) at[i] = 0.6 * std::sin(1.7 * seed + 2.1 * static_cast<double>(i));
    Scenario truth = base;
    truth.model    = with_parameters(base.model, parameters, at);
    const CampaignModel model(base, readings_of(truth, seed), parameters, settings_of(1));
    const FitResult     result = fit(model);
    REQUIRE(result.converged);
    for (Eigen::Index i = 0; i < 5; ++i) {
      ++all;
      covered +=
          std::abs(result.best.u[i] - at[i]) < 1.645 * std::sqrt(result.information.covariance(i, i)) ? 1 : 0;
    }
  }
  CHECK(all == 120);
  CHECK(covered >= 92);
  CHECK(covered < 120);
}

TEST_CASE("scale of lengths and slope of the tester are told as one combination, with what would settle it") {
  // everything that sets a length is free, and so is the slope: readings see only their product
  const Scenario s          = scenario_of("[scatter]\nreading_cv = 0.05\nedge_cv = 0.0001\n");
  auto           parameters = free_of(s, {"coefficients.radius_per_scratch", "tester.slope_N_per_um"});
  for (auto& p : parameters) p.prior.spread = 5.0;
  // off one stone only: no other length takes part
  std::vector<Reading> off_the_stones;
  for (const Reading& r : readings_of(s, 3)) {
    if (r.moment_name == "off the stones" && r.edge % 3 == 2) off_the_stones.push_back(r);
  }
  FitSettings settings = settings_of(1);
  settings.edge_effect = false;
  const CampaignModel model(s, off_the_stones, parameters, settings);
  const FitResult     result = fit(model);
  REQUIRE(result.converged);
  const Identifiability found = identifiability(model, result);
  REQUIRE(found.undetermined.size() == 1);
  CHECK(found.rank == 1);
  CHECK(found.undetermined[0].sentence.find("not either alone") != std::string::npos);
  CHECK(found.undetermined[0].combination.find("slope") != std::string::npos);
  CHECK(found.undetermined[0].combination.find("radius per scratch") != std::string::npos);
  CHECK(found.undetermined[0].settled_by.find("to 10 %") != std::string::npos);
  CHECK_FALSE(found.parameters[0].has_standard_error);
  CHECK_FALSE(found.parameters[1].has_standard_error);

  // a microscope radius settles it
  std::vector<Reading> with_microscope = off_the_stones;
  Reading              r               = off_the_stones.front();
  r.reading_N                          = not_given;
  r.apex_radius_um =
      predict(s, s.edges[static_cast<std::size_t>(r.edge)], {r.moment}).points.front().apex_radius_um;
  r.apex_radius_sd_um = 0.05 * r.apex_radius_um;
  with_microscope.push_back(r);
  const CampaignModel settled(s, with_microscope, parameters, settings);
  const FitResult     again = fit(settled);
  REQUIRE(again.converged);
  CHECK(identifiability(settled, again).undetermined.empty());
}

TEST_CASE("a parameter that no reading depends on is told to be its prior") {
  const Scenario       s = scenario_of();
  std::vector<Reading> before_wood;
  for (const Reading& r : readings_of(s, 2)) {
    if (r.moment_name == "off the stones") before_wood.push_back(r);
  }
  const CampaignModel model(s, before_wood,
                            free_of(s, {"coefficients.radius_per_scratch", "wear.parting_um2_per_m"}),
                            settings_of(1));
  const FitResult     result = fit(model);
  REQUIRE(result.converged);
  const Identifiability found = identifiability(model, result);
  REQUIRE(found.undetermined.size() == 1);
  CHECK(found.undetermined[0].sentence ==
        "These readings say next to nothing about parting; what is printed for it is its prior.");
  CHECK_FALSE(found.parameters[1].has_standard_error);
  CHECK(found.parameters[1].prior_share == Approx(1.0).margin(1e-6));
  CHECK(found.parameters[0].has_standard_error);
}

TEST_CASE("profiles agree with Wald where readings are many, and posterior draws with both") {
  const Scenario       s = scenario_of("[scatter]\nreading_cv = 0.05\nedge_cv = 0.03\n");
  std::vector<Reading> readings;  // three edges, so that twenty thousand densities stay cheap
  for (const Reading& r : readings_of(s, 9)) {
    if (r.edge < 3) readings.push_back(r);
  }
  FitSettings settings = settings_of(1);
  settings.edge_effect =
      false;  // the scatter of three edges is known to a factor of two, which draws show and Wald does not
  const CampaignModel model(
      s, readings, free_of(s, {"coefficients.radius_per_scratch", "wear.parting_um2_per_m"}), settings);
  const FitReport report = fit_report(model, {.profiles = true, .draws = 1000, .threads = 0});
  REQUIRE(report.fit.converged);
  REQUIRE(report.draws.converged);
  for (std::size_t i = 0; i < 2; ++i) {
    const ParameterFate& wald = report.identifiability.parameters[i];
    REQUIRE(report.profiles[i].usable);
    // the log scale makes both nearly symmetric; they differ by the curvature of the model: by up to 10 % of
    // the standard deviation here, and by the same where histories are integrated to 1e-9
    CHECK(std::log(report.profiles[i].low) == Approx(std::log(wald.low)).margin(0.15 * wald.log_sd));
    CHECK(std::log(report.profiles[i].high) == Approx(std::log(wald.high)).margin(0.15 * wald.log_sd));
    Eigen::VectorXd draws = report.draw_values.col(static_cast<Eigen::Index>(i)).array().log();
    const double    mean  = draws.mean();
    const double    sd =
        std::sqrt((draws.array() - mean).square().sum() / static_cast<double>(draws.size() - 1));
    // draws let the scatter vary and are about a thousand with memory: mean to 0.25 sd, sd to 25 %
    CHECK(mean == Approx(std::log(wald.value)).margin(0.25 * wald.log_sd));
    CHECK(sd == Approx(wald.log_sd).epsilon(0.25));
  }
}

TEST_CASE("student-t noise shrugs off a reading that a log-normal one chases") {
  const Scenario       s        = scenario_of();
  std::vector<Reading> readings = readings_of(s, 4);
  readings[1].reading_N *= 4.0;
  const auto      parameters = free_of(s, usual);
  FitSettings     settings   = settings_of(1);
  const FitResult clean      = fit(CampaignModel(s, readings_of(s, 4), parameters, settings));
  const FitResult chased     = fit(CampaignModel(s, readings, parameters, settings));
  settings.noise             = "student-t";
  const FitResult robust     = fit(CampaignModel(s, readings, parameters, settings));
  REQUIRE(clean.converged);
  REQUIRE(chased.converged);
  REQUIRE(robust.converged);
  CHECK(chased.best.spread.reading > 1.4 * clean.best.spread.reading);
  CHECK(robust.best.spread.reading < 1.2 * clean.best.spread.reading);
}

TEST_CASE("an excluded reading changes nothing, and without any reading there is an error") {
  const Scenario       s        = scenario_of();
  std::vector<Reading> readings = readings_of(s, 6);
  std::vector<Reading> with_bad = readings;
  Reading              bad      = readings.front();
  bad.reading_N *= 10.0;
  bad.excluded = "slipped";
  with_bad.push_back(bad);
  const auto parameters = free_of(s, usual);
  const auto a          = fit(CampaignModel(s, readings, parameters, settings_of(1))),
             b          = fit(CampaignModel(s, with_bad, parameters, settings_of(1)));
  CHECK((a.best.u.array() == b.best.u.array()).all());
  CHECK_THROWS_AS(CampaignModel(s, {bad}, parameters, settings_of(1)), Error);
}

TEST_CASE("a history that fails cannot win: its start is reported and the fit goes on") {
  Scenario s           = scenario_of();
  s.numerics.max_steps = 12;  // too few for most histories
  const CampaignModel model(s, readings_of(scenario_of(), 1), free_of(s, usual), settings_of(2));
  const FitResult     result = fit(model);
  CHECK_FALSE(result.converged);
  for (const FitPoint& p : result.starts) {
    CHECK_FALSE(p.usable);
    CHECK(p.failure.find("gave up") != std::string::npos);
  }
}

TEST_CASE("weighing prefers the law that readings were drawn from, and says when it cannot tell") {
  Scenario truth = scenario_of(
      "[scatter]\nreading_cv = 0.03\nedge_cv = 0.02\noperator_cv = 0\nlot_cv = 0\n[wear]\nlaw = "
      "\"constant-rate\"\nrate_um_per_m = 2e-3\n");
  const Scenario s        = scenario_of("[scatter]\nreading_cv = 0.03\nedge_cv = 0.02\n");
  FitSettings    settings = settings_of(1);
  settings.free   = {"coefficients.radius_per_scratch", "coefficients.drape", "wear.parting_um2_per_m"};
  const auto laws = weigh(s, readings_of(truth, 8), settings, {"square-root", "constant-rate"});
  REQUIRE(laws.size() == 2);
  REQUIRE(laws[0].usable);
  REQUIRE(laws[1].usable);
  CHECK(laws[0].name == "constant-rate");
  CHECK(laws[1].difference < -2.0 * laws[1].difference_se);
  CHECK(laws[0].aicc < laws[1].aicc);
  CHECK(laws[1].elpd_by_edge.size() == 8);
  CHECK_THROWS_AS(weigh(s, readings_of(s, 8), settings, {"no-such-law"}), Error);
}
