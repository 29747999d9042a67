// SPDX-License-Identifier: MIT
#include "sim/simulate/next_honing.hpp"

#include <algorithm>
#include <cstdint>

#include <boost/math/tools/roots.hpp>

#include "sim/history/stages.hpp"

namespace arris {
namespace {

constexpr double most_strokes = 1e6;

/// Strokes of a stage until its face is honed by `depth_um`; NaN where the most do not suffice.
double strokes_to(const FaceStage<double>& stage, double depth_um) {
  const auto beyond = [&](double n) { return stage.depth_at(n) - stage.start_depth_um - depth_um; };
  if (beyond(most_strokes) < 0.0) return not_given;
  std::uintmax_t iterations = 200;
  const auto     bracket    = boost::math::tools::toms748_solve(
             beyond, 0.0, most_strokes, boost::math::tools::eps_tolerance<double>(20), iterations);
  return bracket.second;
}

}  // namespace

NextHoning next_honing(const Model<double>& model, const EdgePlan& plan, const Blade<double>& blade,
                       const EdgeState<double>& state) {
  NextHoning out;
  out.depth_um     = std::max(state.dub_depth_um, blade.sin_bevel * state.chip_um);
  const auto first = std::find_if(plan.steps.begin(), plan.steps.end(),
                                  [](const Step& s) { return std::holds_alternative<HoneStep>(s); });
  if (!(out.depth_um > 0.0) || first == plan.steps.end()) return out;
  const auto&    hone = std::get<HoneStep>(*first);
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  out.medium  = model.media[static_cast<std::size_t>(hone.medium)].name;
  out.strokes = strokes_to(assemble(hone, model, blade, state, ledger), out.depth_um);
  return out;
}

}  // namespace arris
