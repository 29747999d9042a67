// SPDX-License-Identifier: MIT
#include "sim/studies/readings/taken.hpp"

#include <algorithm>
#include <cmath>

#include "sim/laws/gram_force.hpp"

namespace arris::read {
namespace {

bool counts(const Reading& r) { return r.excluded.empty() && !std::isnan(r.reading_N); }

// passes in wood until a moment
double passes_until(const EdgePlan& plan, const Moment& moment) {
  double passes = 0.0;
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const auto* cut  = std::get_if<CutStep>(&plan.steps[i]);
    const auto  here = static_cast<std::size_t>(std::max(0, moment.step));
    if (cut == nullptr || i > here) continue;
    passes += i == here && !std::isnan(moment.count) ? moment.count : cut->passes;
  }
  return passes;
}

}  // namespace

double mean_of(const std::vector<double>& x) {
  double sum = 0.0;
  for (const double v : x) sum += v;
  return sum / static_cast<double>(x.size());
}

double squares_of(const std::vector<double>& x) {
  const double mean = mean_of(x);
  double       sum  = 0.0;
  for (const double v : x) sum += (v - mean) * (v - mean);
  return sum;
}

std::size_t first_cut_of(const EdgePlan& plan) {
  return static_cast<std::size_t>(
      std::find_if(plan.steps.begin(), plan.steps.end(),
                   [](const Step& s) { return std::holds_alternative<CutStep>(s); }) -
      plan.steps.begin());
}

std::vector<Taken> taken_of(const Scenario& scenario, const std::vector<Reading>& readings) {
  std::vector<Taken> all;
  for (const Reading& r : readings) {
    if (std::isnan(r.reading_N)) continue;
    auto at = std::find_if(all.begin(), all.end(), [&](const Taken& t) {
      return t.edge == r.edge && t.cell.moment == r.moment_name;
    });
    if (at == all.end()) {
      const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(r.edge)];
      Taken           t{.edge = r.edge, .moment = r.moment, .cell = {}, .logs = {}, .readings = {}};
      t.cell.edge   = plan.name;
      t.cell.moment = r.moment_name;
      t.cell.passes = passes_until(plan, r.moment);
      at            = all.insert(all.end(), std::move(t));
    }
    if (counts(r)) {
      at->logs.push_back(std::log(laws::in_gram_force(r.reading_N)));
      at->readings.push_back(&r);
    } else {
      ++at->cell.excluded;
    }
  }
  std::stable_sort(all.begin(), all.end(), [](const Taken& a, const Taken& b) {
    if (a.edge != b.edge) return a.edge < b.edge;
    return a.moment.step != b.moment.step ? a.moment.step < b.moment.step : a.cell.passes < b.cell.passes;
  });
  for (Taken& t : all) {
    t.cell.count = static_cast<int>(t.logs.size());
    if (t.logs.empty()) continue;
    t.cell.mean_gf = std::exp(mean_of(t.logs));
    t.cell.low_gf  = std::exp(*std::min_element(t.logs.begin(), t.logs.end()));
    t.cell.high_gf = std::exp(*std::max_element(t.logs.begin(), t.logs.end()));
    if (t.logs.size() > 1)
      t.cell.scatter = std::sqrt(squares_of(t.logs) / static_cast<double>(t.logs.size() - 1));
  }
  return all;
}

std::vector<Kind> kinds_at(const Scenario& scenario, const std::vector<Taken>& all,
                           const std::string& moment) {
  std::vector<Kind> kinds;
  for (const Taken& t : all) {
    if (t.cell.moment != moment || t.logs.empty()) continue;
    const EdgePlan& plan = scenario.edges[static_cast<std::size_t>(t.edge)];
    const auto      step = static_cast<std::size_t>(std::max(0, t.moment.step));
    WaySteps        done = steps_before(
               plan, t.moment.count == 0.0 && std::holds_alternative<CutStep>(plan.steps[step]) ? step : step + 1);
    auto at = std::find_if(kinds.begin(), kinds.end(), [&](const Kind& k) {
      return k.done.tool == done.tool && same_steps(k.done.steps, done.steps);
    });
    if (at == kinds.end()) at = kinds.insert(kinds.end(), Kind{std::move(done), {}, {}, {}, {}, {}});
    at->read.edges.push_back(t.cell.edge);
    at->taken.push_back(&t);
    at->logs.push_back(std::log(t.cell.mean_gf));
    at->counts.push_back(static_cast<double>(t.logs.size()));
    if (!std::isnan(t.cell.model_gf)) at->models.push_back(std::log(t.cell.model_gf));
  }
  std::vector<WaySteps> done;
  for (const Kind& k : kinds) done.push_back(k.done);
  const auto names = way_names(done);
  for (std::size_t k = 0; k < kinds.size(); ++k) {
    kinds[k].read.name    = names[k];
    kinds[k].read.moment  = moment;
    kinds[k].read.mean_gf = std::exp(mean_of(kinds[k].logs));
    if (!kinds[k].models.empty()) kinds[k].read.model_gf = std::exp(mean_of(kinds[k].models));
  }
  return kinds;
}

bool is_sharpened_between(const EdgePlan& plan, std::size_t after, std::size_t before) {
  for (std::size_t i = after + 1; i < std::min(before, plan.steps.size()); ++i) {
    const Step& s = plan.steps[i];
    if (std::holds_alternative<HoneStep>(s) || std::holds_alternative<BackStep>(s) ||
        std::holds_alternative<StropStep>(s))
      return true;
  }
  return false;
}

double variance_of_readings(const std::vector<Taken>& all) {
  double squares = 0.0, dof = 0.0;
  for (const Taken& t : all) {
    if (t.logs.size() < 2) continue;
    squares += squares_of(t.logs);
    dof += static_cast<double>(t.logs.size() - 1);
  }
  return dof > 0.0 ? squares / dof : 0.0;
}

const Taken* moment_before(const std::vector<Taken>& all, const Taken& taken) {
  if (&taken == &all.front()) return nullptr;
  const Taken* before = &taken - 1;
  return before->edge == taken.edge && !before->logs.empty() ? before : nullptr;
}

}  // namespace arris::read
