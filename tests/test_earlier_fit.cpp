// SPDX-License-Identifier: MIT
#include <cmath>
#include <filesystem>
#include <memory>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/law_fits.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "tests/desk.hpp"
#include "tests/program.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

// so many edges off one stone, read ready and three times in wood; `first`: the number of the first
std::string year_of(int edges, int first = 1, const std::string& more = {}) {
  std::string text =
      iron + "[scatter]\nreading_cv = 0.05\nedge_cv = 0\nrate_cv = 0\noperator_cv = 0\nlot_cv = 0\n" + more;
  for (int e = first; e < first + edges; ++e) {
    text += fmt::format(
        "[edge.E{}]\ntool = \"iron\"\nsteps = [ {{ hone = \"soft waterstone, JIS #1000\", strokes = 60 }},\n"
        "  {{ back = \"soft waterstone, JIS #1000\", strokes = 10 }}, {{ read = \"ready\", replicates = 2 }},\n",
        e);
    for (const int passes : {20, 60, 160})
      text += fmt::format(
          "  {{ cut = \"sugar maple\", passes = {0} }}, {{ read = \"{0} more\", replicates = 2 }},\n",
          passes);
    text += "]\n";
  }
  return text;
}

const std::string one_law = "[wear]\nlaw = \"square-root\"\n";

FitSettings plain_settings() {
  FitSettings settings;
  settings.starts      = 1;
  settings.edge_effect = settings.rate_effect = false;
  settings.free = {"tester.slope_N_per_um", "wear.section_um2_per_m", "tester.cut_resistance_N"};
  return settings;
}

FitReport fitted_to(const Scenario& scenario, const std::vector<Reading>& readings,
                    const FitSettings& settings) {
  return fit_report(CampaignModel(scenario, readings, parameters_of_fit(scenario, settings), settings),
                    {.profiles = false});
}

std::shared_ptr<EarlierFit> earlier_of(const FitReport& report) {
  auto out    = std::make_shared<EarlierFit>();
  out->source = "last-year.h5";
  out->laws   = posteriors_of(report);
  std::vector<std::string> free;
  for (const FreeParameter& p : report.model->parameters()) free.push_back(p.path);
  out->given = given_to_fit(report.model->scenario().model, free);
  out->edges = report.model->edges_with_readings();
  for (const Observation& o : report.model->observations())
    out->readings.push_back({report.model->scenario().edges[static_cast<std::size_t>(o.edge)].name,
                             report.model->readings()[static_cast<std::size_t>(o.reading)].moment_name,
                             "reading", std::exp(o.log_value)});
  return out;
}

std::vector<Reading> of_edges(const std::vector<Reading>& readings, int from, int to) {
  std::vector<Reading> out;
  for (const Reading& r : readings) {
    if (r.edge >= from && r.edge < to) out.push_back(r);
  }
  return out;
}

// on the scale on which priors are normal
double log_value(const FitReport& report, std::size_t parameter) {
  return std::log(
      report.model->parameters()[parameter].value(report.fit.best.u[static_cast<Eigen::Index>(parameter)]));
}

// covariance of the logs of the parameters
Eigen::MatrixXd log_covariance(const FitReport& report) {
  Eigen::VectorXd scale(report.model->parameter_count());
  for (Eigen::Index i = 0; i < scale.size(); ++i)
    scale[i] = std::log(report.model->parameters()[static_cast<std::size_t>(i)].prior.spread);
  return scale.asDiagonal() * report.fit.information.covariance * scale.asDiagonal();
}

}  // namespace

TEST_CASE("what an earlier fit knew is the prior of the next, correlations included", "[earlier]") {
  const Scenario  scenario = load(year_of(4, 1, one_law)).scenario;
  const auto      readings = invent_readings(scenario, 5, {"A"}, {"lot"}, 1);
  const FitReport then     = fitted_to(scenario, readings, plain_settings());
  REQUIRE(then.fit.converged);
  FitSettings settings = plain_settings();
  settings.earlier     = earlier_of(then);
  const CampaignModel now(scenario, readings, parameters_of_fit(scenario, settings), settings);
  REQUIRE(now.begins_from() != nullptr);
  // the prior of the new fit, on the scale of logs, is the posterior of the old: exact but for rounding of the eigenvalues
  const Eigen::MatrixXd before = Cholesky(now.prior_precision()).inverse();
  const Eigen::MatrixXd known  = log_covariance(then);
  for (Eigen::Index i = 0; i < before.rows(); ++i) {
    const auto& p = now.parameters()[static_cast<std::size_t>(i)];
    CHECK(is_from_earlier(p));
    CHECK(std::log(p.prior.centre) == Approx(log_value(then, static_cast<std::size_t>(i))).epsilon(1e-12));
    for (Eigen::Index j = 0; j < before.cols(); ++j) {
      const double scale =
          std::log(p.prior.spread) * std::log(now.parameters()[static_cast<std::size_t>(j)].prior.spread);
      CHECK(scale * before(i, j) == Approx(known(i, j)).epsilon(1e-8));
    }
  }
  // there is a correlation to carry over
  CHECK(std::abs(known(0, 1)) > 0.3 * std::sqrt(known(0, 0) * known(1, 1)));
  // the scatter: normal in the log about what was found
  Spread     spread = then.fit.best.spread;
  const auto prior  = [&](double factor) {
    Spread s = spread;
    s.reading *= factor;
    return log_spread_prior(now, s, true);
  };
  const double sd = std::sqrt(then.fit.information.spread_covariance(0, 0));
  CHECK(prior(std::exp(sd)) - prior(1.0) == Approx(-0.5).epsilon(1e-9));
  CHECK(prior(std::exp(-2.0 * sd)) - prior(1.0) == Approx(-2.0).epsilon(1e-9));
  Spread           slope;
  constexpr double h = 1e-6;
  (void)log_spread_prior(now, spread, true, &slope);
  CHECK(slope.reading == Approx((prior(std::exp(h)) - prior(std::exp(-h))) / (2.0 * h)).margin(1e-4));
}

TEST_CASE("what an earlier fit is not asked about is as if it had been integrated out", "[earlier]") {
  const Scenario  scenario = load(year_of(4, 1, one_law)).scenario;
  const auto      readings = invent_readings(scenario, 5, {"A"}, {"lot"}, 1);
  const FitReport then     = fitted_to(scenario, readings, plain_settings());
  FitSettings     settings = plain_settings();
  settings.earlier =
      std::make_shared<const EarlierFit>(without_known(*earlier_of(then), {"tester", "sd of readings"}));
  const CampaignModel now(scenario, readings, parameters_of_fit(scenario, settings), settings);
  const CampaignModel fresh(scenario, readings, parameters_of_fit(scenario, plain_settings()),
                            plain_settings());
  // wear is known as well as with all of the tester unknown: the marginal of what was known
  const Eigen::MatrixXd before = Cholesky(now.prior_precision()).inverse();
  for (std::size_t i = 0; i < now.parameters().size(); ++i) {
    const auto&        p = now.parameters()[i];
    const Eigen::Index k = static_cast<Eigen::Index>(i);
    INFO(p.path);
    if (p.path.starts_with("tester.")) {
      CHECK_FALSE(is_from_earlier(p));
      CHECK(p.prior.centre == fresh.parameters()[i].prior.centre);
      CHECK(p.prior.spread == fresh.parameters()[i].prior.spread);
    } else {
      CHECK(is_from_earlier(p));
      const double scale = std::log(p.prior.spread);
      CHECK(scale * scale * before(k, k) == Approx(log_covariance(then)(k, k)).epsilon(1e-8));
    }
  }
  CHECK_FALSE(earlier_spread(now, &Spread::reading).has_value());
  const auto sentences = earlier_sentences(now);
  REQUIRE_FALSE(sentences.empty());
  CHECK(has(
      sentences.front(),
      "1 of 3 free parameters known from it; not taken from it, by [fit] anew: tester and sd of readings."));
  // a value that was held fixed then may differ where it is named, and may not otherwise
  Scenario other                = scenario;
  other.model.tester.burr_share = 0.5 * scenario.model.tester.burr_share;
  const std::vector<Reading> nothing;
  CHECK_NOTHROW(check_earlier(*settings.earlier, other, settings, {}, nothing));
  CHECK_THROWS_AS(check_earlier(*earlier_of(then), other, plain_settings(), {}, nothing), Error);
  const auto error = error_of([&] { (void)without_known(*earlier_of(then), {"tester.slope_N_per_mm"}); });
  CHECK(error.diagnostics().front().code == "unknown-parameter");
  CHECK(has(error.diagnostics().front().next, "tester.slope_N_per_um"));
}

TEST_CASE("halves fitted one after the other come to what both come to at once", "[earlier]") {
  const Scenario  scenario = load(year_of(64, 1, one_law)).scenario;
  const auto      readings = invent_readings(scenario, 17, {"A"}, {"lot"}, 1);
  const auto      settings = plain_settings();
  const FitReport both     = fitted_to(scenario, readings, settings);
  const FitReport first    = fitted_to(scenario, of_edges(readings, 0, 32), settings);
  const FitReport alone    = fitted_to(scenario, of_edges(readings, 32, 64), settings);
  FitSettings     from     = settings;
  from.earlier             = earlier_of(first);
  const FitReport second   = fitted_to(scenario, of_edges(readings, 32, 64), from);
  REQUIRE(both.fit.converged);
  REQUIRE(second.fit.converged);
  const Eigen::MatrixXd of_both = log_covariance(both), of_second = log_covariance(second);
  for (std::size_t k = 0; k < 3; ++k) {
    INFO(both.model->parameters()[k].path);
    const auto   i  = static_cast<Eigen::Index>(k);
    const double sd = std::sqrt(of_both(i, i));
    // bends of the laws over the width of half a campaign, and a scatter that each half finds for itself: a tenth of a standard deviation,
    // and a tenth of its size
    CHECK(std::abs(log_value(second, k) - log_value(both, k)) < 0.1 * sd);
    CHECK(std::sqrt(of_second(i, i)) == Approx(sd).epsilon(0.1));
  }
  CHECK(std::log(second.fit.best.spread.reading / both.fit.best.spread.reading) == Approx(0.0).margin(0.03));
  // and that is not what the second half says by itself
  double off = 0.0;
  for (std::size_t k = 0; k < 3; ++k)
    off = std::max(off, std::abs(log_value(alone, k) - log_value(both, k)) /
                            std::sqrt(of_both(static_cast<Eigen::Index>(k), static_cast<Eigen::Index>(k))));
  CHECK(off > 0.3);
}

TEST_CASE("an earlier fit of another kind of campaign is refused", "[earlier]") {
  const Scenario scenario = load(year_of(4, 1, one_law)).scenario;
  const auto     readings = invent_readings(scenario, 5, {"A"}, {"lot"}, 1);
  const auto     settings = plain_settings();
  auto           earlier  = earlier_of(fitted_to(scenario, of_edges(readings, 0, 2), settings));
  CHECK_NOTHROW(check_earlier(*earlier, scenario, settings, {}, of_edges(readings, 2, 4)));

  // the same readings again, though one that is equal by chance is none
  CHECK_THROWS_WITH(check_earlier(*earlier, scenario, settings, {}, readings),
                    Catch::Contains("the earlier fit rests on the same readings of E1 and E2") &&
                        Catch::Contains("count twice") && Catch::Contains("[read-twice]"));
  auto chance              = of_edges(readings, 2, 4);
  chance.front().reading_N = readings.front().reading_N;
  chance.front().edge      = 0;
  chance.push_back(readings[1]);
  chance.back().reading_N *= 1.01;
  chance.push_back(readings[2]);
  chance.back().reading_N *= 1.01;
  CHECK_NOTHROW(check_earlier(*earlier, scenario, settings, {}, chance));

  // another law, or several where it has one
  const Scenario power = load(year_of(4, 1, "[wear]\nlaw = \"power\"\n")).scenario;
  CHECK_THROWS_WITH(
      check_earlier(*earlier, power, settings, {}, of_edges(readings, 2, 4)),
      Catch::Contains("knows nothing under the wear law power") && Catch::Contains("square-root"));
  FitSettings several = settings;
  several.laws        = {"square-root", "power"};
  CHECK_THROWS_WITH(check_earlier(*earlier, scenario, several, several.laws, of_edges(readings, 2, 4)),
                    Catch::Contains("knows nothing under the wear law power"));

  // another number held fixed
  const Scenario steeper =
      load(with(year_of(4, 1, one_law), "micro_bevel_deg = 30", "micro_bevel_deg = 33")).scenario;
  CHECK_THROWS_WITH(
      check_earlier(*earlier, steeper, settings, {}, of_edges(readings, 2, 4)),
      Catch::Contains(
          "the fit was made with other values: tool.iron.micro_bevel_deg is 33 here and 30 in the fit"));
}

TEST_CASE("what both fits have in common is said", "[earlier]") {
  const Scenario scenario = load(year_of(6, 1, one_law)).scenario;
  const auto     readings = invent_readings(scenario, 5, {"A"}, {"lot"}, 1);
  auto           settings = plain_settings();
  const auto     earlier  = earlier_of(fitted_to(scenario, of_edges(readings, 0, 3), settings));
  settings.free           = {"tester.slope_N_per_um", "tester.burr_share"};
  settings.earlier        = earlier;
  const CampaignModel now(scenario, of_edges(readings, 2, 5), parameters_of_fit(scenario, settings),
                          settings);
  const auto          said = earlier_sentences(now);
  REQUIRE(said.size() == 3);
  CHECK_THAT(
      said[0],
      Catch::StartsWith(
          "Begins from last-year.h5 (24 measurements of 3 edges): 1 of 2 free parameters known from it, and the scatter of readings; "
          "held fixed then: tester.burr_share; known there, and held fixed or not met here: "));
  CHECK_THAT(said[1], Catch::Contains("it knows for tester.burr_share as it was held then"));
  CHECK_THAT(said[2], Catch::StartsWith("E3 has the name of an edge that was read then."));
  settings.earlier = nullptr;
  CHECK(earlier_sentences(CampaignModel(scenario, readings, parameters_of_fit(scenario, settings), settings))
            .empty());
}

TEST_CASE("one that rests at an end of its range begins from its own prior", "[earlier]") {
  const Scenario scenario         = load(year_of(4, 1, one_law)).scenario;
  const auto     readings         = invent_readings(scenario, 5, {"A"}, {"lot"}, 1);
  auto           settings         = plain_settings();
  auto           earlier          = earlier_of(fitted_to(scenario, readings, settings));
  const auto     own              = parameters_of_fit(scenario, settings);
  earlier->laws.front().at_end[1] = 1.0;
  settings.earlier                = earlier;
  const auto parameters           = parameters_of_fit(scenario, settings);
  CHECK(is_from_earlier(parameters[0]));
  CHECK_FALSE(is_from_earlier(parameters[1]));
  CHECK(parameters[1].prior.spread == own[1].prior.spread);
}

TEST_CASE("[fit] from begins a fit and a weighing from a file", "[earlier][program]") {
  const Folder folder;
  const auto   year = [&](const std::string& name, int first, const std::string& seed) {
    write(folder / (name + "-bare.toml"), year_of(4, first));
    REQUIRE(run(folder, {"simulate", name + "-bare.toml", "--invent-readings", name + ".csv", "--seed", seed,
                         "-q", "--operators", "A", "--lots", "L"})
                  .code == 0);
  };
  year("last", 1, "3");
  year("this", 11, "4");
  const std::string fit_table = "[fit]\nlaws = [\"square-root\", \"power\"]\nstarts = 1\n";
  write(folder / "last.toml", year_of(4, 1, "[readings]\nfile = \"last.csv\"\n" + fit_table));
  REQUIRE(run(folder, {"fit", "last.toml", "-q", "--no-profiles", "--out", "last.h5"}).code == 0);
  const std::string begun =
      year_of(4, 11, "[readings]\nfile = \"this.csv\"\n" + fit_table + "from = \"last.h5\"\n");
  write(folder / "this.toml", begun);
  const Outcome told =
      run(folder, {"fit", "this.toml", "--no-profiles", "--out", "this.h5", "--fitted", "fitted.toml"});
  CHECK(told.code == 0);
  CHECK(has(told.out, "Begins from last.h5 (32 measurements of 4 edges): "));
  CHECK(has(told.out, "Rests on: this.csv, last.h5 and the priors"));
  CHECK(has(contents(folder / "fitted.toml"), "from"));
  CHECK(run(folder, {"check", "-q", "fitted.toml"}).code == 0);
  CHECK(run(folder, {"weigh", "this.toml", "-q", "--starts", "1"}).code == 0);
  const std::vector<std::string> plan{"plan", "this.toml", "-q", "--difference", "15", "--groups", "E11,E12"};
  CHECK(run(folder, plan).code == 0);
  CHECK(run(folder, {"report", "this.h5", "--out", "this.html"}).code == 0);

  // another tester this year
  const std::string other = with(begun, "from = \"last.h5\"", "from = \"last.h5\"\nanew = [\"tester\"]");
  write(folder / "tester.toml", other);
  const Outcome apart =
      run(folder, {"fit", "tester.toml", "--no-profiles", "--fitted", "tester-fitted.toml"});
  CHECK(apart.code == 0);
  CHECK(has(apart.out, "by [fit] anew: tester"));
  CHECK(has(contents(folder / "tester-fitted.toml"), "anew = [\"tester\"]"));
  write(folder / "alone.toml", with(other, "from = \"last.h5\"", ""));
  CHECK(has(run(folder, {"check", "alone.toml"}).err, "[no-earlier-fit]"));
  write(folder / "wrong.toml", with(other, "[\"tester\"]", "[\"testers\"]"));
  CHECK(has(run(folder, {"fit", "wrong.toml", "-q"}).err, "[unknown-parameter]"));

  // both years at once
  write(
      folder / "both.toml",
      "include = [\"last.toml\", \"this.toml\"]\n[readings]\nfile = [\"last.csv\", \"this.csv\"]\n[fit]\nfrom = \"\"\n");
  CHECK(has(run(folder, {"fit", "both.toml", "--no-profiles"}).out, "fitted to 64 measurements of 8 edges"));

  // a year in which nothing was read yet is planned by the draws of the last one
  write(folder / "next.toml", year_of(4, 21, fit_table + "from = \"last.h5\"\n"));
  const std::vector<std::string> next{"plan", "next.toml", "--difference", "15", "--groups", "E21,E22"};
  CHECK(has(run(folder, next).err, "holds no posterior draws"));
  REQUIRE(
      run(folder, {"fit", "last.toml", "-q", "--no-profiles", "--draws", "400", "--out", "drawn.h5"}).code ==
      0);
  write(folder / "next.toml", year_of(4, 21, fit_table + "from = \"drawn.h5\"\n"));
  CHECK(has(run(folder, next).out, "drawn.h5"));
  write(folder / "next.toml", year_of(4, 21, fit_table + "from = \"drawn.h5\"\nanew = [\"tester\"]\n"));
  CHECK(has(run(folder, next).err, "[not-anew]"));

  // what a third year begins from is what the second knew
  write(folder / "again.toml", with(begun, "\"last.h5\"", "\"this.h5\""));
  CHECK(has(run(folder, {"fit", "again.toml", "-q", "--no-profiles"}).err,
            "rests on the same readings of E11, E12, E13 and E14"));
  write(folder / "none.toml", with(begun, "\"last.h5\"", "\"nowhere.h5\""));
  CHECK(has(run(folder, {"fit", "none.toml", "-q"}).err, "the fit cannot be read"));
  REQUIRE(run(folder, {"simulate", "last.toml", "-q", "--out", "s.h5"}).code == 0);
  write(folder / "other.toml", with(begun, "\"last.h5\"", "\"s.h5\""));
  CHECK(has(run(folder, {"weigh", "other.toml", "-q"}).err, "not of a fit"));
  // no further than its folder
  std::filesystem::create_directory(folder / "inner");
  write(folder / "inner" / "c.toml",
        with(with(begun, "\"last.h5\"", "\"../last.h5\""), "\"this.csv\"", "\"r.csv\""));
  write(folder / "inner" / "r.csv", contents(folder / "this.csv"));
  CHECK(run(folder, {"fit", "inner/c.toml", "-q", "--no-profiles"}).code == 0);
  CHECK(has(run(folder, {"fit", "inner/c.toml", "-q", "--confined"}).err, "[outside-folder]"));
}
