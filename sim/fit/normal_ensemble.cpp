// SPDX-License-Identifier: MIT
#include "sim/fit/normal_ensemble.hpp"

#include <algorithm>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <fmt/format.h>

#include "sim/statistics/linear_algebra.hpp"
#include "sim/wording.hpp"

namespace arris {
Ensemble normal_ensemble(const CampaignModel& model, const FitResult& result, int members,
                         unsigned long long seed) {
  const Spread stated   = single_member(model.scenario()).spreads.front();
  Spread       spread   = result.best.spread;
  const auto   measured = [&](EffectKind kind) {
    return std::any_of(model.effects().begin(), model.effects().end(),
                         [&](const Effect& e) { return e.kind == kind; });
  };
  if (!measured(EffectKind::edge)) spread.edge = stated.edge;
  if (!measured(EffectKind::person)) spread.person = stated.person;
  if (!measured(EffectKind::lot)) spread.lot = stated.lot;

  Ensemble   out;
  const auto P = result.best.u.size();
  for (Eigen::Index j = 0; j < P; ++j) {
    const FreeParameter& p = model.parameters()[static_cast<std::size_t>(j)];
    out.paths.push_back(p.path);
    out.best.push_back(p.value(result.best.u[j]));
  }
  out.values.resize(members, P);
  out.spreads.assign(static_cast<std::size_t>(members), spread);
  const Eigen::MatrixXd                      factor = Cholesky(result.information.covariance).lower();
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  for (Eigen::Index i = 0; i < members; ++i) {
    Eigen::VectorXd z(P);
    for (Eigen::Index j = 0; j < P; ++j) z[j] = normal(engine);
    const Eigen::VectorXd u = result.best.u + factor * z;
    for (Eigen::Index j = 0; j < P; ++j) {
      const FreeParameter& p = model.parameters()[static_cast<std::size_t>(j)];
      out.values(i, j)       = std::clamp(p.value(u[j]), p.low, p.high);
    }
  }
  out.edges    = model.edges_with_readings();
  out.readings = static_cast<int>(model.size());
  out.rests_on =
      fmt::format("Rests on a fit of {} to {} of {}, and on the scatter found there.",
                  counted(P, "parameter"), counted(out.readings, "measurement"), counted(out.edges, "edge"));
  return out;
}

}  // namespace arris
