// SPDX-License-Identifier: MIT
#include "sim/studies/weigh.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <Eigen/Cholesky>

#include "sim/diagnostic.hpp"

namespace arris {
namespace {

bool set_law(Model<double>& model, const std::string& name) {
  return [&]<class... Law>(std::variant<Law...>*) {
    bool found = false;
    // a law that the configuration already states keeps the numbers stated for it
    ((Law::law_name == name
          ? (found = true, std::holds_alternative<Law>(model.wear) ? void() : void(model.wear = Law{}))
          : void()),
     ...);
    return found;
  }(static_cast<laws::WearLaw<double>*>(nullptr));
}

std::vector<FreeParameter> parameters_for(const Model<double>& model, const FitSettings& settings) {
  std::vector<FreeParameter> out;
  for (const std::string& path : settings.free) {
    if (path.rfind("wear.", 0) != 0) out.push_back(free_parameter(model, path, settings.priors));
  }
  for (const std::string& path : fittable_parameters(model)) {
    if (path.rfind("wear.", 0) == 0) out.push_back(free_parameter(model, path));
  }
  return out;
}

double log_normal_density(const Eigen::VectorXd& r, const Eigen::MatrixXd& covariance) {
  const Eigen::LLT<Eigen::MatrixXd> factor(covariance);
  const double                      log_det = 2.0 * factor.matrixLLT().diagonal().array().log().sum();
  return -0.5 * (r.dot(factor.solve(r)) + log_det + static_cast<double>(r.size()) * std::log(2.0 * M_PI));
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

std::vector<std::string> wear_law_names() {
  return []<class... Law>(std::variant<Law...>*) {
    return std::vector<std::string>{std::string(Law::law_name)...};
  }(static_cast<laws::WearLaw<double>*>(nullptr));
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
    if (!set_law(rival.model, name)) {
      std::string known;
      for (const std::string& n : wear_law_names()) known += (known.empty() ? "" : ", ") + n;
      throw Error(Exit::usage,
                  {.code = "unknown-law", .what = "there is no wear law \"" + name + "\"", .allowed = known});
    }
    const auto          parameters = parameters_for(rival.model, settings);
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

}  // namespace arris
