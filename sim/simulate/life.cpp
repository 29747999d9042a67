// SPDX-License-Identifier: MIT
#include "sim/simulate/life.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <limits>
#include <stdexcept>

#include <boost/math/tools/toms748_solve.hpp>

namespace arris {
namespace {
constexpr double closest = 1e-6;  // passes
}

double passes_to_limit(const std::vector<double>& grid, const std::function<double(double)>& reading,
                       double limit) {
  std::vector<double> values;
  values.reserve(grid.size());
  for (const double x : grid) values.push_back(reading(x));
  return passes_to_limit(grid, values, reading, limit);
}

double passes_to_limit(const std::vector<double>& grid, const std::vector<double>& values,
                       const std::function<double(double)>& reading, double limit) {
  const auto lowest =
      static_cast<std::size_t>(std::min_element(values.begin(), values.end()) - values.begin());
  if (values[lowest] > limit) return 0.0;
  if (!(values.back() > limit)) return std::numeric_limits<double>::infinity();
  std::size_t above = values.size() - 1;
  while (above > lowest + 1 && values[above - 1] > limit) --above;
  const double low = grid[above - 1], high = grid[above];
  if (!(high - low > closest)) return high;
  const auto     over      = [&](double x) { return reading(x) - limit; };
  const auto     near      = [](double a, double b) { return std::abs(b - a) <= closest; };
  std::uintmax_t most      = 100;
  const double   below_low = values[above - 1] - limit;
  if (!(below_low < 0.0)) return low;
  return boost::math::tools::toms748_solve(over, low, high, below_low, values[above] - limit, near, most)
      .second;
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
