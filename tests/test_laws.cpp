// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/law_draws.hpp"
#include "sim/fit/law_fits.hpp"
#include "sim/fit/marginal.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/input/loader.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/laws/wear/law_names.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/statistics/stacking.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/studies/forecast/in_hand.hpp"
#include "sim/studies/plan/plan.hpp"
#include "sim/studies/weigh/weigh.hpp"
#include "tests/iron_to_fit.hpp"
#include "tests/program.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

const std::vector<std::string> built_in = laws::built_in_wear_laws();

// so many edges, read new and three times in wood
std::string campaign_of(int edges, const std::string& more = {}) {
  std::string text =
      iron +
      "apex_radius_um = 0.4\n[scatter]\nreading_cv = 0.03\nedge_cv = 0.03\noperator_cv = 0\nlot_cv = 0\n"
      "[output]\nreading_limit_gf = 300\n" +
      more;
  for (int e = 1; e <= edges; ++e) {
    text += fmt::format(
        "[edge.E{}]\ntool = \"iron\"\nsteps = [ {{ read = \"new\", replicates = 2 }}, {{ cut = \"sugar maple\", passes = {} }}, {{ read = \"worn\", replicates = 2 }}, {{ cut = \"sugar maple\", passes = 150 }}, {{ read = \"well worn\", replicates = 2 }} ]\n",
        e, 20 + 10 * (e % 5));
  }
  return text;
}

std::vector<Reading> readings_under(const std::string& law, int edges, unsigned long long seed) {
  return invent_readings(load(campaign_of(edges, "[wear]\nlaw = \"" + law + "\"\n")).scenario, seed, {"A"},
                         {"lot"}, 1);
}

FitSettings settings_for_laws() {
  FitSettings settings;
  settings.starts = 1;
  settings.free   = {"tester.slope_N_per_um", "wear.parting_um2_per_m"};
  return settings;
}

const LawFit& named(const LawFits& fits, const std::string& name) {
  for (const LawFit& law : fits.laws) {
    if (law.name == name) return law;
  }
  throw std::logic_error("no law " + name);
}

}  // namespace

TEST_CASE("stacking weights are those of other people and of a closed form", "[laws][stacking]") {
  // stacking_weights of the R package loo 2.5.1 (Debian 12), optim_control = list(reltol = 1e-14, maxit = 10000)
  Eigen::MatrixXd densities(6, 3);
  densities << -1.2, -0.9, -2.5, -0.7, -1.5, -0.6, -2.0, -1.4, -3.0, -1.1, -1.3, -0.9, -0.4, -0.9, -0.2, -1.6,
      -0.8, -2.2;
  const Eigen::VectorXd weights = stacking_weights(densities, 0.0, 1e-9);
  CHECK(weights[0] == Approx(0.39727575).margin(1e-6));
  CHECK(weights[1] == Approx(0.60272425).margin(1e-6));
  CHECK(weights[2] == Approx(0.0).margin(1e-6));
  CHECK((densities.array().exp().matrix() * weights).array().log().sum() ==
        Approx(-6.6427953028).margin(1e-9));

  // three data twice as likely under the first, two under the second: w = (2·3 − 2)/(3 + 2), by differentiation
  Eigen::MatrixXd two(5, 2);
  two << 2, 1, 2, 1, 2, 1, 1, 2, 1, 2;
  CHECK(stacking_weights(two.array().log().matrix(), 0.0, 1e-9)[0] == Approx(0.8).margin(1e-6));
  // densities far below what a double holds, and a model that cannot foretell a datum
  Eigen::MatrixXd far = two.array().log().matrix().array() - 5000.0;
  CHECK(stacking_weights(far, 0.0, 1e-9)[0] == Approx(0.8).margin(1e-6));
  far(0, 1) = -std::numeric_limits<double>::infinity();
  CHECK(stacking_weights(far)[0] > 0.8);
  // a prior: each model counts as if so many data had spoken for it alone
  const Eigen::VectorXd unheard = stacking_weights(Eigen::MatrixXd::Zero(12, 5), 1.0, 1e-12);
  CHECK((unheard.array() - 0.2).abs().maxCoeff() < 1e-9);
  Eigen::MatrixXd one_alone = Eigen::MatrixXd::Constant(12, 3, -1e4);
  one_alone.col(1).setZero();
  CHECK(stacking_weights(one_alone, 1.0, 1e-12)[1] == Approx(13.0 / 15.0).margin(1e-9));
  CHECK(stacking_weights(Eigen::MatrixXd(0, 4)) == Eigen::VectorXd::Constant(4, 0.25));
}

TEST_CASE("how often chance does as much is counted over all signs", "[laws][stacking]") {
  CHECK(sign_flip_probability({1.0, 2.0, 3.0}) == 0.25);   // all above or all below
  CHECK(sign_flip_probability({1.0, -2.0, 3.0}) == 0.75);  // all but ±(1 + 2 − 3)
  CHECK(sign_flip_probability(std::vector<double>(6, -1.0)) == 2.0 / 64.0);
  CHECK(sign_flip_probability({}) == 1.0);
  CHECK(sign_flip_probability({0.0, 0.0}) == 1.0);
  // Fisher's sign flips of Darwin's 15 pairs of maize, heights in eighths of an inch (Fisher 1935, from memory): 1726 of 32768
  CHECK(sign_flip_probability({49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48}) ==
        Approx(1726.0 / 32768.0));
  CHECK(standard_error_of_sum({1.0, 2.0, 3.0}) == Approx(std::sqrt(3.0)));
  CHECK(std::isnan(standard_error_of_sum({1.0})));
}

TEST_CASE("every law begins with as much wear, whichever the configuration names", "[laws]") {
  const Scenario plain  = load(campaign_of(2)).scenario;
  const double   growth = default_growth_um();
  for (const std::string& name : built_in) {
    INFO(name);
    const Scenario rival = under_law(plain, name);
    CHECK(reference_growth_um(rival.model.wear) == Approx(growth));
    const Scenario named_in_file = load(campaign_of(2, "[wear]\nlaw = \"" + name + "\"\n")).scenario;
    for (const std::string& other : built_in) {
      CHECK(wear_numbers(under_law(named_in_file, other).model.wear).values ==
            wear_numbers(under_law(plain, other).model.wear).values);
    }
    // and the same spread of it under the prior: a factor of 3, the log linear in the numbers
    const auto parameters = parameters_under_law(rival, name, settings_for_laws(), false);
    CHECK(parameters.front().path == "tester.slope_N_per_um");
    boost::random::mt19937_64                  engine(5);
    boost::random::normal_distribution<double> normal;
    double                                     sum = 0.0, squares = 0.0;
    constexpr int                              draws = 2000;
    for (int i = 0; i < draws; ++i) {
      Eigen::VectorXd u(static_cast<Eigen::Index>(parameters.size()));
      for (double& value : u) value = 0.3 * normal(engine);  // near the median, where it is linear
      const double log_growth =
          std::log(reference_growth_um(with_parameters(rival.model, parameters, u).wear));
      sum += log_growth / draws;
      squares += log_growth * log_growth / draws;
    }
    CHECK(sum == Approx(std::log(growth)).margin(0.1));
    CHECK(std::sqrt(squares - sum * sum) / 0.3 == Approx(std::log(3.0)).epsilon(0.12));
  }
  CHECK(codes(error_of([&] { (void)under_law(plain, "no-such-law"); })) ==
        std::vector<std::string>{"unknown-law"});
}

TEST_CASE("a law that holds another as its limit fits no worse than that", "[laws]") {
  const Scenario scenario = load(campaign_of(8)).scenario;
  const auto     loses = [&](const std::string& truth, const std::string& wider, const std::string& limit) {
    const LawFits fits =
        fit_laws(scenario, readings_under(truth, 8, 4), settings_for_laws(), {wider, limit}, 0);
    INFO(truth << ": " << wider << " against " << limit);
    REQUIRE(named(fits, wider).usable);
    REQUIRE(named(fits, limit).usable);
    CHECK_FALSE(named(fits, wider).ruled_out);
    // elpd: the fine for a number more, which is some one half for each
    CHECK(named(fits, wider).elpd > named(fits, limit).elpd - 1.5);
    // what the prior of that number holds it back from the limit
    return named(fits, limit).log_likelihood - named(fits, wider).log_likelihood;
  };
  CHECK(loses("constant-rate", "power", "constant-rate") < 0.5);
  CHECK(loses("constant-rate", "settling", "constant-rate") < 0.5);
  CHECK(loses("constant-rate", "shared-load", "constant-rate") < 1.5);  // by both of its rates
  CHECK(loses("square-root", "power", "square-root") < 0.5);
  CHECK(loses("square-root", "shared-load", "square-root") < 0.5);
}

TEST_CASE("a fit that goes round its optimum ends there", "[laws][fit]") {
  // three edges of an invented curve that speeds up: how far edges scatter in their rates has two optima in the linearised model
  std::string text(bench::iron_to_fit);
  for (const char* edge : {"E1", "E2", "E3"})
    text += "[edge." + std::string(edge) +
            "]\ntool = \"iron\"\nsteps = [ { cut = \"white oak\", passes = 400, pass_m = 0.6 } ]\n";
  const Scenario scenario = load(text).scenario;
  const auto     readings =
      parse_readings("r.csv",
                     "edge,passes,reading_gf,operator,filament_lot\n"
                     "E1,0,94.1,K,N-07\nE1,0,84.0,K,N-07\nE1,10,92.9,M,N-07\nE1,10,89.8,M,N-07\n"
                     "E1,20,91.2,K,N-09\nE1,20,99.3,K,N-09\nE1,40,103.3,M,N-09\nE1,40,108.9,M,N-09\n"
                     "E1,60,117.6,K,N-11\nE1,60,120.3,K,N-11\nE1,100,134.5,M,N-11\nE1,100,141.1,M,N-11\n"
                     "E1,150,232.9,K,N-07\nE1,150,229.7,K,N-07\nE2,0,127.2,M,N-09\nE2,0,109.9,M,N-09\n"
                     "E2,10,136.0,K,N-09\nE2,10,137.7,K,N-09\nE2,20,129.7,M,N-11\nE2,20,112.6,M,N-11\n"
                     "E2,40,122.2,K,N-11\nE2,40,143.4,K,N-11\nE2,60,155.6,M,N-07\nE2,60,153.9,M,N-07\n"
                     "E2,100,194.0,K,N-07\nE2,100,198.3,K,N-07\nE2,150,230.1,M,N-09\nE2,150,234.1,M,N-09\n"
                     "E3,0,115.8,K,N-11\nE3,0,106.4,K,N-11\nE3,10,98.4,M,N-11\nE3,10,95.0,M,N-11\n"
                     "E3,20,110.4,K,N-07\nE3,20,113.5,K,N-07\nE3,40,103.6,M,N-07\nE3,40,113.7,M,N-07\n",
                     scenario);
  FitSettings settings;
  settings.starts    = 1;
  settings.free      = {"tester.slope_N_per_um", "tester.cut_resistance_N"};
  const LawFits fits = fit_laws(scenario, readings, settings, built_in, 0);
  for (const LawFit& law : fits.laws) {
    INFO(law.name << ": " << law.failure);
    CHECK(law.usable);
  }
}

TEST_CASE("a fit whose readings bend more than their slopes know of ends at the optimum", "[laws][fit]") {
  // six invented edges off film and strop: whether a burr is raised bends the fresh reading within a hundredth of the abrasion
  std::string text =
      "[tool.iron]\nsteel = \"O1\"\nwidth_mm = 50\nthickness_mm = 3.2\nprimary_bevel_deg = 25\nmicro_bevel_deg = 30\n"
      "[route.film]\nsteps = [ { hone = \"lapping film, 5 µm\", strokes = 60 }, { back = \"lapping film, 5 µm\", strokes = 10 }, "
      "{ strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 20 } ]\n";
  const char* woods[] = {"yellow-poplar", "yellow-poplar", "white oak",
                         "white oak",     "sugar maple",   "sugar maple"};
  for (int e = 0; e < 6; ++e)
    text += fmt::format(
        "[edge.E{}]\ntool = \"iron\"\nroute = \"film\"\nsteps = [ {{ cut = \"{}\", passes = 900, pass_m = 0.6 }} ]\n",
        e + 1, woods[e]);
  const Scenario scenario = load(text).scenario;
  const auto     readings = parse_readings(
          "r.csv",
          "edge,passes,reading_gf,operator,filament_lot\n"
              "E1,0,119.3,K,a\nE1,0,140.7,M,a\nE1,30,122.8,K,b\nE1,30,138.6,M,b\nE1,90,146.4,K,c\n"
              "E1,90,167.3,M,c\nE1,150,161.9,K,a\nE1,150,156.3,M,a\nE1,300,166.4,K,b\nE1,300,187.8,M,b\n"
              "E2,0,114.7,K,c\nE2,0,132.6,M,c\nE2,30,135.8,K,a\nE2,30,158.3,M,a\nE2,90,156.0,K,b\n"
              "E2,90,151.6,M,b\nE2,150,163.3,K,c\nE2,150,184.0,M,c\nE2,300,192.7,K,a\nE2,300,196.9,M,a\n"
              "E3,0,111.9,K,b\nE3,0,125.2,M,b\nE3,30,153.8,K,c\nE3,30,144.2,M,c\nE3,90,180.3,K,a\n"
              "E3,90,185.1,M,a\nE3,150,172.7,K,b\nE3,150,162.2,M,b\nE3,300,211.2,K,c\nE3,300,195.4,M,c\n"
              "E4,0,114.2,K,a\nE4,0,135.3,M,a\nE4,30,145.4,K,b\nE4,30,157.1,M,b\nE4,90,169.2,K,c\n"
              "E4,90,176.2,M,c\nE4,150,186.5,K,a\nE4,150,186.1,M,a\nE4,300,175.3,K,b\nE4,300,208.2,M,b\n"
              "E5,0,124.7,K,c\nE5,0,135.8,M,c\nE5,30,184.9,K,a\nE5,30,179.7,M,a\nE5,90,188.1,K,b\n"
              "E5,90,214.6,M,b\nE5,150,223.1,K,c\nE5,150,265.5,M,c\nE5,300,243.6,K,a\nE5,300,262.5,M,a\n"
              "E6,0,127.5,K,b\nE6,0,143.0,M,b\nE6,30,179.3,K,c\nE6,30,202.4,M,c\nE6,90,214.7,K,a\n"
              "E6,90,202.2,M,a\nE6,150,265.5,K,b\nE6,150,265.3,M,b\nE6,300,320.8,K,c\nE6,300,343.0,M,c\n",
          scenario);
  FitSettings settings;
  settings.starts    = 2;
  settings.free      = usual_parameters(scenario);
  const LawFits fits = fit_laws(scenario, readings, settings, {"shared-load", "square-root"}, 0);
  for (const LawFit& law : fits.laws) {
    INFO(law.name << ": " << law.failure);
    REQUIRE(law.usable);
    // an optimum: a step in the plane of the slopes would not gain odds of 1 %
    const CampaignModel& model = *law.model;
    Eigen::VectorXd      x(model.parameter_count() + model.effect_count()), r;
    x.head(model.parameter_count()) = law.best.u;
    for (Eigen::Index k = 0; k < model.effect_count(); ++k)
      x[model.parameter_count() + k] =
          law.best.effects[k] / law.best.spread.of(model.effects()[static_cast<std::size_t>(k)].kind);
    Eigen::MatrixXd j;
    REQUIRE(posterior_residuals(model, law.best.spread, x, r, &j));
    Eigen::VectorXd slope = j.transpose() * r;
    for (const Eigen::Index held : law.best.held) slope[held] = 0.0;
    const Eigen::MatrixXd gram = j.transpose() * j;
    CHECK(0.5 * slope.dot(Cholesky(gram).solve(slope)) < 0.01);
  }
}

TEST_CASE("priors of rival laws can be stated, and laws named", "[laws][config]") {
  const Loaded loaded = load(campaign_of(2, "[prior.\"wear.power.exponent\"]\nmedian = 1.0\nfactor = 1.2\n"));
  CHECK(loaded.fit.laws == wear_law_names(loaded.scenario.model));
  const auto parameters =
      parameters_under_law(under_law(loaded.scenario, "power"), "power", loaded.fit, false);
  CHECK(parameters.back().path == "wear.exponent");
  CHECK(parameters.back().prior.centre == 1.0);
  CHECK(parameters.back().prior.spread == 1.2);
  CHECK(parameters.back().prior_rests_on == "stated");

  CHECK(load(campaign_of(2, "[wear]\nlaw = \"power\"\n")).fit.laws.empty());
  CHECK(load(campaign_of(2, "[wear]\nparting_um2_per_m = 1e-3\n")).fit.laws.empty());
  CHECK(load(campaign_of(2, "[fit]\nlaws = [\"power\", \"settling\"]\n")).fit.laws ==
        std::vector<std::string>{"power", "settling"});
  CHECK(codes(load_error(campaign_of(2, "[fit]\nlaws = [\"powr\"]\n"))) ==
        std::vector<std::string>{"unknown-law"});
  CHECK(codes(load_error(campaign_of(2, "[fit]\nlaws = [\"power\", \"power\"]\n"))) ==
        std::vector<std::string>{"given-twice"});
  CHECK(codes(load_error(campaign_of(2, "[prior.\"wear.power.no_such\"]\nmedian = 1\nfactor = 2\n"))) ==
        std::vector<std::string>{"unknown-parameter"});
}

TEST_CASE("several formulas stand side by side", "[laws][formula]") {
  const std::string two =
      "[formula.steady]\nrate = \"k*severity\"\nk = { value = 1e-3, unit = \"µm/m\", factor = 3 }\n"
      "[formula.slowing]\nrate = \"k*severity/r\"\nk = { value = 1e-3, unit = \"µm²/m\", factor = 3 }\n"
      "[prior.\"wear.steady.k\"]\nmedian = 2e-3\nfactor = 4\n";
  const Loaded loaded = load(campaign_of(6, two));
  REQUIRE(loaded.scenario.formulas.size() == 2);
  CHECK(loaded.fit.laws.size() == built_in.size() + 2);
  const auto parameters =
      parameters_under_law(under_law(loaded.scenario, "steady"), "steady", settings_for_laws(), false);
  CHECK(parameters.back().path == "wear.k");
  const auto laws = weigh(loaded.scenario, readings_under("constant-rate", 6, 2), settings_for_laws(),
                          {"steady", "slowing", "constant-rate"}, 0);
  for (const WeighedLaw& law : laws) REQUIRE(law.usable);
  // the formula says what the built-in law does, but for its prior
  const auto elpd = [&](const std::string& name) {
    for (const WeighedLaw& law : laws) {
      if (law.name == name) return law.elpd;
    }
    throw std::logic_error("no law " + name);
  };
  CHECK(elpd("steady") == Approx(elpd("constant-rate")).margin(0.3));
  // what was used is a configuration of the same formulas
  const Loaded again = load(resolved_toml(loaded, false));
  REQUIRE(again.scenario.formulas.size() == 2);
  CHECK(again.scenario.formulas[0].name == loaded.scenario.formulas[0].name);
  CHECK(again.fit.priors.at("wear.steady.k").spread == 4.0);

  const auto faults = [&](const std::string& text) { return codes(load_error(campaign_of(2, text))); };
  CHECK(faults("[formula.power]\nrate = \"1e-3\"\n") == std::vector<std::string>{"given-twice"});
  CHECK(faults("[formula.mine]\nk = { value = 1, unit = \"1\" }\n") ==
        std::vector<std::string>{"missing-key"});
  CHECK(faults("[formula.mine]\nrate = \"k*severity\"\n") == std::vector<std::string>{"unknown-variable"});
  CHECK(load_error(campaign_of(2, "[formula.mine]\nrate = \"k*severity\"\n")).diagnostics().front().key ==
        "formula.mine.rate");
}

TEST_CASE("the density of an edge that was left out is that of a normal, or of student-t noise", "[laws]") {
  const Scenario                   scenario   = load(campaign_of(3)).scenario;
  const auto                       readings   = readings_under("shared-load", 3, 4);
  FitSettings                      settings   = settings_for_laws();
  const std::vector<FreeParameter> parameters = {free_parameter(scenario.model, "tester.slope_N_per_um")};
  const CampaignModel              model(scenario, readings, parameters, settings);
  FitPoint                         point;
  point.u                          = Eigen::VectorXd::Constant(1, 0.1);
  point.spread                     = {0.05, 0.08, 0.03, 0.03, 0.06, 0.03};
  const Eigen::MatrixXd covariance = Eigen::MatrixXd::Constant(1, 1, 0.04);

  Eigen::VectorXd f;
  Eigen::MatrixXd by_parameter, by_effect;
  // each of the three edges has a factor on its apex and one on its rate of wear
  REQUIRE(model.members(EffectKind::edge) == 3);
  REQUIRE(model.members(EffectKind::rate) == 3);
  REQUIRE(model.effect_count() == 6);
  Eigen::VectorXd variances(6);
  for (Eigen::Index j = 0; j < 6; ++j) {
    const bool of_rate = model.effects()[static_cast<std::size_t>(j)].kind == EffectKind::rate;
    variances[j]       = of_rate ? 0.06 * 0.06 : 0.08 * 0.08;
  }
  model.observe(model.apex(point.u, true), Eigen::VectorXd::Zero(6), f, &by_parameter, &by_effect);
  const Eigen::MatrixXd v = by_parameter * covariance * by_parameter.transpose() +
                            by_effect * variances.asDiagonal() * by_effect.transpose() +
                            0.05 * 0.05 * Eigen::MatrixXd::Identity(f.size(), f.size());
  const Cholesky        factor(v);
  const Eigen::VectorXd r = model.measured() - f;
  CHECK(log_predictive(model, point, covariance) ==
        Approx(-0.5 * (r.dot(factor.solve(r)) + factor.log_determinant() +
                       static_cast<double>(r.size()) * std::log(2.0 * M_PI))));

  // many degrees of freedom are normal; few make a far reading likelier than the normal does
  settings.noise       = "student-t";
  settings.student_dof = 200;
  const CampaignModel nearly(scenario, readings, parameters, settings);
  CHECK(log_predictive(nearly, point, covariance) ==
        Approx(log_predictive(model, point, covariance)).margin(0.2));
  auto far = readings;
  far[3].reading_N *= 2.0;
  settings.student_dof = 4;
  const CampaignModel normal(scenario, far, parameters, settings_for_laws());
  const CampaignModel heavy(scenario, far, parameters, settings);
  CHECK(log_predictive(heavy, point, covariance) > log_predictive(normal, point, covariance) + 20.0);
  // without anything else open it is the product of the densities
  settings.edge_effect = settings.rate_effect = false;
  const CampaignModel alone(scenario, far, parameters, settings);
  double              product = 0.0;
  for (Eigen::Index i = 0; i < f.size(); ++i) {
    const double z = (f[i] - alone.measured()[i]) / 0.05;
    product += std::lgamma(2.5) - std::lgamma(2.0) - 0.5 * std::log(4.0 * M_PI) - std::log(0.05) -
               2.5 * std::log1p(z * z / 4.0);
  }
  CHECK(log_predictive(alone, point, Eigen::MatrixXd::Constant(1, 1, 1e-16)) == Approx(product).margin(1e-4));
}

TEST_CASE("a law that contains another scores no worse than the fine for its numbers", "[laws][weigh]") {
  const Scenario scenario = load(campaign_of(8)).scenario;
  for (const char* truth : {"constant-rate", "square-root"}) {
    const LawFits fits = fit_laws(scenario, readings_under(truth, 8, 3), settings_for_laws(), built_in, 0);
    CHECK(fits.stacked);
    double weights = 0.0;
    for (const LawFit& law : fits.laws) {
      INFO(truth << ": " << law.name);
      REQUIRE(law.usable);
      weights += law.weight;
      CHECK(law.elpd_by_edge.size() == 8);
    }
    CHECK(weights == Approx(1.0));
    const LawFit& contained = named(fits, truth);
    for (const char* nesting : {"shared-load", "power"}) {
      const LawFit& law = named(fits, nesting);
      INFO(truth << " in " << nesting);
      // one number more each, and half a unit for the luck of so few edges
      CHECK(law.elpd > contained.elpd - (law.parameters - contained.parameters) - 0.5);
    }
  }
}

TEST_CASE("few edges weigh all laws alike, and one edge is no fault", "[laws][weigh]") {
  const Scenario scenario = load(campaign_of(3)).scenario;
  const LawFits  three =
      fit_laws(scenario, readings_under("shared-load", 3, 3), settings_for_laws(), built_in, 1);
  CHECK_FALSE(three.stacked);
  int left = 0;
  for (const LawFit& law : three.laws) left += law.usable && !law.ruled_out ? 1 : 0;
  REQUIRE(left > 1);
  for (const LawFit& law : three.laws) CHECK(law.weight == Approx(law.ruled_out ? 0.0 : 1.0 / left));

  const auto one = weigh(load(campaign_of(1)).scenario, readings_under("shared-load", 1, 3),
                         settings_for_laws(), {"shared-load", "power"}, 1);
  REQUIRE(one[0].usable);
  CHECK(one[0].elpd_by_edge.empty());
  CHECK(one[0].weight == 0.5);
  const Answer answer = weigh_answer(one, "r.csv");
  CHECK(
      answer.headline ==
      "Only one edge has readings, so no law can be tried on an edge that it has not seen; on this one all of them are possible.");
  CHECK(std::isnan(column(answer.table("laws"), "elpd").numbers[0]));
  // three edges: in words of how many there are
  const auto weighed = weigh(scenario, readings_under("shared-load", 3, 3), settings_for_laws(), built_in, 1);
  const Answer of_three = weigh_answer(weighed, "r.csv");
  CHECK(of_three.remarks.front().find(
            "With 3 edges chance alone puts all of them on one side once in 4 times") != std::string::npos);
}

TEST_CASE("versions of the model have each law as often as it weighs", "[laws][ensemble]") {
  const Scenario scenario = load(campaign_of(6)).scenario;
  LawFits fits = fit_laws(scenario, readings_under("shared-load", 6, 2), settings_for_laws(), built_in, 0);
  for (LawFit& law : fits.laws)
    law.weight = law.name == "power" ? 0.7 : law.name == "constant-rate" ? 0.3 : 0.0;
  FittedDraws draws;
  draws.laws              = draws_of_laws(fits, {.draws = 400, .quick = true, .threads = 1});
  draws.given             = given_to_fit(scenario.model, {"tester.slope_N_per_um"});
  draws.edges             = 6;
  draws.readings          = 36;
  draws.source            = "fit.h5";
  const Ensemble ensemble = ensemble_of(draws, scenario, 101);
  REQUIRE(ensemble.size() == 101);
  CHECK(ensemble.paths == std::vector<std::string>{"tester.slope_N_per_um"});
  CHECK(ensemble.laws.size() == built_in.size());
  CHECK(ensemble.laws.front().name == "power");
  int powers = 0, constants = 0;
  for (std::size_t i = 0; i < ensemble.size(); ++i) {
    const Model<double> model = member_of(scenario.model, ensemble, i);
    powers += model.wear.name() == "power" ? 1 : 0;
    constants += model.wear.name() == "constant-rate" ? 1 : 0;
    CHECK(model.tester.slope_N_per_um == ensemble.values(static_cast<Eigen::Index>(i), 0));
  }
  CHECK(powers == 71);  // of 70.7 and 30.3 the larger remainder takes the one that is left
  CHECK(constants == 30);
  CHECK(at_best(scenario, ensemble).model.wear.name() == "power");
  CHECK(ensemble.rests_on.find(
            "2 wear laws together, each by its weight: power (70 %) and constant-rate (30 %)") !=
        std::string::npos);

  const Ensemble of_power = of_one_law(ensemble, 0);
  CHECK(of_power.size() == 71);
  CHECK_FALSE(of_power.has_laws());
  CHECK(of_power.paths ==
        std::vector<std::string>{"tester.slope_N_per_um", "wear.rate_um_per_m", "wear.exponent"});
  CHECK(codes(error_of([&] {
          draws.laws.front().wear_law = "formula: k/r";
          (void)ensemble_of(draws, scenario, 10);
        })) == std::vector<std::string>{"another-campaign"});
}

TEST_CASE("a plan rests on all laws of a fit, each by its weight", "[laws][plan]") {
  const Scenario scenario = load(campaign_of(6)).scenario;
  LawFits fits = fit_laws(scenario, readings_under("shared-load", 6, 2), settings_for_laws(), built_in, 0);
  for (LawFit& law : fits.laws)
    law.weight = law.name == "power" ? 0.75 : law.name == "constant-rate" ? 0.25 : 0.0;
  FittedDraws draws;
  draws.laws              = draws_of_laws(fits, {.draws = 400, .quick = true, .threads = 1});
  draws.given             = given_to_fit(scenario.model, {"tester.slope_N_per_um"});
  const Ensemble ensemble = ensemble_of(draws, scenario, 200);
  // edges scatter three times as much under the second law
  Ensemble wide = ensemble;
  for (std::size_t i = 0; i < wide.size(); ++i) {
    if (wide.law_of[i] == 1) wide.spreads[i].edge *= 3.0;
  }
  const auto knowledge_of = [&](const Ensemble& known) {
    return knowledge_from_draws(scenario, {}, settings_for_laws(), known, 32);
  };
  const PlanKnowledge known = knowledge_of(ensemble);
  CHECK(known.law == "power");
  CHECK(known.ensemble.size() == 24);
  REQUIRE(known.rivals.size() == 1);
  CHECK(known.rivals[0].law == "constant-rate");
  CHECK(known.rivals[0].wear.name() == "constant-rate");
  CHECK(known.rivals[0].ensemble.size() == 8);
  CHECK(known.parameters.size() == known.rivals[0].parameters.size() + 1);  // the exponent of the power

  PlanSettings settings;
  settings.groups         = {"E1", "E2"};
  settings.difference_pct = 5.0;
  settings.threads        = 1;
  const auto plan_of      = [&](const Ensemble& all) {
    Scenario heaviest   = scenario;
    heaviest.model.wear = all.laws.front().wear;
    return plan_experiment(heaviest, settings_for_laws(), Pace{}, knowledge_of(all), settings);
  };
  const Plan plan = plan_of(ensemble), of_wide = plan_of(wide);
  CHECK(plan.members == 32);
  CHECK(plan.failed_members == 0);
  CHECK(plan.narrowed_under == "power");
  CHECK(plan.parameters.size() == known.parameters.size());
  CHECK(of_wide.size.edges > plan.size.edges);
  // where edges scatter three times as much under one law, the chance to find the difference hangs on it, and the headline says so
  REQUIRE(of_wide.power_by_law.size() == 2);
  CHECK(of_wide.power_by_law[0].power > of_wide.power_by_law[1].power + 0.01);
  const auto hundred = [](double power) { return std::to_string(std::lround(100.0 * power)); };
  CHECK(plan_answer(of_wide).headline.find(
            "Such experiments find it in " + hundred(of_wide.power_by_law[1].power) + " to " +
            hundred(of_wide.power_by_law[0].power) +
            " of a hundred depending on the wear law; the readings ") != std::string::npos);
  const Answer answer = plan_answer(plan);
  CHECK(answer.rests_on.find("wear laws together") != std::string::npos);
  CHECK(std::any_of(answer.remarks.begin(), answer.remarks.end(), [](const std::string& remark) {
    return remark.find("is told under power alone") != std::string::npos;
  }));
}

TEST_CASE("a fit tells the parameters of the law that answers rest on, and refuted laws have no part",
          "[laws]") {
  FitSettings settings = settings_for_laws();
  settings.laws        = built_in;
  settings.free.clear();
  const Scenario             scenario = load(campaign_of(12)).scenario;
  const std::vector<Reading> readings = readings_under("square-root", 12, 2);
  const CampaignModel        asked(scenario, readings, parameters_of_fit(scenario, settings), settings);
  const FitReport            report = fit_report(asked, {.profiles = false, .draws = 0, .threads = 0});
  REQUIRE(report.fit.converged);
  const auto heaviest = heaviest_of(report.laws);
  REQUIRE(heaviest);
  const LawFit& law = report.laws.laws[*heaviest];
  CHECK(report.model->scenario().model.wear.name() == law.name);
  CHECK(law.name != asked.scenario().model.wear.name());
  CHECK(law.best.log_posterior == report.fit.best.log_posterior);
  // sentences, wherever their lines break
  const auto page_of = [](const FitReport& of) {
    std::string out;
    for (const char c : fit_page(*of.model, of, false)) {
      if (c != '\n' && (c != ' ' || (!out.empty() && out.back() != ' '))) out += c;
      if (c == '\n' && !out.empty() && out.back() != ' ') out += ' ';
    }
    return out;
  };
  double weights = 0.0;
  int    refuted = 0;
  for (const LawFit& each : report.laws.laws) {
    weights += each.weight;
    refuted += each.ruled_out ? 1 : 0;
    if (each.ruled_out) CHECK(each.weight == 0.0);
  }
  CHECK(refuted > 0);
  CHECK(weights == Approx(1.0));
  CHECK(page_of(report).find("Of the wear laws below, " + law.name) != std::string::npos);
  // numbers that are freed by name are told, whatever law answers rest on
  settings.free = {"tester.slope_N_per_um", "wear.parting_um2_per_m"};
  const CampaignModel named_ones(scenario, readings, parameters_of_fit(scenario, settings), settings);
  const FitReport     own = fit_report(named_ones, {.profiles = false, .draws = 0, .threads = 0});
  CHECK(own.model->parameters().back().path == "wear.parting_um2_per_m");
  CHECK(page_of(own).find("frees numbers of it by name") != std::string::npos);
}

TEST_CASE("a law that is stated is fitted as it is beside others", "[laws]") {
  for (const std::string& name : built_in) {
    INFO(name);
    const Scenario scenario = load(campaign_of(3)).scenario,
                   stated   = load(campaign_of(3, "[wear]\nlaw = \"" + name + "\"\n")).scenario;
    FitSettings beside;
    beside.free      = usual_parameters(scenario);
    const auto alone = parameters_of_fit(stated, {});
    const auto rival = parameters_under_law(under_law(scenario, name), name, beside, false);
    REQUIRE(alone.size() == rival.size());
    for (std::size_t i = 0; i < alone.size(); ++i) {
      CHECK(alone[i].path == rival[i].path);
      CHECK(alone[i].prior.centre == Approx(rival[i].prior.centre));
      CHECK(alone[i].prior.spread == Approx(rival[i].prior.spread));
    }
  }
}

TEST_CASE("draws under a law follow its posterior density", "[laws][ensemble]") {
  const Scenario scenario = load(campaign_of(6)).scenario;
  const LawFits  fits =
      fit_laws(scenario, readings_under("square-root", 6, 2), settings_for_laws(), {"square-root"}, 0);
  const LawFit& law = fits.laws.front();
  REQUIRE(law.usable);
  const auto drawn = draws_of_laws(fits, {.draws = 1000, .quick = false, .threads = 0}).front();
  CHECK(drawn.columns == std::vector<std::string>{"tester.slope_N_per_um", "wear.section_um2_per_m",
                                                  "sd of readings", "sd of edges", "sd of rates"});
  // beside the sampler of arris fit --draws, which walks
  const FitReport report = fit_report(*law.model, {.profiles = false, .draws = 1000, .threads = 0});
  REQUIRE(report.draws.converged);
  for (std::size_t c = 0; c < drawn.columns.size(); ++c) {
    INFO(drawn.columns[c]);
    std::vector<double> here, there;
    for (std::size_t i = 0; i < 1000; ++i)
      here.push_back(std::log(drawn.values[i * drawn.columns.size() + c]));
    for (Eigen::Index i = 0; i < report.draw_values.rows(); ++i)
      there.push_back(std::log(report.draw_values(i, static_cast<Eigen::Index>(c))));
    const double width = quantile(there, 0.9) - quantile(there, 0.1);
    // a fifth of the span is four standard errors of a quantile of so many draws
    for (const double p : {0.1, 0.5, 0.9})
      CHECK(quantile(here, p) == Approx(quantile(there, p)).margin(0.2 * width));
  }
}

TEST_CASE("each law is corrected by what it misses itself", "[laws][forecast]") {
  Ensemble ensemble;
  ensemble.laws.resize(2);
  ensemble.laws[0].discrepancy = {{0.0, 50.0, 100.0, 150.0}, {0.2, 0.2, 0.2, 0.2}, {1e-6, 1e-6, 1e-6, 1e-6}};
  ensemble.laws[1].discrepancy = {
      {0.0, 50.0, 100.0, 150.0}, {-0.1, -0.1, -0.1, -0.1}, {1e-6, 1e-6, 1e-6, 1e-6}};
  for (std::size_t i = 0; i < 60; ++i) {
    ensemble.spreads.emplace_back();
    ensemble.law_of.push_back(i % 3 == 0 ? 1 : 0);
  }
  const Eigen::MatrixXd misses = drawn_misses(ensemble, {50.0, 100.0}, 1);
  REQUIRE(misses.rows() == 60);
  for (Eigen::Index i = 0; i < 60; ++i)
    CHECK((misses.row(i).array() - (i % 3 == 0 ? -0.1 : 0.2)).abs().maxCoeff() < 0.02);
  // a law that is not known to miss anything stands as it is
  ensemble.laws[1].discrepancy = {};
  CHECK(drawn_misses(ensemble, {50.0, 100.0}, 1).row(0).cwiseAbs().maxCoeff() == 0.0);
}

TEST_CASE("a forecast of several laws lies between them, and says how much hangs on the law",
          "[laws][forecast]") {
  const Scenario scenario = load(campaign_of(6)).scenario;
  LawFits        fits     = fit_laws(scenario, readings_under("shared-load", 6, 2), settings_for_laws(),
                                     {"square-root", "constant-rate"}, 0);
  for (LawFit& law : fits.laws) law.weight = 0.5;
  FittedDraws draws;
  draws.laws     = draws_of_laws(fits, {.draws = 200, .quick = true, .threads = 1});
  draws.given    = given_to_fit(scenario.model, {"tester.slope_N_per_um"});
  draws.edges    = 6;
  draws.readings = 36;
  draws.source   = "fit.h5";
  for (FittedLaw& law : draws.laws) law.discrepancy = {};  // the laws as they are, not what they miss
  const Ensemble   ensemble = ensemble_of(draws, scenario, 100);
  ForecastSettings settings;
  settings.limit_name = "as asked";
  settings.limit_N    = laws::in_newton(1e5);
  const Scenario best = at_best(scenario, ensemble);
  // a quarter above what it reads fresh
  settings.limit_N =
      1.25 * forecast(best, {}, single_member(best), {0}, settings).edges.front().fresh_N.middle;
  const Forecast      found = forecast(best, {}, ensemble, {0}, settings);
  const EdgeForecast& edge  = found.edges.front();
  REQUIRE(edge.laws.size() == 2);
  for (const LawForecast& law : edge.laws) {
    // the median of the members that have it, as the answer itself is one
    const std::size_t   k = law.law == ensemble.laws[0].name ? 0 : 1;
    std::vector<double> lives;
    for (std::size_t i = 0; i < ensemble.size(); ++i) {
      if (ensemble.law_of[i] == k) lives.push_back(edge.member_passes[i]);
    }
    CHECK(law.passes == quantile(lives, 0.5));
    // which is near what a forecast of that law alone says at its optimum
    Scenario    one                 = scenario;
    const auto& of                  = ensemble.laws[k];
    one.model.wear                  = of.wear;
    one.model.tester.slope_N_per_um = of.best[0];
    CHECK(law.passes ==
          Approx(forecast(one, {}, single_member(one), {0}, settings).edges.front().mean_passes.middle)
              .epsilon(0.1));
    CHECK(law.curve_N.size() == edge.at.size());
  }
  const double low  = std::min(edge.laws[0].passes, edge.laws[1].passes),
               high = std::max(edge.laws[0].passes, edge.laws[1].passes);
  REQUIRE(low < high);
  CHECK(edge.mean_passes.low < low);
  CHECK(edge.mean_passes.high > high);
  const Answer answer = forecast_answer(found, {}, ensemble);
  CHECK(answer.headline.find(law_sentence("Edge E1 lasts", edge.laws, settings.passes)) != std::string::npos);
  CHECK(answer.table("laws").rows() == 2);
  CHECK(answer.table("law_curves").rows() == 2 * edge.at.size());

  std::vector<LawForecast> said{{"power", 0.5, false, 98.4, {}},
                                {"settling", 0.5, false, 240.0, {}},
                                {"square-root", 0.0, false, 150.0, {}}};
  CHECK(
      law_sentence("Edge A1 lasts", said, 5000) ==
      "Edge A1 lasts 98 to 240 passes depending on the wear law; the readings do not tell which of the 3 holds.");
  said[1].ruled_out = true;
  CHECK(law_sentence("It has", said, 5000, "more passes") ==
        "It has 98 to 150 more passes depending on the wear law; the readings speak against settling.");
  CHECK(law_sentence("Edge A1 lasts", {}, 5000).empty());
  // where one is left, that is said, and not that all agree
  said[0].ruled_out = true;
  CHECK(law_sentence("Edge A1 lasts", said, 5000) ==
        "Edge A1 lasts 150 passes under square-root; the readings speak against power and settling.");
  CHECK(law_sentence("It has",
                     {{"power", 0.6, false, 98.4, {}},
                      {"settling", 0.4, false, 98.2, {}},
                      {"square-root", 0.0, false, not_given, {}}},
                     5000) ==
        "It has 98 passes under each of 2 wear laws; the readings do not tell which of the 2 holds.");
}

TEST_CASE("the answer of an edge in hand says how much hangs on the law", "[laws][forecast]") {
  const Scenario scenario = load(campaign_of(6)).scenario;
  const auto     readings = readings_under("shared-load", 6, 2);
  LawFits fits = fit_laws(scenario, readings, settings_for_laws(), {"square-root", "constant-rate"}, 0);
  for (LawFit& law : fits.laws) law.weight = 0.5;
  FittedDraws draws;
  draws.laws              = draws_of_laws(fits, {.draws = 100, .quick = true, .threads = 1});
  draws.given             = given_to_fit(scenario.model, {"tester.slope_N_per_um"});
  draws.edges             = 6;
  draws.readings          = 36;
  draws.source            = "fit.h5";
  const Ensemble ensemble = ensemble_of(draws, scenario, 60);
  HandSettings   settings;
  settings.life.passes    = 2000.0;
  settings.life.threads   = 1;
  settings.life.limit_N   = laws::in_newton(1e4);
  settings.fit            = settings_for_laws();
  const Scenario     best = at_best(scenario, ensemble);
  const HandForecast look = forecast_in_hand(best, ensemble, 0, readings, settings);
  // twice what it reads now
  settings.life.limit_N   = 2.0 * look.curve_N.front().middle;
  const HandForecast hand = forecast_in_hand(best, ensemble, 0, readings, settings);
  REQUIRE(hand.laws.size() == 2);
  // half of the members have each law, and what all say lies between what these say
  const double low  = std::min(hand.laws[0].passes, hand.laws[1].passes),
               high = std::max(hand.laws[0].passes, hand.laws[1].passes);
  CHECK(0.0 < low);
  CHECK(low < high);
  CHECK(low <= hand.left.middle);
  CHECK(hand.left.middle <= high);
  for (const LawForecast& law : hand.laws) CHECK(law.curve_N.size() == hand.at.size());
  const Answer answer = hand_answer(hand, ensemble);
  CHECK(answer.headline.find(law_sentence("It has", hand.laws, 2000.0, "more passes")) != std::string::npos);
  CHECK(answer.table("laws").rows() == 2);
  CHECK(answer.table("law_curves").rows() == 2 * hand.at.size());
  // under one law nothing is said of laws
  const Answer alone =
      hand_answer(forecast_in_hand(best, of_one_law(ensemble, 0), 0, readings, settings), ensemble);
  CHECK(alone.headline.find("wear law") == std::string::npos);
}

TEST_CASE("the program fits all laws, keeps them in the file and answers from all of them",
          "[laws][program]") {
  const Folder folder;
  // sentences, wherever their lines break
  const auto flowing = [](std::string text) {
    std::replace(text.begin(), text.end(), '\n', ' ');
    return text;
  };
  const auto write_text_to = [&](const char* name, const std::string& text) {
    std::ofstream(folder / name) << text;
  };
  write_text_to("bare.toml", campaign_of(6));
  write_text_to(
      "c.toml",
      campaign_of(
          6,
          "[readings]\nfile = \"r.csv\"\n[fit]\nfree = [\"tester.slope_N_per_um\", \"wear.parting_um2_per_m\"]\nstarts = 2\nderived = [\"passes of E1 to the limit\"]\n"));
  write_text_to(
      "one.toml",
      campaign_of(
          6,
          "[wear]\nlaw = \"shared-load\"\n[readings]\nfile = \"r.csv\"\n[fit]\nfree = [\"tester.slope_N_per_um\", \"wear.parting_um2_per_m\"]\nstarts = 2\n"));
  REQUIRE(run(folder, {"simulate", "bare.toml", "--invent-readings", "r.csv", "-q"}).code == 0);
  const Outcome fitted =
      run(folder, {"fit", "c.toml", "--no-profiles", "--draws", "200", "--out", "f.h5", "--json", "f.json"});
  CHECK(fitted.code == 0);
  CHECK(flowing(fitted.out).find("by the wear law") != std::string::npos);
  CHECK(fitted.out.find("90 % (all laws)") != std::string::npos);
  CHECK(fitted.out.find("settling") != std::string::npos);
  const Outcome fixed = run(folder, {"fit", "one.toml", "--no-profiles"});
  CHECK(fixed.code == 0);
  CHECK(fixed.out.find("settling") == std::string::npos);

  const Outcome forecast =
      run(folder, {"forecast", "c.toml", "--fit", "f.h5", "--members", "50", "--out", "p.h5"});
  CHECK(forecast.code == 0);
  CHECK(flowing(forecast.out).find("depending on the wear law") != std::string::npos);
  CHECK(flowing(forecast.out).find("wear laws together, each by its weight") != std::string::npos);
  CHECK(run(folder, {"report", "p.h5", "--figure", "curves", "--out", "p.svg"}).code == 0);
  const std::string curves = contents(folder / "p.svg");
  CHECK(curves.find("under each wear law") != std::string::npos);
  CHECK(curves.find(">settling<") != std::string::npos);  // each curve is named at its end
  // a configuration with the fitted values keeps the priors of all laws, so that a second fit does not use these readings twice
  REQUIRE(run(folder, {"fit", "c.toml", "--no-profiles", "--quiet", "--fitted", "fitted.toml"}).code == 0);
  const std::string held = contents(folder / "fitted.toml");
  for (const std::string& law : built_in) CHECK(held.find("[prior.\"wear." + law + ".") != std::string::npos);
  CHECK(held.find("shift = ") != std::string::npos);
  CHECK(run(folder, {"check", "fitted.toml"}).code == 0);
  CHECK(run(folder, {"report", "f.h5", "--out", "f.html"}).code == 0);
}
