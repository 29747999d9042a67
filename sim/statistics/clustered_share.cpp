// SPDX-License-Identifier: MIT
#include "sim/statistics/clustered_share.hpp"

#include <algorithm>
#include <cmath>

#include "sim/numbers.hpp"
#include "sim/statistics/distributions.hpp"

namespace arris {
namespace {

/// Sums over the clusters that have members.
struct ClusterSums {
  double clusters = 0.0, hits = 0.0, members = 0.0;
};

// n*, before it is bounded; 0 where the clusters do not differ
double effective_number(const std::vector<Cluster>& clusters, const ClusterSums& sums, double tail) {
  if (sums.clusters < 2.0) return 0.0;
  const double p       = sums.hits / sums.members;
  double       squares = 0.0;
  for (const Cluster& c : clusters) squares += std::pow(c.hits - p * c.members, 2);
  const double v = sums.clusters / (sums.clusters - 1.0) * squares / (sums.members * sums.members);
  // what rounding leaves of equal shares
  if (!(v > 1e-12 * p * (1.0 - p))) return 0.0;
  const double t = t_quantile_above(tail, sums.members - 1.0) / t_quantile_above(tail, sums.clusters - 1.0);
  return p * (1.0 - p) / v * t * t;
}

}  // namespace

ClusteredShare clustered_share(const std::vector<Cluster>& clusters, double level) {
  ClusterSums sums;
  for (const Cluster& c : clusters) {
    if (!(c.members > 0.0)) continue;
    sums.clusters += 1.0;
    sums.hits += c.hits;
    sums.members += c.members;
  }
  if (!(sums.members > 0.0)) return {not_given, not_given, not_given, 0.0};
  const double   tail = 0.5 * (1.0 - level), found = effective_number(clusters, sums, tail);
  ClusteredShare out;
  out.share         = sums.hits / sums.members;
  out.effective     = found > 0.0 ? std::min(found, sums.members) : sums.clusters;
  const double hits = out.share * out.effective, rest = out.effective - hits;
  if (hits > 0.0) out.low = beta_quantile(tail, hits, rest + 1.0);
  if (rest > 0.0) out.high = beta_quantile(1.0 - tail, hits + 1.0, rest);
  return out;
}

}  // namespace arris
