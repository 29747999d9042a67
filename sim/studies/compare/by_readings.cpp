// SPDX-License-Identifier: MIT
#include "sim/studies/compare/by_readings.hpp"

#include <algorithm>
#include <cmath>

#include "sim/statistics/distributions.hpp"
#include "sim/statistics/quantiles.hpp"
#include "sim/studies/confounded_with.hpp"

namespace arris {
namespace {

const std::string& tool_of(const Scenario& scenario, const std::string& edge) {
  return std::find_if(scenario.edges.begin(), scenario.edges.end(),
                      [&](const EdgePlan& plan) { return plan.name == edge; })
      ->tool_name;
}

// standard deviation of the logs between edges, of the middle member
double edge_spread_of(const Ensemble& ensemble) {
  std::vector<double> spreads;
  for (const Spread& spread : ensemble.spreads) spreads.push_back(spread.edge);
  return quantile(std::move(spreads), 0.5);
}

}  // namespace

double held_to(double share, double allowed) {
  return share > 0.5 ? std::min(share, std::max(allowed, 0.5)) : std::max(share, std::min(allowed, 0.5));
}

double ReadPair::within(double wide) const { return t_above((-wide - apart) / se, dof) - above(wide); }
double ReadPair::above(double wide) const { return t_above((wide - apart) / se, dof); }

ReadyReadings::ReadyReadings(const Scenario& scenario, const std::vector<Reading>& readings,
                             const Ensemble& ensemble, double margin)
    : scenario_(scenario), readings_(readings), is_fitted_(ensemble.is_fitted()), margin_(margin) {
  if (!readings.empty()) {
    read_    = read_campaign(scenario, readings, nullptr, 1);
    edge_sd_ = read_.edge_sd;
    dof_     = read_.edge_dof;
  }
  if (!(dof_ > 0.0)) {
    edge_sd_ = edge_spread_of(ensemble);
    dof_     = std::max(1, ensemble.edges - 1);  // from one edge next to nothing is known of how edges differ
  }
}

ReadyReadings::Edges ReadyReadings::edges_of(const Way& way) const {
  Edges out;
  for (const ReadMoment& m : read_.cells) {
    if (!m.ready) continue;
    if (std::find(way.edges.begin(), way.edges.end(), m.edge) == way.edges.end()) continue;
    if (tool_of(scenario_, m.edge) != way.plan.tool_name) continue;
    out.mean += std::log(m.mean_gf);
    out.names.push_back(m.edge);
  }
  if (!out.names.empty()) out.mean /= static_cast<double>(out.names.size());
  return out;
}

bool ReadyReadings::was_ready(const Reading& r) const {
  const std::string& edge = scenario_.edges[static_cast<std::size_t>(r.edge)].name;
  return std::any_of(read_.cells.begin(), read_.cells.end(), [&](const ReadMoment& m) {
    return m.ready && m.edge == edge && m.moment == r.moment_name;
  });
}

double ReadyReadings::read_gf(const Way& way) const {
  const Edges own = edges_of(way);
  return own.names.empty() ? not_given : std::exp(own.mean);
}

std::optional<ReadPair> ReadyReadings::pair_of(double apart, std::size_t first, std::size_t second) const {
  if (!(dof_ > 0.0) || !(edge_sd_ > 0.0)) return std::nullopt;
  const double of_means = std::sqrt(1.0 / static_cast<double>(first) + 1.0 / static_cast<double>(second));
  return ReadPair{apart, edge_sd_ * of_means, dof_};
}

void ReadyReadings::hold(Claim& claim, const ReadPair& pair) const {
  claim.below  = held_to(claim.below, 1.0 - pair.above(0.0));
  claim.within = std::min(claim.within, pair.within(margin_));
  claim.above  = held_to(claim.above, pair.above(margin_));
}

Claim ReadyReadings::claim(const Way& first, const Way& second, const MemberRatio& model) const {
  Claim       out{.below = model.below, .within = model.within, .above = model.above};
  const Edges a = edges_of(first), b = edges_of(second);
  if (a.names.empty() || b.names.empty()) {
    const auto pair = pair_of(std::log(model.ratio.middle), 1, 1);
    if (!pair) return out;
    // rules of thumb know what is alike, and next to nothing of which is the sharper
    const double within = out.within;
    hold(out, *pair);
    if (!is_fitted_) out.within = within;
    return out;
  }
  out.evidence   = Evidence::readings;
  out.read_ratio = std::exp(a.mean - b.mean);
  out.with       = confounded_with(
            scenario_, readings_, [this](const Reading& r) { return was_ready(r); }, a.names, b.names);
  const auto pair = pair_of(a.mean - b.mean, a.names.size(), b.names.size());
  if (pair) out.read_below = 1.0 - pair->above(0.0);
  const bool against = pair && ((out.below >= likely_from && out.read_below <= 1.0 - likely_from) ||
                                (out.below <= 1.0 - likely_from && out.read_below >= likely_from));
  if (!out.with.empty() || against) {
    out.evidence = out.with.empty() ? Evidence::contradicted : Evidence::confounded;
    out.below = out.within = out.above = not_given;
  } else if (pair) {
    hold(out, *pair);
  }
  return out;
}

}  // namespace arris
