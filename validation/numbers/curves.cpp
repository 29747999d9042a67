// SPDX-License-Identifier: MIT
// Differential equations with closed solutions through the integrator, and curves through the fitter.
#include <array>
#include <cmath>
#include <functional>

#include <boost/math/distributions/fisher_f.hpp>
#include <boost/numeric/odeint.hpp>

#include "sim/integrate/growth.hpp"
#include "sim/integrate/jet.hpp"
#include "sim/integrate/stepper.hpp"
#include "sim/statistics/profile.hpp"
#include "tests/nist_strd.hpp"
#include "tests/published_fits.hpp"
#include "validation/numbers/numbers.hpp"

namespace arris::numbers {

namespace {

using Jet = ceres::Jet<double, 3>;

/// A problem over any number: dy/ds = f(y, s) of N components.
template <class T, std::size_t N, class F>
struct Problem {
  using Vector = std::array<T, N>;
  F    f;
  void rates(const Vector& y, Vector& dy, double s) const { f(y, dy, s); }
};

/// The same where the rate depends on the radius alone and is positive: then the library integrates 1/rate.
template <class T, class F>
struct Growth {
  F                                   rate;
  [[nodiscard]] T                     growth(const T& r) const { return rate(r); }
  [[nodiscard]] std::array<double, 0> joints() const { return {}; }
};

Tolerances at(double relative) {
  Tolerances t;
  t.relative    = relative;
  t.absolute_um = 1e-2 * relative;  // as a configuration's tolerance is meant (tolerances.hpp)
  return t;
}

const char* name_of(StageStatus status) {
  switch (status) {
    case StageStatus::done:
      return "done";
    case StageStatus::ended:
      return "ended";
    case StageStatus::too_many_steps:
      return "too many steps";
    case StageStatus::not_finite:
      return "not finite";
  }
  return "";
}

/// Values of component `shown` at `points`, from s = `from` on.
template <std::size_t N, class F, class E>
Json solve(const std::string& id, F f, std::array<double, N> y, double from,
           const std::vector<double>& points, const Tolerances& tolerances, std::size_t shown,
           const E& events) {
  const auto shifted = [&](const auto& at, auto& dy, double s) { f(at, dy, s + from); };
  Problem<double, N, decltype(shifted)> stage{shifted};
  std::vector<double>                   local, values;
  for (double p : points) local.push_back(p - from);
  const auto end = integrate_stage<double>(
      stage, y, local.back(), local,
      [&](double, const std::array<double, N>& there) { values.push_back(there[shown]); }, events,
      tolerances);
  return {{"id", id},
          {"tolerance", tolerances.relative},
          {"points", std::vector<double>(points.begin(), points.begin() + static_cast<long>(values.size()))},
          {"values", values},
          {"status", name_of(end.status)},
          {"steps", end.steps},
          {"end", end.n + from}};
}

template <class Rate>
Json grow(const std::string& id, Rate rate, double r0, double from, const std::vector<double>& points,
          const Tolerances& tolerances) {
  const Growth<double, Rate> stage{rate};
  std::vector<double>        local, values;
  for (double p : points) local.push_back(p - from);
  StageEnd<double, 1> end{StageStatus::done, {r0}, 0.0};
  const bool          had = integrate_growth<double>(
      stage, {r0}, local.back(), local,
      [&](double, const std::array<double, 1>& there) { values.push_back(there[0]); }, tolerances, end);
  return {{"id", id},         {"tolerance", tolerances.relative},        {"points", points},
          {"values", values}, {"status", had ? "done" : "not this way"}, {"steps", 0}};
}

/// dr/ds = f(r, s) of one component, as the integrator wants it.
template <class F>
auto one(F f) {
  return [f](const auto& y, auto& dy, double s) { dy[0] = f(y[0], s); };
}

/// Derivatives of the end by up to three parameters; f is given those as jets.
template <class F>
Json slopes(const std::string& id, F f, double r0, const std::vector<double>& parameters,
            const std::vector<std::string>& names, double s) {
  std::array<Jet, 3> p;
  for (std::size_t i = 0; i < parameters.size(); ++i) p[i] = Jet(parameters[i], static_cast<int>(i));
  // the last name may be the start
  Jet start(r0);
  if (names.back() == "r0") start = Jet(r0, static_cast<int>(names.size()) - 1);
  const auto                             rates = [&](const auto& y, auto& dy, double) { dy[0] = f(y[0], p); };
  const Problem<Jet, 1, decltype(rates)> stage{rates};
  const auto                             end = integrate_stage<Jet>(
      stage, std::array<Jet, 1>{start}, s, {}, [](auto&&...) {}, Events<>{}, at(1e-9));
  Json out = {{"id", id}, {"s", s}, {"value", end.y[0].a}, {"status", name_of(end.status)}};
  for (std::size_t i = 0; i < names.size(); ++i)
    out["slopes"][names[i]] = end.y[0].v[static_cast<Eigen::Index>(i)];
  return out;
}

/// Problems whose solution is known, by the stepper and, where the rate depends on the radius alone, as growth too.
struct Solved {
  Json stepped = Json::array(), grown = Json::array();
};

/// Smooth ones, of one component.
void add_smooth(Solved& solved, const Tolerances& t) {
  using std::exp;
  using std::log;
  const auto add = [&](const char* id, auto f, double r0, std::vector<double> points, double from = 0.0) {
    solved.stepped.push_back(solve<1>(id, one(f), {r0}, from, points, t, 0, Events<>{}));
  };
  const auto add_growth = [&](const char* id, auto rate, double r0, std::vector<double> points,
                              double from = 0.0) {
    add(
        id, [rate](double r, double) { return rate(r); }, r0, points, from);
    solved.grown.push_back(grow(id, rate, r0, from, points, t));
  };
  add_growth("archard_linear", [](double) { return 0.003; }, 0.4, {0, 10, 100, 1000});
  add_growth("sqrt_growth", [](double r) { return 0.02 / r; }, 0.4, {0, 1, 10, 100, 1000});
  add_growth(
      "sqrt_growth_from_zero", [](double r) { return 0.02 / r; }, 2e-4, {1e-6, 1, 100}, 1e-6);
  add_growth("power_m2", [](double r) { return 0.01 / (r * r); }, 0.4, {0, 1, 10, 100, 1000});
  add("exp_approach", [](double r, double) { return -(r - 0.5) / 12; }, 8, {0, 1, 12, 60, 240});
  add("exp_approach_with_source", [](double r, double) { return 0.01 - (r - 0.5) / 12; }, 8,
      {0, 1, 12, 60, 240});
  add("second_order_removal", [](double r, double) { return -0.02 * (r - 0.5) * (r - 0.5); }, 8,
      {0, 1, 10, 100, 1000});
  add_growth("logistic", [](double r) { return 0.05 * r * (1 - r / 12); }, 0.4, {0, 10, 60, 100, 300});
  add_growth("gompertz", [](double r) { return 0.05 * r * log(12 / r); }, 0.4, {0, 10, 60, 100, 300});
  add("balance_wear_vs_hone", [](double r, double) { return 0.02 / r - 0.05 * r; }, 3, {0, 1, 10, 50, 200});
  add("running_in", [](double, double s) { return 0.002 + 0.05 * exp(-s / 15); }, 0.4, {0, 5, 15, 100, 1000});
  add("michaelis_menten_decay", [](double r, double) { return -0.5 * r / (2 + r); }, 8, {0, 1, 5, 16, 40});
}

/// Those that end or jump at an event, a stiff one, and one of two components.
void add_difficult(Solved& solved, const Tolerances& t) {
  // the rate is no number below 0: the end is an event, met at 1e-4, from which √r tells what is left
  solved.stepped.push_back(
      solve<1>("finite_time_extinction(event)", one([](double r, double) { return -0.1 * std::sqrt(r); }),
               {4.0}, 0.0, {0, 10, 30, 39, 40}, t, 0,
               end_where([](const std::array<double, 1>& y, double) { return y[0] - 1e-4; })));
  // a rate that jumps: the stage ends at the event, another one goes on
  Json first =
      solve<1>("piecewise_rate(event)", one([](double, double) { return 0.03; }), {0.4}, 0.0, {0, 10, 120}, t,
               0, end_where([](const std::array<double, 1>& y, double) { return 1.0 - y[0]; }));
  Json then      = solve<1>("piecewise_rate(event)", one([](double, double) { return 0.003; }), {1.0},
                       first["end"], {first["end"].get<double>(), 30, 120}, t, 0, Events<>{});
  first["after"] = then;
  solved.stepped.push_back(first);

  Tolerances many = t;
  many.max_steps  = 100000000;
  solved.stepped.push_back(solve<1>("stiff_prothero_robinson", one([](double r, double s) {
                                      return -1e6 * (r - std::cos(s)) - std::sin(s);
                                    }),
                                    {1.0}, 0.0, {0, 1, 10}, many, 0, Events<>{}));
  solved.stepped.push_back(solve<2>(
      "chain_A_to_B (burr)",
      [](const auto& y, auto& dy, double) {
        dy[0] = -0.3 * y[0];
        dy[1] = 0.3 * y[0] - 0.05 * y[1];
      },
      {1.0, 0.0}, 0.0, {0, 1, 5, 7.16703787691222, 50}, t, 1, Events<>{}));
}

Json sensitivities_of_ends() {
  Json sensitivities = Json::array();
  using P            = std::array<Jet, 3>;
  for (double s : {1.0, 12.0, 60.0})
    sensitivities.push_back(slopes(
        "exp_approach", [](const Jet& r, const P& p) { return -(r - p[0]) / p[1]; }, 8.0, {0.5, 12.0},
        {"ri", "L", "r0"}, s));
  for (double s : {1.0, 10.0, 1000.0})
    sensitivities.push_back(slopes(
        "sqrt_growth", [](const Jet& r, const P& p) { return p[0] / r; }, 0.4, {0.02}, {"a", "r0"}, s));
  for (double s : {10.0, 60.0, 100.0})
    sensitivities.push_back(slopes(
        "logistic", [](const Jet& r, const P& p) { return p[0] * r * (1.0 - r / p[1]); }, 0.4, {0.05, 12.0},
        {"g", "K", "r0"}, s));
  for (double s : {1.0, 10.0, 100.0})
    sensitivities.push_back(slopes(
        "second_order_removal", [](const Jet& r, const P& p) { return -p[0] * (r - 0.5) * (r - 0.5); }, 8.0,
        {0.02}, {"b"}, s));
  return sensitivities;
}

}  // namespace

Json closed_form_problems() {
  Solved solved;
  for (double relative : {1e-6, 1e-9}) {
    add_smooth(solved, at(relative));
    add_difficult(solved, at(relative));
  }
  // as a configuration has it, a problem this stiff is given up, and says so
  Json refused = solve<1>("stiff_prothero_robinson",
                          one([](double r, double s) { return -1e6 * (r - std::cos(s)) - std::sin(s); }),
                          {1.0}, 0.0, {0, 1, 10}, Tolerances{}, 0, Events<>{});
  return {{"stepped", solved.stepped},
          {"grown", solved.grown},
          {"refused", refused},
          {"sensitivities", sensitivities_of_ends()}};
}

Json convergence() {
  namespace odeint = boost::numeric::odeint;
  // exponential approach, second-order removal, wear against honing: exact at s
  struct Case {
    const char*                           id;
    double                                r0, s, exact;
    std::function<double(double, double)> rate;
  };
  const std::vector<Case> cases{
      {"exp_approach", 8.0, 12.0, 0.5 + 7.5 * std::exp(-1.0),
       [](double r, double) { return -(r - 0.5) / 12; }},
      {"second_order_removal", 8.0, 10.0, 0.5 + 7.5 / (1 + 0.02 * 7.5 * 10),
       [](double r, double) { return -0.02 * (r - 0.5) * (r - 0.5); }},
      {"balance_wear_vs_hone", 3.0, 10.0, std::sqrt(0.4 + 8.6 * std::exp(-1.0)),
       [](double r, double) { return 0.02 / r - 0.05 * r; }},
      {"logistic", 0.4, 60.0, 12.0 / (1 + 29.0 * std::exp(-3.0)),
       [](double r, double) { return 0.05 * r * (1 - r / 12); }},
  };
  Json out = Json::array();
  for (const Case& c : cases) {
    Json by_tolerance = Json::array(), by_step = Json::array();
    for (double digits = 3.0; digits <= 10.01; digits += 0.25) {
      const double t    = std::pow(10.0, -digits);
      const Json   done = solve<1>(c.id, one(c.rate), {c.r0}, 0.0, {c.s}, at(t), 0, Events<>{});
      by_tolerance.push_back({t, std::abs(done["values"][0].get<double>() - c.exact) / c.exact});
    }
    for (int steps = 8; steps <= 128; steps *= 2) {
      std::array<double, 1> y{c.r0};
      odeint::integrate_n_steps(
          odeint::runge_kutta_dopri5<std::array<double, 1>>(),
          [&](const std::array<double, 1>& now, std::array<double, 1>& dy, double s) {
            dy[0] = c.rate(now[0], s);
          },
          y, 0.0, c.s / steps, static_cast<std::size_t>(steps));
      by_step.push_back({c.s / steps, std::abs(y[0] - c.exact) / c.exact});
    }
    out.push_back({{"id", c.id}, {"by_tolerance", by_tolerance}, {"by_step", by_step}});
  }
  return out;
}

Json certified_fits() {
  using namespace bench::nist;
  Json out = Json::array();
  for (const auto& [name, problem] : certified_problems()) {
    const Residuals function = bench::residuals_of(nist_curves().at(name), read_dat(name));
    for (int start : {0, 1}) {
      LeastSquaresOptions options;
      // from its first start MGH10 creeps along a curved valley for some thousand steps
      if (name == "MGH10") options.max_iterations = 2000;
      const auto            fit = least_squares(function, vector_of(problem.start[start]), options);
      const Eigen::VectorXd sd  = bench::standard_deviations(fit);
      out.push_back({{"problem", name},
                     {"start", start + 1},
                     {"usable", fit.usable()},
                     {"iterations", fit.iterations},
                     {"digits", fewest_digits(fit.x, problem.value)},
                     {"digits_sd", fewest_digits(sd, problem.sd)},
                     {"digits_rss", bench::matching_digits(2.0 * fit.cost, problem.rss)}});
    }
  }
  return out;
}

Json published_fits() {
  Json out;
  for (const char* name : {"puromycin_treated", "puromycin_untreated", "bod", "dnase_run1", "orange_tree3",
                           "loblolly_seed301", "wtloss", "indometh_subject1", "theoph_subject4", "steam",
                           "fatigue_path1", "rubber_abrasion", "wool_loglog", "wool_loglinear_coded"}) {
    const auto            p        = bench::published::problem(name);
    const Residuals       function = bench::residuals_of(p.curve, p.data);
    const auto            fit      = least_squares(function, bench::published::vector_of(p.start));
    const Eigen::VectorXd sd       = bench::standard_deviations(fit);
    const double          dof      = static_cast<double>(fit.residuals.size() - fit.x.size());
    const double          rss      = 2.0 * fit.cost;
    Json row = {{"usable", fit.usable()}, {"rss", rss}, {"dof", dof}, {"s", std::sqrt(rss / dof)}};
    for (Eigen::Index i = 0; i < fit.x.size(); ++i) {
      row["value"].push_back(fit.x[i]);
      row["sd"].push_back(sd[i]);
      for (const int percent : {90, 95, 99}) {
        const double rise = rss / dof * quantile(boost::math::fisher_f(1.0, dof), 0.01 * percent);
        const auto   ends = profile_interval(function, fit.x, i, rise);
        row["profile" + std::to_string(percent)].push_back(
            {ends.lower.found() ? Json(ends.lower.value) : Json(nullptr),
             ends.upper.found() ? Json(ends.upper.value) : Json(nullptr)});
      }
    }
    out[name] = row;
  }
  return out;
}

}  // namespace arris::numbers
