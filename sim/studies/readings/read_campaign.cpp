// SPDX-License-Identifier: MIT
#include "sim/studies/readings/read_campaign.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "sim/laws/gram_force.hpp"
#include "sim/read_number.hpp"
#include "sim/simulate/slips_of_unit.hpp"
#include "sim/statistics/distributions.hpp"
#include "sim/statistics/t_tests.hpp"
#include "sim/studies/compare/way_names.hpp"
#include "sim/studies/confounded_with.hpp"

namespace arris {
namespace {

double mean_of(const std::vector<double>& x) {
  double sum = 0.0;
  for (const double v : x) sum += v;
  return sum / static_cast<double>(x.size());
}

// sum of squares about the mean
double squares_of(const std::vector<double>& x) {
  const double mean = mean_of(x);
  double       sum  = 0.0;
  for (const double v : x) sum += (v - mean) * (v - mean);
  return sum;
}

bool counts(const Reading& r) { return r.excluded.empty() && !std::isnan(r.reading_N); }

std::size_t first_cut_of(const EdgePlan& plan) {
  return static_cast<std::size_t>(
      std::find_if(plan.steps.begin(), plan.steps.end(),
                   [](const Step& s) { return std::holds_alternative<CutStep>(s); }) -
      plan.steps.begin());
}

// passes in wood until a moment
double passes_until(const EdgePlan& plan, const Moment& moment) {
  double passes = 0.0;
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const auto* cut  = std::get_if<CutStep>(&plan.steps[i]);
    const auto  here = static_cast<std::size_t>(std::max(0, moment.step));
    if (cut == nullptr || i > here) continue;
    passes += i == here && !std::isnan(moment.count) ? moment.count : cut->passes;
  }
  return passes;
}

// the readings of one edge at one moment
struct Taken {
  int                 edge = -1;
  Moment              moment;
  ReadMoment          cell;
  std::vector<double> logs;
};

// of each edge in the order of the work
std::vector<Taken> taken_of(const Scenario& scenario, const std::vector<Reading>& readings) {
  std::vector<Taken> all;
  for (const Reading& r : readings) {
    if (std::isnan(r.reading_N)) continue;
    auto at = std::find_if(all.begin(), all.end(), [&](const Taken& t) {
      return t.edge == r.edge && t.cell.moment == r.moment_name;
    });
    if (at == all.end()) {
      const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r.edge)];
      Taken           t{.edge = r.edge, .moment = r.moment, .cell = {}, .logs = {}};
      t.cell.edge   = plan.name;
      t.cell.moment = r.moment_name;
      t.cell.passes = passes_until(plan, r.moment);
      at            = all.insert(all.end(), std::move(t));
    }
    if (counts(r)) {
      at->logs.push_back(std::log(laws::in_gram_force(r.reading_N)));
    } else {
      ++at->cell.excluded;
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Taken& a, const Taken& b) {
    if (a.edge != b.edge) return a.edge < b.edge;
    return a.moment.step != b.moment.step ? a.moment.step < b.moment.step : a.cell.passes < b.cell.passes;
  });
  for (Taken& t : all) {
    t.cell.count = static_cast<int>(t.logs.size());
    if (t.logs.empty()) continue;
    t.cell.mean_gf = std::exp(mean_of(t.logs));
    t.cell.low_gf  = std::exp(*std::min_element(t.logs.begin(), t.logs.end()));
    t.cell.high_gf = std::exp(*std::max_element(t.logs.begin(), t.logs.end()));
    if (t.logs.size() > 1)
      t.cell.scatter = std::sqrt(squares_of(t.logs) / static_cast<double>(t.logs.size() - 1));
  }
  return all;
}

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

// edges of one kind at a moment, and their means
struct Kind {
  WaySteps            done;
  ReadKind            read;
  std::vector<double> logs;    // of edges
  std::vector<double> counts;  // readings of each
  std::vector<double> models;  // logs too
};

std::vector<Kind> kinds_at(const Scenario& scenario, const std::vector<Taken>& all,
                           const std::string& moment) {
  std::vector<Kind> kinds;
  for (const Taken& t : all) {
    if (t.cell.moment != moment || t.logs.empty()) continue;
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(t.edge)];
    const auto      step = static_cast<std::size_t>(std::max(0, t.moment.step));
    WaySteps        done = steps_before(
               plan, t.moment.count == 0.0 && std::holds_alternative<CutStep>(plan.steps[step]) ? step : step + 1);
    auto at = std::find_if(kinds.begin(), kinds.end(), [&](const Kind& k) {
      return k.done.tool == done.tool && same_steps(k.done.steps, done.steps);
    });
    if (at == kinds.end())
      at = kinds.insert(kinds.end(), Kind{.done = std::move(done), .read = {}, .logs = {}, .models = {}});
    at->read.edges.push_back(t.cell.edge);
    at->logs.push_back(std::log(t.cell.mean_gf));
    at->counts.push_back(static_cast<double>(t.logs.size()));
    if (!std::isnan(t.cell.model_gf)) at->models.push_back(std::log(t.cell.model_gf));
  }
  std::vector<WaySteps> done;
  for (const Kind& k : kinds) done.push_back(k.done);
  const auto names = way_names(done);
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    kinds[k].read.name    = names[k];
    kinds[k].read.moment  = moment;
    kinds[k].read.mean_gf = std::exp(mean_of(kinds[k].logs));
    if (!kinds[k].models.empty()) kinds[k].read.model_gf = std::exp(mean_of(kinds[k].models));
  }
  return kinds;
}

// variance of single readings of one edge at one moment, pooled; 0 where none was read twice
double variance_of_readings(const std::vector<Taken>& all) {
  double squares = 0.0, dof = 0.0;
  for (const Taken& t : all) {
    if (t.logs.size() < 2) continue;
    squares += squares_of(t.logs);
    dof += static_cast<double>(t.logs.size() - 1);
  }
  return dof > 0.0 ? squares / dof : 0.0;
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
  const auto least = std::min_element(kinds.begin(), kinds.end(), [](const Kind& a, const Kind& b) {
    return a.read.mean_gf < b.read.mean_gf;
  });
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
      d.p             = t.p;
    }
    out.differences.push_back(std::move(d));
  }
}

// the one that Grubbs' test picks at 5 %, both sides; −1: none
int stands_apart_in(const std::vector<double>& x) {
  constexpr std::size_t fewest = 6;
  const auto            n      = static_cast<double>(x.size());
  if (x.size() < fewest) return -1;
  const double mean = mean_of(x), sd = std::sqrt(squares_of(x) / (n - 1.0));
  if (!(sd > 0.0)) return -1;
  const auto farthest = std::max_element(
      x.begin(), x.end(), [&](double a, double b) { return std::abs(a - mean) < std::abs(b - mean); });
  const double t    = t_quantile_above(0.05 / (2.0 * n), n - 2.0);
  const double most = (n - 1.0) / std::sqrt(n) * std::sqrt(t * t / (n - 2.0 + t * t));
  return std::abs(*farthest - mean) > most * sd ? static_cast<int>(farthest - x.begin()) : -1;
}

double mean_of_others(const std::vector<double>& x, int but) {
  std::vector<double> others = x;
  others.erase(others.begin() + but);
  return mean_of(others);
}

void add_apart(const std::vector<Taken>& all, ReadCampaign& out) {
  const auto add = [&](const std::vector<const Taken*>& who, const std::vector<double>& x, bool change) {
    const int found = stands_apart_in(x);
    if (found < 0) return;
    const Taken& t = *who[static_cast<std::size_t>(found)];
    out.apart.push_back({t.cell.edge, t.cell.moment, change ? (&t - 1)->cell.moment : std::string{},
                         std::exp(x[static_cast<std::size_t>(found)] - mean_of_others(x, found))});
  };
  for (const std::string& moment : out.moments) {
    std::vector<const Taken*> who;
    std::vector<double>       logs;
    for (const Taken& t : all) {
      if (t.cell.moment != moment || t.logs.empty()) continue;
      who.push_back(&t);
      logs.push_back(std::log(t.cell.mean_gf));
    }
    add(who, logs, false);
    // changes since the moment before, of edges that have the same two
    std::map<std::string, std::pair<std::vector<const Taken*>, std::vector<double>>> changes;
    for (const Taken* t : who) {
      if (t == &all.front() || (t - 1)->edge != t->edge || (t - 1)->logs.empty()) continue;
      auto& [same, change] = changes[(t - 1)->cell.moment];
      same.push_back(t);
      change.push_back(std::log(t->cell.mean_gf / (t - 1)->cell.mean_gf));
    }
    for (const auto& [before, of] : changes) add(of.first, of.second, true);
  }
}

// edges that read less after wood than when they were last read before it, by more than their readings scatter
void add_less(const Scenario& scenario, const std::vector<Taken>& all, ReadCampaign& out) {
  for (const Taken& before : all) {
    const std::size_t cut  = first_cut_of(scenario.edges[static_cast<std::size_t>(before.edge)]);
    const auto        next = &before + 1;
    if (next == &all.back() + 1 || next->edge != before.edge) continue;
    if (static_cast<std::size_t>(before.moment.step) > cut || next->cell.passes <= before.cell.passes ||
        before.cell.passes > 0.0 || before.logs.size() < 2 || next->logs.size() < 2)
      continue;
    if (!(next->cell.mean_gf < before.cell.mean_gf)) continue;
    if (!(squares_of(before.logs) + squares_of(next->logs) > 0.0)) continue;
    if (welch_test(next->logs, before.logs).p > 0.05) continue;
    out.less.push_back({before.cell.edge, before.cell.moment, next->cell.moment,
                        next->cell.mean_gf / before.cell.mean_gf,
                        next->cell.model_gf / before.cell.model_gf});
  }
}

// whether an edge is honed, backed or stropped between two steps, the ends left out
bool is_sharpened_between(const EdgePlan& plan, std::size_t after, std::size_t before) {
  for (std::size_t i = after + 1; i < std::min(before, plan.steps.size()); ++i) {
    const Step& s = plan.steps[i];
    if (std::holds_alternative<HoneStep>(s) || std::holds_alternative<BackStep>(s) ||
        std::holds_alternative<StropStep>(s))
      return true;
  }
  return false;
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
  add_apart(all, out);
  add_less(scenario, all, out);
  out.ready     = ready_of(all);
  out.all_equal = are_all_equal(all);
  out.slips     = slips_of_unit(scenario, readings);
  return out;
}

}  // namespace arris
