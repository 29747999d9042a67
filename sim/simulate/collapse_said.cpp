// SPDX-License-Identifier: MIT
#include "sim/simulate/collapse_said.hpp"

#include <algorithm>
#include <numeric>
#include <set>
#include <utility>

#include <fmt/format.h>

#include "sim/laws/collapse.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

// radius above which the collapse no longer acts on a tool, µm
double carried_from_um(const Model<double>& model, std::size_t tool) {
  const auto& t     = model.tools[tool];
  const auto& steel = model.steels[static_cast<std::size_t>(model.steel_of_tool[tool])];
  const auto blade = assemble_blade(t, steel.hardness_GPa, steel.carbide_um, model.coefficients.carbide_share,
                                    steel.wear_ratio);
  const laws::Collapse<double> collapse{
      laws::Collapse<double>::radius_um(model.coefficients.collapse_load_N_per_m, blade.hardness_Pa,
                                        blade.sin_half),
      model.coefficients.collapse_length_m};
  return collapse.joints()[1];
}

// apex radius before the first cut, µm; NaN where there is none, or the history fails
double apex_before_cut_um(const Scenario& scenario, const EdgePlan& plan) {
  const auto cut = std::find_if(plan.steps.begin(), plan.steps.end(),
                                [](const Step& s) { return std::holds_alternative<CutStep>(s); });
  if (cut == plan.steps.end()) return not_given;
  Scenario reduced            = scenario;
  reduced.numerics.fidelity   = Numerics{}.fidelity;  // the outline gives the same apex before the first cut
  const Prediction prediction = predict(reduced, plan, {{static_cast<int>(cut - plan.steps.begin()), 0.0}});
  return prediction.status.usable() ? prediction.points.front().apex_radius_um : not_given;
}

}  // namespace

std::string collapse_said(const Scenario& scenario, const std::vector<int>& edges) {
  if (!(scenario.model.coefficients.collapse_load_N_per_m > 0.0)) return {};
  std::set<std::pair<int, std::string>> seen;
  std::vector<std::string>              thin;
  double                                highest_um = 0.0;
  for (const int e : edges) {
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(e)];
    if (!plan.route.empty() && !seen.emplace(plan.tool, plan.route).second) continue;
    const double carried_um = carried_from_um(scenario.model, static_cast<std::size_t>(plan.tool));
    if (!(apex_before_cut_um(scenario, plan) < carried_um)) continue;
    thin.push_back(plan.name);
    highest_um = std::max(highest_um, carried_um);
  }
  if (thin.empty()) return {};
  constexpr std::size_t most = 4;
  return fmt::format(
      "Up to an apex radius of {} µm a tip also gives way under the load of the cut, beside the wear law, whichever that is; {} begin{} to cut below that. coefficients.collapse_load_N_per_m = 0 switches it off.",
      plain(highest_um, 2), thin.size() <= most ? and_list(thin) : counted(std::ssize(thin), "edge"),
      thin.size() == 1 ? "s" : "");
}

std::string collapse_said(const Scenario& scenario) {
  std::vector<int> edges(scenario.edges.size());
  std::iota(edges.begin(), edges.end(), 0);
  return collapse_said(scenario, edges);
}

}  // namespace arris
