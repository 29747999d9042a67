// SPDX-License-Identifier: MIT
#include "sim/simulate/slips_of_unit.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "sim/laws/gram_force.hpp"
#include "sim/misses_said.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

using ReadingList = std::vector<const Reading*>;

struct Clusters {
  ReadingList low, high;
  double      ratio = 1.0;  // of their medians
};

double median_reading(const ReadingList& ascending) { return ascending[ascending.size() / 2]->reading_N; }

// two clusters with a wide gap between them; empty ones where there is no such gap
Clusters clusters_of(ReadingList readings) {
  constexpr double gap = 4.0;
  std::sort(readings.begin(), readings.end(),
            [](const Reading* a, const Reading* b) { return a->reading_N < b->reading_N; });
  std::size_t widest = 0;
  double      width  = gap;
  for (std::size_t i = 1; i < readings.size(); ++i) {
    const double here = readings[i]->reading_N / readings[i - 1]->reading_N;
    if (here > width) {
      width  = here;
      widest = i;
    }
  }
  Clusters out;
  if (widest == 0) return out;
  const auto middle = readings.begin() + static_cast<std::ptrdiff_t>(widest);
  out.low           = {readings.begin(), middle};
  out.high          = {middle, readings.end()};
  out.ratio         = median_reading(out.high) / median_reading(out.low);
  return out;
}

// whether edges of one route, or one edge without a route, lie in both, be it at one moment or another
bool share_a_route(const Scenario& scenario, const Clusters& clusters) {
  const auto routes = [&](const ReadingList& list) {
    std::set<std::string> out;
    for (const Reading* r : list) {
      const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r->edge)];
      out.insert(plan.route.empty() ? "edge " + plan.name : "route " + plan.route);
    }
    return out;
  };
  const auto low = routes(clusters.low), high = routes(clusters.high);
  return std::any_of(low.begin(), low.end(), [&](const std::string& r) { return high.count(r) > 0; });
}

std::string slip_sentence(const Clusters& clusters, std::size_t all, bool is_unit, bool of_moment = true) {
  const bool         low  = clusters.low.size() <= clusters.high.size();
  const ReadingList& odd  = low ? clusters.low : clusters.high;
  const char*        what = !is_unit
                                ? "a decimal point seems to be in the wrong place, or a digit too many or missing"
                            : low ? "they look like newtons in a column of gram-force"
                                  : "they look like gram-force in a column of newtons";
  return fmt::format(
      "{} of {} readings {} about {} times {} the others{}, for example {} gf{}: {}. {}", odd.size(), all,
      odd.size() == 1 ? "lies" : "lie", is_unit ? "102" : "10", low ? "below" : "above",
      of_moment ? " of their moment" : "", plain(laws::in_gram_force(odd.front()->reading_N)),
      odd.front()->line > 0 ? fmt::format(" in line {}", odd.front()->line) : "", what, correct_them);
}

}  // namespace

namespace {

// three readings or more, of two edges or moments, that are all the same; empty where they are not
std::string equal_sentence(const std::vector<Reading>& readings) {
  constexpr std::size_t                 fewest = 3;
  std::set<std::pair<int, std::string>> cells;
  std::vector<const Reading*>           counted_readings;
  for (const Reading& r : readings) {
    if (!r.excluded.empty() || std::isnan(r.reading_N)) continue;
    if (!counted_readings.empty() && r.reading_N != counted_readings.front()->reading_N) return {};
    counted_readings.push_back(&r);
    cells.insert({r.edge, r.moment_name});
  }
  if (counted_readings.size() < fewest || cells.size() < 2) return {};
  return fmt::format(
      "All {} readings are {} gf. Readings of different edges and moments always differ a little, {}: a column may have been filled down.",
      counted_readings.size(), plain(laws::in_gram_force(counted_readings.front()->reading_N)), not_measured);
}

}  // namespace

std::vector<std::string> slips_of_unit(const Scenario& scenario, const std::vector<Reading>& readings) {
  std::map<std::string, ReadingList> by_moment;
  std::size_t                        all = 0;
  ReadingList                        everyone;
  for (const Reading& r : readings) {
    if (!r.excluded.empty() || std::isnan(r.reading_N)) continue;
    by_moment[r.moment_name].push_back(&r);
    everyone.push_back(&r);
    ++all;
  }
  constexpr std::size_t fewest_alike = 3;
  std::size_t           alike        = 0;  // moments with clusters a factor of 10 apart
  Clusters              unit, point;
  const auto            join = [](Clusters& to, const Clusters& from) {
    to.low.insert(to.low.end(), from.low.begin(), from.low.end());
    to.high.insert(to.high.end(), from.high.begin(), from.high.end());
  };
  for (const auto& [moment, list] : by_moment) {
    const Clusters found = clusters_of(list);
    if (found.low.empty()) continue;
    if (found.ratio > 50.0 && found.ratio < 200.0) join(unit, found);
    if (!(found.ratio > 7.4 && found.ratio < 13.5)) continue;
    join(point, found);
    alike += found.ratio > 8.5 && found.ratio < 11.8 ? 1 : 0;
  }
  // one unit up to some moment, and another from there on: within no moment do they meet
  const Clusters over_all  = unit.low.empty() ? clusters_of(everyone) : Clusters{};
  const bool     of_moment = over_all.low.empty() || !(over_all.ratio > 50.0 && over_all.ratio < 200.0);
  if (!of_moment) unit = over_all;
  // ways of sharpening may differ much, but not by a factor of 10 whenever they are read
  if (!share_a_route(scenario, point) && (alike < fewest_alike || alike < by_moment.size())) point = {};
  std::vector<std::string> out;
  if (std::string equal = equal_sentence(readings); !equal.empty()) out.push_back(std::move(equal));
  if (!unit.low.empty()) out.push_back(slip_sentence(unit, all, true, of_moment));
  if (!point.low.empty()) out.push_back(slip_sentence(point, all, false));
  return out;
}

}  // namespace arris
