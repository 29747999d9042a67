// SPDX-License-Identifier: MIT
#include "sim/fit/ways.hpp"

#include <algorithm>
#include <cmath>
#include <string_view>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>

#include "sim/fit/effect_modes.hpp"
#include "sim/parallel.hpp"
#include "sim/statistics/linear_algebra.hpp"
#include "sim/statistics/quantiles.hpp"

namespace arris {
namespace {

std::string_view prefix_of(EffectKind kind) {
  switch (kind) {
    case EffectKind::way:
      return "way: ";
    case EffectKind::way_wear:
      return "wear after: ";
    case EffectKind::wood:
      return "wear in: ";
    default:
      return "reading: ";
  }
}

bool has_level(const CampaignModel& model) {
  return std::any_of(kinds_on_force.begin(), kinds_on_force.end(),
                     [&](EffectKind kind) { return model.members(kind) > 1; });
}

// what lies beyond the range of its parameter is put at the end of it, as in the answers
Eigen::MatrixXd within_ranges(const CampaignModel& model, Eigen::MatrixXd u) {
  for (Eigen::Index j = 0; j < u.rows(); ++j) {
    const FreeParameter& p = model.parameters()[static_cast<std::size_t>(j)];
    for (double& x : u.row(j)) {
      const double value = p.value(x);
      if (value < p.low || value > p.high)
        x = p.scaled(std::clamp(value, p.low, p.high)) * (1.0 - 1e-12);  // not outside it by a rounding
    }
  }
  return u;
}

// where draws begin that differ from the one before, and the end
std::vector<Eigen::Index> firsts_of_equal(const Eigen::MatrixXd& u, const std::vector<Spread>& spreads) {
  std::vector<Eigen::Index> out;
  for (Eigen::Index c = 0; c < u.cols(); ++c) {
    const auto at = static_cast<std::size_t>(c);
    if (c == 0 || u.col(c) != u.col(c - 1) || !(spreads[at] == spreads[at - 1])) out.push_back(c);
  }
  out.push_back(u.cols());
  return out;
}

}  // namespace

double level_sd_of(const CampaignModel& model, const Spread& spread) {
  double variance = 0.0;
  for (const EffectKind kind : kinds_on_force) {
    const int count = model.members(kind);
    if (count > 1) variance += spread.of(kind) * spread.of(kind) / count;
  }
  return std::sqrt(variance);
}

const Effect level_of_readings{EffectKind::person, "those who read"};

std::vector<Effect> drawn_in(const CampaignModel& model) {
  std::vector<Effect> out;
  for (const Effect& effect : model.effects()) {
    if (std::find(kinds_drawn.begin(), kinds_drawn.end(), effect.kind) != kinds_drawn.end())
      out.push_back(effect);
  }
  if (has_level(model)) out.push_back(level_of_readings);
  return out;
}

std::string effect_column(const Effect& effect) { return std::string(prefix_of(effect.kind)) + effect.name; }

std::optional<Effect> effect_of_column(const std::string& column) {
  for (const EffectKind kind : kinds_drawn) {
    const std::string_view prefix = prefix_of(kind);
    if (column.rfind(prefix, 0) == 0) return Effect{kind, column.substr(prefix.size())};
  }
  if (column == effect_column(level_of_readings)) return level_of_readings;
  return std::nullopt;
}

Eigen::MatrixXd drawn_effects(const CampaignModel& model, const Eigen::MatrixXd& u,
                              const std::vector<Spread>& spreads, const Eigen::VectorXd& effects,
                              unsigned long long seed, int threads) {
  const auto      all   = static_cast<Eigen::Index>(drawn_in(model).size());
  const auto      named = has_level(model) ? all - 1 : all;
  Eigen::MatrixXd out   = Eigen::MatrixXd::Zero(u.cols(), all);
  if (all == 0) return out;
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  Eigen::MatrixXd                            z(named, u.cols());
  for (double& value : z.reshaped()) value = normal(engine);
  for (Eigen::Index c = 0; c < u.cols() && named < all; ++c)
    out(c, named) = level_sd_of(model, spreads[static_cast<std::size_t>(c)]) * normal(engine);
  if (named == 0) return out;
  const Eigen::MatrixXd           inside = within_ranges(model, u);
  const std::vector<Eigen::Index> firsts = firsts_of_equal(inside, spreads);
  const EffectModes               modes(model);
  constexpr std::size_t           together  = 8;                  // histories of so many run side by side
  const std::size_t               different = firsts.size() - 1;  // the end stands behind them
  for_each_index((different + together - 1) / together, threads, [&](std::size_t task) {
    const std::size_t first = task * together, end = std::min(different, first + together);
    const auto        apex = model.apexes(
               inside(Eigen::all, std::vector<Eigen::Index>(firsts.begin() + static_cast<std::ptrdiff_t>(first),
                                                     firsts.begin() + static_cast<std::ptrdiff_t>(end))));
    for (std::size_t d = first; d < end; ++d) {
      if (!apex[d - first].usable) continue;
      const auto            shared = modes.effects_of(kinds_drawn, apex[d - first],
                                                      spreads[static_cast<std::size_t>(firsts[d])], effects);
      const Eigen::MatrixXd lower  = Cholesky(shared.covariance).lower();
      for (Eigen::Index c = firsts[d]; c < firsts[d + 1]; ++c)
        out.row(c).head(named) = (shared.mode + lower * z.col(c)).transpose();
    }
  });
  return out;
}

std::vector<EffectFactor> effect_factors(const std::vector<std::string>& columns,
                                         const std::vector<double>&      values) {
  std::vector<EffectFactor> out;
  for (std::size_t c = 0; c < columns.size(); ++c) {
    const auto effect = effect_of_column(columns[c]);
    if (!effect) continue;
    std::vector<double> factors;
    for (std::size_t i = c; i < values.size(); i += columns.size()) factors.push_back(values[i]);
    std::sort(factors.begin(), factors.end());
    if (factors.empty()) continue;
    out.push_back({*effect, quantile_of_sorted(factors, 0.05), quantile_of_sorted(factors, 0.5),
                   quantile_of_sorted(factors, 0.95)});
  }
  return out;
}

}  // namespace arris
