// SPDX-License-Identifier: MIT
#include "sim/fit/normal_ensemble.hpp"

#include <algorithm>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/statistics/linear_algebra.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

// drawn apart from the parameters: normal in the logs, about the best ones
std::vector<Spread> drawn_spreads(const CampaignModel& model, const FitResult& result, int members,
                                  unsigned long long seed) {
  const std::vector<double Spread::*> sought = spreads_in(model);
  const auto                          S      = static_cast<Eigen::Index>(sought.size());
  const Eigen::MatrixXd               factor = Cholesky(result.information.spread_covariance).lower();
  std::vector<Spread>                 out(static_cast<std::size_t>(members), typical_spread(model, result));
  boost::random::mt19937_64           engine(seed + 1);
  boost::random::normal_distribution<double> normal;
  for (Spread& spread : out) {
    Eigen::VectorXd z(S);
    for (double& x : z) x = normal(engine);
    const Eigen::VectorXd by = factor * z;
    for (Eigen::Index s = 0; s < S; ++s) spread.*sought[static_cast<std::size_t>(s)] *= std::exp(by[s]);
  }
  return out;
}

// whether the readings tell how edges differ, rather than the prior of that
bool is_scatter_told(const FitResult& result) {
  constexpr double mostly = 0.5;
  return std::none_of(result.effect_tests.begin(), result.effect_tests.end(), [](const EffectTest& test) {
    return test.kind == EffectKind::edge && test.from_readings < mostly;
  });
}

}  // namespace

Spread typical_spread(const CampaignModel& model, const FitResult& result) {
  Spread out = stated_spread(model);
  for (double Spread::*member : spreads_in(model)) out.*member = result.best.spread.*member;
  return out;
}

Ensemble normal_ensemble(const CampaignModel& model, const FitResult& result, int members,
                         unsigned long long seed, int threads) {
  Ensemble   out;
  const auto P = result.best.u.size();
  for (Eigen::Index j = 0; j < P; ++j) {
    const FreeParameter& p = model.parameters()[static_cast<std::size_t>(j)];
    out.paths.push_back(p.path);
    out.best.push_back(p.value(result.best.u[j]));
  }
  out.values.resize(members, P);
  Eigen::MatrixXd scaled(members, P);
  out.spreads                                       = drawn_spreads(model, result, members, seed);
  const Eigen::MatrixXd                      factor = Cholesky(result.information.covariance).lower();
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  for (Eigen::Index i = 0; i < members; ++i) {
    Eigen::VectorXd z(P);
    for (Eigen::Index j = 0; j < P; ++j) z[j] = normal(engine);
    scaled.row(i) = (result.best.u + factor * z).transpose();
    for (Eigen::Index j = 0; j < P; ++j) {
      const FreeParameter& p = model.parameters()[static_cast<std::size_t>(j)];
      out.values(i, j)       = std::clamp(p.value(scaled(i, j)), p.low, p.high);
    }
  }
  out.effects = drawn_in(model);
  out.effect_logs =
      drawn_effects(model, scaled.transpose(), out.spreads, result.best.effects, seed + 2, threads);
  out.effect_best = Eigen::VectorXd::Zero(std::ssize(out.effects));
  for (std::size_t j = 0; j < model.effects().size(); ++j) {
    for (std::size_t k = 0; k < out.effects.size(); ++k) {
      if (out.effects[k].kind == model.effects()[j].kind && out.effects[k].name == model.effects()[j].name)
        out.effect_best[static_cast<Eigen::Index>(k)] = result.best.effects[static_cast<Eigen::Index>(j)];
    }
  }
  out.edges    = model.edges_with_readings();
  out.readings = static_cast<int>(model.size());
  out.rests_on = fmt::format("Rests on a fit of {} to {} of {}, and on {}.", counted(P, "parameter"),
                             counted(out.readings, "measurement"), counted(out.edges, "edge"),
                             is_scatter_told(result)
                                 ? "the scatter found there"
                                 : "a scatter of edges that is mostly assumed, as too few were read");
  return out;
}

}  // namespace arris
