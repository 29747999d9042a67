// SPDX-License-Identifier: MIT
#include "sim/studies/many.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/history/tool_geometry.hpp"
#include "sim/parallel.hpp"
#include "sim/simulate/beside_model.hpp"
#include "sim/simulate/readings.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

Moment moment_of(const SweepMoment& when, const EdgePlan& plan) {
  const int steps = static_cast<int>(plan.steps.size());
  switch (when.kind) {
    case SweepMoment::Kind::end:
      return {steps - 1, not_given};
    case SweepMoment::Kind::after_step:
      if (when.step >= 0 && when.step < steps) return {when.step, not_given};
      throw Error(Exit::usage,
                  {.code    = "no-such-step",
                   .what    = fmt::format("the edge \"{}\" has no step {}", plan.name, when.step + 1),
                   .allowed = fmt::format("1 … {}", steps)});
    case SweepMoment::Kind::after_passes:
      break;
  }
  const Moment moment = moment_after_passes(plan, when.passes);
  if (moment.step < 0) {
    throw Error(Exit::usage,
                {.code = "no-such-moment",
                 .what = fmt::format("the edge \"{}\" never makes {:g} passes", plan.name, when.passes)});
  }
  return moment;
}

// a number of the model, and the range it may have
struct Place {
  double* number = nullptr;
  double  low = 0.0, high = 0.0;
};

std::vector<Place> places_in(Scenario& scenario, const std::vector<std::string>& paths) {
  std::vector<Place>       places(paths.size());
  std::vector<std::string> known;
  for_each_number(scenario.model, [&](const std::string& path, const Field& field, double& number) {
    known.push_back(path);
    for (std::size_t i = 0; i < paths.size(); ++i) {
      if (paths[i] == path) places[i] = {&number, field.low, field.high};
    }
  });
  for (std::size_t i = 0; i < paths.size(); ++i) {
    if (places[i].number != nullptr) continue;
    const std::string meant = did_you_mean(paths[i], known);
    throw Error(Exit::usage,
                {.code = "unknown-parameter",
                 .what = fmt::format("there is no parameter \"{}\"", printable(paths[i])),
                 .next = meant.empty() ? "`arris check` prints all: TABLE.KEY, or TABLE.NAME.KEY." : meant});
  }
  return places;
}

bool is_possible(const Scenario& scenario, const EdgePlan& plan) {
  const auto& tester = scenario.model.tester;
  return geometry_faults(scenario.model.tools[static_cast<std::size_t>(plan.tool)]).empty() &&
         tester.saturation_N > tester.cut_resistance_N;
}

/// Rows of numbers, put into one model in turn.
class Rows final : public PredictionCases {
 public:
  Rows(Scenario& scenario, const std::vector<Place>& places, const double* values, const EdgePlan& plan,
       const std::vector<Moment>& moments)
      : scenario_(scenario), places_(places), values_(values), plan_(plan), moments_(moments) {}

  /// Puts a row into the model; false where a number is out of its range.
  bool put(std::size_t row) {
    bool in_range = true;
    for (std::size_t i = 0; i < places_.size(); ++i) {
      const double value = values_[row * places_.size() + i];
      *places_[i].number = value;
      in_range &= value >= places_[i].low && value <= places_[i].high;
    }
    return in_range;
  }
  void                      add(std::size_t row) { rows_.push_back(row); }
  [[nodiscard]] std::size_t row(std::size_t i) const { return rows_[i]; }

  [[nodiscard]] std::size_t size() const override { return rows_.size(); }
  const Model<double>&      model(std::size_t i) override {
    put(rows_[i]);
    return scenario_.model;
  }
  const EdgePlan&            plan(std::size_t) override { return plan_; }
  const std::vector<Moment>& moments(std::size_t) override { return moments_; }

 private:
  Scenario&                  scenario_;
  const std::vector<Place>&  places_;
  const double*              values_;
  const EdgePlan&            plan_;
  const std::vector<Moment>& moments_;
  std::vector<std::size_t>   rows_;
};

}  // namespace

ManyResults simulate_many(const Scenario& scenario, const EdgePlan& plan, const ManyRows& rows,
                          const std::vector<SweepMoment>& moments, const std::vector<SweepOutput>& outputs,
                          int threads) {
  constexpr std::size_t rows_per_task = 128;
  const std::size_t     m = moments.size(), k = outputs.size();

  // moments in the order in which a history meets them, and where each was asked for
  std::vector<Moment> asked;
  for (const SweepMoment& moment : moments) asked.push_back(moment_of(moment, plan));
  std::vector<std::size_t> order(m);
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    const Moment &x = asked[a], &y = asked[b];
    if (x.step != y.step) return x.step < y.step;
    if (std::isnan(x.count)) return false;
    return std::isnan(y.count) || x.count < y.count;
  });
  std::vector<Moment> met;
  for (const std::size_t i : order) met.push_back(asked[i]);
  EdgePlan until = plan;
  if (!met.empty()) until.steps.resize(static_cast<std::size_t>(met.back().step) + 1);
  const bool needs_life =
      std::any_of(outputs.begin(), outputs.end(), [](const SweepOutput& o) { return !o.value; });

  ManyResults out;
  out.values.assign(rows.count * m * k, not_given);
  out.status.assign(rows.count, static_cast<double>(SweepStatus::missing));
  Scenario base = scenario;
  base.edges.clear();
  (void)places_in(base, rows.paths);  // faults first
  for_each_index((rows.count + rows_per_task - 1) / rows_per_task, threads, [&](std::size_t task) {
    Scenario   own    = base;
    const auto places = places_in(own, rows.paths);
    Rows       cases(own, places, rows.values, until, met);
    for (std::size_t row = task * rows_per_task; row < std::min(rows.count, (task + 1) * rows_per_task);
         ++row) {
      out.status[row] = static_cast<double>(SweepStatus::impossible);
      if (cases.put(row) && is_possible(own, plan)) cases.add(row);
    }
    auto predictions = predict(cases, tolerances_of(own));
    for (std::size_t c = 0; c < predictions.size(); ++c) {
      const std::size_t row        = cases.row(c);
      Prediction&       prediction = predictions[c];
      out.status[row]              = static_cast<double>(status_of(prediction.status.code));
      if (!prediction.status.usable()) continue;
      if (!own.beside.is_empty()) {
        cases.put(row);
        const ReadBeside beside(own, plan);
        beside.put_right(prediction.points);
      }
      double passes = not_given;
      if (needs_life) {
        cases.put(row);
        passes = simulate_edge(own, plan).life.passes;
      }
      for (std::size_t i = 0; i < m; ++i) {
        for (std::size_t o = 0; o < k; ++o)
          out.values[(row * m + order[i]) * k + o] =
              outputs[o].value ? outputs[o].value(prediction.points[i]) : passes;
      }
    }
  });
  return out;
}

}  // namespace arris
