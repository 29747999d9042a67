// SPDX-License-Identifier: MIT
#include "sim/studies/plan/plan_groups.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/simulate/way.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

template <class T>
bool contains(const std::vector<T>& list, const T& item) {
  return std::find(list.begin(), list.end(), item) != list.end();
}

// where no edge follows a route: of each way of sharpening the first edge
std::vector<std::string> an_edge_of_each_way(const Scenario& scenario) {
  std::vector<std::string> names, ways;
  for (const EdgePlan& plan : scenario.edges) {
    const Stop  ready = comparison_stop(plan, false);
    std::string way   = way_at(plan, {.step = ready.step, .count = ready.count});
    if (contains(ways, way)) continue;
    ways.push_back(std::move(way));
    names.push_back(plan.name);
  }
  return names;
}

// those asked for, or else every route, or way of sharpening; two at least, none twice
std::vector<std::string> names_to_compare(const Scenario& scenario, const PlanSettings& settings) {
  std::vector<std::string> names = settings.groups;
  if (names.empty()) {
    for (const EdgePlan& plan : scenario.edges) {
      if (!plan.route.empty() && !contains(names, plan.route)) names.push_back(plan.route);
    }
    if (names.empty()) names = an_edge_of_each_way(scenario);
  }
  for (std::size_t i = 0; i < names.size(); ++i) {
    for (std::size_t j = 0; j < i; ++j) {
      if (names[i] == names[j])
        throw Error(Exit::usage, {.code = "given-twice",
                                  .what = fmt::format("the group \"{}\" is named twice", names[i])});
    }
  }
  if (names.size() < 2) {
    throw Error(
        Exit::usage,
        {.code = "too-few-groups",
         .what = names.empty()
                     ? "the configuration has no edge, so there are no groups to compare"
                     : fmt::format("\"{}\" is the only group, so there is nothing to tell it apart from",
                                   names.front()),
         .next = "Name two or more routes or edges: --groups NAME,NAME"});
  }
  return names;
}

struct NamedEdges {
  std::string      name;
  bool             is_route = false;
  std::vector<int> edges;  // each of which could be the pattern of the group
};

// of a route all that follow it, else the edge of that name
NamedEdges edges_named(const Scenario& scenario, const std::string& name) {
  NamedEdges out{.name = name};
  for (std::size_t e = 0; e < scenario.edges.size(); ++e) {
    if (scenario.edges[e].route == name) out.edges.push_back(static_cast<int>(e));
  }
  out.is_route = !out.edges.empty();
  for (std::size_t e = 0; e < scenario.edges.size() && !out.is_route; ++e) {
    if (scenario.edges[e].name == name) out.edges = {static_cast<int>(e)};
  }
  if (out.edges.empty()) {
    const auto        known = group_names(scenario);
    const std::string meant = did_you_mean(name, known);
    throw Error(Exit::usage,
                {.code    = "unknown-group",
                 .what    = fmt::format("the configuration has no route or edge \"{}\"", printable(name)),
                 .allowed = or_list(known, 20),
                 .next    = meant.empty() ? "A route counts where an edge follows it." : meant});
  }
  return out;
}

// an edge of each group, all on one tool; empty where no tool is common to all
std::vector<int> patterns_on_one_tool(const Scenario& scenario, const std::vector<NamedEdges>& groups) {
  const auto tool_of = [&](int e) { return scenario.edges[static_cast<std::size_t>(e)].tool; };
  for (const int first : groups.front().edges) {
    std::vector<int> chosen;
    for (const NamedEdges& group : groups) {
      const auto found = std::find_if(group.edges.begin(), group.edges.end(),
                                      [&](int e) { return tool_of(e) == tool_of(first); });
      if (found == group.edges.end()) break;
      chosen.push_back(*found);
    }
    if (chosen.size() == groups.size()) return chosen;
  }
  return {};
}

// with the moments at which an edge of this pattern can be read
PlanGroup group_of(const Scenario& scenario, const NamedEdges& named, int pattern, ReadAt at) {
  const EdgePlan& plan       = scenario.edges[static_cast<std::size_t>(pattern)];
  const Stop      comparison = comparison_stop(plan, named.is_route);
  PlanGroup       g;
  g.name       = named.name;
  g.is_route   = named.is_route;
  g.pattern    = pattern;
  g.candidates = candidate_stops(plan, comparison, at);
  for (std::size_t i = 0; i < g.candidates.size(); ++i) {
    if (g.candidates[i].step == comparison.step && is_end(plan, g.candidates[i]))
      g.comparison = static_cast<int>(i);
  }
  return g;
}

// where several moments are wanted of passes alone or of laps alone, some group must have them
void check_moments(const std::vector<PlanGroup>& groups, const PlanSettings& settings) {
  if (settings.moments <= 1 || settings.at == ReadAt::passes_and_laps) return;
  if (std::any_of(groups.begin(), groups.end(), [](const PlanGroup& g) { return g.candidates.size() > 1; }))
    return;
  const bool laps = settings.at == ReadAt::laps;
  throw Error(Exit::usage,
              {.code = "nothing-to-choose",
               .what = fmt::format("no edge of these groups is {}, so there are no {} to choose among",
                                   laps ? "stropped" : "used in wood", laps ? "laps" : "passes"),
               .next = laps ? "Leave out --at laps, or add a strop step."
                            : "Leave out --at passes, or add a cut step."});
}

}  // namespace

std::vector<PlanGroup> groups_of(const Scenario& scenario, const PlanSettings& settings, bool& same_tool) {
  std::vector<NamedEdges> named;
  for (const std::string& name : names_to_compare(scenario, settings))
    named.push_back(edges_named(scenario, name));
  const std::vector<int> patterns = patterns_on_one_tool(scenario, named);
  same_tool                       = !patterns.empty();
  std::vector<PlanGroup> groups;
  for (std::size_t g = 0; g < named.size(); ++g) {
    const int pattern = same_tool ? patterns[g] : named[g].edges.front();
    groups.push_back(group_of(scenario, named[g], pattern, settings.at));
  }
  check_moments(groups, settings);
  return groups;
}

std::vector<std::string> group_names(const Scenario& scenario) {
  std::vector<std::string> out;
  for (const EdgePlan& plan : scenario.edges) {
    if (!plan.route.empty() && !contains(out, plan.route)) out.push_back(plan.route);
  }
  for (const EdgePlan& plan : scenario.edges) {
    if (!contains(out, plan.name)) out.push_back(plan.name);
  }
  return out;
}

}  // namespace arris
