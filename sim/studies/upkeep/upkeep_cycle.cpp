// SPDX-License-Identifier: MIT
#include "sim/studies/upkeep/upkeep_cycle.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>
#include <utility>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"

namespace arris {
namespace {

using StepPlace = std::vector<Step>::const_iterator;

bool is_cut(const Step& step) { return std::holds_alternative<CutStep>(step); }
bool is_strop(const Step& step) { return std::holds_alternative<StropStep>(step); }

/// Throws Error: "no-cut".
StepPlace first_cut_of(const EdgePlan& plan) {
  const auto cut = std::find_if(plan.steps.begin(), plan.steps.end(), &is_cut);
  if (cut == plan.steps.end() || std::get<CutStep>(*cut).passes < 1.0) {
    throw Error(Exit::usage,
                {.code  = "no-cut",
                 .what  = fmt::format("the edge \"{}\" does no work that could dull it", plan.name),
                 .cause = "Upkeep is worked out for the wood of its first cut step.",
                 .next = "Add one behind the honing: { cut = \"sugar maple\", passes = 200, pass_m = 0.6 }"});
  }
  return cut;
}

/// What is done before the first cut, without readings. Throws Error: "no-honing".
std::vector<Step> honing_before(const EdgePlan& plan, StepPlace first_cut) {
  std::vector<Step> honing;
  std::copy_if(plan.steps.begin(), first_cut, std::back_inserter(honing),
               [](const Step& s) { return !std::holds_alternative<ReadStep>(s); });
  if (std::none_of(honing.begin(), honing.end(),
                   [](const Step& s) { return std::holds_alternative<HoneStep>(s); })) {
    throw Error(Exit::usage,
                {.code  = "no-honing",
                 .what  = fmt::format("the edge \"{}\" is not honed before its first cut", plan.name),
                 .cause = "The hone, back and strop steps before the first cut are taken for the honing.",
                 .next  = "Give it a route, or hone steps."});
  }
  return honing;
}

/// The first strop steps after the first cut, up to the next cut.
std::vector<Step> stropping_after(const EdgePlan& plan, StepPlace first_cut) {
  const auto        first = std::find_if(first_cut, plan.steps.end(), &is_strop);
  const auto        end   = std::find_if(first, plan.steps.end(), &is_cut);
  std::vector<Step> stropping;
  std::copy_if(first, end, std::back_inserter(stropping), &is_strop);
  return stropping;
}

bool is_same_stropping(const StropStep& a, const StropStep& b) {
  return a.backing == b.backing && a.laps == b.laps && a.compound_index == b.compound_index &&
         same_value(a.force_N, b.force_N);
}

/// Passes of each stretch of work from the first cut on; empty where all of it is not this work with this stropping between, or a
/// stretch is shorter than a pass.
std::vector<double> stretches_as_written(const EdgePlan& plan, StepPlace first_cut,
                                         const std::vector<Step>& stropping) {
  const auto&         work = std::get<CutStep>(*first_cut);
  std::vector<double> stretches{0.0};
  bool                stropped = false;
  for (auto step = first_cut; step != plan.steps.end(); ++step) {
    if (const auto* cut = std::get_if<CutStep>(&*step)) {
      if (cut->wood != work.wood || cut->pass_m != work.pass_m) return {};
      if (stropped) stretches.push_back(0.0);
      stropped = false;
      stretches.back() += cut->passes;
    } else if (const auto* strop = std::get_if<StropStep>(&*step)) {
      if (stropping.size() > 1 || !is_same_stropping(*strop, std::get<StropStep>(stropping.front())))
        return {};
      stropped = true;
    } else if (!std::holds_alternative<ReadStep>(*step)) {
      return {};
    }
  }
  if (std::any_of(stretches.begin(), stretches.end(), [](double n) { return n < 1.0; })) return {};
  return stretches;
}

}  // namespace

UpkeepSteps upkeep_steps(const EdgePlan& plan) {
  const auto  first_cut = first_cut_of(plan);
  UpkeepSteps out;
  out.edge      = plan.name;
  out.tool_name = plan.tool_name;
  out.tool      = plan.tool;
  out.work      = std::get<CutStep>(*first_cut);
  out.honing    = honing_before(plan, first_cut);
  out.stropping = stropping_after(plan, first_cut);
  if (out.stropping.empty()) {
    const auto last = std::find_if(out.honing.rbegin(), out.honing.rend(), &is_strop);
    if (last != out.honing.rend()) {
      out.stropping.push_back(*last);
      out.borrowed_strop = true;
    }
  }
  out.as_written = stretches_as_written(plan, first_cut, out.stropping);
  return out;
}

UpkeepCycle::UpkeepCycle(const Model<double>& model, UpkeepSteps steps, const Workshop& workshop,
                         const Tolerances& tolerances, double limit_N, std::size_t looks, UpkeepMiss miss)
    : model_(model),
      steps_(std::move(steps)),
      tolerances_(tolerances),
      limit_N_(limit_N),
      looks_(looks),
      miss_(std::move(miss)) {
  const auto  tool  = static_cast<std::size_t>(steps_.tool);
  const auto& steel = model.steels[static_cast<std::size_t>(model.steel_of_tool[tool])];
  blade_            = assemble_blade(model.tools[tool], steel.hardness_GPa, steel.carbide_um,
                                     model.coefficients.carbide_share, steel.wear_ratio);
  tester_           = tester_law(model.tester).at_angle(blade_.half_angle);

  honing_.tool = stropping_.tool = steps_.tool;
  honing_.name = stropping_.name = steps_.edge;
  honing_.steps                  = steps_.honing;
  stropping_.steps               = steps_.stropping;

  const Pace& pace = workshop.pace;
  hone_minutes_    = pace.hone_min;
  strop_minutes_   = pace.strop_min;
  CostTable costs(model, workshop);
  wage_per_minute_ = costs.wage_per_minute();
  // what is in the hand already is not taken up again
  const std::string* in_hand = nullptr;
  for (const Step& step : honing_.steps) {
    honing_costs_.push_back(costs.of(step, in_hand == nullptr || *in_hand != subject_of(step)));
    in_hand = &subject_of(step);
  }
  bool first = true;
  for (const Step& step : stropping_.steps) {
    const StepCost cost = costs.of(step, !std::exchange(first, false));
    const double   laps = count_of(step);
    strop_minutes_ += cost.minutes_for(laps);
    strop_money_ += cost.money_for(laps);
  }
  costs_money_ = costs.costs_money();
  unpriced_    = costs.unpriced();
  strop_money_ += wage_per_minute_ * strop_minutes_;
}

double UpkeepCycle::reading_N(const EdgeState<double>& state, double passes) const {
  return tester_.reading_N(miss_.apex * state.met_radius_um(), miss_.apex * state.burr_um) *
         std::exp(miss_.at(passes));
}

EdgeState<double> UpkeepCycle::worn_to(double reading_N) const {
  EdgeState<double> state = initial_state(model_.tools[static_cast<std::size_t>(steps_.tool)], blade_,
                                          model_.tester.contact_distance_um);
  state.burr_um           = 0.0;
  // F(r) always rises with r, so halving the interval of log r finds it, to the last bit after 60 times
  double low = 1e-3, high = 1e4;
  for (int i = 0; i < 60; ++i) {
    state.apex_radius_um                              = std::sqrt(low * high);
    (this->reading_N(state) < reading_N ? low : high) = state.apex_radius_um;
  }
  return state;
}

EdgePlan UpkeepCycle::work(double passes) const {
  EdgePlan out;
  out.tool   = steps_.tool;
  out.name   = steps_.edge;
  out.steps  = {steps_.work};
  auto& cut  = std::get<CutStep>(out.steps.front());
  cut.passes = passes;
  // where wear is steady in the radius, growth so many times as large is that of so many times the path
  cut.pass_m *= miss_.growth;
  return out;
}

Cycle UpkeepCycle::honed(const std::vector<double>& counts, const EdgeState<double>& before,
                         const EdgeState<double>& after) const {
  double minutes = hone_minutes_, money = 0.0;
  for (std::size_t i = 0; i < counts.size(); ++i) {
    minutes += honing_costs_[i].minutes_for(counts[i]);
    money += honing_costs_[i].money_for(counts[i]);
  }
  Cycle out;
  out.hone_minutes = minutes;
  out.minutes      = minutes;
  out.money        = money + wage_per_minute_ * minutes;
  out.gain_um      = after.bevel_depth_um - before.bevel_depth_um;
  out.square_gain  = (after.bevel_depth_um + before.bevel_depth_um) * out.gain_um;
  out.honed_N      = reading_N(after);
  return out;
}

int UpkeepCycle::passes_within(const EdgeState<double>& honed, double limit_N, int most) const {
  EdgePlan   plan   = work(0.0);
  const auto within = [&](int passes) {
    EdgeState<double> state = honed;
    Ledger<double>    ledger;
    ledger.reset(model_.media.size());
    HistoryObserver<double> nobody;
    std::get<CutStep>(plan.steps.front()).passes = passes;
    return continue_history(model_, plan, tolerances_, state, ledger, nobody).usable() &&
           reading_N(state, passes) <= limit_N;
  };
  if (within(most)) return most;
  int low = 0, high = 1;
  while (high < most && within(high)) {
    low  = high;
    high = std::min(most, 2 * high);
  }
  while (high - low > 1) {
    const int middle              = low + (high - low) / 2;
    (within(middle) ? low : high) = middle;
  }
  return low;
}

}  // namespace arris
