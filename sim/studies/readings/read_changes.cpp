// SPDX-License-Identifier: MIT
#include "sim/studies/readings/read_changes.hpp"

#include <algorithm>
#include <cmath>
#include <set>

#include "sim/statistics/distributions.hpp"
#include "sim/statistics/misfit_tests.hpp"
#include "sim/statistics/t_tests.hpp"

namespace arris::read {
namespace {

constexpr double not_by_luck = 0.05;  // p below which a change is called one

struct Pair {
  const Taken* before;
  const Taken* after;
};

const EdgePlan& plan_of(const Scenario& scenario, const Taken& t) {
  return scenario.edges[static_cast<std::size_t>(t.edge)];
}

bool sharpened_between(const Scenario& scenario, const Taken& before, const Taken& after) {
  return is_sharpened_between(plan_of(scenario, before), static_cast<std::size_t>(before.moment.step),
                              static_cast<std::size_t>(after.moment.step));
}

// the reading that one is held against: of sharpening the one before it, of wood the first since sharpening; null: none
const Taken* held_against(const Scenario& scenario, const std::vector<Taken>& all, const Taken& after) {
  const Taken* before = moment_before(all, after);
  if (before == nullptr || sharpened_between(scenario, *before, after)) return before;
  while (true) {
    const Taken* earlier = moment_before(all, *before);
    if (earlier == nullptr || sharpened_between(scenario, *earlier, *before)) return before;
    before = earlier;
  }
}

// edges of one kind that are held against the same moment
struct KindChange {
  const Kind*         kind;
  std::vector<Pair>   pairs;
  std::vector<double> logs, models;

  [[nodiscard]] double n() const { return static_cast<double>(logs.size()); }
};

// all that is read at one moment and held against another
struct SamePair {
  std::string             before;
  std::vector<KindChange> kinds;
  double                  sd = not_given, dof = 0.0;

  void add(const Kind& kind, const Pair& pair) {
    if (kinds.empty() || kinds.back().kind != &kind) kinds.push_back({&kind, {}, {}, {}});
    KindChange&       k = kinds.back();
    const ReadMoment &a = pair.before->cell, &b = pair.after->cell;
    k.pairs.push_back(pair);
    k.logs.push_back(std::log(b.mean_gf / a.mean_gf));
    k.models.push_back(std::log(b.model_gf / a.model_gf));
  }

  void pool(double of_readings) {
    double squares = 0.0, shares = 0.0, edges = 0.0;
    for (const KindChange& k : kinds) {
      for (const Pair& p : k.pairs)
        shares += 1.0 / static_cast<double>(p.before->logs.size()) +
                  1.0 / static_cast<double>(p.after->logs.size());
      edges += k.n();
      squares += squares_of(k.logs);
      dof += k.n() - 1.0;
    }
    if (dof > 0.0) sd = std::sqrt(std::max(squares / dof, of_readings * shares / edges));
  }
};

std::vector<SamePair> same_pairs(const Scenario& scenario, const std::vector<Taken>& all,
                                 const std::vector<Kind>& kinds, double of_readings) {
  std::vector<SamePair> out;
  for (const Kind& kind : kinds) {
    for (const Taken* after : kind.taken) {
      const Taken* before = held_against(scenario, all, *after);
      if (before == nullptr) continue;
      auto at = std::find_if(out.begin(), out.end(),
                             [&](const SamePair& p) { return p.before == before->cell.moment; });
      if (at == out.end()) at = out.insert(out.end(), SamePair{before->cell.moment, {}});
      at->add(kind, {before, after});
    }
  }
  for (SamePair& p : out) p.pool(of_readings);
  return out;
}

// what differs altogether between the readings of two moments
std::vector<std::string> changed_with(const std::vector<Pair>& pairs) {
  std::vector<std::string> out;
  const auto               look = [&](const char* many, auto what) {
    std::set<std::string> first, second;
    for (const Pair& p : pairs) {
      for (const Reading* r : p.before->readings) first.insert(r->*what);
      for (const Reading* r : p.after->readings) second.insert(r->*what);
    }
    const bool shared =
        std::any_of(first.begin(), first.end(), [&](const std::string& s) { return second.count(s) > 0; });
    if (!shared && first.count("") + second.count("") == 0) out.emplace_back(many);
  };
  look("operators", &Reading::operator_name);
  look("filament lots", &Reading::filament_lot);
  look("test days", &Reading::test_day);
  return out;
}

ReadChange change_of(const Scenario& scenario, const SamePair& same, const KindChange& k) {
  const Pair& first = k.pairs.front();
  ReadChange  out{.way       = k.kind->read.name,
                  .before    = same.before,
                  .after     = k.kind->read.moment,
                  .order     = first.after->cell.order,
                  .edges     = {},
                  .ratio     = std::exp(mean_of(k.logs)),
                  .worked    = first.after->cell.passes > first.before->cell.passes,
                  .sharpened = sharpened_between(scenario, *first.before, *first.after),
                  .with      = changed_with(k.pairs)};
  for (const Pair& p : k.pairs) out.edges.push_back(p.after->cell.edge);
  out.model_ratio = std::exp(mean_of(k.models));
  if (!(same.dof > 0.0) || !(same.sd > 0.0)) return out;
  const TTest t = t_test(mean_of(k.logs), same.sd / std::sqrt(k.n()), same.dof, 0.90);
  out.low       = std::exp(t.low);
  out.high      = std::exp(t.high);
  out.p_of_all  = t.p;
  return out;
}

// p of all kinds changing alike; NaN where that cannot be tested
double p_of_alike(const SamePair& same) {
  const auto kinds = static_cast<double>(same.kinds.size());
  if (kinds < 2.0 || !(same.dof > 0.0) || !(same.sd > 0.0)) return not_given;
  double sum = 0.0, edges = 0.0, squares = 0.0;
  for (const KindChange& k : same.kinds) {
    sum += k.n() * mean_of(k.logs);
    edges += k.n();
  }
  for (const KindChange& k : same.kinds) squares += k.n() * std::pow(mean_of(k.logs) - sum / edges, 2);
  return f_above(squares / (kinds - 1.0) / (same.sd * same.sd), kinds - 1.0, same.dof);
}

// whether all of them worked equally long before: otherwise they have to differ
bool worked_alike(const SamePair& same) {
  const auto passes = [](const KindChange& k) {
    return k.pairs.front().after->cell.passes - k.pairs.front().before->cell.passes;
  };
  return std::all_of(same.kinds.begin(), same.kinds.end(),
                     [&](const KindChange& k) { return passes(k) == passes(same.kinds.front()); });
}

// corrects those that are not NaN together
template <class Item>
void correct_together(std::vector<Item>& items) {
  std::vector<double> p;
  for (const Item& i : items) {
    if (!std::isnan(i.p_of_all)) p.push_back(i.p_of_all);
  }
  const std::vector<double> together = holm_adjusted(p);
  auto                      next     = together.begin();
  for (Item& i : items) {
    if (!std::isnan(i.p_of_all)) i.p_of_all = *next++;
  }
}

}  // namespace

Changes changes_of(const Scenario& scenario, const std::vector<Taken>& all,
                   const std::vector<std::vector<Kind>>& by_moment) {
  Changes      out;
  const double of_readings = variance_of_readings(all);
  for (const std::vector<Kind>& kinds : by_moment) {
    for (const SamePair& same : same_pairs(scenario, all, kinds, of_readings)) {
      std::vector<ReadChange> here;
      for (const KindChange& k : same.kinds) here.push_back(change_of(scenario, same, k));
      out.all.insert(out.all.end(), here.begin(), here.end());
      const double p = worked_alike(same) ? p_of_alike(same) : not_given;
      if (std::isnan(p)) continue;
      const auto [least, most] =
          std::minmax_element(here.begin(), here.end(),
                              [](const ReadChange& a, const ReadChange& b) { return a.ratio < b.ratio; });
      out.unlike.push_back({*most, *least, p});
    }
  }
  correct_together(out.all);
  correct_together(out.unlike);
  out.unlike.erase(std::remove_if(out.unlike.begin(), out.unlike.end(),
                                  [](const UnlikeChange& u) { return !(u.p_of_all < not_by_luck); }),
                   out.unlike.end());
  return out;
}

bool is_fall(const ReadChange& change) {
  return change.worked && !change.sharpened && change.ratio < 1.0 && change.p_of_all < not_by_luck;
}

std::vector<ReadsLess> edges_less(const Scenario& scenario, const std::vector<Taken>& all,
                                  const std::vector<ReadChange>& changes) {
  std::vector<ReadsLess> out;
  std::vector<double>    p;
  for (const Taken& after : all) {
    const Taken* before = moment_before(all, after);
    if (before == nullptr || before->logs.size() < 2 || after.logs.size() < 2) continue;
    if (!(after.cell.passes > before->cell.passes) || before != held_against(scenario, all, after)) continue;
    if (sharpened_between(scenario, *before, after)) continue;
    if (!(squares_of(before->logs) + squares_of(after.logs) > 0.0)) continue;
    const bool of_kind = std::any_of(changes.begin(), changes.end(), [&](const ReadChange& c) {
      return is_fall(c) && std::find(c.edges.begin(), c.edges.end(), after.cell.edge) != c.edges.end();
    });
    if (of_kind) continue;
    out.push_back({after.cell.edge, before->cell.moment, after.cell.moment,
                   after.cell.mean_gf / before->cell.mean_gf, after.cell.model_gf / before->cell.model_gf});
    p.push_back(welch_test(after.logs, before->logs).p);
  }
  const std::vector<double> together = holm_adjusted(p);
  std::vector<ReadsLess>    sure;
  for (std::size_t i = 0; i < out.size(); ++i) {
    if (out[i].ratio < 1.0 && together[i] < not_by_luck) sure.push_back(out[i]);
  }
  return sure;
}

}  // namespace arris::read
