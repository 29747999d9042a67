// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/fit/derived_draws.hpp"
#include "sim/fit/effect_modes.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/ways.hpp"
#include "sim/input/loader.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/simulate/beside_model.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/simulate/way.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "tests/fitted_draws.hpp"

using namespace arris;
using Catch::Detail::Approx;

namespace {

// two ways of sharpening, two woods, three edges of each in each
const std::string two_woods = [] {
  std::string text =
      "[tool.iron]\nkind = \"plane iron\"\nsteel = \"O1\"\nwidth_mm = 50\nthickness_mm = 3.2\n"
      "primary_bevel_deg = 25\nmicro_bevel_deg = 30\napex_radius_um = 3\nland_mm = 0.3\n"
      "[scatter]\nreading_cv = 0.03\nedge_cv = 0.04\nrate_cv = 0.05\noperator_cv = 0\nlot_cv = 0\n"
      "[route.film]\nsteps = [ { hone = \"lapping film, 15 µm\", strokes = 30 }, { back = \"lapping film, 3 µm\", "
      "strokes = 8 } ]\n"
      "[route.stones]\nsteps = [ { hone = \"soft waterstone, JIS #1000\", strokes = 30 }, { back = \"hard "
      "waterstone, JIS #8000\", strokes = 8 } ]\n";
  for (int e = 0; e < 12; ++e) {
    text += "[edge.E" + std::to_string(e + 1) + "]\ntool = \"iron\"\nroute = \"" +
            (e % 2 == 0 ? "film" : "stones") + "\"\nsteps = [\n  { read = \"ready\", replicates = 3 },\n";
    for (int k = 1; k <= 2; ++k)
      text += "  { cut = \"" + std::string(e % 4 < 2 ? "sugar maple" : "white oak") +
              "\", passes = 60 }, { read = \"worn " + std::to_string(k) + "\", replicates = 3 },\n";
    text += "]\n";
  }
  return text;
}();

const Scenario& workshop() {
  static const Scenario scenario = load_scenario("campaign.toml", two_woods).scenario;
  return scenario;
}

const EdgePlan& plan_of(int edge) { return workshop().edges[static_cast<std::size_t>(edge)]; }
bool            is_oak(int edge) { return wood_at(plan_of(edge), {3, not_given}) == "white oak"; }
bool            is_film(int edge) { return plan_of(edge).route == "film"; }

// what oak, and edges off film, grow in wood is so many times what the model says
std::vector<Reading> drawn(double in_oak, double off_film) {
  std::vector<Reading> readings = invent_readings(workshop(), 5, {"A"}, {"lot"}, 1);
  for (Reading& r : readings) {
    if (r.moment_name == "ready") continue;
    const auto   at    = predict(workshop(), plan_of(r.edge), {{1, not_given}, r.moment}).points;
    const double times = (is_oak(r.edge) ? in_oak : 1.0) * (is_film(r.edge) ? off_film : 1.0),
                 met   = worn_with_luck(at[0].met_radius_um, at[1].met_radius_um, times);
    r.reading_N *= tester_law(workshop().model.tester).reading_N(met, at[1].burr_um, 15.0 * laws::degree) /
                   at[1].reading_N;
  }
  return readings;
}

CampaignModel model_of(const std::vector<Reading>& readings, FitSettings settings = {}) {
  settings.rules_of_thumb = false;
  return {workshop(),
          readings,
          {free_parameter(workshop().model, "tester.slope_N_per_um"),
           free_parameter(workshop().model, "wear.parting_um2_per_m")},
          settings};
}

FitReport fitted(const CampaignModel& model, int draws) {
  return fit_report(model, {.profiles = false, .draws = draws, .threads = 1});
}

double factor_of(const Ensemble& ensemble, EffectKind kind, const std::string& name) {
  return std::exp(effect_logs(ensemble, {kind, name}, 3).mean());
}

}  // namespace

TEST_CASE("the wood that an edge is in is the one it cut last", "[wear effects]") {
  const EdgePlan& oak = plan_of(2);
  REQUIRE(is_oak(2));
  const auto first_cut =
      static_cast<int>(std::find_if(oak.steps.begin(), oak.steps.end(),
                                    [](const Step& s) { return std::holds_alternative<CutStep>(s); }) -
                       oak.steps.begin());
  CHECK(wood_at(oak, {first_cut, 0.0}).empty());
  CHECK(wood_at(oak, {first_cut, 1.0}) == "white oak");
  CHECK(wood_at(oak, {first_cut, not_given}) == "white oak");
  CHECK(wood_at(oak, {first_cut + 1, not_given}) == "white oak");
  CHECK(wood_at(oak, {first_cut - 1, not_given}).empty());
}

TEST_CASE("wear after ways and in woods is in a fit where two of them were read at work", "[wear effects]") {
  const std::vector<Reading> all     = drawn(1.0, 1.0);
  const auto                 members = [](const std::vector<Reading>& readings, EffectKind kind,
                          const FitSettings& settings = {}) {
    return model_of(readings, settings).members(kind);
  };
  CHECK(members(all, EffectKind::way_wear) == 2);
  CHECK(members(all, EffectKind::wood) == 2);
  FitSettings without;
  without.way_wear_effect = without.wood_effect = false;
  CHECK(members(all, EffectKind::way_wear, without) == 0);
  CHECK(members(all, EffectKind::wood, without) == 0);
  std::vector<Reading> in_maple = all, ready = all;
  std::erase_if(in_maple, [](const Reading& r) { return is_oak(r.edge); });
  CHECK(members(in_maple, EffectKind::wood) == 0);
  CHECK(members(in_maple, EffectKind::way_wear) == 2);
  std::erase_if(ready, [](const Reading& r) { return r.moment_name != "ready"; });
  CHECK(members(ready, EffectKind::way_wear) == 0);
  CHECK(members(ready, EffectKind::rate) == 0);
  // without luck of single edges too
  without                 = {};
  without.rate_effect     = false;
  const CampaignModel own = model_of(all, without);
  CHECK(own.members(EffectKind::rate) == 0);
  CHECK(own.members(EffectKind::wood) == 2);
}

TEST_CASE("slopes by wear after ways and in woods are those of the readings", "[wear effects]") {
  const CampaignModel   model = model_of(drawn(1.5, 1.0));
  const auto            apex  = model.apex(Eigen::VectorXd::Zero(model.parameter_count()), true);
  const Eigen::VectorXd at    = Eigen::VectorXd::LinSpaced(model.effect_count(), -0.2, 0.3);
  Eigen::VectorXd       f, up, down;
  Eigen::MatrixXd       by_parameter, by_effect;
  model.observe(apex, at, f, &by_parameter, &by_effect);
  constexpr double h = 1e-6;
  for (Eigen::Index j = 0; j < model.effect_count(); ++j) {
    Eigen::VectorXd step = Eigen::VectorXd::Zero(model.effect_count());
    step[j]              = h;
    model.observe(apex, at + step, up, nullptr, nullptr);
    model.observe(apex, at - step, down, nullptr, nullptr);
    INFO(name_of(model.effects()[static_cast<std::size_t>(j)].kind));
    CHECK(((up - down) / (2.0 * h) - by_effect.col(j)).cwiseAbs().maxCoeff() < 1e-8);
  }
}

TEST_CASE("how woods and ways wear is found, said, and allowed for", "[wear effects][forecast]") {
  const CampaignModel model  = model_of(drawn(2.0, 0.6));
  const FitReport     report = fitted(model, 300);
  REQUIRE(report.fit.converged);
  REQUIRE(report.draws.converged);
  // edges of one wood and way do not seem to scatter in their rates for it
  CHECK(report.fit.best.spread.rate < 0.2);
  const Ensemble    knows = ensemble_of(draws_of(model, report), workshop(), 300);
  const std::string film = way_at(plan_of(0), {3, not_given}), stones = way_at(plan_of(1), {3, not_given});
  CHECK(std::log(factor_of(knows, EffectKind::wood, "white oak") /
                 factor_of(knows, EffectKind::wood, "sugar maple")) == Approx(std::log(2.0)).margin(0.25));
  CHECK(std::log(factor_of(knows, EffectKind::way_wear, film) /
                 factor_of(knows, EffectKind::way_wear, stones)) == Approx(std::log(0.6)).margin(0.25));
  // a wood that nobody cut may be anything that woods are
  const Eigen::VectorXd ash = effect_logs(knows, {EffectKind::wood, "white ash"}, 3);
  CHECK(ash.mean() == Approx(0.0).margin(0.1));
  CHECK(ash.norm() > 0.0);

  // forecasts of each way in each wood lie where its edges were read, and a simulation reads the same
  ForecastSettings settings;
  settings.limit_N  = laws::in_newton(500.0);
  settings.passes   = 200.0;
  settings.threads  = 1;
  Scenario       at = as_read(workshop(), knows);
  const Forecast f  = forecast(at_best(workshop(), knows), Workshop{}, knows, {0, 1, 2, 3}, settings);
  for (int e = 0; e < 4; ++e) {
    double sum = 0.0, count = 0.0;
    for (const Reading& r : model.readings()) {
      if (r.moment_name != "worn 2" || is_oak(r.edge) != is_oak(e) || is_film(r.edge) != is_film(e)) continue;
      sum += std::log(r.reading_N);
      count += 1.0;
    }
    const EdgeForecast& of    = f.edges[static_cast<std::size_t>(e)];
    const auto          next  = std::lower_bound(of.at.begin(), of.at.end(), 120.0) - of.at.begin();
    const auto          i     = static_cast<std::size_t>(next);
    const double        share = (120.0 - of.at[i - 1]) / (of.at[i] - of.at[i - 1]);
    const double        said  = std::lerp(of.mean_N[i - 1].middle, of.mean_N[i].middle, share);
    CHECK(std::log(said) == Approx(sum / count).margin(0.06));
    const EdgePlan& plan = at.edges[static_cast<std::size_t>(e)];
    const auto      last = static_cast<int>(std::ssize(plan.steps)) - 1;
    CHECK(predict(at, plan, {{last, not_given}}).points[0].reading_N == Approx(said).epsilon(0.03));
    CHECK(simulate_edge(at, plan).steps.back().after.reading_N ==
          Approx(predict(at, plan, {{last, not_given}}).points[0].reading_N).epsilon(1e-6));
  }
  std::string page = fit_page(model, report, false);
  std::erase_if(page, [](char c) { return c == '\n' || c == ' '; });  // wherever its lines break
  CHECK(page.find("Edgescut2woods") != std::string::npos);
  CHECK(page.find("wood_effect=falsein[fit]") != std::string::npos);
}

TEST_CASE("quantities in wood know how their way and their wood wear", "[wear effects][derived]") {
  FitSettings settings;
  settings.derived             = {"reading of E1 after 120 passes", "reading of E3 after 120 passes",
                                  "apex radius of E3 after 120 passes"};
  const CampaignModel    model = model_of(drawn(2.0, 0.6), settings);
  const FitReportOptions options{.profiles = true, .draws = 400, .threads = 1};
  const FitReport        report = fit_report(model, options);
  REQUIRE(report.fit.converged);
  REQUIRE(report.draws.converged);
  for (std::size_t i = 0; i < 2; ++i) {
    const DerivedResult& d   = report.derived[i];
    double               sum = 0.0, count = 0.0;
    for (const Reading& r : model.readings()) {
      if (r.moment_name != "worn 2" || is_oak(r.edge) != is_oak(d.quantity.edge) ||
          is_film(r.edge) != is_film(d.quantity.edge))
        continue;
      sum += std::log(laws::in_gram_force(r.reading_N));
      count += 1.0;
    }
    CHECK(std::log(d.value) == Approx(sum / count).margin(0.06));
    // Wald, profile and draws tell one interval
    const double wald = std::log(d.high / d.low);
    CHECK(std::log(d.profile.high / d.profile.low) == Approx(wald).epsilon(0.3));
    CHECK(std::log(d.drawn_high / d.drawn_low) == Approx(wald).epsilon(0.35));
  }
  // oak that was read as twice as hard on edges wears more than maple does
  CHECK(report.derived[1].value > 1.1 * report.derived[0].value);
}

TEST_CASE("a quantity of a way that was never read has all of what ways differ by",
          "[wear effects][derived]") {
  const CampaignModel   model    = model_of(drawn(1.0, 1.0));
  const DerivedQuantity quantity = derived_quantity(workshop(), "apex radius of E1 after 120 passes");
  DerivedModel          derived(workshop(), model.parameters(), quantity);
  const Eigen::VectorXd u     = Eigen::VectorXd::Zero(model.parameter_count());
  const auto            grown = [&](double growth) {
    derived.set_luck({0.0, growth});
    return derived.value(u);
  };
  const double fresh = grown(-1e3), worn = grown(0.0);
  REQUIRE(worn > 1.02 * fresh);
  // the sd of a draw is that of its row
  const std::vector<std::string> columns{"sd of wear after ways", "wear after: another way"};
  constexpr Eigen::Index         n = 1000;
  DrawsOfFit                     draws{columns, Eigen::MatrixXd::Ones(n, 2), u.replicate(1, n), Spread{}, 3};
  draws.rows.col(0).setConstant(0.3);
  const std::vector<double> values = at_draws(derived, quantity, draws);
  double                    sum = 0.0, squares = 0.0;
  for (const double value : values) {
    const double luck = std::log((value - fresh) / (worn - fresh));
    sum += luck;
    squares += luck * luck;
  }
  CHECK(sum / n == Approx(0.0).margin(0.04));
  CHECK(std::sqrt(squares / n) == Approx(0.3).epsilon(0.1));
  // one that was read is as it was drawn
  const std::vector<std::string> known{"sd of wear after ways", "wear after: " + quantity.way};
  DrawsOfFit read{known, Eigen::MatrixXd::Constant(2, 2, 1.5), u.replicate(1, 2), Spread{}, 3};
  CHECK(at_draws(derived, quantity, read).front() == Approx(grown(std::log(1.5))).epsilon(1e-6));
}

TEST_CASE("a radius that no microscope saw is told under all laws that have a part", "[derived]") {
  FitSettings settings;
  settings.derived = {"apex radius of E3 after 120 passes", "apex radius of E3 ready"};
  settings.laws    = {"shared-load", "power"};
  settings.starts  = 1;
  const FitReport report =
      fit_report(model_of(drawn(1.0, 1.0), settings), {.profiles = false, .draws = 0, .threads = 1});
  REQUIRE(report.fit.converged);
  const DerivedResult& d = report.derived.front();
  REQUIRE(d.prior_log_sd > 0.0);
  REQUIRE(d.by_law.size() == 2);
  const double reach = reach_90(std::numeric_limits<double>::infinity()) * d.prior_log_sd;
  double       least = d.value, most = d.value;
  for (std::size_t k = 0; k < 2; ++k) {
    if (report.laws.laws[k].weight < 0.05) continue;
    least = std::min(least, d.by_law[k]);
    most  = std::max(most, d.by_law[k]);
  }
  CHECK(most > least);
  CHECK(d.low == Approx(least * std::exp(-reach)));
  CHECK(d.high == Approx(most * std::exp(reach)));
}

TEST_CASE("the mode of effects is found from far away", "[wear effects]") {
  const CampaignModel model = model_of(drawn(3.0, 0.4));
  const auto          apex  = model.apex(Eigen::VectorXd::Zero(model.parameter_count()), false);
  Spread              wide;
  wide.rate = wide.way = wide.way_wear = wide.wood = 2.0;
  const EffectModes modes(model);
  Eigen::VectorXd   near = Eigen::VectorXd::Zero(model.effect_count()), far = near;
  far.array() += 4.0;
  const double from_near = modes.log_likelihood(apex, wide, near),
               from_far  = modes.log_likelihood(apex, wide, far);
  CHECK(std::isfinite(from_near));
  CHECK(from_far == Approx(from_near).epsilon(1e-6));
  CHECK((near - far).cwiseAbs().maxCoeff() < 1e-3);
}

TEST_CASE("invented readings scatter by wood as stated", "[wear effects]") {
  Scenario still                 = workshop();
  still.model.scatter.reading_cv = still.model.scatter.edge_cv = still.model.scatter.rate_cv = 0.0;
  Scenario scattered                                                                         = still;
  scattered.model.scatter.wood_cv                                                            = 0.4;
  const std::vector<Reading> plain = invent_readings(still, 5, {"A"}, {"lot"}, 1),
                             off   = invent_readings(scattered, 5, {"A"}, {"lot"}, 1);
  REQUIRE(plain.size() == off.size());
  for (std::size_t i = 0; i < plain.size(); ++i) {
    const bool changed = std::abs(off[i].reading_N / plain[i].reading_N - 1.0) > 1e-6;
    CHECK(changed == (plain[i].moment_name != "ready"));
    for (std::size_t k = 0; k < i; ++k) {
      if (is_oak(plain[i].edge) == is_oak(plain[k].edge) &&
          is_film(plain[i].edge) == is_film(plain[k].edge) && plain[i].moment_name == plain[k].moment_name)
        CHECK(off[i].reading_N == Approx(off[k].reading_N).epsilon(1e-12));
    }
  }
}
