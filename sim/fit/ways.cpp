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

constexpr std::string_view way_prefix = "way: ";

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

}  // namespace

std::vector<std::string> ways_in(const CampaignModel& model) {
  std::vector<std::string> out;
  for (const Effect& effect : model.effects()) {
    if (effect.kind == EffectKind::way) out.push_back(effect.name);
  }
  return out;
}

std::string way_column(const std::string& way) { return std::string(way_prefix) + way; }

std::optional<std::string> way_of_column(const std::string& column) {
  if (column.rfind(way_prefix, 0) != 0) return std::nullopt;
  return column.substr(way_prefix.size());
}

Eigen::MatrixXd drawn_ways(const CampaignModel& model, const Eigen::MatrixXd& u,
                           const std::vector<Spread>& spreads, unsigned long long seed, int threads) {
  const auto      ways = static_cast<Eigen::Index>(ways_in(model).size());
  Eigen::MatrixXd out  = Eigen::MatrixXd::Zero(u.cols(), ways);
  if (ways == 0) return out;
  boost::random::mt19937_64                  engine(seed);
  boost::random::normal_distribution<double> normal;
  Eigen::MatrixXd                            z(ways, u.cols());
  for (double& value : z.reshaped()) value = normal(engine);
  const Eigen::MatrixXd  inside = within_ranges(model, u);
  const EffectModes      modes(model);
  constexpr Eigen::Index together = 8;  // histories of so many run side by side
  const auto             tasks    = static_cast<std::size_t>((u.cols() + together - 1) / together);
  for_each_index(tasks, threads, [&](std::size_t task) {
    const auto            first = static_cast<Eigen::Index>(task) * together;
    const Eigen::MatrixXd here  = inside.middleCols(first, std::min(together, u.cols() - first));
    const auto            apex  = model.apexes(here);
    for (Eigen::Index c = 0; c < here.cols(); ++c) {
      const auto& at = apex[static_cast<std::size_t>(c)];
      if (!at.usable) continue;
      const auto shared = modes.effects_of(EffectKind::way, at, spreads[static_cast<std::size_t>(first + c)]);
      out.row(first + c) = (shared.mode + Cholesky(shared.covariance).lower() * z.col(first + c)).transpose();
    }
  });
  return out;
}

std::vector<WayFactor> way_factors(const std::vector<std::string>& columns,
                                   const std::vector<double>&      values) {
  std::vector<WayFactor> out;
  for (std::size_t c = 0; c < columns.size(); ++c) {
    const auto way = way_of_column(columns[c]);
    if (!way) continue;
    std::vector<double> of_way;
    for (std::size_t i = c; i < values.size(); i += columns.size()) of_way.push_back(values[i]);
    std::sort(of_way.begin(), of_way.end());
    if (of_way.empty()) continue;
    out.push_back({*way, quantile_of_sorted(of_way, 0.05), quantile_of_sorted(of_way, 0.5),
                   quantile_of_sorted(of_way, 0.95)});
  }
  return out;
}

}  // namespace arris
