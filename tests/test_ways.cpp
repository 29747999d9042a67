// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include <Eigen/LU>
#include <catch2/catch.hpp>

#include "sim/fit/effect_modes.hpp"
#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/noise.hpp"
#include "sim/fit/ways.hpp"
#include "sim/input/loader.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/output/fit_text.hpp"
#include "sim/simulate/beside_model.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/simulate/way.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "sim/studies/upkeep/upkeep.hpp"
#include "tests/fitted_draws.hpp"
#include "tests/iron_to_fit.hpp"

namespace {

using namespace arris;

// twelve edges off two media, all stropped and read in wood
const std::string two_media = [] {
  std::string text = std::string(bench::iron_to_fit) + R"([route.stones]
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 40 },
  { hone = "hard waterstone, JIS #8000", strokes = 80 },
]
[route.film]
steps = [ { hone = "lapping film, 5 µm", strokes = 60 } ]
)";
  for (int e = 1; e <= 12; ++e) {
    text += "[edge.E" + std::to_string(e) + "]\ntool = \"iron\"\nroute = \"" +
            (e % 2 == 0 ? "film" : "stones") +
            "\"\nsteps = [\n  { read = \"off the medium\", replicates = 2 },\n"
            "  { strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 20 }, { read = "
            "\"stropped\", replicates = 2 },\n"
            "  { cut = \"sugar maple\", passes = 60 }, { read = \"worn\", replicates = 2 },\n]\n";
  }
  return text;
}();

const Scenario& workshop() {
  static const Scenario scenario = load_scenario("campaign.toml", two_media).scenario;
  return scenario;
}

bool is_film(int edge) { return workshop().edges[static_cast<std::size_t>(edge)].route == "film"; }

// edges off film read `factor` times what the model says
std::vector<Reading> drawn(double factor) {
  std::vector<Reading> readings = invent_readings(workshop(), 5, {"A"}, {"lot"}, 1);
  for (Reading& r : readings) {
    if (is_film(r.edge)) r.reading_N *= factor;
  }
  return readings;
}

std::vector<FreeParameter> free_parameters() {
  return {free_parameter(workshop().model, "tester.slope_N_per_um"),
          free_parameter(workshop().model, "wear.parting_um2_per_m")};
}

CampaignModel model_of(const std::vector<Reading>& readings, bool way_effect = true) {
  FitSettings settings;
  settings.starts     = 1;
  settings.way_effect = way_effect;
  return {workshop(), readings, free_parameters(), settings};
}

FitReport fitted(const CampaignModel& model, int draws = 0) {
  return fit_report(model, {.profiles = false, .draws = draws, .threads = 1});
}

const std::string film     = "film + thin hide on wood, chromium oxide 0.5 µm, 20 laps";
const std::string stones   = "stones + thin hide on wood, chromium oxide 0.5 µm, 20 laps";
const std::string no_strop = "film";

Eigen::Index place_of(const std::vector<Effect>& effects, const std::string& way) {
  return std::find_if(effects.begin(), effects.end(),
                      [&](const Effect& e) { return e.kind == EffectKind::way && e.name == way; }) -
         effects.begin();
}

double sd_of(const Eigen::VectorXd& x) { return std::sqrt((x.array() - x.mean()).square().mean()); }

}  // namespace

TEST_CASE("a way is what was done to an edge up to a moment, whatever it cut", "[ways]") {
  const EdgePlan& plan = workshop().edges[1];
  REQUIRE(plan.route == "film");
  CHECK(way_at(plan, {0, not_given}) == "film");
  CHECK(way_at(plan, {1, not_given}) == "film");
  CHECK(way_at(plan, {2, not_given}) == film);
  CHECK(way_at(plan, {static_cast<int>(plan.steps.size()) - 1, not_given}) == film);
  EdgePlan bare;
  bare.steps = {plan.steps[4]};
  CHECK(way_at(bare, {0, not_given}) == "as they came");
  // without a route the media say it
  EdgePlan without    = workshop().edges[0];
  without.route       = "";
  without.route_steps = 0;
  CHECK(way_at(without, {1, not_given}) == "soft waterstone, JIS #1000 + hard waterstone, JIS #8000");
  CHECK(way_at(without, {0, not_given}) == "soft waterstone, JIS #1000");
}

TEST_CASE("an edge that was touched up is of the way it was", "[ways]") {
  EdgePlan   plan = workshop().edges[1];
  auto       laps = std::get<StropStep>(plan.steps[2]);
  const auto last = [&] { return Moment{static_cast<int>(plan.steps.size()) - 1, not_given}; };
  laps.laps       = 7.0;
  plan.steps.emplace_back(laps);
  CHECK(way_at(plan, last()) == film);
  plan.steps.push_back(plan.steps[0]);  // on its own film
  CHECK(way_at(plan, last()) == film);
  laps.strop = "MDF";
  plan.steps.emplace_back(laps);
  CHECK(way_at(plan, last()) == film + " + MDF, chromium oxide 0.5 µm, 7 laps");
}

TEST_CASE("ways are in a fit where edges of two or more were read", "[ways]") {
  const std::vector<Reading> all = drawn(1.0);
  CHECK(model_of(all).members(EffectKind::way) == 4);  // off the medium and stropped, of either
  CHECK(model_of(all, false).members(EffectKind::way) == 0);
  std::vector<Reading> of_one = all;
  std::erase_if(of_one, [](const Reading& r) { return is_film(r.edge); });
  CHECK(model_of(of_one).members(EffectKind::way) == 0);
  CHECK(drawn_in(model_of(all)).size() == 6);  // and how either wears
  for (const EffectKind kind : kinds_drawn) {
    const auto effect = effect_of_column(effect_column({kind, film}));
    REQUIRE(effect.has_value());
    CHECK(effect->kind == kind);
    CHECK(effect->name == film);
  }
  CHECK_FALSE(effect_of_column("sd of ways").has_value());
}

TEST_CASE("what is known of ways, given all else, is that of the whole information matrix", "[ways]") {
  const CampaignModel model  = model_of(drawn(1.4));
  const FitReport     report = fitted(model);
  REQUIRE(report.fit.converged);
  const FitPoint& best    = report.fit.best;
  const auto      apex    = model.apex(best.u, true);
  const auto      of_ways = EffectModes(model).effects_of(kinds_drawn, apex, best.spread, best.effects);
  const auto      q       = model.effect_count();
  Eigen::VectorXd f;
  Eigen::MatrixXd by_parameter, by_effect;
  model.observe(apex, best.effects, f, &by_parameter, &by_effect);
  const Eigen::VectorXd sd = noise_sd(model, best.spread), of_effect = effect_sd(model, best.spread);
  const Eigen::MatrixXd j = sd.cwiseInverse().asDiagonal() * by_effect;
  Eigen::MatrixXd       k = j.transpose() * j + model.centring().transpose() * model.centring();
  k.diagonal() += of_effect.array().square().inverse().matrix();
  const Eigen::MatrixXd     inverse = k.inverse();
  std::vector<Eigen::Index> columns;
  for (Eigen::Index c = 0; c < q; ++c) {
    const EffectKind kind = model.effects()[static_cast<std::size_t>(c)].kind;
    if (std::find(kinds_drawn.begin(), kinds_drawn.end(), kind) != kinds_drawn.end()) columns.push_back(c);
  }
  REQUIRE(columns.size() == 6);
  const Eigen::MatrixXd dense = inverse(columns, columns);
  CHECK((of_ways.covariance - dense).cwiseAbs().maxCoeff() < 1e-3 * dense.cwiseAbs().maxCoeff());
  const Eigen::VectorXd mode = best.effects(columns);
  CHECK((of_ways.mode - mode).cwiseAbs().maxCoeff() < 1e-3);
}

TEST_CASE("what a way was read as is found, said, and allowed for", "[ways][forecast]") {
  const CampaignModel as_said = model_of(drawn(1.0)), off_model = model_of(drawn(1.4));
  const FitReport     right = fitted(as_said), off = fitted(off_model, 400);
  REQUIRE(off.fit.converged);
  REQUIRE(off.draws.converged);
  // edges of one way do not scatter more than before
  CHECK(off.fit.best.spread.edge < 1.3 * right.fit.best.spread.edge);
  CHECK(off.fit.best.spread.way > 1.5 * right.fit.best.spread.way);

  const Ensemble knows = ensemble_of(draws_of(off_model, off), workshop(), 400);
  REQUIRE(knows.effects.size() == 6);
  REQUIRE(knows.effect_logs.rows() == 400);
  const auto of = [&](const std::string& way) { return effect_logs(knows, {EffectKind::way, way}, 3); };
  CHECK(of(film) == knows.effect_logs.col(place_of(knows.effects, film)));
  CHECK(of(film).mean() - of(stones).mean() > 0.2);
  CHECK(of(no_strop).mean() > of("stones").mean() + 0.2);
  // a way that nobody read may be anything that ways are
  CHECK(of("plates").mean() == Approx(0.0).margin(0.06));
  CHECK(sd_of(of("plates")) > 2.0 * sd_of(of(film) - of(stones)));
  CHECK(of("plates") == of("plates"));
  CHECK(effect_logs(single_member(workshop()), {EffectKind::way, film}, 3).isZero(0.0));

  // forecasts of either way lie where its edges were read
  ForecastSettings settings;
  settings.limit_N = laws::in_newton(400.0);
  settings.passes  = 200.0;
  settings.threads = 1;
  const Forecast f = forecast(at_best(workshop(), knows), Workshop{}, knows, {0, 1}, settings);
  for (int e = 0; e < 2; ++e) {
    std::vector<double> fresh;
    for (const Reading& r : off_model.readings()) {
      if (r.moment_name == "stropped" && is_film(r.edge) == is_film(e))
        fresh.push_back(std::log(r.reading_N));
    }
    double mean = 0.0;
    for (const double x : fresh) mean += x / static_cast<double>(fresh.size());
    CHECK(std::log(f.edges[static_cast<std::size_t>(e)].fresh_N.middle) == Approx(mean).margin(0.08));
  }

  // a fit says so, and the miss of the model is named
  std::string page = fit_page(off_model, off, false);
  std::erase_if(page, [](char c) { return c == '\n' || c == ' '; });  // wherever its lines break
  CHECK(page.find("Edgesweresharpenedin4ways") != std::string::npos);
  CHECK(page.find("Besidewhatthemodelsays") != std::string::npos);
}

TEST_CASE("what is known of ways is the same of a draw that stands alone and of one among its equals",
          "[ways]") {
  const CampaignModel model = model_of(drawn(1.4));
  const FitResult     best  = fit(model, 1);
  REQUIRE(best.converged);
  const Eigen::VectorXd a = best.best.u, b = a.array() + 0.1;
  Eigen::MatrixXd       equal(a.size(), 3), apart(a.size(), 3);
  equal << a, a, b;
  apart << b, a, b;
  const auto of = [&](const Eigen::MatrixXd& u) {
    return drawn_effects(model, u, std::vector<Spread>(3, best.best.spread), best.best.effects, 7, 1);
  };
  const Eigen::MatrixXd among = of(equal), alone = of(apart);
  CHECK(among.bottomRows(2) == alone.bottomRows(2));
  CHECK(among.row(0) != among.row(1));  // each has its own chance
  CHECK(among.row(0) != alone.row(0));
  // where the search for the mode begins makes no difference that counts
  const Eigen::MatrixXd from_nothing = drawn_effects(model, equal, std::vector<Spread>(3, best.best.spread),
                                                     Eigen::VectorXd::Zero(model.effect_count()), 7, 1);
  CHECK((among - from_nothing).cwiseAbs().maxCoeff() < 1e-4);
}

TEST_CASE("a way with one edge is drawn towards the model more than one with six", "[ways]") {
  std::vector<Reading> readings = drawn(1.4);
  int                  kept     = -1;
  std::erase_if(readings, [&](const Reading& r) {
    if (!is_film(r.edge)) return false;
    if (kept < 0) kept = r.edge;
    return r.edge != kept;
  });
  const CampaignModel few = model_of(readings), many = model_of(drawn(1.4));
  const auto          known = [](const CampaignModel& model) {
    const FitResult fit = arris::fit(model, 1);
    REQUIRE(fit.converged);
    const auto ways =
        EffectModes(model).effects_of(kinds_drawn, model.apex(fit.best.u, false), fit.best.spread,
                                               Eigen::VectorXd::Zero(model.effect_count()));
    const auto k = place_of(drawn_in(model), film);
    return std::pair{ways.mode[k], std::sqrt(ways.covariance(k, k))};
  };
  CHECK(known(few).second > 1.2 * known(many).second);
  CHECK(known(few).first < known(many).first);
}

TEST_CASE("invented readings scatter by way as stated", "[ways]") {
  Scenario still                 = workshop();
  still.model.scatter            = {0.0, 0.0, 0.0, 0.0};
  Scenario scattered             = still;
  scattered.model.scatter.way_cv = 0.3;
  const auto plain               = invent_readings(still, 5, {"A"}, {"lot"}, 1),
             off                 = invent_readings(scattered, 5, {"A"}, {"lot"}, 1);
  std::map<std::string, double> factor;  // by way and moment
  for (std::size_t i = 0; i < plain.size(); ++i) {
    const auto   way = way_at(workshop().edges[static_cast<std::size_t>(plain[i].edge)], plain[i].moment);
    const double f   = off[i].reading_N / plain[i].reading_N;
    const auto   at  = factor.try_emplace(way + ": " + plain[i].moment_name, f).first;
    CHECK(f == Approx(at->second).epsilon(1e-12));  // one for all edges of a way
    // a keener apex reads less, a blunter one more, wherever it is read
    if (plain[i].moment_name == "worn") CHECK((f > 1.0) == (factor.at(way + ": stropped") > 1.0));
  }
  CHECK(factor.size() == 6);
  for (const auto& [what, f] : factor) CHECK(f != 1.0);
}

TEST_CASE("a simulation at a fit reads what forecasts from it do", "[ways][forecast]") {
  const CampaignModel model  = model_of(drawn(1.4));
  const FitReport     report = fitted(model, 300);
  REQUIRE(report.draws.converged);
  const Ensemble knows    = ensemble_of(draws_of(model, report), workshop(), 200);
  Scenario       at       = at_best(workshop(), knows);
  const double   by_model = predict(at, at.edges[1], {{2, not_given}}).points[0].reading_N;
  at.beside               = beside_model(knows);
  REQUIRE_FALSE(at.beside.is_empty());
  ForecastSettings settings;
  settings.limit_N = laws::in_newton(400.0);
  settings.passes  = 200.0;
  settings.threads = 1;
  const Forecast f = forecast(at_best(workshop(), knows), Workshop{}, knows, {0, 1}, settings);
  for (std::size_t e = 0; e < 2; ++e) {
    const EdgeResult whole = simulate_edge(at, at.edges[e]);
    const auto       ready = static_cast<std::size_t>(at.edges[e].route_steps) + 1;  // stropped
    CHECK(whole.steps[ready].after.reading_N == Approx(f.edges[e].fresh_N.middle).epsilon(1e-5));
    CHECK(predict(at, at.edges[e], {{static_cast<int>(ready), not_given}}).points[0].reading_N ==
          Approx(whole.steps[ready].after.reading_N).epsilon(1e-9));
    CHECK(whole.steps[ready + 1].before.reading_N == whole.steps[ready].after.reading_N);
  }
  CHECK(predict(at, at.edges[1], {{2, not_given}}).points[0].reading_N > 1.02 * by_model);
  // half way through the laps it is in between
  const auto ready        = effect_at_best(knows, {EffectKind::way, film}),
             off          = effect_at_best(knows, {EffectKind::way, no_strop});
  TrackPoint        point = predict(at_best(workshop(), knows), at.edges[1], {{2, 10.0}}).points[0];
  const auto        law   = tester_law(at.model.tester);
  const double      half  = 0.5 * laws::degree * 30.0;
  ReadBeside::Fresh fresh;
  ReadBeside(at, at.edges[1]).put_right(point, fresh);
  const double factor = std::exp(0.5 * (ready + off));
  CHECK(point.reading_N ==
        Approx(law.reading_N(factor * point.met_radius_um, factor * point.burr_um, half)).epsilon(1e-9));
  // a plan that was not read is as far beside the model as the one it differs from
  EdgePlan softer                           = at.edges[1];
  std::get<StropStep>(softer.steps[2]).laps = 25.0;
  CHECK(predict(at, softer, {{2, not_given}}, &at.edges[1]).points[0].reading_N !=
        predict(at, softer, {{2, not_given}}).points[0].reading_N);
}

TEST_CASE("upkeep allows for what is missed of a way and along the passes", "[ways][upkeep]") {
  const EdgePlan& plan  = workshop().edges[1];
  Ensemble        known = single_member(workshop());
  CHECK(upkeep_misses(known, plan).empty());  // no fit
  known.edges       = 12;
  known.effects     = {{EffectKind::way, film}, {EffectKind::way, stones}};
  known.effect_logs = Eigen::RowVector2d(0.2, -0.2).replicate(50, 1);
  known.spreads.assign(50, known.spreads.front());
  known.values.resize(50, 0);
  const UpkeepMiss mean = mean_miss(upkeep_misses(known, plan));
  CHECK(mean.apex == Approx(std::exp(0.2)).epsilon(1e-12));
  CHECK(mean.at(0.0) == 0.0);
  CHECK(mean.at(1e6) == 0.0);
  const UpkeepMiss bent{{0.0, 10.0, 20.0}, {0.0, 1.0, 0.0}, 1.0};
  CHECK(bent.at(5.0) == Approx(0.5));
  CHECK(bent.at(-1.0) == 0.0);
  CHECK(bent.at(15.0) == Approx(0.5));
  CHECK(bent.at(99.0) == 0.0);

  // an edge whose apex is a fifth blunter reaches its limit sooner
  const double limit_N = laws::in_newton(250.0);
  const auto   of      = [&](const UpkeepMiss& miss) {
    return UpkeepCycle(workshop().model, upkeep_steps(plan), Workshop{}, tolerances_of(workshop()), limit_N,
                              UpkeepCycle::closest_looks, miss);
  };
  const UpkeepCycle by_model = of({}), by_readings = of(mean);
  EdgeState<double> honed = by_model.worn_to(limit_N);
  Cycle             cycle;
  REQUIRE(by_model.hone(honed, cycle).usable());
  CHECK(by_readings.reading_N(honed, 10.0) > by_model.reading_N(honed, 10.0));
  CHECK(by_readings.passes_within(honed, limit_N, 2000) < by_model.passes_within(honed, limit_N, 2000));
}
