// SPDX-License-Identifier: MIT
#include "sim/simulate/beside_model.hpp"

#include <algorithm>
#include <cmath>

#include "sim/integrate/run.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/simulate/way.hpp"

namespace arris {

ReadBeside::ReadBeside(const Scenario& scenario, const EdgePlan& plan) : scenario_(scenario), plan_(plan) {
  double before = 0.0;
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const auto found = scenario.beside.ways.find(way_at(plan, {static_cast<int>(i), not_given}));
    way_before_.push_back(before);
    way_after_.push_back(found == scenario.beside.ways.end() ? 0.0 : found->second);
    before = way_after_.back();
  }
}

double ReadBeside::apex_factor(const TrackPoint& point) const {
  const auto   i     = static_cast<std::size_t>(point.step);
  const double count = count_of(plan_.steps[i]);
  const double share = count > 0.0 ? std::clamp(point.count / count, 0.0, 1.0) : 1.0;
  return std::exp(std::lerp(way_before_[i], way_after_[i], share));
}

double ReadBeside::along(double passes) const {
  const auto& x = scenario_.beside.passes;
  const auto& y = scenario_.beside.along;
  if (x.empty() || !(passes > 0.0)) return 0.0;
  const auto above = std::upper_bound(x.begin(), x.end(), passes);
  if (above == x.end()) return y.back();
  if (above == x.begin()) return y.front();
  const auto i = static_cast<std::size_t>(above - x.begin());
  return std::lerp(y[i - 1], y[i], (passes - x[i - 1]) / (x[i] - x[i - 1]));
}

double ReadBeside::growth_factor(const Moment& moment) const {
  const auto of = [](const std::map<std::string, double>& logs, const std::string& name) {
    const auto found = logs.find(name);
    return found == logs.end() ? 0.0 : found->second;
  };
  if (scenario_.beside.wear_after.empty() && scenario_.beside.wear_in.empty()) return 1.0;
  return std::exp(of(scenario_.beside.wear_after, way_at(plan_, moment)) +
                  of(scenario_.beside.wear_in, wood_at(plan_, moment)));
}

double ReadBeside::fresh_um(int first_cut, Fresh& fresh) const {
  const auto found = fresh.find(first_cut);
  if (found != fresh.end()) return found->second;
  EdgePlan before = plan_;
  before.steps.resize(static_cast<std::size_t>(first_cut));
  EdgeState<double>       edge;
  Ledger<double>          ledger;
  HistoryObserver<double> nobody;
  const bool              usable =
      run_history(scenario_.model, before, tolerances_of(scenario_), edge, ledger, nobody).usable();
  return fresh[first_cut] = usable ? edge.met_radius_um() : not_given;
}

void ReadBeside::put_right(std::vector<TrackPoint>& points) const {
  Fresh fresh;
  for (TrackPoint& point : points) put_right(point, fresh);
}

void ReadBeside::put_right(TrackPoint& point, Fresh& fresh) const {
  const auto&  tool   = scenario_.model.tools[static_cast<std::size_t>(plan_.tool)];
  const double half   = 0.5 * laws::degree * (tool.micro_bevel_deg + tool.back_bevel_deg);
  const double factor = apex_factor(point);
  const double passes = passes_since_sharpened(plan_, {point.step, point.count});
  const Moment start  = start_of_wear(plan_, {point.step, point.count});
  const double growth = start.step >= 0 ? growth_factor({point.step, point.count}) : 1.0;
  double       met    = point.met_radius_um;
  if (growth != 1.0) {
    const double began = fresh_um(start.step, fresh);
    if (!std::isnan(began)) met = worn_with_luck(began, met, growth);
  }
  point.reading_N = tester_law(scenario_.model.tester).reading_N(factor * met, factor * point.burr_um, half) *
                    std::exp(along(passes));
}

}  // namespace arris
