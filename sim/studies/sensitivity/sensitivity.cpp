// SPDX-License-Identifier: MIT
#include "sim/studies/sensitivity/sensitivity.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/simulate/life.hpp"
#include "sim/statistics/designs.hpp"

namespace arris {
namespace {

// points of A, of B, and of A with one coordinate of B, for each input
std::vector<double> points_of(const SensitivitySettings& s, std::size_t inputs) {
  const auto both = unit_design(DesignKind::sobol, s.base, 2 * inputs, s.seed);
  const auto at   = [&](std::size_t point, std::size_t input, bool of_b) {
    return both[point * 2 * inputs + input + (of_b ? inputs : 0)];
  };
  std::vector<double> points;
  points.reserve(s.base * (inputs + 2) * inputs);
  for (std::size_t set = 0; set < inputs + 2; ++set) {
    for (std::size_t p = 0; p < s.base; ++p) {
      for (std::size_t i = 0; i < inputs; ++i) points.push_back(at(p, i, set == 1 || set == i + 2));
    }
  }
  return points;
}

EdgePlan plan_for(const EdgePlan& plan, const SensitivitySettings& s) {
  if (!s.is_life()) return plan;
  if (!cuts_wood(plan))
    throw Error(Exit::usage,
                {.code = "no-cut",
                 .what = fmt::format("the edge \"{}\" cuts no wood, so that it has no life", plan.name),
                 .next = "Name another edge, or another output."});
  return working_history(plan, s.passes);
}

// what came out of each history; NaN where it failed
std::vector<double> answers_in(const SweepMemory& store, const SweepGrid& grid, Sensitivity& found,
                               const SensitivitySettings& s) {
  std::vector<double> out;
  for (std::size_t chunk = 0; chunk < grid.chunks(); ++chunk) {
    const SweepBlock block = store.get(chunk);
    for (std::size_t i = 0; i < block.status.size(); ++i) {
      const bool done  = block.status[i] == static_cast<double>(SweepStatus::done);
      double     value = done ? block.values[0][i] : not_given;
      if (done && s.is_life() && std::isnan(value)) {
        value = s.passes;
        ++found.beyond;
      }
      if (!std::isfinite(value)) {
        value = not_given;
        ++found.failed;
      }
      out.push_back(value);
    }
  }
  return out;
}

// those of the points at which no history failed
SobolSample sample_of(const std::vector<double>& answers, std::size_t base, std::size_t inputs) {
  SobolSample sample;
  sample.ab.resize(inputs);
  for (std::size_t p = 0; p < base; ++p) {
    bool whole = true;
    for (std::size_t set = 0; set < inputs + 2; ++set) whole = whole && !std::isnan(answers[set * base + p]);
    if (!whole) continue;
    sample.a.push_back(answers[p]);
    sample.b.push_back(answers[base + p]);
    for (std::size_t i = 0; i < inputs; ++i) sample.ab[i].push_back(answers[(i + 2) * base + p]);
  }
  return sample;
}

void describe_answers(const SobolSample& sample, Sensitivity& found) {
  found.answers = sample.a;
  found.answers.insert(found.answers.end(), sample.b.begin(), sample.b.end());
  std::sort(found.answers.begin(), found.answers.end());
  const auto n  = static_cast<double>(found.answers.size());
  found.mean    = std::accumulate(found.answers.begin(), found.answers.end(), 0.0) / n;
  double square = 0.0;
  for (const double v : found.answers) square += (v - found.mean) * (v - found.mean);
  found.sd = std::sqrt(square / n);
}

}  // namespace

Sensitivity sensitivity(const Scenario& scenario, const EdgePlan& plan, std::size_t inputs,
                        const InputsAt& inputs_at, const SensitivitySettings& s,
                        const std::function<void(std::size_t, std::size_t)>& progress) {
  const auto      points = points_of(s, inputs);
  SweepDefinition d;
  d.edge     = plan.name;
  d.axes     = {row_axis(points.size() / inputs)};
  d.design   = "sobol";
  d.inputs   = inputs_at(points);
  d.outputs  = {s.output};
  d.moment   = s.moment;
  d.limit_gf = s.limit_gf;
  const Sweep         sweep(scenario, plan_for(plan, s), d);
  SweepMemory         store;
  const SweepFailures failures = sweep.run_into(store, {}, s.threads, progress);

  Sensitivity found;
  found.edge         = plan.name;
  found.cause        = failures.cause;
  found.histories    = sweep.grid().members();
  const auto answers = answers_in(store, sweep.grid(), found, s);
  const auto sample  = sample_of(answers, s.base, inputs);
  found.points       = sample.a.size();
  if (2 * found.points < s.base)
    throw Error(Exit::integration, {.code  = "too-many-failed",
                                    .what  = fmt::format("{} of {} histories failed or have no {}",
                                                         found.failed, found.histories, s.output.name),
                                    .cause = found.cause,
                                    .next  = "Narrow the ranges."});
  describe_answers(sample, found);
  if (found.answers.front() == found.answers.back())
    throw Error(
        Exit::usage,
        {.code  = "same-everywhere",
         .what  = fmt::format("{} is {:g} everywhere in these ranges", s.output.name, found.mean),
         .cause = s.is_life() ? "Every edge is dull at once, or none within the passes looked at." : "",
         .next  = s.is_life() ? "Choose another limit, or look further ahead."
                              : "Choose other inputs, or another output."});
  found.indices = sobol_indices(sample, SensitivitySettings::resamples, s.seed);
  found.inputs  = std::move(d.inputs);
  for (SweepAxis& input : found.inputs) {
    input.values.resize(s.base);
    if (input.is_text()) input.labels.resize(s.base);
  }
  return found;
}

}  // namespace arris
