// SPDX-License-Identifier: MIT
#include "sim/fit/law_draws.hpp"

#include <algorithm>
#include <cmath>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>

#include "sim/fit/fit_report.hpp"
#include "sim/fit/marginal.hpp"
#include "sim/fit/ways.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/parallel.hpp"
#include "sim/statistics/importance_sampler.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

/// What is drawn under a law: u, then logs of the standard deviations that the campaign has.
struct DrawnSpace {
  const LawFit&                 law;
  std::vector<std::string>      names;  ///< of the standard deviations
  std::vector<double Spread::*> spreads;
  Eigen::VectorXd               centre;
  Eigen::MatrixXd               covariance;

  explicit DrawnSpace(const LawFit& fit) : law(fit), names(spread_names(*fit.model)) {
    const auto P = law.best.u.size(), S = static_cast<Eigen::Index>(names.size());
    centre.resize(P + S);
    centre.head(P) = law.best.u;
    for (Eigen::Index k = 0; k < S; ++k) {
      spreads.push_back(spread_member(names[static_cast<std::size_t>(k)]));
      // a spread that cannot be told from nothing still has a posterior: start where it would be noticed
      centre[P + k] = std::log(std::max(law.best.spread.*spreads.back(), 0.01));
    }
    covariance                         = Eigen::MatrixXd::Zero(P + S, P + S);
    covariance.topLeftCorner(P, P)     = law.information.covariance;
    covariance.bottomRightCorner(S, S) = law.information.spread_covariance;
  }
  [[nodiscard]] Eigen::Index parameters() const { return law.best.u.size(); }
  [[nodiscard]] Spread       spread_at(const Eigen::VectorXd& x) const {
          Spread out = law.best.spread;
          for (std::size_t k = 0; k < spreads.size(); ++k)
      out.*spreads[k] = std::exp(x[parameters() + static_cast<Eigen::Index>(k)]);
    return out;
  }
};

// normal draws about the optimum
Eigen::MatrixXd quick_draws(const DrawnSpace& space, int draws, unsigned long long seed) {
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  Eigen::MatrixXd                            z(space.centre.size(), draws);
  for (double& value : z.reshaped()) value = normal(engine);
  return (Cholesky(space.covariance).lower() * z).colwise() + space.centre;
}

// columns are draws
Eigen::MatrixXd draws_under(const DrawnSpace& space, const LawDrawOptions& options, unsigned long long seed) {
  if (options.quick) return quick_draws(space, options.draws, seed);
  ImportanceOptions importance;
  importance.wanted_draws = options.draws;
  importance.seed         = seed;
  const auto densities    = [&](const Eigen::MatrixXd& x) {
    std::vector<Spread> spreads;
    for (Eigen::Index c = 0; c < x.cols(); ++c) spreads.push_back(space.spread_at(x.col(c)));
    return log_marginals(*space.law.model, x.topRows(space.parameters()), spreads, space.law.best.effects,
                            true, options.threads);
  };
  const ImportanceDraws made = importance_sample(densities, space.centre, space.covariance, importance);
  if (made.values.rows() == 0) return quick_draws(space, options.draws, seed);
  return made.values.transpose();
}

// what each way and wood does, given draws (columns) of all else
Eigen::MatrixXd effects_under(const DrawnSpace& space, const Eigen::MatrixXd& draws,
                              const LawDrawOptions& options, unsigned long long seed) {
  std::vector<Spread> spreads;
  for (Eigen::Index c = 0; c < draws.cols(); ++c) spreads.push_back(space.spread_at(draws.col(c)));
  return drawn_effects(*space.law.model, draws.topRows(space.parameters()), spreads, space.law.best.effects,
                       seed, options.threads);
}

FittedLaw fitted_law(const LawFit& law, const LawDrawOptions& options) {
  const CampaignModel&  model = *law.model;
  const DrawnSpace      space(law);
  const auto            seed    = static_cast<unsigned long long>(model.settings().seed);
  const Eigen::MatrixXd draws   = draws_under(space, options, seed);
  const Eigen::MatrixXd effects = effects_under(space, draws, options, seed + 1);
  FittedLaw             out;
  out.name      = law.name;
  out.weight    = law.weight;
  out.ruled_out = law.ruled_out;
  out.spread    = law.best.spread;
  for (std::size_t j = 0; j < model.parameters().size(); ++j) {
    const FreeParameter& p = model.parameters()[j];
    out.parameters.push_back(p.path);
    out.best.push_back(p.value(law.best.u[static_cast<Eigen::Index>(j)]));
  }
  out.columns = out.parameters;
  out.columns.insert(out.columns.end(), space.names.begin(), space.names.end());
  const std::size_t drawn = out.columns.size();
  for (const Effect& effect : drawn_in(model)) out.columns.push_back(effect_column(effect));
  for (Eigen::Index c = 0; c < draws.cols(); ++c) {
    for (std::size_t j = 0; j < drawn; ++j) {
      const double x = draws(static_cast<Eigen::Index>(j), c);
      if (j >= model.parameters().size()) {
        out.values.push_back(std::exp(x));
        continue;
      }
      const FreeParameter& p = model.parameters()[j];
      out.values.push_back(std::clamp(p.value(x), p.low, p.high));
    }
    for (const double log_factor : effects.row(c)) out.values.push_back(std::exp(log_factor));
  }
  const auto at_best = with_wear_numbers(model.scenario().model.wear, out.parameters, out.best);
  out.wear_law       = wear_law_text(at_best);
  out.wear_paths     = wear_numbers(at_best).paths;
  out.wear_values    = wear_numbers(at_best).values;
  out.discrepancy    = discrepancy_of(model, law.best, law.information);
  return out;
}

}  // namespace

std::vector<FittedLaw> draws_of_laws(const LawFits& fits, const LawDrawOptions& options) {
  constexpr int              fewest = 200;
  std::vector<const LawFit*> usable;
  for (const LawFit& law : fits.laws) {
    if (law.usable) usable.push_back(&law);
  }
  std::vector<FittedLaw> out(usable.size());
  for_each_index(usable.size(), options.threads, [&](std::size_t i) {
    // members of an ensemble have a law as its weight has it: more draws of it would never be taken
    LawDrawOptions here = options;
    here.draws          = std::clamp(static_cast<int>(std::ceil(1.25 * usable[i]->weight * options.draws)),
                                     std::min(fewest, options.draws), options.draws);
    out[i]              = fitted_law(*usable[i], here);
  });
  return out;
}

}  // namespace arris
