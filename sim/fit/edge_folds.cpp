// SPDX-License-Identifier: MIT
#include "sim/fit/edge_folds.hpp"

#include <algorithm>
#include <string>
#include <utility>

#include "sim/simulate/way.hpp"

namespace arris {

std::vector<std::vector<int>> edge_folds(const Scenario& scenario, const std::vector<int>& edges,
                                         std::size_t count) {
  std::vector<std::pair<std::string, int>> by_kind;
  for (const int e : edges) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(e)];
    const Moment    end{static_cast<int>(std::ssize(plan.steps)) - 1, not_given};
    by_kind.emplace_back(way_at(plan, end) + "; " + wood_at(plan, end), e);
  }
  std::stable_sort(by_kind.begin(), by_kind.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<std::vector<int>> folds(count);
  for (std::size_t k = 0; k < by_kind.size(); ++k) folds[k % folds.size()].push_back(by_kind[k].second);
  return folds;
}

}  // namespace arris
