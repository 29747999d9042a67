// SPDX-License-Identifier: MIT
#include "sim/simulate/history_tree.hpp"

#include <algorithm>
#include <numeric>
#include <type_traits>

namespace arris {

bool same_work(const Step& a, const Step& b) {
  if (a.index() != b.index()) return false;
  return std::visit(
      [&](const auto& one) {
        using S           = std::remove_cvref_t<decltype(one)>;
        const auto& other = std::get<S>(b);
        if constexpr (std::is_same_v<S, ReadStep>) {
          return true;
        } else {
          bool same = true;
          S::fields(
              [&](const Field& f, const auto& x, const auto& y) {
                if (f.key == "note" || f.key == "shaving_um") return;  // not read by any law
                same = same && same_value(x, y);
              },
              one, other);
          // what a configuration states elsewhere
          if constexpr (std::is_same_v<S, CutStep>)
            same = same && one.per == other.per && same_value(one.load_N, other.load_N);
          return same;
        }
      },
      a);
}

HistoryTree::HistoryTree(const std::vector<EdgePlan>&            plans,
                         const std::vector<std::vector<Moment>>& moments) {
  std::size_t place = 0;
  for (std::size_t e = 0; e < plans.size(); ++e) {
    first_place_.push_back(place);
    place += moments[e].size();
    length_.push_back(moments[e].empty() ? 0 : static_cast<std::size_t>(moments[e].back().step) + 1);
    steps_alone_ += length_.back();
  }
  std::vector<int> waiting;
  for (std::size_t e = 0; e < plans.size(); ++e) {
    if (length_[e] > 0) waiting.push_back(static_cast<int>(e));
  }
  while (!waiting.empty()) {
    const int        tool = plans[static_cast<std::size_t>(waiting.front())].tool;
    std::vector<int> with, rest;
    for (const int e : waiting) (plans[static_cast<std::size_t>(e)].tool == tool ? with : rest).push_back(e);
    grow(plans, moments, with, 0, -1, 0);
    waiting = rest;
  }
}

// the branches of plans that are alike before `step`
void HistoryTree::grow(const std::vector<EdgePlan>& plans, const std::vector<std::vector<Moment>>& moments,
                       std::vector<int> along, std::size_t step, int parent, std::size_t depth) {
  const auto plan = [&](int e) -> const EdgePlan& { return plans[static_cast<std::size_t>(e)]; };
  while (!along.empty()) {
    // those that go on as the first does
    const Step&      next = plan(along.front()).steps[step];
    std::vector<int> group, rest;
    for (const int e : along) (same_work(plan(e).steps[step], next) ? group : rest).push_back(e);
    along = rest;

    Branch branch;
    branch.parent     = parent;
    branch.plan       = group.front();
    branch.first_step = step;
    branch.part       = plan(group.front());
    branch.part.steps.clear();
    std::size_t i = step;
    for (;;) {
      branch.part.steps.push_back(plan(group.front()).steps[i]);
      auto& points = branch.points.emplace_back();
      auto& places = branch.places.emplace_back();
      for (const int e : group) {
        for (const Moment& m : moments[static_cast<std::size_t>(e)]) {
          if (static_cast<std::size_t>(m.step) == i) points.push_back(m.count);
        }
      }
      std::sort(points.begin(), points.end());
      points.erase(std::unique(points.begin(), points.end()), points.end());
      places.resize(points.size());
      for (const int e : group) {
        const auto& own = moments[static_cast<std::size_t>(e)];
        for (std::size_t k = 0; k < own.size(); ++k) {
          if (static_cast<std::size_t>(own[k].step) != i) continue;
          const auto at = std::lower_bound(points.begin(), points.end(), own[k].count) - points.begin();
          places[static_cast<std::size_t>(at)].push_back(first_place_[static_cast<std::size_t>(e)] + k);
        }
      }
      ++i;
      std::erase_if(group, [&](int e) { return length_[static_cast<std::size_t>(e)] <= i; });
      if (group.empty()) break;
      const Step& then = plan(group.front()).steps[i];
      if (!std::all_of(group.begin(), group.end(), [&](int e) { return same_work(plan(e).steps[i], then); }))
        break;
    }
    const std::size_t here = branches_.size();
    branches_.push_back(std::move(branch));
    if (by_depth_.size() <= depth) by_depth_.resize(depth + 1);
    by_depth_[depth].push_back(here);
    grow(plans, moments, group, i, static_cast<int>(here), depth + 1);
  }
}

std::size_t HistoryTree::steps_run() const {
  return std::accumulate(branches_.begin(), branches_.end(), std::size_t{0},
                         [](std::size_t sum, const Branch& b) { return sum + b.part.steps.size(); });
}

}  // namespace arris
