// SPDX-License-Identifier: MIT
#include "sim/studies/compare/way_names.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

namespace arris {
namespace {

// everything but remarks
bool is_same_step(const Step& a, const Step& b) {
  if (a.index() != b.index()) return false;
  return std::visit(
      [&]<class S>(const S& x) {
        bool     same = true;
        const S& y    = std::get<S>(b);
        S::fields(
            [&](const Field& field, const auto& p, const auto& q) {
              if constexpr (std::is_same_v<std::remove_cvref_t<decltype(p)>, double>) {
                same = same && (p == q || (std::isnan(p) && std::isnan(q)));
              } else {
                same = same && (p == q || field.key == "note");
              }
            },
            x, y);
        return same;
      },
      a);
}

bool is_on_a_medium(const Step& step) {
  return std::holds_alternative<HoneStep>(step) || std::holds_alternative<BackStep>(step);
}

/// How much a name says beside route, further media and strops.
struct NameDetail {
  bool wood = false, tool = false, laps = false, force = false, compounds = false, angle = false,
       media = false, strokes = false, force_on_media = false;
};

// the least first
constexpr NameDetail name_details[] = {
    {},
    {.wood = true},
    {.tool = true},
    {.wood = true, .tool = true},
    {.laps = true},
    {.force = true},
    {.compounds = true},
    {.angle = true},
    {.laps = true, .force = true},
    {.laps = true, .compounds = true},
    {.force = true, .compounds = true},
    {.laps = true, .force = true, .compounds = true},
    {.laps = true, .force = true, .compounds = true, .angle = true},
    {.wood = true, .tool = true, .laps = true, .force = true, .compounds = true},
    {.laps = true, .compounds = true, .media = true},
    {.laps = true, .compounds = true, .media = true, .strokes = true},
    {.laps = true, .compounds = true, .media = true, .strokes = true, .force_on_media = true},
    {.wood           = true,
     .tool           = true,
     .laps           = true,
     .force          = true,
     .compounds      = true,
     .angle          = true,
     .media          = true,
     .strokes        = true,
     .force_on_media = true}};

// media in the order in which they are first used, from step `begin` on
std::vector<std::string> media_from(const WaySteps& way, std::size_t begin) {
  std::vector<std::string> media;
  for (std::size_t i = begin; i < way.steps.size(); ++i) {
    if (!is_on_a_medium(way.steps[i])) continue;
    const std::string& medium = subject_of(way.steps[i]);
    if (std::find(media.begin(), media.end(), medium) == media.end()) media.push_back(medium);
  }
  return media;
}

// the route, or else the last medium; what else is honed on behind a route
std::string name_of_honing(const WaySteps& way) {
  if (!way.route.empty()) {
    std::string name = way.route;
    for (const std::string& medium : media_from(way, way.route_steps)) name += " then " + medium;
    return name;
  }
  std::string last;
  for (const Step& step : way.steps) {
    if (std::holds_alternative<HoneStep>(step)) last = subject_of(step);
  }
  return last;
}

std::string at_force(double newton) { return fmt::format(" at {:g} N", newton); }

double force_on(const Step& step) {
  if (const auto* hone = std::get_if<HoneStep>(&step)) return hone->force_N;
  return std::get<BackStep>(step).force_N;
}

// every step on a medium, as a list in brackets; empty where there is none
std::string media_in_brackets(const WaySteps& way, const NameDetail& detail) {
  std::vector<std::string> listed;
  if (!detail.strokes) listed = media_from(way, 0);
  for (const Step& step : way.steps) {
    if (!detail.strokes || !is_on_a_medium(step)) continue;
    listed.push_back(fmt::format("{:g} on {}", count_of(step), subject_of(step)));
    if (detail.force_on_media) listed.back() += at_force(force_on(step));
  }
  return listed.empty() ? std::string{} : fmt::format(" ({})", fmt::join(listed, "; "));
}

// what was done on a strop, as the end of a name
std::string name_of(const StropStep& strop, const NameDetail& detail) {
  std::string name = strop.strop;
  if (detail.compounds) name += strop.compound == "none" ? ", bare" : " with " + strop.compound;
  if (detail.laps) name += fmt::format(", {:g} laps", strop.laps);
  if (detail.force) name += at_force(strop.force_N);
  if (detail.angle && strop.angle_offset_deg != 0.0)
    name += fmt::format(", held {:g}° {}", std::abs(strop.angle_offset_deg),
                        strop.angle_offset_deg > 0.0 ? "steeper" : "lower");
  return name;
}

std::string name_with(const WaySteps& way, const NameDetail& detail) {
  std::string name = name_of_honing(way);
  if (detail.media) name += media_in_brackets(way, detail);
  std::string strop;
  int         times = 0;
  const auto  say   = [&] {  // strops that follow one another alike are said once
    if (times == 0) return;
    name += (name.empty() ? "" : " + ") + strop;
    if (times > 1) name += fmt::format(", {} times", times);
    times = 0;
  };
  for (const Step& step : way.steps) {
    if (const auto* cut = std::get_if<CutStep>(&step); cut != nullptr && detail.wood) {
      say();
      name += (name.empty() ? "in " : ", in ") + cut->cut;
    }
    const auto* on = std::get_if<StropStep>(&step);
    if (on == nullptr) continue;
    const std::string now = name_of(*on, detail);
    if (now != strop) say();
    strop = now;
    ++times;
  }
  say();
  if (detail.tool && !way.tool.empty()) name += (name.empty() ? "" : ", ") + way.tool;
  return name.empty() ? "as it is" : name;
}

// the ways of one short name, told apart by the least detail that does it
void name_ways_apart(const std::vector<WaySteps>& ways, const std::vector<std::size_t>& alike,
                     std::vector<std::string>& names) {
  for (const NameDetail& detail : name_details) {
    std::set<std::string> different;
    for (const std::size_t w : alike) {
      names[w] = name_with(ways[w], detail);
      different.insert(names[w]);
    }
    if (different.size() == alike.size()) return;
  }
  for (const std::size_t w : alike)
    names[w] = fmt::format("{} (as {})", name_with(ways[w], NameDetail{}), ways[w].edge);
}

}  // namespace

WaySteps steps_before(const EdgePlan& plan, std::size_t end) {
  WaySteps   out{.route = plan.route, .edge = plan.name, .tool = plan.tool_name};
  const auto of_route = static_cast<std::size_t>(std::max(0, plan.route_steps));
  for (std::size_t i = 0; i < std::min(end, plan.steps.size()); ++i) {
    if (std::holds_alternative<ReadStep>(plan.steps[i])) continue;
    out.steps.push_back(plan.steps[i]);
    if (i < of_route) out.route_steps = out.steps.size();
  }
  return out;
}

bool same_steps(const std::vector<Step>& a, const std::vector<Step>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), is_same_step);
}

std::vector<std::string> way_names(const std::vector<WaySteps>& ways) {
  std::map<std::string, std::vector<std::size_t>> by_short_name;
  for (std::size_t w = 0; w < ways.size(); ++w) by_short_name[name_with(ways[w], NameDetail{})].push_back(w);
  std::vector<std::string> names(ways.size());
  for (const auto& [name, alike] : by_short_name) name_ways_apart(ways, alike, names);
  return names;
}

}  // namespace arris
