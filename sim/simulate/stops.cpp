// SPDX-License-Identifier: MIT
#include "sim/simulate/stops.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/wording.hpp"

namespace arris {
namespace {

bool is_read(const Step& step) { return std::holds_alternative<ReadStep>(step); }
bool can_be_parted(const Step& step) {
  return std::holds_alternative<StropStep>(step) || std::holds_alternative<CutStep>(step);
}

// whole counts that are easy to keep: 1, 1.5, 2, 3, 4, 5, 6, 8 times powers of ten, from a hundredth of all up to all
std::vector<double> easy_counts(double all) {
  std::vector<double> out;
  for (double ten = 1.0; ten < all; ten *= 10.0) {
    for (const double m : {1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0}) {
      const double n = m * ten;
      if (n == std::floor(n) && n >= 0.01 * all && n < all) out.push_back(n);
    }
  }
  out.push_back(all);
  return out;
}

}  // namespace

Stop end_of_step(const EdgePlan& plan, int step) {
  while (step >= 0 && is_read(plan.steps[static_cast<std::size_t>(step)])) --step;
  return {step, step < 0 ? 0.0 : count_of(plan.steps[static_cast<std::size_t>(step)])};
}

bool is_end(const EdgePlan& plan, const Stop& stop) {
  if (stop.step < 0) return true;
  const Step& step = plan.steps[static_cast<std::size_t>(stop.step)];
  return !can_be_parted(step) || stop.count >= count_of(step);
}

std::vector<Stop> candidate_stops(const EdgePlan& plan, const Stop& comparison, ReadAt at) {
  std::vector<Stop> out{comparison};
  const auto        add = [&](const Stop& s) {
    const bool there = std::any_of(out.begin(), out.end(), [&](const Stop& o) {
      return o.step == s.step && (o.count == s.count || (is_end(plan, o) && is_end(plan, s)));
    });
    if (!there) out.push_back(s);
  };
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    const Step& step = plan.steps[i];
    const bool  cut = std::holds_alternative<CutStep>(step), strop = std::holds_alternative<StropStep>(step);
    if (!(cut && at != ReadAt::laps) && !(strop && at != ReadAt::passes)) continue;
    if (!(count_of(step) > 0.0)) continue;
    add(end_of_step(plan, static_cast<int>(i) - 1));
    for (const double n : easy_counts(count_of(step))) add({static_cast<int>(i), n});
  }
  std::sort(out.begin(), out.end(), [](const Stop& a, const Stop& b) {
    return a.step != b.step ? a.step < b.step : a.count < b.count;
  });
  return out;
}

Stop comparison_stop(const EdgePlan& plan, bool is_route) {
  if (is_route) return end_of_step(plan, plan.route_steps - 1);
  for (std::size_t i = 0; i < plan.steps.size(); ++i) {
    if (std::holds_alternative<CutStep>(plan.steps[i])) return end_of_step(plan, static_cast<int>(i) - 1);
  }
  return end_of_step(plan, static_cast<int>(plan.steps.size()) - 1);
}

std::string describe_stop(const EdgePlan& plan, const Stop& stop) {
  if (is_end(plan, stop)) {  // perhaps the configuration has a name for it
    for (std::size_t i = 0; i < plan.steps.size(); ++i) {
      const auto* read = std::get_if<ReadStep>(&plan.steps[i]);
      if (read != nullptr && end_of_step(plan, static_cast<int>(i) - 1).step == stop.step) return read->read;
    }
  }
  if (stop.step < 0) return "as it was";
  const Step& step = plan.steps[static_cast<std::size_t>(stop.step)];
  if (std::holds_alternative<StropStep>(step))
    return fmt::format("after {:g} {} on {}", stop.count, stop.count == 1.0 ? "lap" : "laps",
                       subject_of(step));
  if (!std::holds_alternative<CutStep>(step))
    return fmt::format("after {} {}", verb_of(step), subject_of(step));
  double before = 0.0;
  for (int i = 0; i < stop.step; ++i) {
    if (const auto* cut = std::get_if<CutStep>(&plan.steps[static_cast<std::size_t>(i)]))
      before += cut->passes;
  }
  std::string out =
      fmt::format("after {:g} pass{} in {}", stop.count, stop.count == 1.0 ? "" : "es", subject_of(step));
  if (before > 0.0) out += fmt::format(", {:g} in all", before + stop.count);
  return out;
}

EdgePlan read_at(const EdgePlan& plan, const std::vector<Stop>& stops, int replicates) {
  EdgePlan    out      = plan;
  std::size_t next     = 0;
  bool        as_route = true;  // the first steps are still those of the route
  out.steps.clear();
  const auto read = [&](int step) {
    ReadStep r;
    r.read       = fmt::format("stage {}", ++next);
    r.replicates = replicates;
    as_route &= step >= plan.route_steps - 1;
    out.steps.emplace_back(std::move(r));
  };
  const auto ends_here = [&](int step) {
    return next < stops.size() && stops[next].step == step && is_end(plan, stops[next]);
  };
  if (ends_here(-1)) read(-1);
  for (int i = 0; i < static_cast<int>(plan.steps.size()) && next < stops.size(); ++i) {
    const Step& whole = plan.steps[static_cast<std::size_t>(i)];
    if (is_read(whole)) {
      as_route &= i >= plan.route_steps;
      continue;
    }
    Step       left  = whole;
    const auto parts = [&](double& count, double all) {
      double done = 0.0;
      while (next < stops.size() && stops[next].step == i && !is_end(plan, stops[next])) {
        count = stops[next].count - done;
        done  = stops[next].count;
        if (count > 0.0) out.steps.push_back(left);
        as_route &= i >= plan.route_steps;
        read(i);
      }
      count = all - done;
    };
    if (auto* strop = std::get_if<StropStep>(&left)) parts(strop->laps, strop->laps);
    if (auto* cut = std::get_if<CutStep>(&left)) parts(cut->passes, cut->passes);
    if (next == stops.size()) break;
    out.steps.push_back(left);
    if (ends_here(i)) read(i);
  }
  if (!as_route || static_cast<int>(out.steps.size()) < plan.route_steps) {
    out.route.clear();
    out.route_steps = 0;
  }
  return out;
}

}  // namespace arris
