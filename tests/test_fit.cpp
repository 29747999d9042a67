// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/fit/fit_report.hpp"
#include "sim/fit/marginal.hpp"
#include "sim/fit/noise.hpp"
#include "sim/input/loader.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/studies/weigh/weigh.hpp"
#include "tests/iron_to_fit.hpp"

namespace {

using namespace arris;

// eight edges of three kinds, read off the stones, stropped and twice in wood
const std::string campaign = [] {
  std::string text = std::string(bench::iron_to_fit) + R"([route.stones]
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
          "  { strop = \"soft hide\", compound = \"chromium oxide 0.5 µm\", laps = 40 }, { read = \"stropped\", replicates = 3 },\n";
    text += "  { cut = \"sugar maple\", passes = 60 }, { read = \"worn\", replicates = 3 },\n";
    text += "  { cut = \"sugar maple\", passes = 200 }, { read = \"well worn\", replicates = 3 },\n]\n";
  }
  return text;
}();

const std::vector<std::string> usual{"coefficients.radius_per_scratch", "coefficients.dub_share",
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

// without the luck of edges, operators and lots
FitSettings without_effects(FitSettings s) {
  s.edge_effect = s.rate_effect = s.operator_effect = s.lot_effect = s.way_effect = s.way_wear_effect =
      s.wood_effect                                                               = false;
  return s;
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
  const FitSettings   settings     = without_effects(settings_of());
  const CampaignModel model(truth, readings_of(shifted, 1), parameters, settings);
  const FitResult     result = fit(model);
  REQUIRE(result.converged);
  // without noise the standard deviation falls to its bound, so that the priors pull with weight (1e-4)² only; what is
  // left is the tolerance of the integration, 1e-6 in each reading, over the weakest direction
  for (Eigen::Index i = 0; i < 5; ++i) CHECK(result.best.u[i] == Approx(at[i]).margin(2e-3));
}

TEST_CASE("a fit says whose differences it passes over, and nothing where it does not") {
  const Scenario s        = scenario_of();
  const auto     readings = invent_readings(s, 3, {"A", "B"}, {"1", "2", "3"}, 1);
  const auto     told     = [&](bool operators, bool lots) {
    FitSettings settings     = settings_of(1);
    settings.operator_effect = operators;
    settings.lot_effect      = lots;
    const CampaignModel model(s, readings, free_of(s, {"tester.slope_N_per_um"}), settings);
    const FitReport     report = fit_report(model, {.profiles = false, .draws = 0, .threads = 1});
    REQUIRE(report.fit.converged);
    std::string text;
    for (const std::string& remark : fit_sentences(model, report, "readings.csv").remarks)
      text += remark + "\n";
    return text;
  };
  CHECK_THAT(told(false, false),
             Catch::Contains("The readings come from 2 operators and 3 filament lots, taken here") &&
                 Catch::Contains("operator_effect = true and lot_effect = true"));
  CHECK_THAT(told(true, false),
             Catch::Contains("come from 3 filament lots") && !Catch::Contains("operator_effect = true"));
  CHECK_THAT(told(true, true), !Catch::Contains("taken here"));
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

TEST_CASE("many measurements are integrated more tightly, few as the configuration says") {
  const Scenario    s          = scenario_of();
  const auto        parameters = free_of(s, usual);
  auto              readings   = readings_of(s, 5);
  const FitSettings settings   = settings_of(1);
  const double      stated     = s.numerics.relative_tolerance;
  CHECK(CampaignModel(s, readings, parameters, settings).tolerances().relative == stated);
  const std::vector<Reading> once = readings;
  while (readings.size() < 2000) readings.insert(readings.end(), once.begin(), once.end());
  const CampaignModel many(s, readings, parameters, settings);
  CHECK(many.tolerances().relative == Approx(stated * 200.0 / static_cast<double>(many.size())));
  // so that the log density of so many is told to a hundredth at two places that are one
  const CampaignModel exact(
      [&] {
        Scenario tight                    = s;
        tight.numerics.relative_tolerance = 1e-11;
        return tight;
      }(),
      readings, parameters, settings);
  const Spread spread{0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05, 0.05};
  const auto   at = [&](const CampaignModel& model) {
    Eigen::VectorXd effects = Eigen::VectorXd::Zero(model.effect_count());
    return log_likelihood(model, Eigen::VectorXd::Constant(model.parameter_count(), 0.3), spread, effects);
  };
  CHECK(at(many) == Approx(at(exact)).margin(0.05));
}

TEST_CASE("repeated readings tell as much as their mean, their number and how they differ") {
  const Scenario s        = scenario_of();
  auto           readings = readings_of(s, 5);
  readings[1].reading_cv  = 0.2;  // one among its repeats states its own uncertainty
  FitSettings settings    = settings_of();
  settings.noise          = GENERATE("log-normal", "student-t");
  CAPTURE(settings.noise);
  const CampaignModel        model(s, readings, free_of(s, usual), settings);
  const std::vector<Repeats> rows   = repeats_of(model);
  const bool                 normal = settings.noise == "log-normal";
  CHECK((std::ssize(rows) < model.size()) == normal);
  CHECK(std::ssize(model.distinct()) < model.size());
  // what is foretold of each observation is what is foretold of the one that stands for it
  const auto            apex    = model.apex(Eigen::VectorXd::Constant(model.parameter_count(), 0.1), true);
  const Eigen::VectorXd effects = Eigen::VectorXd::Constant(model.effect_count(), 0.02);
  Eigen::VectorXd       f, each;
  Eigen::MatrixXd       slopes, of_each;
  CampaignModel::SlopesByKind by_kind, of_each_by_kind;
  model.observe(apex, effects, f, &slopes, nullptr);
  model.observe(apex, effects, f, by_kind);
  model.observe_distinct(apex, effects, each, &of_each, nullptr);
  model.observe_distinct(apex, effects, each, nullptr, &of_each_by_kind);
  CHECK(f == each(model.distinct_of()));
  CHECK(slopes == of_each(model.distinct_of(), Eigen::all));
  CHECK(by_kind.slopes == of_each_by_kind.slopes(Eigen::all, model.distinct_of()));
  if (!normal) return;
  const Spread          spread{0.07, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1};
  const Eigen::VectorXd one_by_one = departures(model, spread, f).log_likelihood;
  double                together   = 0.0;
  for (const Repeats& row : rows) {
    const double sd  = noise_sd(model, row.first, spread);
    const double off = (f[row.first] - row.mean) / sd;
    together += row.count * log_noise(model, row.first, off, sd) - 0.5 * row.squares / (sd * sd);
  }
  CHECK(together == Approx(one_by_one.sum()).epsilon(1e-12));
}

TEST_CASE("densities of many places are those of each place, to the same bits, on any number of threads") {
  const Scenario      s = scenario_of();
  const CampaignModel model(s, readings_of(s, 5), free_of(s, usual), settings_of());
  const auto          P = model.parameter_count();
  Eigen::MatrixXd     u(P, 21);
  std::vector<Spread> spreads;
  for (Eigen::Index c = 0; c < u.cols(); ++c) {
    for (Eigen::Index i = 0; i < P; ++i)
      u(i, c) = 0.8 * std::sin(1.3 * static_cast<double>(c) + 0.7 * static_cast<double>(i));
    spreads.push_back({0.05 + 0.01 * static_cast<double>(c), 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1});
  }
  u(0, 4)                       = 1e6;  // far out of its range
  const Eigen::VectorXd effects = Eigen::VectorXd::Zero(model.effect_count());
  const Eigen::VectorXd one     = log_marginals(model, u, spreads, effects, true, 1),
                        two     = log_marginals(model, u, spreads, effects, true, 2);
  for (Eigen::Index c = 0; c < u.cols(); ++c) {
    INFO("place " << c);
    Eigen::VectorXd mode = effects;
    CHECK(one[c] == two[c]);
    CHECK(one[c] == log_marginal(model, u.col(c), spreads[static_cast<std::size_t>(c)], mode, true));
    CHECK(std::isfinite(one[c]) == (c != 4));
  }
  // Runs in lanes against those that carry derivatives, which are scalar: each errs by 1e-6 a step, 1e-5 over a history, in
  // the radius, which a reading is at most proportional to
  Eigen::VectorXd f, exact;
  model.observe(model.apex(u.col(0), false), effects, f, nullptr, nullptr);
  model.observe(model.apex(u.col(0), true), effects, exact, nullptr, nullptr);
  CHECK((f - exact).cwiseAbs().maxCoeff() < 1e-5);
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
  const Scenario s =
      scenario_of("[scatter]\nreading_cv = 0.05\nedge_cv = 0.0001\n[tester]\nburr_share = 0\n");
  auto parameters = free_of(s, {"coefficients.radius_per_scratch", "tester.slope_N_per_um"});
  for (auto& p : parameters) p.prior.spread = 5.0;
  // off one stone only: no other length takes part
  std::vector<Reading> off_the_stones;
  for (const Reading& r : readings_of(s, 3)) {
    if (r.moment_name == "off the stones" && r.edge % 3 == 2) off_the_stones.push_back(r);
  }
  const FitSettings   settings = without_effects(settings_of(1));
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
  FitSettings settings    = settings_of(1);
  settings.rules_of_thumb = false;  // they tell of wear where readings do not
  const CampaignModel model(
      s, before_wood, free_of(s, {"coefficients.radius_per_scratch", "wear.parting_um2_per_m"}), settings);
  const FitResult result = fit(model);
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
  // the scatter of three edges is known to a factor of two, which draws show and Wald does not
  const FitSettings   settings = without_effects(settings_of(1));
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
    CHECK(std::log(report.profiles[i].low) == Approx(std::log(wald.low)).margin(0.35 * wald.log_sd));
    CHECK(std::log(report.profiles[i].high) == Approx(std::log(wald.high)).margin(0.35 * wald.log_sd));
    Eigen::VectorXd draws = report.draw_values.col(static_cast<Eigen::Index>(i)).array().log();
    const double    mean  = draws.mean();
    const double    sd =
        std::sqrt((draws.array() - mean).square().sum() / static_cast<double>(draws.size() - 1));
    // draws let the scatter vary and are about a thousand with memory: mean to 0.25 sd, sd to 25 %
    CHECK(mean == Approx(std::log(wald.value)).margin(0.4 * wald.log_sd));
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

// radii under a microscope that follow the model of a scenario to 8 % or so, by turns above and below it
std::vector<Reading> radii_of(const Scenario& s, double stated_sd) {
  std::vector<Reading> out = readings_of(s, 4);
  for (std::size_t i = 0; i < out.size(); ++i) {
    const Prediction at =
        predict(s, s.edges[static_cast<std::size_t>(out[i].edge)], std::vector<Moment>{out[i].moment});
    const double off         = 0.08 * std::cos(2.4 * static_cast<double>(i));
    out[i].apex_radius_um    = at.points.front().apex_radius_um * std::exp(off);
    out[i].apex_radius_sd_um = stated_sd * out[i].apex_radius_um;
    out[i].reading_N         = not_given;
  }
  return out;
}

TEST_CASE("the scatter of lengths without an uncertainty is estimated as that of readings is") {
  const Scenario s          = scenario_of();
  const auto     parameters = free_of(s, {"coefficients.radius_per_scratch", "wear.parting_um2_per_m"});
  FitSettings    settings   = settings_of(1);
  settings.edge_effect = settings.rate_effect = settings.way_effect = settings.way_wear_effect = false;
  const CampaignModel lengths(s, radii_of(s, not_given), parameters, settings);
  CHECK(lengths.has_reading_noise());
  const FitResult estimated = fit(lengths);
  REQUIRE(estimated.converged);
  // ∫cos² is ½: 0.08/√2 = 0.057, and its prior, worth a reading of some 80, is at 0.1
  CHECK(estimated.best.spread.reading == Approx(0.057).epsilon(0.05));
  // stated as what was found, nothing else moves: the tolerance of a search is 1e-4 in the log of the scatter
  const FitResult stated =
      fit(CampaignModel(s, radii_of(s, estimated.best.spread.reading), parameters, settings));
  REQUIRE(stated.converged);
  CHECK((stated.best.u - estimated.best.u).cwiseAbs().maxCoeff() < 1e-3);
}

TEST_CASE("student-t noise is that of lengths with a stated uncertainty too") {
  const Scenario s          = scenario_of();
  const auto     parameters = free_of(s, {"coefficients.radius_per_scratch", "wear.parting_um2_per_m"});
  FitSettings    settings   = settings_of(1);
  settings.edge_effect = settings.rate_effect = settings.way_effect = settings.way_wear_effect = false;
  std::vector<Reading> readings = radii_of(s, 0.05);
  const FitResult      clean    = fit(CampaignModel(s, readings, parameters, settings));
  readings[5].apex_radius_um *= 3.0;
  readings[5].apex_radius_sd_um *= 3.0;  // 5 % still: 22 of them off
  const FitResult chased   = fit(CampaignModel(s, readings, parameters, settings));
  settings.noise           = "student-t";
  const FitResult     calm = fit(CampaignModel(s, radii_of(s, 0.05), parameters, settings));
  const CampaignModel heavy(s, readings, parameters, settings);
  const FitResult     robust_ = fit(heavy);
  REQUIRE(clean.converged);
  REQUIRE(chased.converged);
  REQUIRE(robust_.converged);
  const auto off = [&](const FitResult& f) { return (f.best.u - clean.best.u).cwiseAbs().maxCoeff(); };
  CHECK((robust_.best.u - calm.best.u).cwiseAbs().maxCoeff() < 0.25 * off(chased));
  // the density of a row is that of Student's t of 4 degrees of freedom on the stated scale
  const auto at = departures(heavy, robust_.best.spread, robust_.information.predicted);
  for (Eigen::Index i : {0, 5, 20}) {
    const double z = at.residuals[i], sd = at.sd[i];
    CHECK(sd == Approx(0.05));
    CHECK(at.log_likelihood[i] ==
          Approx(std::log(0.375 * std::pow(1.0 + z * z / 4.0, -2.5) / sd)).epsilon(1e-12));
  }
  CHECK(check_gradient(heavy, robust_.best.u).passed());
}

TEST_CASE("a reading far off is told by edge, moment and line") {
  const Scenario s        = scenario_of();
  auto           readings = readings_of(s, 4);
  readings[5].reading_N *= 2.0;
  readings[5].line = 17;
  FitSettings calm = {};
  calm.starts      = 1;
  const CampaignModel model(s, readings, parameters_of_fit(s, calm, readings), calm);
  const std::string   page = fit_page(model, fit_report(model, {.profiles = false}), false);
  std::string         words;  // without line breaks and indents
  for (const char c : page) {
    if (c != ' ' && c != '\n')
      words += c;
    else if (!words.empty() && words.back() != ' ')
      words += ' ';
  }
  const std::string named =
      fmt::format("One reading lies beyond 3 standard deviations of the prediction ({} {}, line 17);",
                  s.edges[static_cast<std::size_t>(readings[5].edge)].name, readings[5].moment_name);
  INFO(words);
  CHECK(words.find(named) != std::string::npos);
}

TEST_CASE("of several steels that were read carbides and wear are free") {
  const auto edge_of = [](const std::string& name, const std::string& steel) {
    return fmt::format(
        "[tool.{0}]\nsteel = \"{1}\"\nwidth_mm = 50\nthickness_mm = 3\nprimary_bevel_deg = 25\nmicro_bevel_deg = 30\napex_radius_um = 4\n"
        "[edge.{0}]\ntool = \"{0}\"\nsteps = [ {{ hone = \"hard waterstone, JIS #8000\", strokes = 300 }}, {{ read = \"ready\", replicates = 4 }}, "
        "{{ cut = \"sugar maple\", passes = 100 }}, {{ read = \"worn\", replicates = 4 }}, {{ cut = \"sugar maple\", passes = 200 }}, {{ read = \"dull\", replicates = 4 }} ]\n",
        name, steel);
  };
  const std::string quiet =
      "[scatter]\nreading_cv = 0.03\nedge_cv = 0\nrate_cv = 0\noperator_cv = 0\nlot_cv = 0\n[wear]\nlaw = \"square-root\"\n";
  std::string text = quiet;
  for (const int i : {1, 2, 3})
    text += edge_of(fmt::format("D{}", i), "D2") + edge_of(fmt::format("O{}", i), "O1");
  const Scenario s    = load_scenario("steels.toml", text).scenario;
  const auto     path = [](const char* of) { return std::string("steel.") + of; };
  const auto     has  = [](const std::vector<std::string>& all, const std::string& one) {
    return std::find(all.begin(), all.end(), one) != all.end();
  };
  Scenario truth = s;
  for (auto& steel : truth.model.steels) steel.wear_ratio = 1.0;  // the table has D2 wear half as fast
  const auto readings = invent_readings(truth, 3, {"A"}, {"lot"}, 1);
  const auto usual    = usual_parameters(s, readings);
  CHECK(has(usual, path("O1.carbide_um")));
  CHECK(has(usual, path("D2.carbide_um")));
  CHECK(has(usual, path("D2.wear_ratio")));
  CHECK_FALSE(has(usual, path("O1.wear_ratio")));  // what wear is relative to
  std::vector<Reading> one;
  std::copy_if(readings.begin(), readings.end(), std::back_inserter(one), [&](const Reading& r) {
    return s.edges[static_cast<std::size_t>(r.edge)].name.front() == 'D';
  });
  CHECK_FALSE(has(usual_parameters(s, one), path("D2.carbide_um")));

  FitSettings settings;
  settings.starts      = 1;
  settings.edge_effect = settings.rate_effect = false;
  const CampaignModel model(s, readings, parameters_of_fit(s, settings, readings), settings);
  const FitResult     found = fit(model);
  REQUIRE(found.converged);
  for (std::size_t i = 0; i < model.parameters().size(); ++i) {
    if (model.parameters()[i].path != path("D2.wear_ratio")) continue;
    const double ratio = model.parameters()[i].value(found.best.u[static_cast<Eigen::Index>(i)]);
    CHECK(ratio > 0.75);
    CHECK(ratio < 1.25);
  }
}

TEST_CASE("the tester's numbers are free where the tester was used") {
  const Scenario s = scenario_of();
  CHECK(usual_parameters(s, readings_of(s, 4)) == usual_parameters(s));
  CHECK(usual_parameters(s, radii_of(s, 0.05)) == std::vector<std::string>{"coefficients.abrasion",
                                                                           "coefficients.radius_per_scratch",
                                                                           "wear.parting_um2_per_m"});
}

TEST_CASE("a fit names the collapse of thin tips where it acts, and how to switch it off") {
  const auto page = [&](const std::string& extra) {
    const Scenario      s = scenario_of(extra);
    const CampaignModel model(s, readings_of(s, 4), free_of(s, {"tester.slope_N_per_um"}), settings_of(1));
    std::string         out =
        fit_page(model, fit_report(model, {.profiles = false, .draws = 0, .threads = 0}), false);
    std::replace(out.begin(), out.end(), '\n', ' ');
    return out;
  };
  // a load of 5 kN/m cannot be carried by any fresh edge, one of 1e-6 N/m by all
  CHECK(page("[coefficients]\ncollapse_load_N_per_m = 5000\n").find("switches it off") != std::string::npos);
  CHECK(page("[coefficients]\ncollapse_load_N_per_m = 1e-6\n").find("switches it off") == std::string::npos);
  CHECK(page("[coefficients]\ncollapse_load_N_per_m = 0\n").find("switches it off") == std::string::npos);
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
      "[scatter]\nreading_cv = 0.03\nedge_cv = 0.02\noperator_cv = 0\nlot_cv = 0\n[wear]\nlaw = \"constant-rate\"\nrate_um_per_m = 2e-3\n");
  const Scenario s        = scenario_of("[scatter]\nreading_cv = 0.03\nedge_cv = 0.02\n");
  FitSettings    settings = settings_of(1);
  settings.free   = {"coefficients.radius_per_scratch", "coefficients.dub_share", "wear.parting_um2_per_m"};
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

TEST_CASE("ends of a range are reached in the scaled parameter, and not passed") {
  FreeParameter p;
  p.path = "coefficients.dub_share";
  p.low  = 0.003;
  p.high = 0.7;
  for (const Prior prior :
       {Prior{PriorShape::log_normal, 0.006, 3.0}, Prior{PriorShape::logit_normal, 0.2, 1.0},
        Prior{PriorShape::normal, 0.003, 0.1}}) {
    p.prior = prior;
    CHECK(p.value(p.lowest()) >= p.low);
    CHECK(p.value(p.highest()) <= p.high);
    CHECK(p.value(p.lowest()) == Approx(p.low).epsilon(1e-12));
    CHECK(p.value(p.highest()) == Approx(p.high).epsilon(1e-12));
    CHECK(p.is_at_bound(p.lowest()));
    CHECK(p.is_at_bound(p.highest()));
    CHECK_FALSE(p.is_at_bound(0.5 * (p.lowest() + p.highest())));
  }
  p.prior = {PriorShape::log_normal, 0.006, 3.0};
  p.low   = 0.0;  // no logarithm reaches it
  CHECK(std::isinf(p.lowest()));
}

TEST_CASE("an optimum at the end of a range is found from every start, marked, and given no standard error") {
  const Scenario truth      = scenario_of("[scatter]\nreading_cv = 0.03\nedge_cv = 0.02\n");
  auto           parameters = free_of(truth, usual);
  Scenario       shifted    = truth;
  shifted.model =
      with_parameters(truth.model, parameters, (Eigen::VectorXd(5) << 0.3, 0.2, 0.5, -0.2, 0.1).finished());
  const auto readings = readings_of(shifted, 4);
  // a range that ends well below what the readings want of the wear; the slope's is not met
  parameters[2].high           = parameters[2].value(0.1);
  FitSettings         settings = settings_of(8);
  const CampaignModel model(truth, readings, parameters, settings);
  const FitReport     report = fit_report(model, {.profiles = true});
  REQUIRE(report.fit.converged);
  for (const FitPoint& start : report.fit.starts)
    UNSCOPED_INFO(start.log_posterior << " at " << start.u.transpose() << " " << start.failure);
  CHECK(report.fit.agreeing == 8);
  CHECK(report.fit.best.held == std::vector<Eigen::Index>{2});
  const auto& fates = report.identifiability.parameters;
  CHECK(fates[2].at_bound);
  CHECK_FALSE(fates[2].has_standard_error);
  CHECK(fates[2].value == Approx(parameters[2].high).epsilon(1e-12));
  for (const std::size_t i : {0U, 1U, 3U, 4U}) {
    CHECK_FALSE(fates[i].at_bound);
    CHECK(fates[i].has_standard_error);
  }
  CHECK(report.identifiability.singular_values.size() == 4);
  CHECK(report.profiles[2].high_open);
  CHECK_FALSE(report.profiles[2].low_open);

  // with that parameter fixed there, the rest is the same fit: optimum and information
  Scenario fixed = truth;
  fixed.model =
      with_parameters(truth.model, parameters, report.fit.best.u.cwiseProduct(Eigen::VectorXd::Unit(5, 2)));
  std::vector<FreeParameter> rest{parameters[0], parameters[1], parameters[3], parameters[4]};
  // priors stay where they were
  const FitResult without = fit(CampaignModel(fixed, readings, rest, settings));
  REQUIRE(without.converged);
  const Eigen::Index kept[] = {0, 1, 3, 4};
  for (Eigen::Index k = 0; k < 4; ++k) {
    const double sd = std::sqrt(without.information.covariance(k, k));
    // a search ends within 1e-6 of its scale and the scatter within 1e-4 of itself: far below a hundredth of an error
    CHECK(report.fit.best.u[kept[k]] == Approx(without.best.u[k]).margin(0.01 * sd));
    CHECK(std::sqrt(report.fit.information.covariance(kept[k], kept[k])) == Approx(sd).epsilon(0.01));
  }
  const FitResult two = fit(model, 2);
  CHECK((two.best.u.array() == report.fit.best.u.array()).all());
}

TEST_CASE("slopes of derived quantities agree with differences, and passes with the limit") {
  const Scenario s =
      scenario_of("[numerics]\nrelative_tolerance = 1e-10\n[output]\nreading_limit_gf = 230\n");
  std::vector<std::string> many = usual;  // more than one run of derivatives holds
  many.insert(many.end(), {"coefficients.abrasion", "coefficients.burr_growth", "tester.saturation_N",
                           "coefficients.burr_loss_strop"});
  const auto            parameters = free_of(s, many);
  const Eigen::VectorXd u          = Eigen::VectorXd::Constant(9, 0.15);
  for (const std::string name :
       {"reading of E2 off the stones", "reading of E2 ready", "apex radius of E2 ready",
        "reading of E1 at worn", "reading of E1 after 20 passes", "passes of E2 to the limit"}) {
    INFO(name);
    DerivedModel    derived(s, parameters, derived_quantity(s, name));
    Eigen::VectorXd slopes;
    double          here = 0.0;
    REQUIRE(derived.log_value(u, here, &slopes));
    CHECK(std::exp(here) ==
          Approx(derived.value(u)).epsilon(1e-5));  // passes: monotone cubics between 160 points
    for (Eigen::Index i = 0; i < 9; ++i) {
      constexpr double h =
          3e-4;  // as in check_gradient: errors of 1e-10/h + h² leave 1e-6; passes divide by a slope of some 0.1
      Eigen::VectorXd up = u, down = u;
      up[i] += h;
      down[i] -= h;
      double a = 0.0, b = 0.0;
      REQUIRE(derived.log_value(up, a, nullptr));
      REQUIRE(derived.log_value(down, b, nullptr));
      CHECK(slopes[i] ==
            Approx((a - b) / (2.0 * h)).margin(1e-4 * std::max(1.0, slopes.cwiseAbs().maxCoeff())));
    }
  }
  // an edge that never reads so little has no life to take a logarithm of
  Scenario strict                = s;
  strict.output.reading_limit_gf = 1.0;
  DerivedModel dull(strict, parameters, derived_quantity(strict, "passes of E1 to the limit"));
  double       none = 0.0;
  CHECK_FALSE(dull.log_value(u, none, nullptr));
  CHECK(dull.value(u) == 0.0);
}

TEST_CASE("what cannot be derived is refused with what can") {
  const Scenario s    = scenario_of();
  const auto     code = [&](const std::string& text) {
    try {
      (void)derived_quantity(s, text);
    } catch (const Error& error) {
      return error.diagnostics().front().code + ": " + error.diagnostics().front().next;
    }
    return std::string("none");
  };
  CHECK(code("reading of E1 ready") == "none");
  CHECK(code("sharpness of E1 ready").find("unknown-quantity") == 0);
  CHECK(code("reading of F1 ready").find("unknown-edge") == 0);
  CHECK(code("reading of E1 at wornn") == "unknown-moment: Did you mean \"at worn\"?");
  CHECK(code("reading of E1 after 9999 passes").find("unknown-moment") == 0);
  CHECK(code("reading of E1 after x passes").find("unknown-moment") == 0);
  CHECK(code("passes of E1 to the limit").find("no-limit") == 0);
  // in a configuration, with the place
  try {
    (void)scenario_of("[fit]\nderived = [\"reading of E1 ready\", \"reading of E1 at wornn\"]\n");
    FAIL("no error came");
  } catch (const Error& error) {
    REQUIRE(error.diagnostics().size() == 1);
    CHECK(error.diagnostics().front().code == "unknown-moment");
    CHECK(error.diagnostics().front().line > 0);
  }
  // the usual ones: the first edge of every route
  CHECK(usual_derived(s, {0, 1, 2, 3}) ==
        std::vector<std::string>{"reading of E1 ready", "apex radius of E1 ready", "reading of E3 ready",
                                 "apex radius of E3 ready"});
}

TEST_CASE(
    "profiles of derived quantities agree with Wald and draws, and with those of a parameter they follow") {
  // readings scatter so little that the model is straight over what they leave open
  const Scenario s =
      scenario_of("[scatter]\nreading_cv = 0.03\nedge_cv = 0.01\n[output]\nreading_limit_gf = 230\n");
  std::vector<Reading> readings;
  for (const Reading& r : readings_of(s, 9)) {
    if (r.edge < 3) readings.push_back(r);
  }
  FitSettings settings = without_effects(settings_of(1));
  settings.derived     = {"reading of E1 ready", "passes of E1 to the limit", "apex radius of E1 ready"};
  const CampaignModel model(s, readings, free_of(s, {"coefficients.carbide_share", "wear.parting_um2_per_m"}),
                            settings);
  const FitReport     report = fit_report(model, {.profiles = true, .draws = 1000, .threads = 0});
  REQUIRE(report.fit.converged);
  REQUIRE(report.draws.converged);
  REQUIRE(report.derived.size() == 3);
  for (const DerivedResult& d : report.derived) {
    INFO(d.quantity.name);
    REQUIRE(d.has_standard_error);
    if (d.quantity.kind == DerivedKind::apex_radius) {
      // nobody has seen it: it is known as the priors of the scale allow, and not as readings alone would have it
      CHECK_FALSE(d.profile.usable);
      CHECK(d.prior_log_sd > 0.0);
      CHECK(std::log(d.high / d.low) ==
            Approx(2.0 * reach_90(std::numeric_limits<double>::infinity()) * d.prior_log_sd));
      CHECK(std::sqrt(d.low * d.high) == Approx(d.value));
      continue;
    }
    REQUIRE(d.profile.usable);
    CHECK_FALSE(d.profile.low_open);
    CHECK_FALSE(d.profile.high_open);
    const double half = 0.5 * std::log(d.high / d.low);
    // as for parameters: they differ by the curvature of the model, up to a tenth of a standard deviation, which is 0.06 of
    // the half width; draws are a thousand with memory
    CHECK(std::log(d.profile.low) == Approx(std::log(d.low)).margin(0.1 * half));
    CHECK(std::log(d.profile.high) == Approx(std::log(d.high)).margin(0.1 * half));
    CHECK(std::log(d.drawn_low) == Approx(std::log(d.low)).margin(0.25 * half));
    CHECK(std::log(d.drawn_high) == Approx(std::log(d.high)).margin(0.25 * half));
    CHECK(d.profile.values.size() == d.profile.rises.size());
  }
  // a quantity that no free parameter moves: a radius before any wood, where only the wear in wood is fitted
  const CampaignModel wear(s, readings, free_of(s, {"wear.parting_um2_per_m"}), settings);
  const FitReport     of_wear = fit_report(wear, {.profiles = true, .draws = 0, .threads = 0});
  REQUIRE(of_wear.fit.converged);
  CHECK(of_wear.derived[1].moved);
  CHECK_FALSE(of_wear.derived[2].moved);
  // what is said of it comes from the priors of the scale alone
  CHECK(of_wear.derived[2].prior_log_sd > 0.0);
  CHECK(of_wear.derived[2].low < of_wear.derived[2].value);
  CHECK(of_wear.derived[2].value < of_wear.derived[2].high);
  CHECK_FALSE(of_wear.derived[2].profile.usable);
  CHECK(of_wear.derived[2].profile.values.empty());
  CHECK_THAT(fit_page(wear, of_wear, false),
             Catch::Contains("no fitted parameter moves it") && !Catch::Contains("open … open"));
  // any point of a profile is as low as a direct search can bring it: held by brute force along one parameter, for the other
  // follows from the quantity
  const auto&  d = report.derived.front();
  const auto   k = static_cast<std::size_t>(d.profile.values.size() - 1);
  DerivedModel reading(s, model.parameters(), d.quantity);
  const auto   cost = [&](const Eigen::Vector2d& u) {
    Eigen::VectorXd r;
    REQUIRE(posterior_residuals(model, report.fit.best.spread, u, r, nullptr));
    return r.squaredNorm();
  };
  const double at_best = cost(report.fit.best.u);
  double       least   = 1e9;
  for (double b = report.fit.best.u[1] - 0.6; b <= report.fit.best.u[1] + 0.6; b += 0.005) {
    double low = report.fit.best.u[0] - 2.0, high = report.fit.best.u[0] + 2.0;
    for (int i = 0; i < 40; ++i) {
      const double middle                                                            = 0.5 * (low + high);
      (reading.value(Eigen::Vector2d(middle, b)) < d.profile.values[k] ? low : high) = middle;
    }
    least = std::min(least, cost(Eigen::Vector2d(low, b)) - at_best);
  }
  // steps of 0.005 in a parabola of curvature up to 1/sd² (sd some 0.05): 0.0025²/0.0025 above the least
  CHECK(d.profile.rises[k] <= least + 1e-3);
  CHECK(d.profile.rises[k] == Approx(least).margin(0.02));
}
