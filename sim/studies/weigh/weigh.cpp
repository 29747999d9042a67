// SPDX-License-Identifier: MIT
#include "sim/studies/weigh/weigh.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <string_view>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/laws/wear/formula.hpp"
#include "sim/laws/wear/law_names.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

void set_law(Model<double>& model, const std::string& name) {
  constexpr std::string_view formula = laws::Formula<double>::law_name;
  if (name == formula && model.wear.formula() == nullptr) {
    throw Error(Exit::usage,
                {.code = "no-formula",
                 .what = "the configuration states no formula to weigh",
                 .next = "State it: [wear] law = \"formula\", rate = \"…\" and its parameters."});
  }
  // a law that the configuration already states keeps the numbers stated for it
  if (model.wear.name() == name || model.wear.take(name)) return;
  std::string known;
  for (const std::string& n : wear_law_names(model)) known += (known.empty() ? "" : ", ") + n;
  throw Error(Exit::usage,
              {.code = "unknown-law", .what = "there is no wear law \"" + name + "\"", .allowed = known});
}

// `stated`: whether the law is the one that the configuration states, with the priors for it
std::vector<FreeParameter> parameters_for(const Model<double>& model, const FitSettings& settings,
                                          bool stated) {
  std::vector<FreeParameter> out;
  for (const std::string& path : settings.free) {
    if (path.rfind("wear.", 0) != 0) out.push_back(free_parameter(model, path, settings.priors));
  }
  const auto known = fittable_parameters(model);
  auto       copy  = model;
  for_each_number(copy, [&](const std::string& path, const Field&, double&) {
    if (path.rfind("wear.", 0) != 0) return;
    if (stated && settings.priors.count(path) > 0)
      out.push_back(free_parameter(model, path, settings.priors));
    else if (std::find(known.begin(), known.end(), path) != known.end())
      out.push_back(free_parameter(model, path));
  });
  return out;
}

double log_normal_density(const Eigen::VectorXd& r, const Eigen::MatrixXd& covariance) {
  const Cholesky factor(covariance);
  return -0.5 * (r.dot(factor.solve(r)) + factor.log_determinant() +
                 static_cast<double>(r.size()) * std::log(2.0 * M_PI));
}

// log predictive density of the readings of one edge, from a fit that has not seen them
double predictive(const CampaignModel& edge, const FitPoint& fit, const Eigen::MatrixXd& covariance) {
  const auto apex = edge.apex(fit.u, true);
  if (!apex.usable) return -std::numeric_limits<double>::infinity();
  Eigen::VectorXd f;
  Eigen::MatrixXd by_parameter, by_effect;
  edge.observe(apex, Eigen::VectorXd::Zero(edge.effect_count()), f, &by_parameter, &by_effect);
  Eigen::MatrixXd v = by_parameter * covariance * by_parameter.transpose();
  for (Eigen::Index j = 0; j < edge.effect_count(); ++j) {
    const double sd = fit.spread.of(edge.effects()[static_cast<std::size_t>(j)].kind);
    v += sd * sd * by_effect.col(j) * by_effect.col(j).transpose();
  }
  for (Eigen::Index i = 0; i < edge.size(); ++i) {
    const double known = edge.observations()[static_cast<std::size_t>(i)].known_sd;
    const double sd    = known > 0.0 ? known : fit.spread.reading;
    v(i, i) += sd * sd;
  }
  return log_normal_density(edge.measured() - f, v);
}

std::vector<Misfit> misfits_of(const CampaignModel& model, const FitPoint& fit) {
  Eigen::VectorXd f;
  model.observe(model.apex(fit.u, false), Eigen::VectorXd::Zero(model.effect_count()), f, nullptr, nullptr);
  std::map<std::string, Misfit> by_moment;
  for (Eigen::Index i = 0; i < model.size(); ++i) {
    const Observation& o = model.observations()[static_cast<std::size_t>(i)];
    const Reading&     r = model.readings()[static_cast<std::size_t>(o.reading)];
    Misfit&            m = by_moment[r.moment_name];
    m.moment             = r.moment_name;
    m.mean += o.log_value - f[i];
    ++m.count;
  }
  std::vector<Misfit> out;
  for (auto& [name, m] : by_moment) {
    m.mean /= m.count;
    out.push_back(m);
  }
  std::sort(out.begin(), out.end(),
            [](const Misfit& a, const Misfit& b) { return std::abs(a.mean) > std::abs(b.mean); });
  return out;
}

}  // namespace

std::vector<std::string> wear_law_names(const Model<double>& model) {
  auto names = laws::built_in_wear_laws();
  if (model.wear.formula() != nullptr) names.emplace_back(laws::Formula<double>::law_name);
  return names;
}

std::vector<WeighedLaw> weigh(const Scenario& scenario, const std::vector<Reading>& readings,
                              const FitSettings& settings, const std::vector<std::string>& laws, int threads,
                              const std::function<void(std::size_t, std::size_t)>& progress) {
  std::vector<int> edges;
  for (const Reading& r : readings) {
    if (r.excluded.empty() && std::find(edges.begin(), edges.end(), r.edge) == edges.end())
      edges.push_back(r.edge);
  }
  const std::size_t       all  = laws.size() * (edges.size() + 1);
  std::size_t             done = 0;
  std::vector<WeighedLaw> out;
  for (const std::string& name : laws) {
    Scenario   rival = scenario;
    WeighedLaw law;
    law.name = name;
    set_law(rival.model, name);
    const auto parameters =
        parameters_for(rival.model, settings, rival.model.wear.name() == scenario.model.wear.name());
    const CampaignModel model(rival, readings, parameters, settings);
    const FitResult     whole = fit(model, threads);
    if (progress) progress(++done, all);
    if (!whole.converged) {
      law.failure = whole.best.failure;
      done += edges.size();
      out.push_back(std::move(law));
      continue;
    }
    law.usable              = true;
    law.best                = whole.best;
    Eigen::VectorXd effects = whole.best.effects;
    law.log_likelihood      = log_likelihood(model, whole.best.u, whole.best.spread, effects);
    law.parameters          = static_cast<int>(parameters.size()) + 1 + (settings.edge_effect ? 1 : 0) +
                     (settings.operator_effect ? 1 : 0) + (settings.lot_effect ? 1 : 0);
    const double n = static_cast<double>(model.size()), k = law.parameters;
    law.aicc = n - k - 1.0 > 0.0 ? -2.0 * law.log_likelihood + 2.0 * k + 2.0 * k * (k + 1.0) / (n - k - 1.0)
                                 : not_given;
    law.bic  = -2.0 * law.log_likelihood + k * std::log(n);
    law.misfits = misfits_of(model, whole.best);
    for (const int left_out : edges) {
      std::vector<Reading> others, own;
      for (const Reading& r : readings) (r.edge == left_out ? own : others).push_back(r);
      const CampaignModel without(rival, others, parameters, settings);
      const FitPoint      refit = fit_from(without, whole.best.u);
      if (refit.usable) {
        law.elpd_by_edge.push_back(predictive(CampaignModel(rival, own, parameters, settings), refit,
                                              information_at(without, refit).covariance));
      } else {
        law.usable = false;
        law.failure =
            "without edge " + scenario.edges[static_cast<std::size_t>(left_out)].name + ": " + refit.failure;
      }
      if (progress) progress(++done, all);
    }
    out.push_back(std::move(law));
  }

  const auto standard_error = [](const std::vector<double>& parts) {
    double mean = 0.0, squares = 0.0;
    for (const double p : parts) mean += p / static_cast<double>(parts.size());
    for (const double p : parts) squares += (p - mean) * (p - mean);
    const auto m = static_cast<double>(parts.size());
    return parts.size() > 1 ? std::sqrt(m * squares / (m - 1.0)) : not_given;
  };
  for (WeighedLaw& law : out) {
    if (!law.usable) continue;
    for (const double part : law.elpd_by_edge) law.elpd += part;
    law.elpd_se = standard_error(law.elpd_by_edge);
  }
  std::stable_sort(out.begin(), out.end(), [](const WeighedLaw& a, const WeighedLaw& b) {
    return a.usable != b.usable ? a.usable : a.usable && a.elpd > b.elpd;
  });
  for (WeighedLaw& law : out) {
    if (!law.usable) continue;
    law.difference = law.elpd - out.front().elpd;
    std::vector<double> parts;
    for (std::size_t e = 0; e < law.elpd_by_edge.size(); ++e)
      parts.push_back(law.elpd_by_edge[e] - out.front().elpd_by_edge[e]);
    law.difference_se = standard_error(parts);
  }
  return out;
}

namespace {

/// In units of elpd. What integration leaves is alike in all edges, so that the standard error does not show it.
constexpr double least_difference = 0.1;

std::string headline_of(const std::vector<WeighedLaw>& laws) {
  const WeighedLaw& best = laws.front();
  if (!best.usable) return "None of the laws could be fitted.";
  if (laws.size() == 1) return best.name + " was fitted alone; name a second law to weigh it against.";
  std::vector<std::string> equal;
  std::size_t              others = 0;
  for (const WeighedLaw& law : laws) {
    if (!law.usable || &law == &best) continue;
    ++others;
    // with a single edge there is no standard error, and nothing is told apart
    if (!(std::abs(law.difference) >= std::max(2.0 * law.difference_se, least_difference)))
      equal.push_back(law.name);
  }
  if (others == 0) return "Only " + best.name + " could be fitted, so there is nothing to weigh it against.";
  if (equal.empty())
    return best.name +
           " predicts edges that it has not seen better than the others, by more than twice the standard error.";
  return best.name + " predicts edges that it has not seen best, but these readings cannot tell it from " +
         or_list(equal) + ".";
}

}  // namespace

Answer weigh_answer(const std::vector<WeighedLaw>& laws, const std::string& readings) {
  Answer answer;
  answer.kind     = "weigh";
  answer.headline = headline_of(laws);
  answer.rests_on = fmt::format("Rests on: {} and the priors of the parameters.", readings);

  std::vector<std::string> name, failure;
  const auto               column = [&](auto&& value) {
    std::vector<double> out;
    for (const WeighedLaw& law : laws) out.push_back(law.usable ? value(law) : not_given);
    return out;
  };
  std::vector<double> usable;
  for (const WeighedLaw& law : laws) {
    name.push_back(law.name);
    failure.push_back(law.failure);
    usable.push_back(law.usable ? 1.0 : 0.0);
  }
  AnswerTable table{"laws", "", "law, best first", {}};
  table.text("law", "wear law", "name of the law", name);
  table.number("usable", "1", "", "1 where it could be fitted, 0 where not", usable);
  const auto number = [&](const char* key, const char* head, const char* says, int places, auto&& value) {
    table.number(key, "1", head, says, column(value));
    table.columns.back().places = places;
  };
  using L = WeighedLaw;
  number("parameters", "parameters", "parameters and standard deviations that were fitted", 0,
         [](const L& l) { return static_cast<double>(l.parameters); });
  number("log_likelihood", "log L", "log likelihood at the fit, effects of edges integrated out", 1,
         [](const L& l) { return l.log_likelihood; });
  number("aicc", "AICc", "Akaike's criterion, corrected for few readings; smaller is better", 1,
         [](const L& l) { return l.aicc; });
  number("bic", "BIC", "Schwarz's criterion; smaller is better", 1, [](const L& l) { return l.bic; });
  number("elpd", "elpd",
         "log density of the readings of each edge, predicted from all others; larger is better", 1,
         [](const L& l) { return l.elpd; });
  number("elpd_se", "± s.e.", "its standard error", 1, [](const L& l) { return l.elpd_se; });
  number("difference", "below the best", "elpd less that of the best", 1,
         [](const L& l) { return l.difference; });
  number("difference_se", "± s.e.", "standard error of the difference", 1,
         [](const L& l) { return l.difference_se; });
  table.text("failure", "", "why it could not be fitted", failure);
  answer.tables.push_back(std::move(table));

  std::vector<std::string> of, moment;
  std::vector<double>      count, mean;
  for (const WeighedLaw& law : laws) {
    if (!law.usable) continue;
    for (const Misfit& m : law.misfits) {
      of.push_back(law.name);
      moment.push_back(m.moment);
      count.push_back(m.count);
      mean.push_back(m.mean);
    }
  }
  AnswerTable misfits{"misfits", "Where each law is off", "law and moment, largest first", {}, false};
  misfits.text("law", "", "name of the law", of);
  misfits.text("moment", "", "when the measurements were taken", moment);
  misfits.number("count", "1", "", "measurements there", count);
  misfits.number("mean_log_ratio", "1", "", "mean log of measured over predicted, luck of the edges left out",
                 mean);
  answer.tables.push_back(std::move(misfits));

  answer.remark(
      About::certainty,
      "AICc and BIC say how well a law fits, less a fine for each of its parameters: smaller is better. elpd says how well it foretells: each edge in turn is left out of the fit, and its readings are predicted from all others; larger is better, and only a difference beyond twice its standard error, and beyond 0.1, is evidence.");
  for (const WeighedLaw& law : laws) {
    if (!law.usable) {
      answer.remarks.push_back(law.name + " could not be fitted: " + law.failure + ".");
      continue;
    }
    std::string text = law.name + " misses most";
    for (std::size_t i = 0; i < std::min<std::size_t>(3, law.misfits.size()); ++i) {
      const Misfit& m = law.misfits[i];
      text += fmt::format("{} {} (measured {:+.0f} % against predicted, {})", i > 0 ? "," : "", m.moment,
                          100.0 * std::expm1(m.mean), counted(m.count, "measurement"));
    }
    answer.remarks.push_back(text + ".");
  }
  return answer;
}

}  // namespace arris
