// SPDX-License-Identifier: MIT
#include "sim/fit/law_fits.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <mutex>

#include "sim/diagnostic.hpp"
#include "sim/fit/earlier_fit.hpp"
#include "sim/fit/edge_folds.hpp"
#include "sim/fit/marginal.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/laws/wear/formula.hpp"
#include "sim/laws/wear/law_names.hpp"
#include "sim/numbers.hpp"
#include "sim/parallel.hpp"
#include "sim/statistics/stacking.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double shape_factor = 2.0;  ///< least spread of a number that scales no rate

bool has_its_defaults(const laws::HeldWearLaw<double>& law) {
  laws::HeldWearLaw<double> of_that_name = law;
  return law.formula() == nullptr && of_that_name.take(law.name()) &&
         wear_numbers(law).values == wear_numbers(of_that_name).values;
}

// the law whose growth over the reference path is this
laws::HeldWearLaw<double> scaled_to(const laws::HeldWearLaw<double>& law, double growth_um,
                                    const WearScale& over) {
  const double farthest = over.of_specimens() ? 1e12 : 1e6;
  double       low = -std::log(farthest), high = std::log(farthest);
  for (int round = 0; round < 60; ++round) {
    const double middle = 0.5 * (low + high);
    (reference_growth_um(times_severity(law, std::exp(middle)), over) < growth_um ? low : high) = middle;
  }
  return times_severity(law, std::exp(0.5 * (low + high)));
}

}  // namespace

std::vector<std::string> wear_law_names(const Model<double>& model) {
  auto names = laws::built_in_wear_laws();
  if (model.wear.formula() != nullptr) names.emplace_back(laws::Formula<double>::law_name);
  return names;
}

std::vector<std::string> wear_law_names(const Scenario& scenario) {
  auto names = wear_law_names(scenario.model);
  for (const NamedFormula& formula : scenario.formulas) names.push_back(formula.name);
  return names;
}

WearScale wear_scale(const Scenario& scenario) {
  const Specimen<double>& s = scenario.model.specimen;
  if (!s.in_use || !(s.typical_um > 0.0)) return {};
  return {.start_um = s.start_um, .path_m = s.typical_way, .factor = 10.0, .growth_um = s.typical_um};
}

Scenario scaled_to_readings(const Scenario& scenario, const std::vector<Reading>& readings) {
  if (!scenario.model.specimen.in_use) return scenario;
  double way = 0.0, wear = 0.0, count = 0.0;  // sums of logs
  for (const Reading& r : readings) {
    if (!r.excluded.empty() || r.is_below || !(r.reading_N > 0.0)) continue;
    const EdgePlan& plan         = scenario.edges[static_cast<std::size_t>(r.edge)];
    double          severity_way = 0.0;
    for (int i = 0; i <= r.moment.step; ++i) {
      const auto* cut = std::get_if<CutStep>(&plan.steps[static_cast<std::size_t>(i)]);
      if (cut == nullptr) continue;
      const auto& face = scenario.model.counterfaces[static_cast<std::size_t>(cut->wood)];
      severity_way += (i < r.moment.step || std::isnan(r.moment.count) ? cut->passes : r.moment.count) *
                      scenario.model.specimen.severity(cut->load_N, face.wear_factor);
    }
    if (!(severity_way > 0.0)) continue;
    way += std::log(severity_way);
    wear += std::log(r.reading_N);
    count += 1.0;
  }
  if (count == 0.0) return scenario;
  Scenario out                   = scenario;
  out.model.specimen.typical_way = std::exp(way / count);
  out.model.specimen.typical_um  = std::exp(wear / count);
  if (has_its_defaults(out.model.wear)) out = under_law(out, std::string(out.model.wear.name()));
  return out;
}

Scenario under_law(const Scenario& scenario, const std::string& name) {
  Scenario out  = scenario;
  auto&    wear = out.model.wear;
  for (const NamedFormula& formula : scenario.formulas) {
    if (formula.name != name) continue;
    wear = formula.law;
    return out;
  }
  const bool own = wear.name() == name;
  if (name == laws::Formula<double>::law_name) {
    if (own) return out;
    throw Error(Exit::usage,
                {.code = "no-formula",
                 .what = "the configuration states no formula to weigh",
                 .next = "State it: [wear] law = \"formula\", rate = \"…\" and its parameters."});
  }
  const WearScale over      = wear_scale(scenario);
  const bool      unstated  = has_its_defaults(wear);
  const double    growth_um = !unstated             ? reference_growth_um(wear, over)
                              : over.of_specimens() ? over.growth_um
                                                    : default_growth_um();
  if (!own && !wear.take(name)) {
    throw Error(Exit::usage, {.code    = "unknown-law",
                              .what    = "there is no wear law \"" + name + "\"",
                              .allowed = or_list(wear_law_names(scenario))});
  }
  // what is worn in settles over a part of the way
  if (over.of_specimens() && (unstated || !own))
    wear = with_wear_numbers(wear, {"wear.settle_m"}, {over.path_m / 3.0});
  wear = scaled_to(wear, growth_um, over);
  return out;
}

namespace {

/// How the growth over the reference path hangs on a number of the law.
struct Hold {
  double elasticity = 0.0;    ///< d log growth / d log number
  bool   is_rate    = false;  ///< `times` changes it, or it is a number of a formula
};

std::vector<Hold> holds_of(const laws::HeldWearLaw<double>& law, const WearScale& over) {
  constexpr double  h       = 0.01;
  const WearNumbers here    = wear_numbers(law);
  const bool        formula = law.formula() != nullptr;
  const WearNumbers faster  = wear_numbers(times_severity(law, 2.0));
  std::vector<Hold> out;
  for (std::size_t i = 0; i < here.values.size(); ++i) {
    const double up = reference_growth_um(
                     with_wear_numbers(law, {here.paths[i]}, {here.values[i] * std::exp(h)}), over),
                 down = reference_growth_um(
                     with_wear_numbers(law, {here.paths[i]}, {here.values[i] * std::exp(-h)}), over);
    out.push_back({std::log(up / down) / (2.0 * h), formula || faster.values[i] != here.values[i]});
  }
  return out;
}

// Whether a number may come down to the low end of its range and leave a law that still wears, a simpler one: one of several rates, or a
// number that scales none. Those of a formula have the priors that it states.
bool may_vanish(const laws::HeldWearLaw<double>& law, const std::vector<Hold>& holds, const Hold& hold,
                const FreeParameter& p, const WearScale& over) {
  constexpr double still = 0.05;  // of the growth
  if (law.formula() != nullptr || !(p.low < 0.01 * p.prior.centre)) return false;
  if (hold.is_rate)
    return std::count_if(holds.begin(), holds.end(), [](const Hold& h) { return h.is_rate; }) > 1;
  return reference_growth_um(with_wear_numbers(law, {p.path}, {p.low}), over) >
         still * reference_growth_um(law, over);
}

// so many times its value a rate has to be to wear as much without the other rates as with them
double times_alone(const laws::HeldWearLaw<double>& law, const std::vector<Hold>& holds,
                   const std::vector<FreeParameter*>& parameters, const FreeParameter& p,
                   const WearScale& over) {
  const WearNumbers         numbers = wear_numbers(law);
  laws::HeldWearLaw<double> alone   = law;
  for (const FreeParameter* other : parameters) {
    const auto at =
        std::find(numbers.paths.begin(), numbers.paths.end(), other->path) - numbers.paths.begin();
    if (other != &p && holds[static_cast<std::size_t>(at)].is_rate)
      alone = with_wear_numbers(alone, {other->path}, {other->low});
  }
  const double growth = reference_growth_um(law, over);
  double       low = 0.0, high = std::log(1e4);
  for (int round = 0; round < 30; ++round) {
    const double middle = 0.5 * (low + high);
    const auto   tried  = with_wear_numbers(alone, {p.path}, {p.prior.centre * std::exp(middle)});
    (reference_growth_um(tried, over) < growth ? low : high) = middle;
  }
  return std::exp(high);
}

/// Parameters whose priors are made wider or narrower together.
struct SpreadTogether {
  std::vector<FreeParameter*> parameters;
  double                      variance = 0.0;  ///< of the log of the growth, by their priors

  void add(FreeParameter* p, double elasticity) {
    parameters.push_back(p);
    variance += std::pow(elasticity * std::log(p->prior.spread), 2);
  }
  void bring_to(double wanted) {
    if (!(variance > 0.0)) return;
    for (FreeParameter* p : parameters)
      p->prior.spread = std::pow(p->prior.spread, std::sqrt(wanted / variance));
    variance = wanted;
  }
};

// Priors that nobody stated, so wide that the growth has its spread; rates have what shapes leave of it, half at least. A number that may vanish
// is shifted so that the low end is half of the median, a deviation or two away, and one of several rates may carry all of the growth, some two deviations
// away: a law that holds another as its limit must not be fined for being that.
void set_fair_spreads(const laws::HeldWearLaw<double>& law, std::vector<FreeParameter*>& parameters,
                      const WearScale& over) {
  const WearNumbers       numbers = wear_numbers(law);
  const std::vector<Hold> holds   = holds_of(law, over);
  SpreadTogether          rates, shapes;
  for (FreeParameter* p : parameters) {
    if (p->prior.shape != PriorShape::log_normal) continue;
    const auto at   = std::find(numbers.paths.begin(), numbers.paths.end(), p->path);
    Hold       hold = holds[static_cast<std::size_t>(at - numbers.paths.begin())];
    if (may_vanish(law, holds, hold, *p, over)) {
      p->prior.shift = p->prior.centre - 2.0 * p->low;
      hold.elasticity *= (p->prior.centre + p->prior.shift) / p->prior.centre;  // by the log of both together
    }
    if (!hold.is_rate) p->prior.spread = std::max(p->prior.spread, shape_factor);
    (hold.is_rate ? rates : shapes).add(p, hold.elasticity);
  }
  const double growth = std::pow(std::log(over.factor), 2);
  if (law.formula() == nullptr && shapes.variance > 0.5 * growth) shapes.bring_to(0.5 * growth);
  if (shapes.variance < growth) rates.bring_to(growth - shapes.variance);
  // one that wears little of the whole adds little to its spread
  for (FreeParameter* p : rates.parameters) {
    if (!(p->prior.shift > 0.0)) continue;
    const double alone = times_alone(law, holds, parameters, *p, over) * p->prior.centre;
    p->prior.spread =
        std::max(p->prior.spread, std::sqrt((alone + p->prior.shift) / (p->prior.centre + p->prior.shift)));
  }
}

}  // namespace

std::vector<FreeParameter> parameters_under_law(const Scenario& rival, const std::string& name,
                                                const FitSettings& settings, bool stated) {
  const Model<double>&       model = rival.model;
  std::vector<FreeParameter> out;
  for (const std::string& path : settings.free) {
    if (!is_wear_path(path)) out.push_back(free_parameter(model, path, settings.priors));
  }
  const auto               known = fittable_parameters(model);
  std::vector<std::string> by_default;
  for (const std::string& path : wear_numbers(model.wear).paths) {
    const std::string of_law = std::string(wear_prefix) + name + "." + path.substr(wear_prefix.size());
    const auto        rivals = settings.priors.find(of_law), own = settings.priors.find(path);
    if (rivals != settings.priors.end()) {
      out.push_back(free_parameter(model, path, {{path, rivals->second}}));
    } else if (stated && own != settings.priors.end()) {
      out.push_back(free_parameter(model, path, settings.priors));
    } else if (std::find(known.begin(), known.end(), path) != known.end()) {
      out.push_back(free_parameter(model, path));
      out.back().prior_rests_on = wear_scale(rival).of_specimens()
                                      ? "as much wear as the readings show on average"
                                      : "as much wear over 100 m as under every law";
      by_default.push_back(path);
    }
  }
  std::vector<FreeParameter*> unstated;
  for (FreeParameter& p : out) {
    if (std::find(by_default.begin(), by_default.end(), p.path) != by_default.end()) unstated.push_back(&p);
  }
  set_fair_spreads(model.wear, unstated, wear_scale(rival));
  begin_from(settings.earlier.get(), model, out);
  return out;
}

std::vector<FreeParameter> parameters_of_fit(const Scenario& scenario, const FitSettings& settings,
                                             const std::vector<Reading>& readings) {
  std::vector<FreeParameter> out;
  for (const std::string& path : settings.free)
    out.push_back(free_parameter(scenario.model, path, settings.priors));
  begin_from(settings.earlier.get(), scenario.model, out);
  if (!out.empty()) return out;
  FitSettings usual       = settings;
  usual.free              = usual_parameters(scenario, readings);
  const bool        wears = std::any_of(usual.free.begin(), usual.free.end(),
                                        [](const std::string& path) { return is_wear_path(path); });
  const std::string law(scenario.model.wear.name());
  if (wears) return parameters_under_law(under_law(scenario, law), law, usual, true);
  for (const std::string& path : usual.free)
    out.push_back(free_parameter(scenario.model, path, settings.priors));
  begin_from(settings.earlier.get(), scenario.model, out);
  return out;
}

void set_optimum(LawFit& law, const FitResult& fit) {
  law.best                = fit.best;
  law.information         = fit.information;
  Eigen::VectorXd effects = law.best.effects;
  law.log_likelihood      = log_likelihood(*law.model, law.best.u, law.best.spread, effects);
}

std::optional<std::size_t> heaviest_of(const LawFits& fits) {
  std::optional<std::size_t> out;
  for (std::size_t k = 0; k < fits.laws.size(); ++k) {
    if (fits.laws[k].usable && (!out || fits.laws[k].weight > fits.laws[*out].weight)) out = k;
  }
  return out;
}

namespace {

/// Whose readings there are.
std::vector<int> edges_in(const std::vector<Reading>& readings) {
  std::vector<int> edges;
  for (const Reading& r : readings) {
    if (r.excluded.empty() && std::find(edges.begin(), edges.end(), r.edge) == edges.end())
      edges.push_back(r.edge);
  }
  return edges;
}

LawFit fit_law(const Scenario& scenario, const std::vector<Reading>& readings, const FitSettings& settings,
               const std::string& name, int threads) {
  LawFit         law;
  const Scenario rival = under_law(scenario, name);
  law.name             = name;
  const bool own       = scenario.model.wear.name() == name;
  law.model            = std::make_shared<const CampaignModel>(
      rival, readings, parameters_under_law(rival, name, settings, own), settings);
  const FitResult whole = fit_untested(*law.model, threads);
  law.usable            = whole.converged;
  law.failure           = whole.best.failure;
  if (!law.usable) return law;
  set_optimum(law, whole);
  law.parameters =
      static_cast<int>(law.model->parameter_count()) + static_cast<int>(spreads_in(*law.model).size());
  return law;
}

/// What a law foretells of an edge that its fit has not seen.
struct Foretold {
  double      log_density = -infinity;
  std::string failure;  ///< empty where there is one
};

// what rests at the end of its range does not vary: beyond it there is no such law
Eigen::MatrixXd covariance_of_what_varies(const CampaignModel& model, const FitPoint& point) {
  constexpr double as_good_as_none = 1e-6;  // of a standard deviation of the prior
  Eigen::MatrixXd  out             = information_at(model, point).covariance;
  for (const Eigen::Index i : point.held) {
    out.row(i).setZero();
    out.col(i).setZero();
    out(i, i) = as_good_as_none * as_good_as_none;
  }
  return out;
}

// of these edges, from a fit without them
std::vector<Foretold> foretell(const LawFit& law, const std::vector<int>& edges) {
  const CampaignModel&              model = *law.model;
  std::vector<Reading>              others;
  std::vector<std::vector<Reading>> own(edges.size());
  for (const Reading& r : model.readings()) {
    const auto at = std::find(edges.begin(), edges.end(), r.edge) - edges.begin();
    (at < std::ssize(edges) ? own[static_cast<std::size_t>(at)] : others).push_back(r);
  }
  const CampaignModel without(model, others);
  FitPoint            refit = arris::refit(without, model, law.best);
  // where histories fail or jump near the optimum of all edges, from there without effects, then from the priors
  if (!refit.usable) refit = fit_from(without, law.best.u, &law.best.spread);
  if (!refit.usable) refit = fit_from(without, Eigen::VectorXd::Zero(without.parameter_count()), nullptr);
  Eigen::MatrixXd covariance;
  if (refit.usable) covariance = covariance_of_what_varies(without, refit);
  std::vector<Foretold> out(edges.size());
  for (std::size_t e = 0; e < edges.size(); ++e) {
    if (refit.usable) {
      const CampaignModel left_out(model, own[e]);
      out[e].log_density = log_predictive(left_out, refit, covariance);
      if (!std::isfinite(out[e].log_density)) out[e].failure = "its readings have no density there";
    } else {
      out[e].failure = refit.failure;
    }
    if (!out[e].failure.empty())
      out[e].failure = "without edge " + model.scenario().edges[static_cast<std::size_t>(edges[e])].name +
                       ": " + out[e].failure;
  }
  return out;
}

std::size_t folds_of(const std::vector<int>& edges) {
  return edges.size() > 1 ? std::min(edges.size(), static_cast<std::size_t>(most_folds)) : 0;
}

// all edges, left out one by one or in groups, under every law
void foretell_all(LawFits& fits, const std::vector<int>& edges, int threads,
                  const std::function<void()>& one_done) {
  std::vector<LawFit*> usable;
  for (LawFit& law : fits.laws) {
    if (law.usable) usable.push_back(&law);
  }
  if (usable.empty()) return;
  const auto folds = edge_folds(usable.front()->model->scenario(), edges, folds_of(edges));
  std::vector<std::vector<Foretold>> all(usable.size() * folds.size());
  for_each_index(all.size(), threads, [&](std::size_t i) {
    all[i] = foretell(*usable[i / folds.size()], folds[i % folds.size()]);
    one_done();
  });
  for (std::size_t k = 0; k < usable.size(); ++k) {
    LawFit&                 law = *usable[k];
    std::map<int, Foretold> by_edge;
    for (std::size_t g = 0; g < folds.size(); ++g) {
      for (std::size_t e = 0; e < folds[g].size(); ++e) by_edge[folds[g][e]] = all[k * folds.size() + g][e];
    }
    for (const int e : edges) {
      const Foretold& of = by_edge.at(e);
      law.elpd_by_edge.push_back(of.log_density);
      law.elpd += of.log_density;
      if (of.failure.empty() || !law.usable) continue;
      law.usable  = false;
      law.failure = of.failure;
    }
  }
}

/// Odds that count against a law, about what is called "strong" and "very strong" (Kass & Raftery 1995, from memory). The first are asked of
/// all edges together where a test can tell that they agree, and of each edge where they are too few for a test: a small difference
/// that is alike in all edges (a prior, what integration leaves) is no evidence, however small its standard error.
constexpr double odds_strong = 20.0, odds_of_all = 150.0;
constexpr int    edges_for_test = 6;  ///< 2/2⁶ is below 0.05, 2/2⁵ is not

bool speaks_against(const std::vector<double>& differences, double by_chance, double log_evidence) {
  const auto n   = static_cast<int>(differences.size());
  double     sum = 0.0;
  for (const double d : differences) sum += d;
  if (n >= edges_for_test) return by_chance < 0.05 && sum < -std::log(odds_strong);
  if (n >= 2) {
    return std::all_of(differences.begin(), differences.end(),
                       [](double d) { return d < -std::log(odds_strong); });
  }
  return log_evidence < -std::log(odds_of_all);
}

// against the first, which is the best
void hold_against_best(LawFits& fits) {
  const LawFit best = fits.laws.front();
  for (LawFit& law : fits.laws) {
    if (!law.usable) continue;
    law.difference = law.elpd - best.elpd;
    std::vector<double> parts;
    for (std::size_t e = 0; e < law.elpd_by_edge.size(); ++e)
      parts.push_back(law.elpd_by_edge[e] - best.elpd_by_edge[e]);
    law.difference_se = standard_error_of_sum(parts);
    law.by_chance     = sign_flip_probability(parts);
    law.ruled_out = speaks_against(parts, law.by_chance, law.best.log_posterior - best.best.log_posterior);
  }
}

// whether a law is so far behind the best that no doubt of weights gives it any, though too few edges were read for a test
bool is_beyond_doubt(const LawFit& law) {
  constexpr double errors = 4.0;
  return law.difference < -std::log(odds_of_all) && law.difference < -errors * law.difference_se;
}

// those that the readings speak against have no part in answers
void set_weights(LawFits& fits) {
  std::vector<LawFit*> tenable;
  for (LawFit& law : fits.laws) {
    if (law.usable && !law.ruled_out && !(fits.edges >= few_edges && is_beyond_doubt(law)))
      tenable.push_back(&law);
  }
  if (tenable.empty()) return;
  fits.stacked = fits.edges >= few_edges;
  if (fits.stacked) {
    Eigen::MatrixXd densities(fits.edges, static_cast<Eigen::Index>(tenable.size()));
    for (std::size_t k = 0; k < tenable.size(); ++k) {
      densities.col(static_cast<Eigen::Index>(k)) =
          Eigen::Map<const Eigen::VectorXd>(tenable[k]->elpd_by_edge.data(), fits.edges);
    }
    const Eigen::VectorXd weights = stacking_weights(densities, doubt_of_weights);
    for (std::size_t k = 0; k < tenable.size(); ++k)
      tenable[k]->weight = weights[static_cast<Eigen::Index>(k)];
    return;
  }
  for (LawFit* law : tenable) law->weight = 1.0 / static_cast<double>(tenable.size());
}

}  // namespace

LawFits fit_laws(const Scenario& scenario, const std::vector<Reading>& readings, const FitSettings& asked,
                 const std::vector<std::string>& laws, int threads,
                 const std::function<void(std::size_t, std::size_t)>& progress) {
  // readings of one edge have the effects that those of all have, though one operator may have taken them
  FitSettings settings         = with_effects_of(scenario, readings, asked);
  settings.lone_effects        = true;
  const std::vector<int> edges = edges_in(readings);
  const std::size_t      all   = laws.size() * (1 + folds_of(edges));
  std::size_t            done  = 0;
  std::mutex             speaking;
  const auto             one_done = [&] {
    if (!progress) return;
    const std::scoped_lock lock(speaking);
    progress(++done, all);
  };
  LawFits out;
  out.edges = static_cast<int>(edges.size());
  // abreast: a law has few starts, and at the end of each a thread would wait for the others
  out.laws.resize(laws.size());
  for_each_index(laws.size(), threads, [&](std::size_t i) {
    out.laws[i] = fit_law(scenario, readings, settings, laws[i], threads);
    one_done();
  });
  if (edges.size() > 1) foretell_all(out, edges, threads, one_done);
  const auto score = [&](const LawFit& law) { return out.edges > 1 ? law.elpd : law.best.log_posterior; };
  std::stable_sort(out.laws.begin(), out.laws.end(), [&](const LawFit& a, const LawFit& b) {
    return a.usable != b.usable ? a.usable : a.usable && score(a) > score(b);
  });
  if (out.laws.empty() || !out.laws.front().usable) return out;
  hold_against_best(out);
  set_weights(out);
  return out;
}

}  // namespace arris
