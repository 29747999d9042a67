// SPDX-License-Identifier: MIT
#include "sim/studies/life.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>

namespace arris {

double passes_to_limit(const std::vector<double>& grid, const std::function<double(double)>& reading,
                       double limit) {
  std::size_t         lowest = 0;
  std::vector<double> values;
  for (const double x : grid) values.push_back(reading(x));
  for (std::size_t i = 1; i < values.size(); ++i) {
    if (values[i] < values[lowest]) lowest = i;
  }
  if (values[lowest] > limit) return 0.0;
  if (!(values.back() > limit)) return std::numeric_limits<double>::infinity();
  std::size_t above = values.size() - 1;
  while (above > lowest + 1 && values[above - 1] > limit) --above;
  double low = grid[above - 1], high = grid[above];
  while (high - low > 1e-6) {
    const double middle                    = 0.5 * (low + high);
    (reading(middle) > limit ? high : low) = middle;
  }
  return high;
}

bool cuts_wood(const EdgePlan& plan) {
  return std::any_of(plan.steps.begin(), plan.steps.end(),
                     [](const Step& s) { return std::holds_alternative<CutStep>(s); });
}

EdgePlan working_history(const EdgePlan& plan, double passes) {
  const auto first = std::find_if(plan.steps.begin(), plan.steps.end(),
                                  [](const Step& s) { return std::holds_alternative<CutStep>(s); });
  if (first == plan.steps.end()) throw std::invalid_argument("working_history: the edge cuts nothing");
  EdgePlan   out   = plan;
  const auto steps = first - plan.steps.begin() + 1;
  out.steps.resize(static_cast<std::size_t>(steps));
  std::get<CutStep>(out.steps.back()).passes = passes;
  return out;
}

std::vector<double> passes_grid(double last, int points) {
  std::vector<double> out;
  for (int i = 0; i <= points; ++i) out.push_back(last * std::pow(static_cast<double>(i) / points, 3));
  out.back() = last;
  return out;
}

}  // namespace arris
