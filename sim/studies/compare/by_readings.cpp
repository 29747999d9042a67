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

// no farther from "as likely as not" than `allowed`, and not beyond it on the other side
double held_to(double share, double allowed) {
  return share > 0.5 ? std::min(share, std::max(allowed, 0.5)) : std::max(share, std::min(allowed, 0.5));
}

}  // namespace

void hold_to_readings(const Scenario& scenario, const std::vector<Reading>& readings, double margin,
                      std::vector<Way>& ways) {
  if (readings.empty()) return;
  const ReadCampaign read = read_campaign(scenario, readings, nullptr, 1);
  if (read.ready.empty() || !(read.edge_dof > 0.0)) return;
  const ReadyEdges first = ready_edges(scenario, read, ways.front());
  for (Way& way : ways) {
    if (&way == &ways.front() || std::isnan(way.below_reference)) continue;
    const ReadyEdges own = ready_edges(scenario, read, way);
    if (own.count == 0.0 || first.count == 0.0 || own.tools.size() != 1 || own.tools != first.tools) continue;
    const double se     = read.edge_sd * std::sqrt(1.0 / own.count + 1.0 / first.count);
    const double apart  = own.mean - first.mean;
    const double wide   = std::log1p(margin);
    way.read_below      = t_above(apart / se, read.edge_dof);
    way.below_reference = held_to(way.below_reference, way.read_below);
    // the share of |difference| ≤ margin
    const double within =
        t_above((-wide - apart) / se, read.edge_dof) - t_above((wide - apart) / se, read.edge_dof);
    way.equivalent = std::min(way.equivalent, within);
  }
}

}  // namespace arris
