// SPDX-License-Identifier: MIT
#include "sim/studies/readings/stand_apart.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "sim/laws/gram_force.hpp"
#include "sim/statistics/distributions.hpp"
#include "sim/statistics/misfit_tests.hpp"

namespace arris::read {
namespace {

constexpr double no_luck = 0.05;  // p below which a deviation is named

// values that have a mean of their own
using Groups = std::vector<std::vector<double>>;

struct Farthest {
  std::size_t group = 0, place = 0;
  double      deviation = 0.0;  // from the mean of the others of its group
  double      p         = 1.0;
};

// the value that lies farthest from the mean of its group; groups of fewer than `fewest` are passed by
Farthest farthest_of(const Groups& groups, std::size_t fewest, double least_dof) {
  double   squares = 0.0, dof = 0.0, values = 0.0, most = 0.0;
  Farthest out;
  for (std::size_t g = 0; g < groups.size(); ++g) {
    if (groups[g].size() < fewest) continue;
    const auto   n    = static_cast<double>(groups[g].size());
    const double mean = mean_of(groups[g]);
    squares += squares_of(groups[g]);
    dof += n - 1.0;
    values += n;
    for (std::size_t i = 0; i < groups[g].size(); ++i) {
      const double of_mean = groups[g][i] - mean, scaled = of_mean * of_mean / (1.0 - 1.0 / n);
      if (scaled <= most) continue;
      most = scaled;
      out  = {g, i, of_mean / (1.0 - 1.0 / n), 1.0};
    }
  }
  if (dof < least_dof || !(squares > 0.0)) return out;
  const double others = std::max(squares - most, 1e-12 * squares) / (dof - 1.0);
  out.p               = std::min(1.0, 2.0 * values * t_above(std::sqrt(most / others), dof - 1.0));
  return out;
}

// the mean of the logs of an edge at a moment, without its odd readings; NaN where none is left
double steady_mean(const Taken& t, const std::vector<OddReading>& odd) {
  std::vector<double> logs;
  for (std::size_t i = 0; i < t.logs.size(); ++i) {
    const int  line   = t.readings[i]->line;
    const bool is_odd = std::any_of(odd.begin(), odd.end(), [&](const OddReading& o) {
      return o.edge == t.cell.edge && o.moment == t.cell.moment && o.line == line && o.others > 1;
    });
    if (!is_odd) logs.push_back(t.logs[i]);
  }
  return logs.empty() ? not_given : mean_of(logs);
}

// edges of one moment, by kind: their means, or their changes from one moment before
struct Tested {
  std::string                            since;
  Groups                                 values;
  std::vector<std::vector<const Taken*>> who;

  void add(std::size_t kind, double value, const Taken* taken) {
    if (std::isnan(value)) return;
    if (values.size() <= kind) values.resize(kind + 1), who.resize(kind + 1);
    values[kind].push_back(value);
    who[kind].push_back(taken);
  }
};

std::vector<Tested> tested_at(const std::vector<Kind>& kinds, const std::vector<Taken>& all,
                              const std::vector<OddReading>& odd) {
  Tested                        means;
  std::map<std::string, Tested> changes;
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    for (const Taken* t : kinds[k].taken) {
      means.add(k, steady_mean(*t, odd), t);
      const Taken* before = moment_before(all, *t);
      if (before == nullptr) continue;
      Tested& change = changes[before->cell.moment];
      change.since   = before->cell.moment;
      change.add(k, steady_mean(*t, odd) - steady_mean(*before, odd), t);
    }
  }
  std::vector<Tested> out{std::move(means)};
  for (auto& [before, change] : changes) out.push_back(std::move(change));
  return out;
}

}  // namespace

std::vector<OddReading> odd_readings(const std::vector<Taken>& all) {
  constexpr double        least_dof = 4.0;
  std::vector<OddReading> out;
  Groups                  logs;
  for (const Taken& t : all) logs.push_back(t.logs);
  auto left = all;
  while (true) {
    const Farthest found = farthest_of(logs, 2, least_dof);
    if (!(found.p < no_luck)) return out;
    Taken&         t       = left[found.group];
    const auto     place   = static_cast<std::ptrdiff_t>(found.place);
    const Reading& reading = *t.readings[found.place];
    logs[found.group].erase(logs[found.group].begin() + place);
    t.readings.erase(t.readings.begin() + place);
    out.push_back({t.cell.edge, t.cell.moment, reading.line, laws::in_gram_force(reading.reading_N),
                   std::exp(mean_of(logs[found.group])), static_cast<int>(logs[found.group].size())});
  }
}

std::vector<StandsApart> edges_apart(const std::vector<std::vector<Kind>>& by_moment,
                                     const std::vector<Taken>& all, const std::vector<OddReading>& odd) {
  constexpr double         least_dof = 5.0;
  std::vector<double>      p;
  std::vector<StandsApart> found;
  for (const std::vector<Kind>& kinds : by_moment) {
    for (const Tested& tested : tested_at(kinds, all, odd)) {
      const Farthest far = farthest_of(tested.values, 2, least_dof);
      p.push_back(far.p);
      if (far.p == 1.0) {
        found.emplace_back();
        continue;
      }
      const Taken& t = *tested.who[far.group][far.place];
      found.push_back({t.cell.edge, t.cell.moment, tested.since, std::exp(far.deviation)});
    }
  }
  const std::vector<double> together = holm_adjusted(p);
  std::vector<StandsApart>  out;
  for (std::size_t i = 0; i < found.size(); ++i) {
    if (!(together[i] < no_luck)) continue;
    const bool stands_out_more = std::any_of(found.begin(), found.end(), [&](const StandsApart& other) {
      const auto j = static_cast<std::size_t>(&other - found.data());
      return other.edge == found[i].edge && (p[j] < p[i] || (p[j] == p[i] && j < i));
    });
    if (!stands_out_more) out.push_back(found[i]);
  }
  return out;
}

}  // namespace arris::read
