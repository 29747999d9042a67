// SPDX-License-Identifier: MIT
#include "sim/fit/way_misses.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <boost/random/uniform_01.hpp>
#include <fmt/format.h>

#include "sim/fit/edge_moments.hpp"
#include "sim/statistics/quantiles.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double prior_scale_of_ways = 0.15, prior_dof_of_ways = 4.0;
constexpr double least_within = 0.2;  // few edges of a way may agree by chance

bool is_on_stone(const Step& step) {
  return std::holds_alternative<HoneStep>(step) || std::holds_alternative<BackStep>(step);
}

/// A mean of so many edges.
struct MeanOfEdges {
  double sum = 0.0, squares = 0.0;
  int    edges = 0;
  void   add(double value) {
      sum += value;
      squares += value * value;
      ++edges;
  }
  [[nodiscard]] double mean() const { return sum / edges; }
  [[nodiscard]] double about_mean() const { return squares - sum * sum / edges; }
};

/// Weights of τ on a grid of its logarithm.
struct WaySpread {
  std::vector<double>  tau, cumulated;
  [[nodiscard]] double at(double share) const {
    const auto found = std::lower_bound(cumulated.begin(), cumulated.end() - 1, share * cumulated.back());
    return tau[static_cast<std::size_t>(found - cumulated.begin())];
  }
};

WaySpread spread_of_ways(const WayMisses& known) {
  WaySpread           out;
  std::vector<double> logs;
  for (double tau = 0.0025; tau < 4.0; tau *= std::pow(2.0, 0.25)) {
    double log_weight =
        std::log(tau) - 0.5 * (prior_dof_of_ways + 1.0) *
                            std::log1p(std::pow(tau / prior_scale_of_ways, 2) / prior_dof_of_ways);
    for (std::size_t k = 0; k < known.ways.size(); ++k) {
      const double v = known.variance[k] + tau * tau;
      log_weight -= 0.5 * (std::log(v) + known.miss[k] * known.miss[k] / v);
    }
    out.tau.push_back(tau);
    logs.push_back(log_weight);
  }
  const double most = *std::max_element(logs.begin(), logs.end());
  double       sum  = 0.0;
  for (const double log_weight : logs) out.cumulated.push_back(sum += std::exp(log_weight - most));
  return out;
}

}  // namespace

std::string way_at(const EdgePlan& plan, const Moment& moment) {
  const auto               of_route = static_cast<std::size_t>(std::max(0, plan.route_steps));
  const auto               done     = std::min(plan.steps.size(), static_cast<std::size_t>(moment.step) + 1);
  std::vector<std::string> parts;
  if (!plan.route.empty() && of_route > 0 && done >= of_route) parts.push_back(plan.route);
  const std::size_t first = parts.empty() ? 0 : of_route;
  for (std::size_t i = first; i < done; ++i) {
    const Step& step = plan.steps[i];
    if (is_on_stone(step) && (parts.empty() || parts.back() != subject_of(step)))
      parts.push_back(subject_of(step));
    if (const auto* strop = std::get_if<StropStep>(&step)) {
      parts.push_back(fmt::format("{}{}, {} laps", strop->strop,
                                  strop->compound.empty() ? "" : ", " + strop->compound, plain(strop->laps)));
    }
  }
  std::string out;
  for (const std::string& part : parts) out += (out.empty() ? "" : " + ") + part;
  return out.empty() ? "as they came" : out;
}

WayMisses way_misses_of(const CampaignModel& model, const FitPoint& point, const Information& information) {
  // of each edge: its mean while it is of a way, and over all
  std::map<std::pair<int, std::string>, MeanOfEdges> by_edge_and_way;
  std::map<int, MeanOfEdges>                         by_edge;
  std::map<int, std::string>                         last_way;
  std::vector<std::string>                           order;
  for (const EdgeMoment& m : edge_moments(model, point, information)) {
    const EdgePlan&   plan = model.scenario().edges[static_cast<std::size_t>(m.edge)];
    const std::string way =
        way_at(plan, model.moments()[static_cast<std::size_t>(m.edge)][static_cast<std::size_t>(m.moment)]);
    if (std::find(order.begin(), order.end(), way) == order.end()) order.push_back(way);
    by_edge_and_way[{m.edge, way}].add(m.of_mean);
    by_edge[m.edge].add(m.of_mean);
    last_way[m.edge] = way;
  }
  std::map<std::string, MeanOfEdges> by_way, whole_edges;
  MeanOfEdges                        all;
  for (const auto& [key, mean] : by_edge_and_way) by_way[key.second].add(mean.mean());
  for (const auto& [edge, mean] : by_edge) {
    whole_edges[last_way[edge]].add(mean.mean());
    all.add(mean.mean());
  }
  double within = 0.0, df = 0.0, of_edges = 0.0;
  for (const auto& [way, mean] : by_way) {
    within += mean.about_mean();
    df += mean.edges - 1.0;
  }
  double df_of_edges = 0.0;
  for (const auto& [way, mean] : whole_edges) {
    of_edges += mean.about_mean();
    df_of_edges += mean.edges - 1.0;
  }
  WayMisses out;
  if (order.size() < 2 || !(df > 2.0) || !(within > 0.0)) return out;
  for (const std::string& way : order) {
    out.ways.push_back(way);
    out.miss.push_back(by_way.at(way).mean());
    out.variance.push_back(within / df / by_way.at(way).edges);
  }
  if (whole_edges.size() > 1 && df_of_edges > 2.0)
    out.within = std::clamp(std::sqrt(of_edges / df_of_edges / (all.squares / all.edges)), least_within, 1.0);
  return out;
}

Eigen::VectorXd drawn_way_miss(const WayMisses& known, const std::string& way, std::size_t count,
                               unsigned long long seed) {
  Eigen::VectorXd out = Eigen::VectorXd::Zero(static_cast<Eigen::Index>(count));
  if (!known.is_known()) return out;
  const WaySpread                            spread = spread_of_ways(known);
  const auto                                 found  = std::find(known.ways.begin(), known.ways.end(), way);
  const auto                                 k      = static_cast<std::size_t>(found - known.ways.begin());
  boost::random::mt19937_64                  of_spread(seed), of_way(seed + 1 + k);
  boost::random::uniform_01<double>          uniform;
  boost::random::normal_distribution<double> normal;
  for (double& mu : out) {
    const double tau = spread.at(uniform(of_spread)), z = normal(of_way);
    const double share = k < known.ways.size() ? tau * tau / (tau * tau + known.variance[k]) : 0.0;
    mu = k < known.ways.size() ? share * known.miss[k] + std::sqrt(share * known.variance[k]) * z : tau * z;
  }
  return out;
}

std::vector<WayFactor> way_factors(const WayMisses& known) {
  constexpr std::size_t        draws = 4000;
  constexpr unsigned long long seed  = 1;
  std::vector<WayFactor>       out;
  for (const std::string& way : known.ways) {
    const Eigen::VectorXd drawn = drawn_way_miss(known, way, draws, seed);
    std::vector<double>   values(drawn.begin(), drawn.end());
    std::sort(values.begin(), values.end());
    out.push_back({way, std::exp(quantile_of_sorted(values, 0.05)), std::exp(quantile_of_sorted(values, 0.5)),
                   std::exp(quantile_of_sorted(values, 0.95))});
  }
  return out;
}

}  // namespace arris
