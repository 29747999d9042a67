// SPDX-License-Identifier: MIT
#include "sim/studies/confounded_with.hpp"

#include <algorithm>
#include <cmath>

#include "sim/fit/confounding.hpp"
#include "sim/wording.hpp"

namespace arris {

std::vector<std::string> confounded_with(const Scenario& scenario, const std::vector<Reading>& readings,
                                         const std::function<bool(const Reading&)>& taken_then,
                                         const std::vector<std::string>&            first,
                                         const std::vector<std::string>&            second) {
  const auto is_of = [&](const Reading& r, const std::vector<std::string>& edges) {
    const std::string& edge = scenario.edges[static_cast<std::size_t>(r.edge)].name;
    return std::find(edges.begin(), edges.end(), edge) != edges.end();
  };
  std::vector<const Reading*> taken;
  std::vector<std::string>    groups;
  for (const Reading& r : readings) {
    const bool counts = r.excluded.empty() && !std::isnan(r.reading_N) && taken_then(r);
    if (!counts || !(is_of(r, first) || is_of(r, second))) continue;
    taken.push_back(&r);
    groups.emplace_back(is_of(r, first) ? "first" : "second");
  }
  const Levels of_group = levels_of("group", "groups", groups, "");
  if (of_group.names.size() < 2) return {};
  const std::vector<Levels> circumstances = circumstances_of(taken);
  if (are_told_apart(of_group, 0, 1, circumstances)) return {};
  std::vector<std::string> alone, all;
  for (const Levels& other : circumstances) {
    all.push_back(other.many);
    if (!are_told_apart(of_group, 0, 1, {other})) alone.push_back(other.many);
  }
  return alone.empty() ? all : alone;
}

std::string read_differently(const std::vector<std::string>& with) {
  std::vector<std::string> said;
  for (const std::string& what : with)
    said.push_back((what == "operators"   ? "by different "
                    : what == "test days" ? "on different "
                                          : "with different ") +
                   what);
  return and_list(said);
}

}  // namespace arris
