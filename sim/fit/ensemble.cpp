// SPDX-License-Identifier: MIT
#include "sim/fit/ensemble.hpp"

#include <algorithm>
#include <cmath>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/fit/fit_report.hpp"
#include "sim/fit/rules_of_thumb.hpp"
#include "sim/laws/wear/formula.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

Spread stated_spread(const Scenario& scenario) {
  const auto  log_sd = [](double cv) { return std::sqrt(std::log1p(cv * cv)); };
  const auto& s      = scenario.model.scatter;
  return {log_sd(s.reading_cv), log_sd(s.edge_cv), log_sd(s.operator_cv), log_sd(s.lot_cv)};
}

}  // namespace

Ensemble prior_ensemble(const Scenario& scenario, const std::map<std::string, Prior>& stated, int members,
                        unsigned long long seed) {
  Ensemble                   out;
  std::vector<FreeParameter> parameters;
  for (const std::string& path : fittable_parameters(scenario.model)) {
    parameters.push_back(free_parameter(scenario.model, path, stated));
    out.paths.push_back(path);
  }
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  const RulesOfThumb                         rules(scenario.model, parameters, stated);
  const auto                                 P = static_cast<Eigen::Index>(parameters.size());
  out.values.resize(members, P);
  Eigen::VectorXd u(P), error(rules.facts());
  for (Eigen::Index i = 0; i < members; ++i) {
    for (double& x : u) x = normal(engine);
    for (double& x : error) x = normal(engine);
    rules.hear(u, error);
    for (Eigen::Index j = 0; j < P; ++j) {
      const FreeParameter& p = parameters[static_cast<std::size_t>(j)];
      out.values(i, j)       = std::clamp(p.value(u[j]), p.low, p.high);
    }
  }
  out.spreads.assign(static_cast<std::size_t>(members), stated_spread(scenario));
  out.rests_on = fmt::format(
      "Rests on rules of thumb of the trade, no measurement: the defaults of the program and the values of the configuration, with {} parameters varied over what their priors and {} such rules leave open together; no reading of yours is behind it.",
      parameters.size(), rules.facts());
  return out;
}

Given given_to_fit(const Model<double>& model, const std::vector<std::string>& free) {
  Given         out;
  Model<double> copy = model;
  for_each_number(copy, [&](const std::string& path, const Field&, double& number) {
    const bool scatter = path.rfind("scatter.", 0) == 0;
    if (scatter || std::isnan(number) || std::find(free.begin(), free.end(), path) != free.end()) return;
    out.paths.push_back(path);
    out.values.push_back(number);
  });
  out.wear_law = model.wear.name();
  if (const auto* law = model.wear.formula(); law != nullptr && law->program != nullptr)
    out.wear_law += ": " + law->program->text();
  return out;
}

namespace {

// refuses a fit that was made with other fixed numbers than the scenario has
void check_given(const FittedDraws& draws, const Scenario& scenario, const std::vector<std::string>& fitted) {
  const auto refuse = [&](const std::string& what) {
    throw Error(
        Exit::data,
        {.code  = "another-campaign",
         .what  = what,
         .cause = "The fit belongs to another configuration, or this one was changed since.",
         .next =
             "A tool or material that was changed is another one: give it another name. Or fit this configuration: arris fit FILE --draws 2000 --out fit.h5",
         .file = draws.source});
  };
  const Given  here = given_to_fit(scenario.model, fitted);
  const Given& then = draws.given;
  if (then.wear_law != here.wear_law) {
    refuse(fmt::format("the wear law is {} here, and was {} in the fit", printable(here.wear_law),
                       printable(then.wear_law)));
  }
  std::vector<std::string> differing;
  for (std::size_t i = 0; i < then.paths.size(); ++i) {
    const auto at = std::find(here.paths.begin(), here.paths.end(), then.paths[i]);
    if (at == here.paths.end()) continue;
    const double value = here.values[static_cast<std::size_t>(at - here.paths.begin())];
    // conversions between units may round
    if (std::abs(value - then.values[i]) <= 1e-9 * std::max(std::abs(value), std::abs(then.values[i])))
      continue;
    differing.push_back(
        fmt::format("{} is {:g} here and {:g} in the fit", printable(then.paths[i]), value, then.values[i]));
  }
  if (differing.empty()) return;
  std::string what = "the fit was made with other values: ";
  for (std::size_t i = 0; i < std::min<std::size_t>(5, differing.size()); ++i)
    what += (i > 0 ? "; " : "") + differing[i];
  if (differing.size() > 5) what += fmt::format("; and {} more", differing.size() - 5);
  refuse(what);
}

}  // namespace

Ensemble ensemble_of(const FittedDraws& draws, const Scenario& scenario, int members) {
  const std::size_t rows = draws.values.size() / std::max<std::size_t>(1, draws.columns.size());

  std::vector<std::string> known;
  Model<double>            model = scenario.model;
  for_each_number(model, [&](const std::string& name, const Field&, double&) { known.push_back(name); });
  Ensemble                 out;
  std::vector<std::size_t> places;
  for (std::size_t c = 0; c < draws.columns.size(); ++c) {
    if (spread_member(draws.columns[c]) != nullptr) continue;
    if (std::find(known.begin(), known.end(), draws.columns[c]) == known.end()) {
      throw Error(Exit::data,
                  {.code  = "another-campaign",
                   .what  = fmt::format("the configuration has no parameter \"{}\", which was fitted",
                                        printable(draws.columns[c])),
                   .cause = "The fit was made for another configuration.",
                   .next  = "Fit this configuration, or name the one that was fitted.",
                   .file  = draws.source});
    }
    out.paths.push_back(draws.columns[c]);
    places.push_back(c);
  }
  check_given(draws, scenario, out.paths);
  const std::size_t count = std::min(rows, static_cast<std::size_t>(std::max(1, members)));
  out.values.resize(static_cast<Eigen::Index>(count), static_cast<Eigen::Index>(places.size()));
  for (std::size_t i = 0; i < count; ++i) {
    const double* row = draws.values.data() + i * rows / count * draws.columns.size();
    for (std::size_t j = 0; j < places.size(); ++j)
      out.values(static_cast<Eigen::Index>(i), static_cast<Eigen::Index>(j)) = row[places[j]];
    Spread spread = draws.spread;
    for (std::size_t c = 0; c < draws.columns.size(); ++c) {
      if (double Spread::*member = spread_member(draws.columns[c])) spread.*member = row[c];
    }
    out.spreads.push_back(spread);
  }
  for (const std::string& path : out.paths) {
    const auto at = std::find(draws.parameters.begin(), draws.parameters.end(), path);
    if (at == draws.parameters.end()) {
      throw Error(Exit::data,
                  {.code = "another-campaign",
                   .what = fmt::format("the fit does not say which value of {} fits best", printable(path)),
                   .next = "Fit again: arris fit FILE --draws 2000 --out fit.h5",
                   .file = draws.source});
    }
    out.best.push_back(draws.best[static_cast<std::size_t>(at - draws.parameters.begin())]);
  }
  out.edges    = draws.edges;
  out.readings = draws.readings;
  out.rests_on =
      fmt::format("Rests on {} posterior draws of {} parameters, fitted to {} measurements of {} ({}).",
                  count, places.size(), out.readings, counted(out.edges, "edge"), draws.source);
  return out;
}

Ensemble single_member(const Scenario& scenario) {
  Ensemble out;
  out.values.resize(1, 0);
  out.spreads  = {stated_spread(scenario)};
  out.rests_on = "Rests on the values of the configuration alone.";
  return out;
}

namespace {

// with `value(j)` for the number at the j-th of these paths
template <class Value>
Model<double> with_values(Model<double> model, const std::vector<std::string>& paths, Value&& value) {
  std::vector<char> found(paths.size(), 0);
  for_each_number(model, [&](const std::string& path, const Field&, double& number) {
    const auto at = std::find(paths.begin(), paths.end(), path);
    if (at == paths.end()) return;
    const auto j = static_cast<std::size_t>(at - paths.begin());
    number       = value(j);
    found[j]     = 1;
  });
  for (std::size_t j = 0; j < found.size(); ++j) {
    if (found[j] != 0) continue;
    throw Error(Exit::usage, {.code  = "unknown-parameter",
                              .what  = fmt::format("the configuration has no parameter \"{}\"", paths[j]),
                              .cause = "The fit was made for another configuration.",
                              .next  = "Fit this configuration, or name the one that was fitted."});
  }
  return model;
}

}  // namespace

Model<double> member_of(const Model<double>& model, const Ensemble& ensemble, std::size_t index) {
  return with_values(model, ensemble.paths, [&](std::size_t j) {
    return ensemble.values(static_cast<Eigen::Index>(index), static_cast<Eigen::Index>(j));
  });
}

Scenario at_best(const Scenario& scenario, const Ensemble& ensemble) {
  Scenario out = scenario;
  if (!ensemble.best.empty())
    out.model = with_values(out.model, ensemble.paths, [&](std::size_t j) { return ensemble.best[j]; });
  return out;
}

}  // namespace arris
