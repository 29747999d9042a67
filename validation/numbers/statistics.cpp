// SPDX-License-Identifier: MIT
// What the library makes of published studies: gauges, variance components, power, designs, lives; and draws with known moments.
#include <algorithm>
#include <cmath>
#include <map>

#include <Eigen/LU>
#include <boost/math/distributions/chi_squared.hpp>

#include "sim/statistics/ensemble_sampler.hpp"
#include "sim/statistics/optimal_design.hpp"
#include "sim/statistics/power.hpp"
#include "sim/statistics/t_tests.hpp"
#include "sim/studies/gauge/gauge.hpp"
#include "tests/curve.hpp"
#include "tests/life_tables.hpp"
#include "tests/mixed_design.hpp"
#include "validation/numbers/numbers.hpp"

namespace arris::numbers {

Json gauge_studies() {
  GaugeSettings linear;
  linear.scale = GaugeScale::linear;
  std::vector<GaugeReading> crossed;
  for (const auto& row : bench::read_rows("gauge/crossed_10x3x3.csv")) {
    GaugeReading r;
    r.edge          = row.at("part");
    r.operator_name = row.at("op");
    r.reading_gf    = std::stod(row.at("y"));
    r.line          = static_cast<int>(crossed.size()) + 2;
    crossed.push_back(r);
  }
  const GaugeResult                  study = gauge(crossed, linear);
  std::map<std::string, GaugeSource> source;
  for (const GaugeSource& s : study.anova) source[s.name] = s;
  Json out;
  out["crossed"] = {{"SS appraiser", source.at("operator").sum_squares},
                    {"SS part", source.at("part").sum_squares},
                    {"SS interaction", source.at("interaction").sum_squares},
                    {"SS error", source.at("repeatability").sum_squares},
                    {"F interaction (18,60)", source.at("interaction").F},
                    {"sd repeatability", std::sqrt(study.component("repeatability")->variance)},
                    {"sd appraiser", std::sqrt(study.component("operator")->variance)},
                    {"sd GRR", std::sqrt(study.component("tester")->variance)},
                    {"sd part", std::sqrt(study.component("part")->variance)}};

  // readings with the published sums of squares: 60 at ±a about a mean and one at it; SS = 60·a² with 60 degrees of freedom
  std::vector<GaugeReading> wafers;
  for (const auto& row : bench::read_rows("gauge/nist_gauge_study.csv")) {
    if (row.at("level") != "1 repeatability" || row.at("wafer") == "pooled") continue;
    const double a = std::sqrt(std::stod(row.at("SS")) / 60.0);
    for (int i = 0; i < 61; ++i) {
      GaugeReading r;
      r.edge = r.operator_name = row.at("wafer");
      r.reading_gf             = std::stod(row.at("wafer")) + (i == 60 ? 0.0 : i % 2 == 0 ? a : -a);
      wafers.push_back(r);
    }
  }
  const GaugeResult repeated = gauge(wafers, linear);
  out["wafers"]["pooled"]    = std::sqrt(repeated.component("repeatability")->variance);
  for (const GaugeOperator& o : repeated.operator_rows) out["wafers"][o.name] = o.own_sd;
  return out;
}

Json variance_of_groups() {
  Json       out;
  const auto add = [&](const char* name, bench::Builder& b, const std::vector<double>& start) {
    const auto          found = variance_components(b.finish(), start);
    std::vector<double> variances{found.residual_sd * found.residual_sd};
    for (double sd : found.group_sd) variances.push_back(sd * sd);
    out[name] = {
        {"variances", variances}, {"log_likelihood", found.log_likelihood}, {"converged", found.converged}};
  };
  const CsvTable dyes = bench::table_of("dyestuff.csv"), pastes = bench::table_of("pastes.csv"),
                 machines = bench::table_of("machines.csv");
  bench::Builder d(dyes), p(pastes), m(machines);
  d.response("Yield");
  d.intercept();
  d.random({"Batch"});
  add("dyestuff", d, {50.0, 20.0});
  p.response("strength");
  p.intercept();
  p.random({"batch"});
  p.random({"batch", "cask"});
  add("pastes", p, {1.0, 1.0, 1.0});
  m.response("score");
  m.intercept();
  m.fixed_level("Machine", "B");
  m.fixed_level("Machine", "C");
  m.random({"Worker"});
  m.random({"Worker", "Machine"});
  add("machines", m, {1.0, 3.0, 3.0});
  return out;
}

Json power_of_tests(const Json& wanted) {
  Json out = {{"power", Json::array()}, {"size", Json::array()}};
  for (const auto& row : wanted.at("power"))
    out["power"].push_back(power_two_sample_t(row.at("difference"), row.at("n"), row.at("alpha")));
  for (const auto& row : wanted.at("size"))
    out["size"].push_back(per_group_two_sample_t(row.at("difference"), row.at("power"), row.at("alpha")));
  return out;
}

Json designs(const Json& problems) {
  Json out = Json::array();
  for (const auto& problem : problems) {
    const auto    slopes = problem.at("slopes").get<std::vector<std::vector<double>>>();
    DesignProblem p;
    p.slopes.emplace_back(static_cast<Eigen::Index>(slopes.size()),
                          static_cast<Eigen::Index>(slopes[0].size()));
    for (std::size_t i = 0; i < slopes.size(); ++i)
      for (std::size_t j = 0; j < slopes[i].size(); ++j)
        p.slopes[0](static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = slopes[i][j];
    p.unit.assign(slopes.size(), 0);
    p.copies = {1.0};
    p.wanted = {problem.at("wanted").get<int>()};
    out.push_back(optimal_design(p, 5, 1).chosen);
  }
  return out;
}

namespace {

Json life_numbers(const bench::LifeTable& table) {
  const boost::math::chi_squared one(1.0);  // as those do that it is compared with
  const WeibullFit               fit = fit_weibull(table.lives, table.covariates);
  std::vector<double>            at;
  std::vector<bool>              ended;
  table.one_by_one(at, ended);
  Json out = {{"usable", fit.usable},
              {"scale", fit.scale},
              {"shape", fit.shape},
              {"log_likelihood", fit.log_likelihood},
              {"var_log_scale", fit.covariance(0, 0)},
              {"var_log_shape", fit.covariance(1, 1)},
              {"covariance", fit.covariance(0, 1)}};
  for (const int which : {0, 1}) {
    const Interval ends = weibull_interval(table.lives, table.covariates, fit, which, quantile(one, 0.95));
    out[which == 0 ? "scale_95" : "shape_95"] = {std::exp(ends.low), std::exp(ends.high)};
  }
  if (fit.effects.size() > 0) {
    out["effect"]    = fit.effects[0];
    out["effect_sd"] = std::sqrt(fit.covariance(2, 2));
    out["p"]         = cdf(complement(one, weibull_rise_without(table.lives, table.covariates, fit, 0)));
  }
  for (const Surviving& step : product_limit(at, ended)) out["surviving"].push_back(step.share);
  return out;
}

}  // namespace

Json censored_lives() {
  return {{"nist", life_numbers(bench::nist_lives())},
          {"motors", life_numbers(bench::motors())},
          {"aml", life_numbers(bench::aml())}};
}

Json worn_soles() {
  std::vector<double> a, b;
  for (const auto& row : bench::read_rows("published/shoes.csv")) {
    a.push_back(std::stod(row.at("A")));
    b.push_back(std::stod(row.at("B")));
  }
  const auto as_json = [](const TTest& t) {
    return Json{{"difference", t.difference},
                {"t", t.t},
                {"dof", t.dof},
                {"p", t.p},
                {"low", t.low},
                {"high", t.high}};
  };
  return {{"paired", as_json(paired_test(a, b, 0.95))}, {"welch", as_json(welch_test(a, b, 0.95))}};
}

Json gaussian_draws() {
  Eigen::MatrixXd covariance(3, 3);
  covariance << 1.0, 0.9, 0.0, 0.9, 2.0, -0.1, 0.0, -0.1, 0.04;
  const Eigen::Vector3d mean(1.0, -2.0, 0.5);
  const Eigen::MatrixXd precision = covariance.inverse();
  SamplerOptions        options;
  options.wanted_draws = 20000;
  options.seed         = 11;
  const Draws draws =
      sample([&](const Eigen::VectorXd& x) { return -0.5 * (x - mean).dot(precision * (x - mean)); }, mean,
             Eigen::Vector3d(1.0, 1.0, 0.1), options);
  Json                  out{{"converged", draws.converged},
           {"acceptance", draws.acceptance},
           {"steps", draws.steps - draws.burn_in},
           {"walkers", options.walkers}};
  const Eigen::MatrixXd centred = draws.values.rowwise() - draws.values.colwise().mean();
  const Eigen::MatrixXd found = centred.transpose() * centred / static_cast<double>(draws.values.rows() - 1);
  for (Eigen::Index i = 0; i < 3; ++i) {
    out["true_mean"].push_back(mean[i]);
    out["mean"].push_back(draws.values.col(i).mean());
    out["tau"].push_back(draws.autocorrelation[i]);
    for (Eigen::Index j = 0; j < 3; ++j) {
      out["true_covariance"].push_back(covariance(i, j));
      out["covariance"].push_back(found(i, j));
    }
    // tails: what share lies below the 5 % and 95 % points of the normal distribution
    for (double z : {-1.6448536269514722, 1.6448536269514722}) {
      const double point = mean[i] + z * std::sqrt(covariance(i, i));
      out["below"].push_back(static_cast<double>((draws.values.col(i).array() < point).count()) /
                             static_cast<double>(draws.values.rows()));
    }
  }
  return out;
}

}  // namespace arris::numbers
