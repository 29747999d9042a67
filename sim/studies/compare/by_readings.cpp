// SPDX-License-Identifier: MIT
#include "sim/studies/compare/by_readings.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "sim/statistics/distributions.hpp"
#include "sim/studies/readings/read_campaign.hpp"

namespace arris {
namespace {

/// Edges of a way, read ready for work.
struct ReadyEdges {
  double                mean  = 0.0;  ///< of the logs of their means
  double                count = 0.0;
  std::set<std::string> tools;
};

ReadyEdges ready_edges(const Scenario& scenario, const ReadCampaign& read, const Way& way) {
  ReadyEdges out;
  for (const ReadMoment& m : read.cells) {
    if (m.moment != read.ready || std::isnan(m.mean_gf)) continue;
    if (std::find(way.edges.begin(), way.edges.end(), m.edge) == way.edges.end()) continue;
    out.mean += std::log(m.mean_gf);
    out.count += 1.0;
    for (const EdgePlan& plan : scenario.edges) {
      if (plan.name == m.edge) out.tools.insert(plan.tool_name);
    }
  }
  if (out.count > 0.0) out.mean /= out.count;
  return out;
}

}  // namespace

double held_to(double share, double allowed) {
  return share > 0.5 ? std::min(share, std::max(allowed, 0.5)) : std::max(share, std::min(allowed, 0.5));
}

double ReadPair::within(double wide) const { return t_above((-wide - apart) / se, dof) - above(wide); }
double ReadPair::above(double wide) const { return t_above((wide - apart) / se, dof); }

std::optional<ReadPair> read_pair(const Scenario& scenario, const ReadCampaign& read, const Way& first,
                                  const Way& second) {
  if (read.ready.empty() || !(read.edge_dof > 0.0)) return std::nullopt;
  const ReadyEdges a = ready_edges(scenario, read, first), b = ready_edges(scenario, read, second);
  if (a.count == 0.0 || b.count == 0.0 || a.tools.size() != 1 || a.tools != b.tools) return std::nullopt;
  return ReadPair{a.mean - b.mean, read.edge_sd * std::sqrt(1.0 / a.count + 1.0 / b.count), read.edge_dof};
}

void hold_to_readings(const Scenario& scenario, const std::vector<Reading>& readings, double margin,
                      std::vector<Way>& ways) {
  if (readings.empty()) return;
  const ReadCampaign read = read_campaign(scenario, readings, nullptr, 1);
  for (Way& way : ways) {
    const ReadyEdges own = ready_edges(scenario, read, way);
    if (own.count > 0.0 && own.tools == std::set<std::string>{way.plan.tool_name})
      way.read_gf = std::exp(own.mean);
    if (&way == &ways.front() || std::isnan(way.below_reference)) continue;
    const auto pair = read_pair(scenario, read, way, ways.front());
    if (!pair) continue;
    way.read_below      = 1.0 - pair->above(0.0);
    way.below_reference = held_to(way.below_reference, way.read_below);
    way.equivalent      = std::min(way.equivalent, pair->within(std::log1p(margin)));
  }
}

}  // namespace arris
