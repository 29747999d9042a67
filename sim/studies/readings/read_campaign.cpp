// SPDX-License-Identifier: MIT
#include "sim/studies/readings/read_campaign.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "sim/laws/gram_force.hpp"
#include "sim/read_number.hpp"
#include "sim/simulate/slips_of_unit.hpp"
#include "sim/statistics/misfit_tests.hpp"
#include "sim/statistics/t_tests.hpp"
#include "sim/studies/confounded_with.hpp"
#include "sim/studies/readings/read_changes.hpp"
#include "sim/studies/readings/stand_apart.hpp"
#include "sim/studies/readings/taken.hpp"

namespace arris {
namespace {

using namespace read;

// Moments that are called by their passes ("30 passes") in the order of these, in the places that they have together: edges may have been read
// after different ones.
void sort_by_passes(std::vector<std::string>& order) {
  std::map<std::string, double> passes;
  for (const std::string& name : order) {
    double value            = 0.0;
    const auto [end, error] = read_number(name.data(), name.data() + name.size(), value);
    if (error == std::errc{} && std::string_view(end) == " passes") passes[name] = value;
  }
  std::vector<std::string> names;
  for (const std::string& name : order) {
    if (passes.count(name) > 0) names.push_back(name);
  }
  std::sort(names.begin(), names.end(),
            [&](const std::string& a, const std::string& b) { return passes.at(a) < passes.at(b); });
  auto next = names.begin();
  for (std::string& name : order) {
    if (passes.count(name) > 0) name = *next++;
  }
}

// names of moments in the order of the work; one that only some edges have stands behind what comes before it there
std::vector<std::string> moments_in_order(const std::vector<Taken>& all) {
  std::vector<std::string> order;
  for (std::size_t i = 0; i < all.size(); ++i) {
    const std::string& name = all[i].cell.moment;
    if (std::find(order.begin(), order.end(), name) != order.end()) continue;
    auto place = order.end();
    if (i > 0 && all[i - 1].edge == all[i].edge) {
      place = std::find(order.begin(), order.end(), all[i - 1].cell.moment);
      if (place != order.end()) ++place;
    } else {
      place = order.begin();
      // the first reading of its edge: behind other first readings
      while (place != order.end() && std::any_of(all.begin(), all.end(), [&](const Taken& t) {
               return t.cell.moment == *place && (&t == &all.front() || (&t - 1)->edge != t.edge);
             }))
        ++place;
    }
    order.insert(place, name);
  }
  sort_by_passes(order);
  return order;
}

// edges by the way they are sharpened, named by the shortest words that tell the ways apart
std::map<std::string, std::string> ways_of_edges(const Scenario& scenario) {
  std::vector<WaySteps>    ways;
  std::vector<std::size_t> of_edge;
  for (const EdgePlan& plan : scenario.edges) {
    WaySteps   way   = steps_before(plan, first_cut_of(plan));
    const auto found = std::find_if(ways.begin(), ways.end(), [&](const WaySteps& w) {
      return w.tool == way.tool && same_steps(w.steps, way.steps);
    });
    of_edge.push_back(static_cast<std::size_t>(found - ways.begin()));
    if (found == ways.end()) ways.push_back(std::move(way));
  }
  const auto                         names = way_names(ways);
  std::map<std::string, std::string> out;
  for (std::size_t e = 0; e < scenario.edges.size(); ++e) out[scenario.edges[e].name] = names[of_edge[e]];
  return out;
}

// how far edges of one kind differ, from the moment that tells most of it
void pool_edges(const std::vector<std::vector<Kind>>& by_moment, double of_readings, ReadCampaign& out) {
  for (const auto& kinds : by_moment) {
    double              squares = 0.0, dof = 0.0;
    std::vector<double> shares;  // of the variance of a reading that the mean of an edge has
    for (const Kind& k : kinds) {
      if (k.logs.size() < 2) continue;
      squares += squares_of(k.logs);
      dof += static_cast<double>(k.logs.size() - 1);
      for (const double count : k.counts) shares.push_back(1.0 / count);
    }
    if (!(dof > out.edge_dof) || !(squares > 0.0)) continue;
    out.edge_dof       = dof;
    out.edges_alike_sd = std::sqrt(squares / dof);
    out.edge_sd        = std::sqrt(std::max(squares / dof, of_readings * mean_of(shares)));
  }
}

void add_differences(const Scenario& scenario, const std::vector<Reading>& readings,
                     const std::vector<Kind>& kinds, ReadCampaign& out) {
  if (kinds.size() < 2) return;
  const auto          least = std::min_element(kinds.begin(), kinds.end(), [](const Kind& a, const Kind& b) {
    return a.read.mean_gf < b.read.mean_gf;
  });
  const std::size_t   first = out.differences.size();
  std::vector<double> p;
  for (const Kind& k : kinds) {
    if (&k == &*least) continue;
    ReadDifference d{.moment      = k.read.moment,
                     .least       = least->read.name,
                     .other       = k.read.name,
                     .edges_least = static_cast<int>(least->logs.size()),
                     .edges_other = static_cast<int>(k.logs.size()),
                     .ratio       = k.read.mean_gf / least->read.mean_gf,
                     .with        = confounded_with(
                                scenario, readings, [&](const Reading& r) { return r.moment_name == k.read.moment; },
                                least->read.edges, k.read.edges)};
    if (out.edge_dof > 0.0) {
      const double se = out.edge_sd * std::sqrt(1.0 / static_cast<double>(k.logs.size()) +
                                                1.0 / static_cast<double>(least->logs.size()));
      const TTest  t  = t_test(std::log(d.ratio), se, out.edge_dof, 0.90);
      d.low           = std::exp(t.low);
      d.high          = std::exp(t.high);
      p.push_back(t.p);
    }
    out.differences.push_back(std::move(d));
  }
  const std::vector<double> together = holm_adjusted(p);
  for (std::size_t i = 0; i < together.size(); ++i) out.differences[first + i].p = together[i];
}

// marks the moments at which edges were last read before their first cut, as they went to work
void mark_ready(const Scenario& scenario, std::vector<Taken>& all) {
  for (std::size_t i = 0; i < all.size(); ++i) {
    const EdgePlan&   plan = scenario.edges[static_cast<std::size_t>(all[i].edge)];
    const std::size_t cut  = first_cut_of(plan);
    // 0 passes of it are before it too
    const auto before = [&](const Taken& t) {
      const auto step = static_cast<std::size_t>(t.moment.step);
      return step < cut || (step == cut && t.moment.count == 0.0);
    };
    const bool last   = i + 1 == all.size() || all[i + 1].edge != all[i].edge || !before(all[i + 1]);
    all[i].cell.ready = last && before(all[i]) && !all[i].logs.empty() &&
                        !is_sharpened_between(plan, static_cast<std::size_t>(all[i].moment.step), cut);
  }
}

// the moment at which most edges were read ready for work
std::string ready_of(const std::vector<Taken>& all) {
  std::map<std::string, int> edges;
  for (const Taken& t : all) {
    if (t.cell.ready) ++edges[t.cell.moment];
  }
  const auto most = std::max_element(edges.begin(), edges.end(),
                                     [](const auto& a, const auto& b) { return a.second < b.second; });
  return most == edges.end() ? std::string{} : most->first;
}

bool are_all_equal(const std::vector<Taken>& all) {
  constexpr std::size_t fewest = 3;
  std::vector<double>   logs;
  for (const Taken& t : all) logs.insert(logs.end(), t.logs.begin(), t.logs.end());
  return logs.size() >= fewest && all.size() > 1 &&
         std::all_of(logs.begin(), logs.end(), [&](double log) { return log == logs.front(); });
}

}  // namespace

ReadCampaign read_campaign(const Scenario& scenario, const std::vector<Reading>& readings,
                           const Scenario* model, int threads) {
  ReadCampaign       out;
  std::vector<Taken> all = taken_of(scenario, readings);
  mark_ready(scenario, all);
  const auto            ways = ways_of_edges(scenario);
  std::set<std::string> edges, people;
  out.moments   = moments_in_order(all);
  out.has_model = model != nullptr;
  if (model != nullptr) {
    const Comparison compared = compare_with_readings(*model, readings, threads);
    for (Taken& t : all) {
      for (const ComparedMoment& m : compared.moments) {
        if (m.edge == t.cell.edge && m.moment == t.cell.moment)
          t.cell.model_gf = laws::in_gram_force(m.predicted_N);
      }
    }
  }
  for (Taken& t : all) {
    t.cell.way   = ways.at(t.cell.edge);
    t.cell.order = static_cast<std::size_t>(std::find(out.moments.begin(), out.moments.end(), t.cell.moment) -
                                            out.moments.begin());
    out.readings += t.cell.count;
    out.excluded += t.cell.excluded;
    edges.insert(t.cell.edge);
    out.cells.push_back(t.cell);
  }
  out.edges = static_cast<int>(edges.size());
  for (const Reading& r : readings) {
    if (!r.operator_name.empty() && people.insert(r.operator_name).second)
      out.operators.push_back(r.operator_name);
  }
  std::vector<std::vector<Kind>> by_moment;
  for (const std::string& moment : out.moments) by_moment.push_back(kinds_at(scenario, all, moment));
  pool_edges(by_moment, variance_of_readings(all), out);
  for (std::size_t m = 0; m < by_moment.size(); ++m) {
    for (Kind& k : by_moment[m]) {
      k.read.order = m;
      out.kinds.push_back(k.read);
    }
    add_differences(scenario, readings, by_moment[m], out);
  }
  Changes changes = changes_of(scenario, all, by_moment);
  out.changes     = std::move(changes.all);
  out.unlike      = std::move(changes.unlike);
  out.less        = edges_less(scenario, all, out.changes);
  out.odd         = odd_readings(all);
  out.apart       = edges_apart(by_moment, all, out.odd);
  out.ready       = ready_of(all);
  out.all_equal   = are_all_equal(all);
  out.slips       = slips_of_unit(scenario, readings);
  return out;
}

}  // namespace arris
