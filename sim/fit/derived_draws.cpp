// SPDX-License-Identifier: MIT
#include "sim/fit/derived_draws.hpp"

#include <algorithm>
#include <cmath>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>

#include "sim/fit/fit_report.hpp"
#include "sim/fit/ways.hpp"

namespace arris {
namespace {

bool any_of_kind(const std::vector<std::string>& columns, EffectKind kind) {
  return std::any_of(columns.begin(), columns.end(), [&](const std::string& column) {
    const auto effect = effect_of_column(column);
    return effect && effect->kind == kind;
  });
}

Eigen::VectorXd spread_at_draws(const DrawsOfFit& draws, EffectKind kind) {
  for (std::size_t c = 0; c < draws.columns.size(); ++c) {
    if (spread_member(draws.columns[c]) == spread_of(kind))
      return draws.rows.col(static_cast<Eigen::Index>(c));
  }
  return Eigen::VectorXd::Constant(draws.rows.rows(), draws.spread.of(kind));
}

// the log of an effect at each draw
Eigen::VectorXd logs_of(const DrawsOfFit& draws, const Effect& effect, unsigned long long seed) {
  const auto known = std::find(draws.columns.begin(), draws.columns.end(), effect_column(effect));
  if (known != draws.columns.end()) return draws.rows.col(known - draws.columns.begin()).array().log();
  Eigen::VectorXd out = Eigen::VectorXd::Zero(draws.rows.rows());
  if (!any_of_kind(draws.columns, effect.kind)) return out;
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  const Eigen::VectorXd                      spread = spread_at_draws(draws, effect.kind);
  for (Eigen::Index i = 0; i < out.size(); ++i) out[i] = spread[i] * normal(engine);
  return out;
}

}  // namespace

std::vector<Effect> effects_in_history(const DerivedQuantity& quantity) {
  std::vector<Effect> out{{EffectKind::way, quantity.way}};
  if (!quantity.is_worn) return out;
  out.push_back({EffectKind::way_wear, quantity.way});
  if (!quantity.wood.empty()) out.push_back({EffectKind::wood, quantity.wood});
  return out;
}

std::vector<double> at_draws(DerivedModel& derived, const DerivedQuantity& quantity,
                             const DrawsOfFit& draws) {
  std::vector<ApexLuck> luck(static_cast<std::size_t>(draws.rows.rows()));
  unsigned long long    seed = draws.seed;
  for (const Effect& effect : effects_in_history(quantity)) {
    const Eigen::VectorXd logs = logs_of(draws, effect, seed++);
    for (std::size_t i = 0; i < luck.size(); ++i)
      (effect.kind == EffectKind::way ? luck[i].apex : luck[i].growth) += logs[static_cast<Eigen::Index>(i)];
  }
  std::vector<double> values = derived.values(draws.u, luck);
  if (quantity.kind != DerivedKind::reading) return values;
  const auto level = std::find(draws.columns.begin(), draws.columns.end(), effect_column(level_of_readings));
  if (level == draws.columns.end()) return values;
  for (std::size_t i = 0; i < values.size(); ++i)
    values[i] *= draws.rows(static_cast<Eigen::Index>(i), level - draws.columns.begin());
  return values;
}

}  // namespace arris
