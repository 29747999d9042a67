// SPDX-License-Identifier: MIT
#include "sim/fit/law_draws.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <boost/random/chi_squared_distribution.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>

#include "sim/fit/fit_report.hpp"
#include "sim/fit/wear_numbers.hpp"
#include "sim/statistics/linear_algebra.hpp"

namespace arris {
namespace {

constexpr double proposal_dof = 5.0;

/// What is drawn under a law: u, then logs of the standard deviations that the campaign has.
struct DrawnSpace {
  const LawFit&                 law;
  std::vector<std::string>      names;  ///< of the standard deviations
  std::vector<double Spread::*> spreads;
  Eigen::VectorXd               centre, sd_of_spreads;
  Eigen::MatrixXd               factor;  ///< of the covariance of u

  explicit DrawnSpace(const LawFit& fit) : law(fit), names(spread_names(*fit.model)) {
    const auto P = law.best.u.size(), S = static_cast<Eigen::Index>(names.size());
    centre.resize(P + S);
    centre.head(P) = law.best.u;
    for (Eigen::Index k = 0; k < S; ++k) {
      spreads.push_back(spread_member(names[static_cast<std::size_t>(k)]));
      // a spread that cannot be told from nothing still has a posterior: start where it would be noticed
      centre[P + k] = std::log(std::max(law.best.spread.*spreads.back(), 0.01));
    }
    factor        = Cholesky(law.information.covariance).lower();
    sd_of_spreads = Eigen::VectorXd::Constant(S, 0.2);  // replaced by what the posterior says, below
    set_sd_of_spreads();
  }
  [[nodiscard]] Eigen::Index parameters() const { return law.best.u.size(); }
  [[nodiscard]] Eigen::Index size() const { return centre.size(); }
  [[nodiscard]] Spread       spread_at(const Eigen::VectorXd& x) const {
          Spread out = law.best.spread;
          for (std::size_t k = 0; k < spreads.size(); ++k)
      out.*spreads[k] = std::exp(x[parameters() + static_cast<Eigen::Index>(k)]);
    return out;
  }

 private:
  // by the bend of the posterior density along the log of each
  void set_sd_of_spreads() {
    constexpr double h = 0.2;
    Eigen::MatrixXd  at(size(), 1 + 2 * sd_of_spreads.size());
    at.colwise() = centre;
    for (Eigen::Index k = 0; k < sd_of_spreads.size(); ++k) {
      at(parameters() + k, 1 + 2 * k) += h;
      at(parameters() + k, 2 + 2 * k) -= h;
    }
    std::vector<Spread> at_spreads;
    for (Eigen::Index c = 0; c < at.cols(); ++c) at_spreads.push_back(spread_at(at.col(c)));
    const Eigen::VectorXd density =
        log_marginals(*law.model, at.topRows(parameters()), at_spreads, law.best.effects, true, 1);
    for (Eigen::Index k = 0; k < sd_of_spreads.size(); ++k) {
      const double bend = (2.0 * density[0] - density[1 + 2 * k] - density[2 + 2 * k]) / (h * h);
      sd_of_spreads[k]  = bend > 0.0 ? std::clamp(1.0 / std::sqrt(bend), 0.05, 1.0) : 1.0;
    }
  }
};

/// Columns are draws; `log_density` is that with which they were drawn, but for a constant.
struct Proposals {
  Eigen::MatrixXd x;
  Eigen::VectorXd log_density;
};

Proposals propose(const DrawnSpace& space, Eigen::Index count, bool normal_tails,
                  boost::random::mt19937_64& engine) {
  boost::random::normal_distribution<double>      normal;
  boost::random::chi_squared_distribution<double> chi_squared(proposal_dof);
  const auto                                      d = space.size(), P = space.parameters();
  Proposals                                       out{Eigen::MatrixXd(d, count), Eigen::VectorXd(count)};
  for (Eigen::Index c = 0; c < count; ++c) {
    Eigen::VectorXd z(d);
    for (double& value : z) value = normal(engine);
    if (!normal_tails) z *= std::sqrt(proposal_dof / chi_squared(engine));
    out.log_density[c] =
        -0.5 * (proposal_dof + static_cast<double>(d)) * std::log1p(z.squaredNorm() / proposal_dof);
    out.x.col(c) = space.centre;
    out.x.col(c).head(P) += space.factor * z.head(P);
    out.x.col(c).tail(d - P) += space.sd_of_spreads.cwiseProduct(z.tail(d - P));
  }
  return out;
}

// so many columns, each as often as its weight has it (systematic resampling)
std::vector<Eigen::Index> resampled(const Eigen::VectorXd& log_weight, int wanted) {
  double top = -std::numeric_limits<double>::infinity();
  for (const double value : log_weight) top = std::isfinite(value) ? std::max(top, value) : top;
  // where the histories fail, or numbers leave what a double holds, nothing is drawn
  const Eigen::VectorXd weight = log_weight.unaryExpr(
      [top](double value) { return std::isfinite(value) ? std::exp(value - top) : 0.0; });
  const double              step = weight.sum() / wanted;
  std::vector<Eigen::Index> out;
  double                    sum  = 0.0;
  Eigen::Index              last = 0;
  for (Eigen::Index c = 0; c < weight.size(); ++c) {
    sum += weight[c];
    if (weight[c] > 0.0) last = c;
    while (static_cast<int>(out.size()) < wanted && (static_cast<double>(out.size()) + 0.5) * step <= sum)
      out.push_back(c);
  }
  while (static_cast<int>(out.size()) < wanted) out.push_back(last);  // rounding
  return out;
}

Eigen::MatrixXd draws_under(const DrawnSpace& space, const LawDrawOptions& options, unsigned long long seed) {
  constexpr int             per_draw = 4;
  boost::random::mt19937_64 engine(seed);
  if (options.quick) return propose(space, options.draws, true, engine).x;
  const Proposals     proposals = propose(space, per_draw * options.draws, false, engine);
  std::vector<Spread> spreads;
  for (Eigen::Index c = 0; c < proposals.x.cols(); ++c)
    spreads.push_back(space.spread_at(proposals.x.col(c)));
  const Eigen::VectorXd density = log_marginals(*space.law.model, proposals.x.topRows(space.parameters()),
                                                spreads, space.law.best.effects, true, options.threads);
  return proposals.x(Eigen::all, resampled(density - proposals.log_density, options.draws));
}

FittedLaw fitted_law(const LawFit& law, const LawDrawOptions& options) {
  const CampaignModel&  model = *law.model;
  const DrawnSpace      space(law);
  const Eigen::MatrixXd draws =
      draws_under(space, options, static_cast<unsigned long long>(model.settings().seed));
  FittedLaw out;
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
  for (Eigen::Index c = 0; c < draws.cols(); ++c) {
    for (std::size_t j = 0; j < out.columns.size(); ++j) {
      const double x = draws(static_cast<Eigen::Index>(j), c);
      if (j >= model.parameters().size()) {
        out.values.push_back(std::exp(x));
        continue;
      }
      const FreeParameter& p = model.parameters()[j];
      out.values.push_back(std::clamp(p.value(x), p.low, p.high));
    }
  }
  const auto at_best = with_wear_numbers(model.scenario().model.wear, out.parameters, out.best);
  out.wear_law       = wear_law_text(at_best);
  out.wear_paths     = wear_numbers(at_best).paths;
  out.wear_values    = wear_numbers(at_best).values;
  return out;
}

}  // namespace

std::vector<FittedLaw> draws_of_laws(const LawFits& fits, const LawDrawOptions& options) {
  std::vector<FittedLaw> out;
  for (const LawFit& law : fits.laws) {
    if (law.usable) out.push_back(fitted_law(law, options));
  }
  return out;
}

}  // namespace arris
