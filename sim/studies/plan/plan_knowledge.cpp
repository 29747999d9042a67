// SPDX-License-Identifier: MIT
#include "sim/studies/plan/plan_knowledge.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>

#include "sim/fit/lack_of_fit.hpp"
#include "sim/fit/law_fits.hpp"
#include "sim/fit/normal_ensemble.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

// just inside the range, so that value(scaled(end of the range)) is not outside it by a rounding
double scaled_inside(const FreeParameter& p, double value) { return p.scaled(value) * (1.0 - 1e-12); }

// what draws tell beyond the priors; a sample covariance may come out wider than the prior by chance
Eigen::MatrixXd beyond_prior(const Eigen::MatrixXd& covariance) {
  const auto P = covariance.rows();
  const auto [values, vectors] =
      eigen_of_symmetric(inverse_symmetric(covariance) - Eigen::MatrixXd::Identity(P, P));
  return vectors * values.cwiseMax(0.0).asDiagonal() * vectors.transpose();
}

double median_of(std::vector<double> values) { return quantile(std::move(values), 0.5); }

Spread median_spread(const std::vector<Spread>& spreads) {
  const auto median = [&](double Spread::*member) {
    std::vector<double> values;
    values.reserve(spreads.size());
    for (const Spread& s : spreads) values.push_back(s.*member);
    return median_of(std::move(values));
  };
  return {median(&Spread::reading), median(&Spread::edge),     median(&Spread::person),
          median(&Spread::lot),     median(&Spread::rate),     median(&Spread::day),
          median(&Spread::way),     median(&Spread::way_wear), median(&Spread::wood)};
}

}  // namespace

Eigen::VectorXd scaled_values(const std::vector<FreeParameter>& parameters, const Model<double>& model) {
  Model<double>   copy = model;
  const auto      here = places(copy, parameters);
  Eigen::VectorXd u(static_cast<Eigen::Index>(parameters.size()));
  for (std::size_t i = 0; i < parameters.size(); ++i)
    u[static_cast<Eigen::Index>(i)] = scaled_inside(parameters[i], *here[i]);
  return u;
}

PlanKnowledge knowledge_from_priors(const Scenario& scenario, const FitSettings& settings, int members,
                                    unsigned long long seed) {
  PlanKnowledge out;
  out.wear       = scenario.model.wear;
  out.parameters = parameters_of_fit(scenario, settings);
  out.ensemble   = prior_ensemble(scenario, settings.priors, members, seed);
  out.spread     = out.ensemble.spreads.front();
  out.centre     = scaled_values(out.parameters, scenario.model);
  out.data       = Eigen::MatrixXd::Zero(out.centre.size(), out.centre.size());
  return out;
}

PlanKnowledge knowledge_from_readings(const Scenario& scenario, const std::vector<Reading>& readings,
                                      const FitSettings& settings, int members, unsigned long long seed,
                                      int threads) {
  constexpr int most_starts =
      4;  // the place is wanted, not the last digit of a certainty that it is the only one
  FitSettings quick = settings;
  quick.starts      = std::min(settings.starts, most_starts);
  const CampaignModel model(scenario, readings, parameters_of_fit(scenario, settings, readings), quick);
  const FitResult     result = fit(model, threads);
  if (!result.converged) {
    PlanKnowledge out = knowledge_from_priors(scenario, settings, members, seed);
    out.cautions.emplace_back(
        "The readings of the campaign could not be fitted, so that the plan rests on the scatter and the priors of the configuration: `arris fit` says why.");
    return out;
  }
  PlanKnowledge out;
  out.wear            = scenario.model.wear;
  out.parameters      = model.parameters();
  out.centre          = result.best.u;
  out.data            = result.information.data;
  out.now             = identifiability(model, result);
  out.ensemble        = normal_ensemble(model, result, members, seed, threads);
  out.ensemble.misses = misses(lack_of_fit(model, result));
  out.spread          = typical_spread(model, result);
  return out;
}

namespace {

// those that draws of a fit differ in, with the priors of that fit; `of_laws`: it was one of several laws, which have priors of their own
std::vector<FreeParameter> drawn_parameters(const Scenario& scenario, const FitSettings& settings,
                                            const Ensemble& draws, bool of_laws) {
  std::vector<FreeParameter> of_law, out;
  if (of_laws) {
    // about the defaults of the law, not about what was fitted
    Scenario   begun = scenario;
    const auto name  = std::string(scenario.model.wear.name());
    (void)begun.model.wear.take(name);  // a formula stays as it is
    of_law = parameters_under_law(under_law(begun, name), name, settings, true);
  }
  for (const std::string& path : draws.paths) {
    const auto at =
        std::find_if(of_law.begin(), of_law.end(), [&](const FreeParameter& p) { return p.path == path; });
    out.push_back(at != of_law.end() ? *at : free_parameter(scenario.model, path, settings.priors));
  }
  return out;
}

// from draws that have one law, that of the scenario
PlanKnowledge knowledge_under_one_law(const Scenario& scenario, const std::vector<Reading>& readings,
                                      const FitSettings& settings, const Ensemble& draws, int members,
                                      bool of_laws) {
  PlanKnowledge out;
  out.wear       = scenario.model.wear;
  out.parameters = drawn_parameters(scenario, settings, draws, of_laws);
  const auto P = static_cast<Eigen::Index>(draws.paths.size()), n = static_cast<Eigen::Index>(draws.size());
  Eigen::MatrixXd u(n, P);
  out.centre.resize(P);
  for (Eigen::Index j = 0; j < P; ++j) {
    std::vector<double> values;
    for (Eigen::Index i = 0; i < n; ++i) {
      u(i, j) = scaled_inside(out.parameters[static_cast<std::size_t>(j)], draws.values(i, j));
      values.push_back(u(i, j));
    }
    out.centre[j] = median_of(std::move(values));
  }
  const Eigen::MatrixXd centred = u.rowwise() - u.colwise().mean();
  // the last term keeps it regular where the draws are few
  const Eigen::MatrixXd covariance =
      centred.transpose() * centred / static_cast<double>(std::max<Eigen::Index>(1, n - 1)) +
      Eigen::MatrixXd::Identity(P, P) / static_cast<double>(n * n);
  out.data   = beyond_prior(covariance);
  out.spread = median_spread(draws.spreads);

  const auto keep          = std::min<Eigen::Index>(members, n);
  out.ensemble             = draws;
  out.ensemble.values      = Eigen::MatrixXd(keep, P);
  out.ensemble.effect_logs = Eigen::MatrixXd(keep, draws.effect_logs.cols());
  out.ensemble.spreads.clear();
  for (Eigen::Index i = 0; i < keep; ++i) {
    out.ensemble.values.row(i)      = draws.values.row(i * n / keep);
    out.ensemble.effect_logs.row(i) = draws.effect_logs.row(i * n / keep);
    out.ensemble.spreads.push_back(draws.spreads[static_cast<std::size_t>(i * n / keep)]);
  }
  if (!readings.empty()) {
    const CampaignModel model(scenario, readings, out.parameters, settings);
    const FitResult     there = fit_as_known(model, out.centre, out.spread);
    if (there.information.data.size() > 0) out.now = identifiability(model, there);
  }
  return out;
}

}  // namespace

PlanKnowledge knowledge_from_draws(const Scenario& scenario, const std::vector<Reading>& readings,
                                   const FitSettings& settings, const Ensemble& draws, int members) {
  if (!draws.has_laws()) return knowledge_under_one_law(scenario, readings, settings, draws, members, false);
  std::vector<PlanKnowledge> by_law;
  std::vector<std::string>   refuted;
  for (std::size_t k = 0; k < draws.laws.size(); ++k) {
    const int share = static_cast<int>(std::lround(members * draws.laws[k].weight));
    if (k > 0 && share == 0) {
      if (draws.laws[k].ruled_out) refuted.push_back(draws.laws[k].name);
      continue;
    }
    Scenario here   = scenario;
    here.model.wear = draws.laws[k].wear;
    // what is open is worked out under the heaviest law alone
    by_law.push_back(knowledge_under_one_law(here, k == 0 ? readings : std::vector<Reading>{}, settings,
                                             of_one_law(draws, k), std::max(1, share), true));
    by_law.back().law       = draws.laws[k].name;
    by_law.back().ruled_out = draws.laws[k].ruled_out;
  }
  PlanKnowledge out     = std::move(by_law.front());
  out.spread            = median_spread(draws.spreads);
  out.ensemble.rests_on = draws.rests_on;
  out.refuted           = std::move(refuted);
  out.rivals.assign(std::make_move_iterator(by_law.begin() + 1), std::make_move_iterator(by_law.end()));
  return out;
}

FitResult fit_as_known(const CampaignModel& model, const Eigen::VectorXd& scaled, const Spread& spread) {
  FitResult out;
  out.best.usable  = true;
  out.best.u       = scaled;
  out.best.effects = Eigen::VectorXd::Zero(model.effect_count());
  out.best.spread  = spread;
  out.information  = information_at(model, out.best);
  return out;
}

}  // namespace arris
