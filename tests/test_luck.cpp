// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/fit/confounding.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/log_density.hpp"
#include "sim/fit/marginal.hpp"
#include "sim/fit/normal_ensemble.hpp"
#include "sim/fit/reduced_residuals.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/misses_said.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/simulate/slips_of_unit.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/studies/plan/plan.hpp"
#include "sim/studies/weigh/weigh.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

// twelve edges off two routes, read fresh and four times in wood
std::string twelve(const std::string& more = {}) {
  std::string text = iron + R"([route.stones]
steps = [ { hone = "soft waterstone, JIS #1000", strokes = 40 }, { back = "soft waterstone, JIS #1000", strokes = 10 } ]
[route.finer]
steps = [ { hone = "soft waterstone, JIS #1000", strokes = 40 }, { hone = "soft waterstone, JIS #4000", strokes = 60 },
          { back = "soft waterstone, JIS #4000", strokes = 10 } ]
)";
  for (int e = 0; e < 12; ++e) {
    text += fmt::format(
        "[edge.E{}]\ntool = \"iron\"\nroute = \"{}\"\nsteps = [\n  {{ read = \"ready\", replicates = 2 }},\n",
        e, e % 2 == 0 ? "stones" : "finer");
    for (const int passes : {20, 40, 80, 160})
      text += fmt::format(
          "  {{ cut = \"sugar maple\", passes = {} }}, {{ read = \"after {} more\", replicates = 2 }},\n",
          passes, passes);
    text += "]\n";
  }
  return text + more;
}

const std::vector<std::string> wear_and_tester{"wear.parting_um2_per_m", "tester.slope_N_per_um"};

std::vector<FreeParameter> parameters_for(const Scenario&                 s,
                                          const std::vector<std::string>& paths = wear_and_tester) {
  std::vector<FreeParameter> out;
  for (const auto& path : paths) out.push_back(free_parameter(s.model, path));
  return out;
}

FitSettings one_start() {
  FitSettings s;
  s.starts = 1;
  return s;
}

const EffectTest* test_of(const FitResult& fit, EffectKind kind) {
  for (const EffectTest& t : fit.effect_tests) {
    if (t.kind == kind) return &t;
  }
  return nullptr;
}

std::string said_of(const CampaignModel& model, const FitReport& report) {
  std::string out;
  for (const std::string& remark : fit_sentences(model, report, "r.csv").remarks) out += remark + "\n";
  return out;
}

FitReport reported(const CampaignModel& model) {
  return fit_report(model, {.profiles = false, .draws = 0, .threads = 1});
}

bool holds(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("operators, lots and days are in a fit as soon as readings name two of them", "[luck]") {
  const Scenario s       = load(twelve()).scenario;
  const auto     members = [&](const std::vector<Reading>& readings, const FitSettings& settings,
                           EffectKind kind) {
    return CampaignModel(s, readings, parameters_for(s), settings).members(kind);
  };
  std::vector<Reading> readings = invent_readings(s, 3, {"K"}, {"1"}, 1);
  CHECK(members(readings, {}, EffectKind::person) == 0);
  for (std::size_t i = 1; i < readings.size(); i += 2) readings[i].operator_name = "M";
  CHECK(members(readings, {}, EffectKind::person) == 2);
  CHECK(members(readings, {}, EffectKind::lot) == 0);  // one alone tells nothing
  CHECK(members(readings, {}, EffectKind::day) == 0);
  CHECK(members(readings, {}, EffectKind::edge) == 12);
  CHECK(members(readings, {}, EffectKind::rate) == 12);
  for (std::size_t i = 0; i < readings.size(); ++i) readings[i].test_day = i % 3 == 0 ? "Monday" : "Tuesday";
  CHECK(members(readings, {}, EffectKind::day) == 2);
  FitSettings none;
  none.operator_effect = none.day_effect = none.rate_effect = none.edge_effect = false;
  for (const EffectKind kind : {EffectKind::person, EffectKind::day, EffectKind::rate, EffectKind::edge})
    CHECK(members(readings, none, kind) == 0);
  // readings of one operator, taken out of more
  std::vector<Reading> of_one;
  for (const Reading& r : readings) {
    if (r.operator_name == "K") of_one.push_back(r);
  }
  FitSettings lone;
  lone.lone_effects = true;
  CHECK(members(of_one, {}, EffectKind::person) == 0);
  CHECK(members(of_one, lone, EffectKind::person) == 1);
  // a reading that is left out names nobody
  for (Reading& r : readings) {
    if (r.operator_name == "M") r.excluded = "by hand";
  }
  CHECK(members(readings, {}, EffectKind::person) == 0);
}

TEST_CASE("a fit says which effects are in it, whether they differ and how to take them out", "[luck]") {
  Scenario s                   = load(twelve()).scenario;
  s.model.scatter.operator_cv  = 0.3;
  const auto          readings = invent_readings(s, 4, {"K", "M", "P"}, {"1"}, 1);
  const CampaignModel model(s, readings, parameters_for(s), one_start());
  const FitReport     report = reported(model);
  REQUIRE(report.fit.converged);
  REQUIRE(test_of(report.fit, EffectKind::person) != nullptr);
  CHECK(test_of(report.fit, EffectKind::person)->p < 0.01);
  CHECK(test_of(report.fit, EffectKind::person)->members == 3);
  const std::string said = said_of(model, report);
  CHECK(holds(said, "The readings name more than one of the operators ("));
  CHECK(holds(said, "They differ (by chance "));
  CHECK(holds(said, "operator_effect = false in [fit] takes them out"));
  CHECK_FALSE(holds(said, "lot_effect"));
}

TEST_CASE("a test day is a column of the readings file, and comes back as it was written",
          "[luck][readings]") {
  const Scenario s    = load(shop(one_hone + " { read = \"new\" }")).scenario;
  const auto     rows = parse_readings(
          "r.csv", "edge,step,reading_gf,replicate,test_day\nA,new,150,1,2024-05-02\nA,new,160,2,\n", s);
  REQUIRE(rows.size() == 2);
  CHECK(rows[0].test_day == "2024-05-02");
  CHECK(rows[1].test_day.empty());
  const auto back = parse_readings("r.csv", readings_text(rows, s, {}), s);
  CHECK(back[0].test_day == "2024-05-02");
  CHECK_FALSE(holds(readings_text({rows[1]}, s, {}), "test_day"));
}

TEST_CASE("wear began with the cuts since the edge was last sharpened", "[luck]") {
  const Scenario s =
      load(shop(one_hone +
                " { read = \"new\" }, { cut = \"white oak\", passes = 10 }, { read = \"a\" },"
                " { cut = \"white oak\", passes = 10 }, { read = \"b\" }, { strop = \"MDF\", laps = 20 },"
                " { read = \"c\" }, { cut = \"white oak\", passes = 10 }, { read = \"d\" }"))
          .scenario;
  const EdgePlan& plan = s.edges.front();
  const auto      at   = [&](const Moment& m) { return start_of_wear(plan, m).step; };
  CHECK(at({1, 0.0}) == -1);  // new
  CHECK(at({2, 0.0}) == -1);  // before the first pass
  CHECK(at({2, 5.0}) == 2);
  CHECK(at({3, 0.0}) == 2);                                       // a
  CHECK(at({5, 0.0}) == 2);                                       // b: both cuts
  CHECK(at({7, 0.0}) == -1);                                      // c: stropped since
  CHECK(at({9, 0.0}) == 8);                                       // d
  CHECK(at({4, std::numeric_limits<double>::quiet_NaN()}) == 2);  // the end of a cut
  CHECK(worn_with_luck(1.0, 3.0, 1.5) == 4.0);
  CHECK(worn_with_luck(3.0, 1.0, 1.5) == 1.0);
}

TEST_CASE("slopes by the luck of an edge agree with differences", "[luck]") {
  const Scenario       s        = load(twelve()).scenario;
  std::vector<Reading> readings = invent_readings(s, 3, {"K", "M"}, {"1"}, 1);
  Reading              radius   = readings.back();
  radius.reading_N              = not_given;
  radius.apex_radius_um         = 2.0;
  radius.apex_radius_sd_um      = 0.1;
  readings.push_back(radius);
  const CampaignModel model(
      s, readings, parameters_for(s, {"coefficients.radius_per_scratch", "wear.parting_um2_per_m"}), {});
  const auto apex = model.apex(Eigen::VectorXd::Constant(2, 0.2), true);
  REQUIRE(apex.usable);
  const Eigen::VectorXd at = Eigen::VectorXd::LinSpaced(model.effect_count(), -0.2, 0.3);
  Eigen::VectorXd       f, up, down;
  Eigen::MatrixXd       by_effect, by_parameter, alone;
  model.observe(apex, at, f, &by_parameter, &by_effect);
  model.observe(apex, at, f, nullptr, &alone);
  CHECK((by_effect - alone).cwiseAbs().maxCoeff() < 1e-12);
  for (Eigen::Index j = 0; j < model.effect_count(); ++j) {
    constexpr double h = 1e-5;
    model.observe(apex, at + h * Eigen::VectorXd::Unit(at.size(), j), up, nullptr, nullptr);
    model.observe(apex, at - h * Eigen::VectorXd::Unit(at.size(), j), down, nullptr, nullptr);
    CHECK(((up - down) / (2.0 * h) - by_effect.col(j)).cwiseAbs().maxCoeff() < 1e-8);
  }
  // by parameters, where the luck of the rate is not 0: the start of the wear counts too
  for (Eigen::Index j = 0; j < 2; ++j) {
    constexpr double      h = 1e-3;
    const Eigen::VectorXd u = Eigen::VectorXd::Constant(2, 0.2), step = h * Eigen::VectorXd::Unit(2, j);
    model.observe(model.apex(u + step, true), at, up, nullptr, nullptr);
    model.observe(model.apex(u - step, true), at, down, nullptr, nullptr);
    CHECK(((up - down) / (2.0 * h) - by_parameter.col(j)).cwiseAbs().maxCoeff() < 5e-3);
  }
}

TEST_CASE("effects are integrated out edge by edge as they are all together", "[luck]") {
  const Scenario       s        = load(twelve()).scenario;
  std::vector<Reading> readings = invent_readings(s, 3, {"K", "M"}, {"1", "2"}, 1);
  for (std::size_t i = 0; i < readings.size(); ++i) {
    readings[i].test_day      = i % 3 == 0 ? "Monday" : "Friday";
    readings[i].operator_name = i % 2 == 0 ? "K" : "M";
  }
  FitSettings settings;
  settings.noise           = GENERATE("log-normal", "student-t");
  settings.operator_effect = settings.lot_effect = settings.day_effect = true;
  CAPTURE(settings.noise);
  const CampaignModel model(s, readings, parameters_for(s), settings);
  for (const EffectKind kind : {EffectKind::edge, EffectKind::rate, EffectKind::person, EffectKind::lot,
                                EffectKind::day, EffectKind::way, EffectKind::way_wear})
    REQUIRE(model.has_effect(kind));
  const Spread          spread{0.08, 0.2, 0.07, 0.05, 0.3, 0.04, 0.15, 0.2, 0.12};
  const Eigen::VectorXd u = Eigen::VectorXd::Constant(2, 0.1);
  // the posterior of everything at the mode of the effects, less half the log of the determinant of its curvature by differences
  Eigen::VectorXd    effects = Eigen::VectorXd::Zero(model.effect_count());
  const double       found   = log_marginal(model, u, spread, effects, true);
  const LogPosterior whole(model);
  const auto         q = model.effect_count();
  Eigen::VectorXd    x = Eigen::VectorXd::Zero(whole.size());
  x.head(2)            = u;
  const auto members   = spreads_in(model);
  for (std::size_t k = 0; k < members.size(); ++k)
    x[2 + static_cast<Eigen::Index>(k)] = std::log(spread.*members[k]);
  for (Eigen::Index j = 0; j < q; ++j)
    x[whole.size() - q + j] = effects[j] / spread.of(model.effects()[static_cast<std::size_t>(j)].kind);
  Eigen::VectorXd slope;
  const double    at_mode = whole.at(x, &slope);
  CHECK(slope.tail(q).cwiseAbs().maxCoeff() < 1e-3);
  Eigen::VectorXd r;
  Eigen::MatrixXd jacobian;
  Eigen::VectorXd of_both(2 + q);
  of_both << x.head(2), x.tail(q);
  REQUIRE(posterior_residuals(model, spread, of_both, r, &jacobian));
  const Eigen::MatrixXd by_effects = jacobian.rightCols(q);
  const Cholesky        curvature(Eigen::MatrixXd(by_effects.transpose() * by_effects));
  // `at` leaves out constants of the readings: take them from a second place
  const Spread    other{0.08, 0.3, 0.02, 0.1, 0.1, 0.09, 0.25, 0.1, 0.3};
  Eigen::VectorXd there       = effects;
  const double    found_there = log_marginal(model, u, other, there, true);
  for (std::size_t k = 0; k < members.size(); ++k)
    x[2 + static_cast<Eigen::Index>(k)] = std::log(other.*members[k]);
  for (Eigen::Index j = 0; j < q; ++j)
    of_both[2 + j] = x[whole.size() - q + j] =
        there[j] / other.of(model.effects()[static_cast<std::size_t>(j)].kind);
  REQUIRE(posterior_residuals(model, other, of_both, r, &jacobian));
  const Eigen::MatrixXd by_effects_there = jacobian.rightCols(q);
  const Cholesky        curvature_there(Eigen::MatrixXd(by_effects_there.transpose() * by_effects_there));
  const double          dense       = at_mode - 0.5 * curvature.log_determinant();
  const double          dense_there = whole.at(x, nullptr) - 0.5 * curvature_there.log_determinant();
  CHECK(found - found_there == Approx(dense - dense_there).margin(2e-6));
}

TEST_CASE("all operators together do not hide what a law misses", "[luck]") {
  const Scenario       s        = load(twelve()).scenario;
  std::vector<Reading> readings = invent_readings(s, 3, {"K", "M"}, {"1"}, 1);
  for (std::size_t i = 0; i < readings.size(); ++i) {
    readings[i].reading_N *= 0.5;  // as a tester reads whose filament parts more easily
    readings[i].operator_name = i % 2 == 0 ? "K" : "M";
  }
  FitSettings settings;
  settings.rules_of_thumb  = false;
  settings.operator_effect = true;
  const CampaignModel model(
      s, readings,
      parameters_for(s, {"tester.cut_resistance_N", "tester.slope_N_per_um", "wear.parting_um2_per_m"}),
      settings);
  const FitResult found = fit(model);
  REQUIRE(found.converged);
  double sum    = 0.0;
  int    people = 0;
  for (std::size_t j = 0; j < model.effects().size(); ++j) {
    if (model.effects()[j].kind != EffectKind::person) continue;
    sum += found.best.effects[static_cast<Eigen::Index>(j)];
    ++people;
  }
  REQUIRE(people == 2);
  CHECK(std::abs(sum / people) < 2.0 * common_sd);
  REQUIRE(model.centring().rows() == 2);  // and what ways of sharpening have in common of wear
  const Eigen::VectorXd of_one = model.centring() * Eigen::VectorXd::Ones(model.effect_count());
  CHECK(of_one[0] == Approx(1.0 / common_sd));
  CHECK(of_one[1] == Approx(1.0 / common_growth_sd));
}

TEST_CASE("luck in the rate of wear is found where it is, and not where it is not", "[luck]") {
  Scenario s          = load(twelve()).scenario;
  s.model.scatter     = {0.04, 0.05, 0.0, 0.0, 0.3, 0.0};
  const auto of_rates = [&](unsigned seed) {
    const auto          readings = invent_readings(s, seed, {"K"}, {"1"}, 1);
    const CampaignModel model(s, readings, parameters_for(s), one_start());
    FitResult           result = fit(model, 1);
    REQUIRE(result.converged);
    return result;
  };
  int found = 0;
  for (unsigned seed = 1; seed <= 5; ++seed) {
    const FitResult result = of_rates(seed);
    const double    sd     = result.best.spread.rate;
    INFO(seed << ": " << sd << " p " << test_of(result, EffectKind::rate)->p);
    // twelve edges: of χ² with 11 degrees of freedom, a variance lies between 0.17 and 2.8 times its own in all but 2 of 1000
    CHECK(sd > 0.12);
    CHECK(sd < 0.5);
    found += test_of(result, EffectKind::rate)->p < 0.01 ? 1 : 0;
    CHECK(test_of(result, EffectKind::rate)->from_readings > 0.5);
  }
  CHECK(found == 5);
  s.model.scatter.rate_cv = 0.0;
  int false_alarms        = 0;
  for (unsigned seed = 1; seed <= 5; ++seed) {
    const FitResult result = of_rates(seed);
    CHECK(result.best.spread.rate < 0.1);
    false_alarms += test_of(result, EffectKind::rate)->p < 0.05 ? 1 : 0;
  }
  CHECK(false_alarms <= 1);
}

TEST_CASE("next edges differ in their rate of wear too, and the mean edge does not", "[luck][forecast]") {
  const Loaded   loaded = load(twelve("[output]\nreading_limit_gf = 250\n"));
  const Scenario s      = loaded.scenario;
  Ensemble       steady = single_member(s);
  steady.values.resize(200, 0);
  steady.spreads.assign(200, steady.spreads.front());
  for (Spread& spread : steady.spreads) spread.edge = 1e-6;
  Ensemble lucky = steady;
  for (Spread& spread : lucky.spreads) spread.rate = 0.3;
  ForecastSettings settings;
  settings.limit_N   = laws::in_newton(250.0);
  const auto without = forecast(s, loaded.workshop, steady, {0}, settings).edges.front();
  const auto with    = forecast(s, loaded.workshop, lucky, {0}, settings).edges.front();
  CHECK(with.mean_passes.middle == without.mean_passes.middle);
  CHECK(without.next_passes.high / without.next_passes.low < 1.01);
  CHECK(with.next_passes.high / with.next_passes.low > 1.5);
  // what has not cut has no luck in it
  CHECK(with.next_N.front().low == Approx(without.next_N.front().low).epsilon(1e-12));
}

TEST_CASE("one reading does not make the scatter 0, nor a plan sure", "[luck][plan]") {
  const Loaded         loaded = load(twelve());
  const Scenario&      s      = loaded.scenario;
  std::vector<Reading> one{invent_readings(s, 3, {"K"}, {"1"}, 1).front()};
  const CampaignModel  model(s, one, parameters_for(s, {"tester.slope_N_per_um"}), one_start());
  const FitReport      report = reported(model);
  REQUIRE(report.fit.converged);
  // next to nothing is known of it: about the scale of its prior, less what the misfit of one reading allows
  CHECK(report.fit.best.spread.reading == Approx(spread_scale(&Spread::reading)).epsilon(0.3));
  CHECK(report.fit.best.spread.edge == Approx(spread_scale(&Spread::edge)).epsilon(0.35));
  const std::string said = said_of(model, report);
  CHECK(holds(said, "(mostly assumed: too little was read)"));
  CHECK(holds(said, "One edge alone does not tell how edges differ"));
  // and how far off it may be is drawn
  const Ensemble      draws = normal_ensemble(model, report.fit, 400, 1);
  std::vector<double> readings_sd;
  for (const Spread& spread : draws.spreads) readings_sd.push_back(spread.reading);
  std::sort(readings_sd.begin(), readings_sd.end());
  CHECK(readings_sd[380] / readings_sd[20] > 5.0);

  PlanSettings asked;
  asked.difference_pct = 15.0;
  asked.campaigns      = 400;
  asked.edges          = 2;
  asked.readings       = 1;
  FitSettings fit      = one_start();
  fit.free             = {"tester.slope_N_per_um"};
  const auto known     = knowledge_from_readings(s, one, fit, 60, 1, 1);
  const Plan plan      = plan_experiment(s, fit, loaded.workshop.pace, known, asked);
  CHECK(plan.size.power < 0.5);
  CHECK(plan.checked.power < 0.6);
  CHECK(plan.scatters.size() == 25);
  CHECK(plan.scatter.reading_sd > 0.05);
  std::string text;
  for (const std::string& remark : plan_answer(plan).remarks) text += remark + "\n";
  CHECK(holds(text, "Only 1 measurement of 1 edge stands behind this scatter"));
}

TEST_CASE("readings that are all equal are refused", "[luck]") {
  const Scenario       s        = load(twelve()).scenario;
  std::vector<Reading> readings = invent_readings(s, 3, {"K"}, {"1"}, 1);
  for (Reading& r : readings) r.reading_N = 1.5;
  const CampaignModel model(s, readings, parameters_for(s), one_start());
  const Error         error = error_of([&] { (void)fit(model, 1); });
  CHECK(error.diagnostics().front().code == "equal-readings");
  CHECK(holds(error.diagnostics().front().what, "all 120 readings are 153 gf"));
}

TEST_CASE("what always went together is named, and what crosses is not", "[luck][confounding]") {
  const auto of = [](const std::vector<std::string>& names, const char* one, const char* many) {
    return levels_of(one, many, names, "nobody named");
  };
  const Levels ways = of({"stones", "stones", "film", "film"}, "route", "routes");
  CHECK(confounding_sentence(ways, 0, 1, {of({"K", "M", "K", "M"}, "operator", "operators")}).empty());
  CHECK(confounding_sentence(ways, 0, 1, {of({"K", "K", "K", "M"}, "operator", "operators")}).empty());
  const std::string said = confounding_sentence(ways, 0, 1,
                                                {of({"K", "K", "M", "M"}, "operator", "operators"),
                                                 of({"1", "2", "1", "2"}, "filament lot", "filament lots")});
  CHECK(
      said ==
      "Routes stones and film go together with operators, every reading of stones with operator K and every one of film with operator M: a difference of routes cannot be told from one of operators.");
  // K read both ways and lot 3 served both, but K with a lot of its own for each, and lot 3 with an operator of its own for each
  const Levels two    = of({"a", "b", "a", "b"}, "route", "routes");
  const Levels people = of({"K", "K", "M", "P"}, "operator", "operators"),
               lots   = of({"1", "2", "3", "3"}, "filament lot", "filament lots");
  CHECK(confounding_sentence(two, 0, 1, {people}).empty());
  CHECK(confounding_sentence(two, 0, 1, {lots}).empty());
  CHECK(
      confounding_sentence(two, 0, 1, {people, lots}) ==
      "Routes a and b were read under such operators and filament lots that a difference between them cannot be told from one of these together.");
  // K and M met in the third way alone, which links them
  const Levels chain = of({"a", "b", "c", "c"}, "route", "routes");
  CHECK(are_told_apart(chain, 0, 1, {of({"K", "M", "K", "M"}, "operator", "operators")}));
  CHECK_FALSE(are_told_apart(chain, 0, 1, {of({"K", "M", "K", "K"}, "operator", "operators")}));
}

TEST_CASE("a difference of routes is not claimed where each had its own operator",
          "[luck][confounding][compare]") {
  const Loaded         loaded   = load(twelve());
  const Scenario&      s        = loaded.scenario;
  std::vector<Reading> readings = invent_readings(s, 3, {"K"}, {"1"}, 1);
  for (Reading& r : readings) {
    if (r.edge % 2 == 1) r.reading_N *= 0.7;
  }
  std::vector<std::size_t> all;
  for (std::size_t e = 0; e < s.edges.size(); ++e) all.push_back(e);
  CompareSettings settings;
  settings.life.limit_N = laws::in_newton(300.0);
  const auto answered   = [&] {
    const Ensemble  one  = single_member(s);
    const Comparing c    = compare_ways(s, loaded.workshop, one, all, readings, settings);
    const Answer    a    = compare_answer(c, loaded.workshop, one);
    std::string     text = a.headline + "\n";
    for (const std::string& remark : a.remarks) text += remark + "\n";
    return text;
  };
  const std::string by_one = answered();
  CHECK(holds(by_one, "the difference is real"));
  CHECK(holds(by_one, "stones (6 edges, 12 readings, "));
  CHECK(holds(by_one, "finer (6 edges, 12 readings, "));
  for (Reading& r : readings) r.operator_name = r.edge % 2 == 0 ? "K" : "M";
  const std::string by_two = answered();
  CHECK_FALSE(holds(by_two, "is real"));
  CHECK(holds(by_two, "every reading of stones with operator K and every one of finer with operator M"));
  CHECK(holds(by_two, "the readings cannot tell those apart"));
  // a fit says so too
  const CampaignModel model(s, readings, parameters_for(s), one_start());
  const FitReport     report = reported(model);
  REQUIRE(report.fit.converged);
  CHECK(holds(said_of(model, report),
              "a difference of routes cannot be told from one of operators. The fit divides"));
  // who read each moment alone cannot be told from what the edge did until then
  std::vector<Reading> parted = readings;
  for (Reading& r : parted) r.operator_name = r.moment_name == readings.front().moment_name ? "K" : "M";
  const auto of_moments = confounding_sentences(s, parted);
  REQUIRE(of_moments.size() == 1);
  CHECK(holds(of_moments[0], "Moments "));
  CHECK(holds(of_moments[0], "a difference of moments cannot be told from one of operators"));
  // crossed, the operators fall out of the difference: 1.5 times by one of them changes nothing
  const auto difference = [&](double by_m) {
    std::vector<Reading> crossed = readings;
    for (Reading& r : crossed) {
      r.operator_name = r.replicate == 1 ? "K" : "M";
      if (r.replicate == 2) r.reading_N *= by_m;
    }
    std::vector<std::string> too_few;
    return measured_differences(s, crossed, 0.1, too_few).at(0);
  };
  CHECK(difference(1.0).confounded.empty());
  CHECK(difference(1.5).mixed.middle == Approx(difference(1.0).mixed.middle).epsilon(1e-6));
  CHECK(difference(1.5).mixed.low == Approx(difference(1.0).mixed.low).epsilon(1e-4));
}

TEST_CASE("readings in another unit or with the point elsewhere are pointed at", "[luck][slips]") {
  const Scenario       s        = load(twelve()).scenario;
  std::vector<Reading> readings = invent_readings(s, 3, {"K"}, {"1"}, 1);
  CHECK(slips_of_unit(s, readings).empty());
  for (std::size_t i = 0; i < readings.size(); ++i) readings[i].line = static_cast<int>(i) + 2;
  auto half = readings;
  for (Reading& r : half) {
    if (r.replicate == 2) r.reading_N /= 101.97;
  }
  const auto said = slips_of_unit(s, half);
  REQUIRE(said.size() == 1);
  CHECK(holds(said[0], "60 of 120 readings lie about 102 times below the others of their moment"));
  CHECK(holds(said[0], "they look like newtons in a column of gram-force"));
  auto point = readings;
  point[7].reading_N *= 10.0;
  const auto slipped = slips_of_unit(s, point);
  REQUIRE(slipped.size() == 1);
  CHECK(holds(slipped[0], "1 of 120 readings lies about 10 times above"));
  CHECK(holds(slipped[0], "in line 9"));
  point[7].excluded = "slip";
  CHECK(slips_of_unit(s, point).empty());
  // one unit up to some moment and another from there on: within no moment do they meet
  auto later = readings;
  for (Reading& r : later) {
    if (r.moment_name != readings.front().moment_name) r.reading_N /= 101.97;
  }
  const auto since = slips_of_unit(s, later);
  REQUIRE(since.size() == 1);
  CHECK(holds(since[0], "about 102 times"));
  CHECK(leaves_nothing(since[0]));
  CHECK(holds(with_misses("Edge A lasts.", since), "Look at the readings first, as some cannot be right"));
  // one who writes a point too many, of one route at one moment and of the other at the next: no route lies in both clusters of a moment
  auto turns = readings;
  for (Reading& r : turns) {
    const bool stones = s.edges[static_cast<std::size_t>(r.edge)].route == "stones";
    if (stones == (r.moment_name == readings.front().moment_name)) r.reading_N /= 10.0;
  }
  const auto by_turns = slips_of_unit(s, turns);
  REQUIRE(by_turns.size() == 1);
  CHECK(holds(by_turns[0], "about 10 times"));
  // what --fitted writes loads, however far the readings scatter
  const CampaignModel model(s, half, parameters_for(s), one_start());
  const FitReport     report = reported(model);
  REQUIRE(report.fit.converged);
  // and the first sentences of a fit, and of all that rests on it, say what such readings are
  REQUIRE_FALSE(misses(report.lack_of_fit).empty());
  CHECK(misses(report.lack_of_fit).front() == said[0]);
  CHECK(report.fit.best.spread.reading > 1.0);
  Loaded fitted   = load(twelve());
  fitted.scenario = fitted_scenario(model, report.fit.best);
  CHECK(fitted.scenario.model.scatter.reading_cv <= 1.0);
  CHECK_NOTHROW(load(resolved_toml(fitted, true)));
}

TEST_CASE("effects that do not centre on one are a misfit of the model", "[luck]") {
  const Scenario       s        = load(twelve()).scenario;
  std::vector<Reading> readings = invent_readings(s, 3, {"K"}, {"1"}, 1);
  const auto           said     = [&](double factor, bool way_effect = false) {
    auto changed = readings;
    for (Reading& r : changed) {
      // the part that the apex is read by, so that edges look so many times as large
      r.reading_N = s.model.tester.cut_resistance_N +
                    factor * std::max(0.0, r.reading_N - s.model.tester.cut_resistance_N);
    }
    // nothing is free that could take it up
    FitSettings settings = one_start();
    settings.way_effect  = way_effect;
    const CampaignModel model(s, changed, parameters_for(s, {"tester.saturation_N"}), settings);
    const FitReport     report = reported(model);
    REQUIRE(report.fit.converged);
    return said_of(model, report);
  };
  CHECK_FALSE(holds(said(1.0), "where they should lie about 1"));
  CHECK(holds(said(2.0), "All 12 factors of edges lie between "));
  // where ways may differ from the model it is they that take it up, and the fit says by how much
  CHECK(holds(said(2.0, true), "may leave an apex keener or blunter than the model says, by some "));
}

TEST_CASE("advice that was taken is not given again, and one edge is told to be one", "[luck][messages]") {
  const Scenario       s        = load(twelve()).scenario;
  std::vector<Reading> readings = invent_readings(s, 3, {"K"}, {"1"}, 1);
  readings[5].reading_N *= 3.0;
  const auto said = [&](const std::string& noise) {
    FitSettings settings = one_start();
    settings.noise       = noise;
    const CampaignModel model(s, readings, parameters_for(s), settings);
    const FitReport     report = reported(model);
    REQUIRE(report.fit.converged);
    return said_of(model, report);
  };
  CHECK(holds(said("log-normal"), "set noise = \"student-t\""));
  CHECK_FALSE(holds(said("student-t"), "set noise"));
  CHECK(holds(said("student-t"), "they count for little"));
  std::vector<Reading> of_one;
  for (const Reading& r : readings) {
    if (r.edge == 0) of_one.push_back(r);
  }
  const std::vector<WeighedLaw> laws = weigh(s, of_one, one_start(), {"square-root", "constant-rate"});
  for (const WeighedLaw& law : laws) {
    CHECK(law.usable);
    CHECK(law.elpd_by_edge.empty());  // no edge is left that one could foretell
    CHECK(std::isnan(law.elpd));
  }
  CHECK(holds(weigh_answer(laws, "r.csv").headline,
              "Only one edge has readings, so no law can be tried on an edge that it has not seen; "));
  // an edge effect of a single edge settles
  const CampaignModel model(s, of_one, parameters_for(s), one_start());
  CHECK(fit(model, 1).converged);
}

TEST_CASE("least squares without the luck of edges has the minimum and the curvature of the whole",
          "[luck]") {
  const Scenario s        = load(twelve()).scenario;
  const auto     readings = invent_readings(s, 3, {"K", "M"}, {"1", "2"}, 1);
  FitSettings    settings;
  settings.noise = GENERATE("log-normal", "student-t");
  CAPTURE(settings.noise);
  const CampaignModel   model(s, readings, parameters_for(s), settings);
  const Spread          spread{0.08, 0.2, 0.07, 0.05, 0.3, 0.04, 0.15, 0.2, 0.12};
  const auto            P = model.parameter_count(), q = model.effect_count();
  ReducedResiduals      reduced(model, spread);
  const Eigen::VectorXd y =
      reduced.begin(Eigen::VectorXd::Constant(P, 0.1), Eigen::VectorXd::Constant(q, 0.01));
  Eigen::VectorXd r, whole, x(P + q);
  Eigen::MatrixXd j, whole_j;
  REQUIRE(reduced(y, r, &j));
  const auto* place = reduced.at(y);
  REQUIRE(place != nullptr);
  x.head(P) = y.head(P);
  for (Eigen::Index k = 0; k < q; ++k)
    x[P + k] = place->effects[k] / spread.of(model.effects()[static_cast<std::size_t>(k)].kind);
  REQUIRE(posterior_residuals(model, spread, x, whole, &whole_j));
  CHECK(r.squaredNorm() == Approx(whole.squaredNorm()).epsilon(1e-10));
  // no slope is left along the luck of edges: it was found to 1e-6 of its standard deviation
  const Eigen::VectorXd slope     = whole_j.transpose() * whole;
  const Eigen::MatrixXd curvature = whole_j.transpose() * whole_j;
  Eigen::VectorXd       of_rest(y.size());
  of_rest.head(P) = slope.head(P);
  std::vector<Eigen::Index> rest, own;
  for (Eigen::Index k = 0; k < P + q; ++k) {
    const bool is_own = k >= P && reduced.layout().shared_of[static_cast<std::size_t>(k - P)] < 0;
    (is_own ? own : rest).push_back(k);
  }
  REQUIRE(!own.empty());
  CHECK(slope(own).cwiseAbs().maxCoeff() < 1e-3);
  CHECK((j.transpose() * r - slope(rest)).cwiseAbs().maxCoeff() < 1e-3 * slope.norm());
  // Schur's complement of the whole
  const Eigen::MatrixXd left =
      curvature(rest, rest) -
      curvature(rest, own) * Cholesky(curvature(own, own)).solve(Eigen::MatrixXd(curvature(own, rest)));
  CHECK((j.transpose() * j - left).norm() < 1e-8 * left.norm());
  CHECK(place->own_log_det == Approx(Cholesky(curvature(own, own)).log_determinant()).epsilon(1e-8));
}
