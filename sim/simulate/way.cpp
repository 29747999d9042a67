// SPDX-License-Identifier: MIT
#include "sim/simulate/way.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <vector>

#include <fmt/format.h>

#include "sim/wording.hpp"

namespace arris {
namespace {

std::string strop_name(const StropStep& strop) {
  return strop.strop + (strop.compound.empty() ? "" : ", " + strop.compound);
}

// the stone or strop of a step; empty for what does not sharpen
std::string met_in(const Step& step) {
  if (const auto* strop = std::get_if<StropStep>(&step)) return strop_name(*strop);
  const bool on_stone = std::holds_alternative<HoneStep>(step) || std::holds_alternative<BackStep>(step);
  return on_stone ? subject_of(step) : std::string();
}

// as a part of the way
std::string part_of(const Step& step) {
  const auto* strop = std::get_if<StropStep>(&step);
  return strop != nullptr ? fmt::format("{}, {} laps", strop_name(*strop), plain(strop->laps)) : met_in(step);
}

}  // namespace

std::string way_at(const EdgePlan& plan, const Moment& moment) {
  const auto               of_route = static_cast<std::size_t>(std::max(0, plan.route_steps));
  const auto               done     = std::min(plan.steps.size(), static_cast<std::size_t>(moment.step) + 1);
  const bool               by_name  = !plan.route.empty() && of_route > 0 && done >= of_route;
  std::vector<std::string> parts;
  std::set<std::string>    met;
  bool                     worked = false;
  if (by_name) parts.push_back(plan.route);
  for (std::size_t i = 0; i < done; ++i) {
    const Step& step       = plan.steps[i];
    worked                 = worked || std::holds_alternative<CutStep>(step);
    const std::string what = met_in(step);
    if (what.empty()) continue;
    const bool        in_route = by_name && i < of_route;
    const std::string part     = part_of(step);
    const bool        is_known = met.count(what) > 0;
    const bool        again =
        worked ? is_known
                      : !parts.empty() && parts.back() == part && !std::holds_alternative<StropStep>(step);
    if (!in_route && !again) parts.push_back(part);
    met.insert(what);
  }
  std::string out;
  for (const std::string& part : parts) out += (out.empty() ? "" : " + ") + part;
  return out.empty() ? "as they came" : out;
}

std::string wood_at(const EdgePlan& plan, const Moment& moment) {
  std::set<std::string> woods;
  for (std::size_t i = 0; i < plan.steps.size() && static_cast<int>(i) <= moment.step; ++i) {
    const Step& step = plan.steps[i];
    if (!met_in(step).empty()) woods.clear();
    const auto* cut = std::get_if<CutStep>(&step);
    if (cut != nullptr && (static_cast<int>(i) < moment.step || moment.count != 0.0)) woods.insert(cut->cut);
  }
  return woods.size() == 1 ? *woods.begin() : std::string();
}

double passes_since_sharpened(const EdgePlan& plan, const Moment& moment) {
  double passes = 0.0;
  for (std::size_t i = 0; i < plan.steps.size() && static_cast<int>(i) <= moment.step; ++i) {
    const Step& step = plan.steps[i];
    if (!met_in(step).empty()) passes = 0.0;
    if (const auto* cut = std::get_if<CutStep>(&step)) {
      const bool here = static_cast<int>(i) == moment.step && !std::isnan(moment.count);
      passes += here ? moment.count : cut->passes;
    }
  }
  return passes;
}

}  // namespace arris
