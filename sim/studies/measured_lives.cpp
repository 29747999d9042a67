// SPDX-License-Identifier: MIT
#include "sim/studies/measured_lives.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <stdexcept>

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <boost/math/distributions/normal.hpp>
#include <ceres/jet.h>

#include "sim/laws/tester.hpp"

namespace arris {
namespace {

using Jet2 = ceres::Jet<double, 2>;

constexpr double infinity = std::numeric_limits<double>::infinity();

// log L of (β, b), times in units of `unit`
template <class T>
T log_likelihood(const std::vector<ObservedLife>& lives, double unit, const T& shape, const T& b) {
  using std::exp;
  using std::log;
  T sum(0.0);
  for (const ObservedLife& life : lives) {
    const auto z     = [&](double t) { return shape * std::log(t / unit) - b; };
    const auto count = static_cast<double>(life.count);
    if (life.high == life.low) {
      sum += count * (log(shape) + z(life.low) - exp(z(life.low)) - std::log(life.low));
      continue;
    }
    // log(S(low) − S(high)) = −H(low) + log(1 − e^−(H(high) − H(low)))
    const T before = life.low > 0.0 ? T(exp(z(life.low))) : T(0.0);
    sum -= count * before;
    if (std::isfinite(life.high)) sum += count * log(T(1.0) - exp(before - exp(z(life.high))));
  }
  return sum;
}

struct Slopes {
  double          value = -infinity;
  Eigen::Vector2d gradient;
  Eigen::Matrix2d hessian;
};

Eigen::Vector2d gradient_at(const std::vector<ObservedLife>& lives, double unit, const Eigen::Vector2d& x,
                            double* value = nullptr) {
  const Jet2 l = log_likelihood(lives, unit, Jet2(x[0], 0), Jet2(x[1], 1));
  if (value != nullptr) *value = l.a;
  return l.v;
}

// the curvature by central differences of exact slopes: good to 1e-9 of it
Slopes slopes_at(const std::vector<ObservedLife>& lives, double unit, const Eigen::Vector2d& x) {
  Slopes s;
  s.gradient = gradient_at(lives, unit, x, &s.value);
  for (int i = 0; i < 2; ++i) {
    const double    h  = 1e-5 * std::max(std::abs(x[i]), 0.1);
    Eigen::Vector2d up = x, down = x;
    up[i] += h;
    down[i] -= h;
    s.hessian.col(i) = (gradient_at(lives, unit, up) - gradient_at(lives, unit, down)) / (2.0 * h);
  }
  s.hessian = 0.5 * (s.hessian + s.hessian.transpose()).eval();
  return s;
}

}  // namespace

WeibullFit fit_weibull(const std::vector<ObservedLife>& lives) {
  WeibullFit fit;
  double     logs = 0.0, weight = 0.0;
  bool       ended = false, differ = false;
  double     first = not_given;
  for (const ObservedLife& life : lives) {
    if (!(life.low >= 0.0) || !(life.high >= life.low) || life.high == 0.0)
      throw std::invalid_argument("fit_weibull: a life lies between 0 ≤ low ≤ high, high above 0");
    const double t = std::isfinite(life.high) ? life.high : life.low;
    ended |= std::isfinite(life.high);
    if (!(t > 0.0)) continue;  // still good before the first pass says nothing
    if (std::isnan(first)) first = t;
    differ |= t != first || life.low != life.high;
    logs += life.count * std::log(t);
    weight += life.count;
  }
  if (!ended || !differ) return fit;

  // Newton's steps on a concave function, halved until it rises
  const double    unit = std::exp(logs / weight);
  Eigen::Vector2d x(1.0, 0.0);  // exponential lives of about that length
  Slopes          s = slopes_at(lives, unit, x);
  for (int round = 0; round < 200 && std::isfinite(s.value); ++round) {
    const Eigen::Vector2d step = (-s.hessian).ldlt().solve(s.gradient);
    if (!step.allFinite()) return fit;
    const double gain = s.gradient.dot(step);
    if (std::abs(gain) < 1e-14) {
      fit.usable = s.hessian.determinant() > 0.0 && s.hessian(0, 0) < 0.0;
      break;
    }
    bool moved = false;
    for (double share = 1.0; share > 1e-10 && !moved; share *= 0.5) {
      const Eigen::Vector2d to = x + share * step;
      if (!(to[0] > 0.0)) continue;
      double value = -infinity;
      if (!gradient_at(lives, unit, to, &value).allFinite() || !(value > s.value || gain < 1e-10)) continue;
      x     = to;
      s     = slopes_at(lives, unit, x);
      moved = true;
    }
    if (!moved || x[0] > 1e3) return fit;  // lives so close together that no shape can be told
  }
  if (!fit.usable) return fit;
  fit.shape          = x[0];
  fit.scale          = unit * std::exp(x[1] / x[0]);
  fit.log_likelihood = s.value;
  // from (β, b) to (log η, log β): log η = log unit + b/β
  Eigen::Matrix2d by;
  by << -x[1] / (x[0] * x[0]), 1.0 / x[0], 1.0 / x[0], 0.0;
  fit.covariance = by * (-s.hessian).inverse() * by.transpose();
  return fit;
}

WeibullFit::Quantile WeibullFit::quantile(double p) const {
  const double          w     = std::log(-std::log1p(-p));  // log t = log η + w/β
  const double          log_t = std::log(scale) + w / shape;
  const Eigen::Vector2d slope(1.0, -w / shape);
  const double          sd    = std::sqrt(slope.dot(covariance * slope));
  const double          reach = boost::math::quantile(boost::math::normal(), 0.95);
  return {std::exp(log_t), std::exp(log_t - reach * sd), std::exp(log_t + reach * sd)};
}

double product_limit_median(const std::vector<double>& at, const std::vector<bool>& ended) {
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < at.size(); ++i) order.push_back(i);
  // at one time ends come before what is only no longer watched
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return at[a] != at[b] ? at[a] < at[b] : ended[a] && !ended[b];
  });
  double share = 1.0;
  for (std::size_t i = 0; i < order.size(); ++i) {
    if (!ended[order[i]]) continue;
    const auto left = static_cast<double>(order.size() - i);
    share *= 1.0 - 1.0 / left;
    if (share <= 0.5 + 1e-12) return at[order[i]];
  }
  return infinity;
}

namespace {

// passes since the first cut at a moment, NaN where the edge has been sharpened again, or not cut yet and a stone is to come
double passes_at(const EdgePlan& plan, const Moment& moment) {
  double passes = 0.0;
  bool   cut    = false;
  for (int i = 0; i <= moment.step; ++i) {
    const Step& step = plan.steps[static_cast<std::size_t>(i)];
    if (const auto* c = std::get_if<CutStep>(&step)) {
      passes += i < moment.step || std::isnan(moment.count) ? c->passes : moment.count;
      cut = true;
    } else if (cut && count_of(step) > 0.0) {
      return not_given;
    }
  }
  if (cut) return passes;
  for (std::size_t i = static_cast<std::size_t>(moment.step) + 1; i < plan.steps.size(); ++i) {
    if (std::holds_alternative<CutStep>(plan.steps[i])) return 0.0;
    if (count_of(plan.steps[i]) > 0.0) return not_given;
  }
  return not_given;
}

}  // namespace

std::vector<MeasuredLives> measured_lives(const Scenario& scenario, const std::vector<Reading>& readings,
                                          const std::vector<std::size_t>& edges, double limit_N) {
  struct Sum {
    double logs  = 0.0;
    int    count = 0;
  };
  std::vector<MeasuredLives>       out;
  std::vector<std::vector<double>> ends;  // by group: where the straight line crosses, or the last reading
  std::vector<std::vector<bool>>   ended;
  for (const std::size_t e : edges) {
    const EdgePlan&       plan = scenario.edges[e];
    std::map<double, Sum> by_passes;
    for (const Reading& r : readings) {
      if (static_cast<std::size_t>(r.edge) != e || !r.excluded.empty() || std::isnan(r.reading_N)) continue;
      const double passes = passes_at(plan, r.moment);
      if (std::isnan(passes)) continue;
      by_passes[passes].logs += std::log(r.reading_N);
      ++by_passes[passes].count;
    }
    if (by_passes.empty() || !(by_passes.rbegin()->first > 0.0)) continue;
    std::vector<double> passes, reading;
    for (const auto& [at, sum] : by_passes) {
      passes.push_back(at);
      reading.push_back(std::exp(sum.logs / sum.count));
    }
    const auto lowest =
        static_cast<std::size_t>(std::min_element(reading.begin(), reading.end()) - reading.begin());
    ObservedLife life;
    double       end = passes.back();
    if (!(reading.back() > limit_N)) {
      life = {passes.back(), infinity};
    } else if (reading[lowest] > limit_N) {
      // never seen below the limit: over by the first reading in wood
      const double first = passes.front() > 0.0 ? passes.front() : passes[1];
      life               = {0.0, first};
      end                = first;
    } else {
      std::size_t above = passes.size() - 1;
      while (above > lowest + 1 && reading[above - 1] > limit_N) --above;
      life = {passes[above - 1], passes[above]};
      end  = life.low +
            (limit_N - reading[above - 1]) / (reading[above] - reading[above - 1]) * (life.high - life.low);
    }
    const auto         first = std::find_if(plan.steps.begin(), plan.steps.end(),
                                            [](const Step& s) { return std::holds_alternative<CutStep>(s); });
    const std::string& wood  = std::get<CutStep>(*first).cut;
    auto group = std::find_if(out.begin(), out.end(), [&](const MeasuredLives& m) { return m.wood == wood; });
    if (group == out.end()) {
      out.push_back({.wood = wood});
      ends.emplace_back();
      ended.emplace_back();
      group = out.end() - 1;
    }
    const auto g      = static_cast<std::size_t>(group - out.begin());
    const bool is_end = std::isfinite(life.high);
    (is_end ? group->ended : group->still_good) += 1;
    group->edges.push_back(plan.name);
    group->lives.push_back(life);
    ends[g].push_back(end);
    ended[g].push_back(is_end);
  }
  for (std::size_t g = 0; g < out.size(); ++g) {
    out[g].median  = product_limit_median(ends[g], ended[g]);
    out[g].weibull = fit_weibull(out[g].lives);
  }
  return out;
}

AnswerTable readings_in_wood(const Scenario& scenario, const std::vector<Reading>& readings,
                             const std::vector<std::size_t>& edges) {
  std::vector<std::string> edge, person, excluded;
  std::vector<double>      at, reading;
  for (const std::size_t e : edges) {
    for (const Reading& r : readings) {
      if (static_cast<std::size_t>(r.edge) != e || std::isnan(r.reading_N)) continue;
      const double passes = passes_at(scenario.edges[e], r.moment);
      if (std::isnan(passes)) continue;
      edge.push_back(scenario.edges[e].name);
      person.push_back(r.operator_name);
      excluded.push_back(r.excluded);
      at.push_back(passes);
      reading.push_back(laws::in_gram_force(r.reading_N));
    }
  }
  AnswerTable table{
      .name = "readings", .says = "Readings that were taken", .axis = "reading", .on_terminal = false};
  table.text("edge", "", "name of the edge", std::move(edge));
  table.number("passes", "1", "", "passes since the edge was sharpened", std::move(at));
  table.number("reading_gf", "gf", "", "what the tester showed", std::move(reading));
  table.text("operator", "", "who read", std::move(person));
  table.text("excluded", "", "why it does not count; empty: it counts", std::move(excluded));
  return table;
}

}  // namespace arris
