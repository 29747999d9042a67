// SPDX-License-Identifier: MIT
#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <limits>
#include <utility>

#include <boost/math/special_functions/lambert_w.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <boost/numeric/odeint.hpp>
#include <catch2/catch.hpp>

#include "sim/integrate/growth.hpp"
#include "sim/integrate/jet.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using bench::off;

namespace {

// dr/dn = −A·(1 − ρ/r): honing to a floor with m = 1, of which r = ρ·(1 + W₀(u₀·e^(u₀ − A·n/ρ))) is the solution
struct Fall {
  using Vector = std::array<double, 1>;
  double A = 0.02, rho = 0.3, r0 = 1.5;

  void rates(const Vector& y, Vector& dy, double /*n*/) const { dy[0] = -A * (1.0 - rho / y[0]); }
  [[nodiscard]] double radius(double n) const {
    const double u0 = r0 / rho - 1.0;
    return rho * (1.0 + boost::math::lambert_w0(u0 * std::exp(u0 - A * n / rho)));
  }
  // where the radius has fallen to r
  [[nodiscard]] double count(double r) const {
    const double u0 = r0 / rho - 1.0, u = r / rho - 1.0;
    return rho / A * (u0 - u + std::log(u0 / u));
  }
};

// a whole honing step: micro-bevel, glazing stone, scratches, burr
struct Honing {
  Model<double>     model = bench::workshop();
  Blade<double>     blade = bench::blade_of(model, bench::tool::iron);
  EdgeState<double> state =
      initial_state(model.tools[bench::tool::iron], blade, model.tester.contact_distance_um);
  FaceStage<double> stage;

  Honing() {
    Ledger<double> ledger;
    ledger.reset(model.media.size());
    stage = assemble(bench::hone(bench::medium::middle, 1.0), model, blade, state, ledger);
  }
};

// slope of a straight line through the points
double slope_of(const std::vector<double>& x, const std::vector<double>& y) {
  const auto n  = static_cast<double>(x.size());
  double     sx = 0, sy = 0, sxx = 0, sxy = 0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    sx += x[i];
    sy += y[i];
    sxx += x[i] * x[i];
    sxy += x[i] * y[i];
  }
  return (n * sxy - sx * sy) / (n * sxx - sx * sx);
}

template <std::size_t N, class Stage>
double error_at(const Stage& stage, const std::array<double, N>& y, double n, double tolerance,
                const std::array<double, N>& exact) {
  const auto end   = bench::end_of<N>(stage, y, n, bench::at_tolerance(tolerance));
  double     worst = 0.0;
  for (std::size_t i = 0; i < N; ++i) worst = std::max(worst, off(end.y[i], exact[i]));
  return worst;
}

// error against tolerance, as a slope in logarithms, over eight decades below a hundredth
template <std::size_t N, class Stage>
double slope_over_tolerances(const Stage& stage, const std::array<double, N>& y, double n,
                             const std::array<double, N>& exact) {
  std::vector<double> x, e;
  for (double digits = 3.0; digits <= 10.01; digits += 0.25) {
    x.push_back(-digits);
    e.push_back(std::log10(error_at<N>(stage, y, n, std::pow(10.0, -digits), exact)));
  }
  return slope_of(x, e);
}

bool same_bits(double a, double b) {
  return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
}

template <std::size_t N>
bool same_bits(const std::array<double, N>& a, const std::array<double, N>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), [](double x, double y) { return same_bits(x, y); });
}

}  // namespace

// order

TEST_CASE("With fixed steps the error of a stage falls with the fifth power of the step") {
  namespace odeint = boost::numeric::odeint;
  const Fall   fall;
  const double n = 60.0;  // down to 1.3 times the floor
  using Vector   = Fall::Vector;
  std::vector<double> x, e;
  for (int steps = 8; steps <= 128; steps *= 2) {
    Vector y{fall.r0};
    odeint::integrate_n_steps(
        odeint::runge_kutta_dopri5<Vector>(),
        [&](const Vector& at, Vector& dy, double time) { fall.rates(at, dy, time); }, y, 0.0, n / steps,
        static_cast<std::size_t>(steps));
    x.push_back(std::log(n / steps));
    e.push_back(std::log(off(y[0], fall.radius(n))));
  }
  // 5 in the limit; the next term in the error, a step times about 1/50, tilts the line by a few tenths
  CHECK(std::abs(slope_of(x, e) - 5.0) < 0.35);
}

TEST_CASE("The equations of a whole honing step are smooth enough for the fifth order") {
  namespace odeint = boost::numeric::odeint;
  const Honing h;
  using Vector       = FaceStage<double>::Vector;
  const double n     = 40.0;
  const auto   rates = [&](const Vector& at, Vector& dy, double time) { h.stage.rates(at, dy, time); };
  const auto   exact = bench::brute_force<3>(
      [&](const Vector& at, double time) {
        Vector dy;
        rates(at, dy, time);
        return dy;
      },
      h.stage.start(h.state), n, 1e-14);
  std::vector<double> x, e;
  for (int steps = 10; steps <= 160; steps *= 2) {
    Vector y = h.stage.start(h.state);
    odeint::integrate_n_steps(odeint::runge_kutta_dopri5<Vector>(), rates, y, 0.0, n / steps,
                              static_cast<std::size_t>(steps));
    x.push_back(std::log(n / steps));
    e.push_back(std::log(off(y[0], exact[0])));
  }
  // the fifth-order coefficient of this formula is small and steps are long: the sixth order still shows, never less
  CHECK(slope_of(x, e) > 4.65);
}

// Step control holds the difference of the fifth- and the fourth-order result, which goes as the fifth power of the step,
// to the tolerance: steps go as its fifth root. The fifth-order result is kept; its local error goes as the sixth power
// of the step, and summed over steps in inverse number to their size as the fifth: in proportion to the tolerance.
TEST_CASE("The error of a stage falls in proportion to the tolerance") {
  const Fall fall;
  CHECK(std::abs(slope_over_tolerances<1>(fall, {fall.r0}, 60.0, {fall.radius(60.0)}) - 1.0) < 0.2);

  const Honing h;
  const auto   plain = [&](const std::array<double, 3>& y, double n) {
    std::array<double, 3> dy;
    h.stage.rates(y, dy, n);
    return dy;
  };
  const auto exact = bench::brute_force<3>(plain, h.stage.start(h.state), 40.0, 1e-14);
  CHECK(std::abs(slope_over_tolerances<3>(h.stage, h.stage.start(h.state), 40.0, exact) - 1.0) < 0.2);
}

TEST_CASE("At any tolerance the error stays below the steps times the tolerance") {
  const Fall fall;
  for (double tolerance : {1e-3, 1e-5, 1e-7, 1e-9, 1e-11}) {
    for (double n : {0.5, 10.0, 60.0, 400.0}) {
      const auto tol = bench::at_tolerance(tolerance);
      const auto end = bench::end_of<1>(fall, {fall.r0}, n, tol);
      CAPTURE(tolerance, n, end.steps);
      CHECK(end.status == StageStatus::done);
      CHECK(end.n == n);
      CHECK(std::abs(end.y[0] - fall.radius(n)) < bench::error_bound(end, tol, fall.r0));
    }
  }
}

TEST_CASE("A stage of no length or at rest stays where it is") {
  const Fall fall;
  const auto none = bench::end_of<1>(fall, {fall.r0}, 0.0, {});
  CHECK(none.status == StageStatus::done);
  CHECK(none.y[0] == fall.r0);
  CHECK(none.steps == 0);
  const auto rest = bench::end_of<1>(fall, {fall.rho}, 1000.0, {});
  CHECK(rest.y[0] == fall.rho);
  CHECK(rest.n == 1000.0);
  CHECK(rest.steps == 1);
}

// where the estimate of the error is deceived

TEST_CASE("A fine apex that blunts on a coarse medium is integrated to the tolerance") {
  // dr/dn = r^−m from r = 1, as far below a floor: r = (1 + (m + 1)·n)^(1/(m+1)). Over a step of h = 0.15 of r/(dr/dn), the
  // most that is taken, one step of this formula errs by up to 15 times its estimate; each damps what came before it.
  for (double m : {1.0, 2.0, 3.0}) {
    const auto stage =
        bench::plain_stage<1>([m](const auto& r, double) { return std::array{std::pow(r[0], -m)}; });
    for (double tolerance : {1e-3, 1e-4, 1e-5, 1e-6, 1e-7}) {
      double worst = 0.0;
      for (double n = 0.01; n < 1e4; n *= 1.07) {
        const auto end = bench::end_of<1>(stage, {1.0}, n, bench::at_tolerance(tolerance));
        worst          = std::max(worst, off(end.y[0], std::pow(1.0 + (m + 1.0) * n, 1.0 / (m + 1.0))));
      }
      CAPTURE(m, tolerance, worst / tolerance);
      CHECK(worst < 15 * tolerance);
    }
  }
}

TEST_CASE("A rate that falls off from the very start is integrated to the tolerance") {
  // honing from a land of next to nothing: dr/dn = −c/√(n₀ + n), and so r = r₀ − 2c·(√(n₀ + n) − √n₀)
  for (double tolerance : {1e-4, 1e-6, 1e-8}) {
    for (double n0 = 1e-4; n0 < 10.0; n0 *= 1.3) {
      for (double c : {0.001, 0.01, 0.1}) {
        const auto stage =
            bench::plain_stage<1>([=](const auto&, double n) { return std::array{-c / std::sqrt(n0 + n)}; });
        const auto end = bench::end_of<1>(stage, {2.0}, 5.0, bench::at_tolerance(tolerance));
        CAPTURE(tolerance, n0, c);
        // steps start below 0.4·n₀ and grow with n₀ + n: an estimate is low by at most 15 in the first two or three of
        // them, of which each adds; a third of that is what they were found to use
        CHECK(off(end.y[0], 2.0 - 2.0 * c * (std::sqrt(n0 + 5.0) - std::sqrt(n0))) < 15 * tolerance);
      }
    }
  }
}

// points

TEST_CASE("Asking for points changes nothing of the end, to the last bit") {
  const Honing        h;
  std::vector<double> points;
  for (int i = 0; i <= 1000; ++i) points.push_back(0.08 * i);
  for (double tolerance : {1e-4, 1e-6, 1e-10}) {
    const auto  tol     = bench::at_tolerance(tolerance);
    const auto  without = bench::end_of<3>(h.stage, h.stage.start(h.state), 80.0, tol);
    std::size_t seen    = 0;
    const auto  with    = integrate_stage<double>(
        h.stage, h.stage.start(h.state), 80.0, points, [&](double, const auto&) { ++seen; }, Events<>{}, tol);
    CHECK(seen == points.size());
    CHECK(with.steps == without.steps);
    CHECK(same_bits(with.y, without.y));
    CHECK(same_bits(with.n, without.n));
  }
}

TEST_CASE("Points are as good as the tolerance, between steps too") {
  const Fall          fall;
  std::vector<double> points;
  for (int i = 0; i <= 977; ++i) points.push_back(100.0 * i / 977.0);
  for (double tolerance : {1e-4, 1e-6, 1e-8, 1e-10}) {
    const auto tol   = bench::at_tolerance(tolerance);
    double     worst = 0.0;
    const auto end   = integrate_stage<double>(
        fall, std::array{fall.r0}, 100.0, points,
        [&](double point, const auto& y) { worst = std::max(worst, std::abs(y[0] - fall.radius(point))); },
        Events<>{}, tol);
    CAPTURE(tolerance, end.steps);
    CHECK(std::size_t(end.steps) < points.size());  // most points lie inside a step
    // up to the step: its bound. Inside: the continuous extension is of fourth order, one step's error goes as the fifth
    // power of the step as the estimate held to the tolerance does: once more the tolerance
    CHECK(worst < bench::error_bound(end, tol, fall.r0) + tolerance * fall.r0);
  }
}

TEST_CASE("Points are visited in order, the first and last of a stage included, none beyond") {
  const Fall                fall;
  const std::vector<double> points{0.0, 0.0, 3.5, 10.0, 10.0, 10.1};
  std::vector<double>       at, radius;
  const auto                end = integrate_stage<double>(
      fall, std::array{fall.r0}, 10.0, points,
      [&](double point, const auto& y) {
        at.push_back(point);
        radius.push_back(y[0]);
      },
      Events<>{}, Tolerances{});
  REQUIRE(at == std::vector<double>{0.0, 0.0, 3.5, 10.0, 10.0});
  CHECK(radius.front() == fall.r0);
  CHECK(radius.back() == end.y[0]);
  CHECK(off(radius[2], fall.radius(3.5)) <
        1e-6);  // at most a few steps of 1e-6, of which the kept order leaves a tenth
}

// events

TEST_CASE(
    "An event is found where the closed form has it, to the tolerance, and to nine digits at a tight one") {
  const Fall fall;
  for (double target : {1.4, 0.9, 0.35}) {
    const double closed = fall.count(target);
    const auto   event  = end_where([&](const auto& y, double) { return y[0] - target; });
    for (double tolerance : {1e-4, 1e-6, 1e-8}) {
      const auto tol = bench::at_tolerance(tolerance);
      const auto end =
          integrate_stage<double>(fall, std::array{fall.r0}, 1e4, {}, bench::NoVisit{}, event, tol);
      REQUIRE(end.status == StageStatus::ended);
      // an error in the radius moves the place by that over the speed; one tolerance more for the continuous extension
      const double speed = fall.A * (1.0 - fall.rho / target);
      CAPTURE(target, tolerance);
      CHECK(std::abs(end.n - closed) < (bench::error_bound(end, tol, fall.r0) + tolerance * fall.r0) / speed);
      CHECK(std::abs(end.y[0] - target) <
            1e-13 * 1e4 * speed + 1e-15);  // bisected to 1e-13 of the length of the stage
    }
    const auto tight = integrate_stage<double>(fall, std::array{fall.r0}, 1e4, {}, bench::NoVisit{}, event,
                                               bench::at_tolerance(1e-12));
    CHECK(off(tight.n, closed) < 1e-9);
  }
}

TEST_CASE("The burr is raised where root finding on a tight solution has it") {
  const Honing h;
  const auto   start = h.stage.start(h.state);
  const auto   plain = [&](const std::array<double, 3>& y, double n) {
    std::array<double, 3> dy;
    h.stage.rates(y, dy, n);
    return dy;
  };
  const auto to_burr = [&](double n) {
    return h.stage.to_burr(bench::brute_force<3>(plain, start, n, 1e-13), n);
  };
  std::uintmax_t iterations = 100;
  const auto     root =
      boost::math::tools::toms748_solve(to_burr, 0.0, 2000.0, to_burr(0.0), to_burr(2000.0),
                                        boost::math::tools::eps_tolerance<double>(40), iterations);
  const double place = 0.5 * (root.first + root.second);
  const auto   end   = integrate_stage<double>(
      h.stage, start, 2000.0, {}, bench::NoVisit{},
      end_where([&](const auto& y, double n) { return h.stage.to_burr(y, n); }), bench::at_tolerance(1e-12));
  REQUIRE(end.status == StageStatus::ended);
  CHECK(place > 1.0);
  CHECK(off(end.n, place) < 1e-9);
}

TEST_CASE("A mark is noted and changes nothing else") {
  const Fall fall;
  const auto tol     = bench::at_tolerance(1e-9);
  const auto without = bench::end_of<1>(fall, {fall.r0}, 80.0, tol);
  const auto noted =
      integrate_stage<double>(fall, std::array{fall.r0}, 80.0, {}, bench::NoVisit{},
                              mark_where([](const auto& y, double) { return y[0] - 0.9; }), tol);
  const auto ended =
      integrate_stage<double>(fall, std::array{fall.r0}, 80.0, {}, bench::NoVisit{},
                              end_where([](const auto& y, double) { return y[0] - 0.9; }), tol);
  CHECK(noted.status == StageStatus::done);
  CHECK(same_bits(noted.y, without.y));
  CHECK(noted.n == 80.0);
  // steps near the place are the same as they do not depend on where the stage ends
  CHECK(noted.mark_at == ended.n);
}

TEST_CASE("An event already past lies at the start, one never reached has no place") {
  const Fall fall;
  const auto past =
      integrate_stage<double>(fall, std::array{fall.r0}, 80.0, {}, bench::NoVisit{},
                              end_where([](const auto& y, double) { return y[0] - 2.0; }), Tolerances{});
  CHECK(past.status == StageStatus::ended);
  CHECK(past.n == 0.0);
  CHECK(past.y[0] == fall.r0);
  const auto never =
      integrate_stage<double>(fall, std::array{fall.r0}, 80.0, {}, bench::NoVisit{},
                              mark_and_end_where([](const auto& y, double) { return y[0] - 0.1; },
                                                 [](const auto& y, double) { return y[0] - 0.1; }),
                              Tolerances{});
  CHECK(never.status == StageStatus::done);
  CHECK(std::isnan(never.mark_at));
  CHECK(never.n == 80.0);
}

TEST_CASE("A mark is kept if it lies before the end of its stage, and only then") {
  const Fall fall;
  const auto at_most = [](double radius) {
    return [radius](const auto& y, double) { return y[0] - radius; };
  };
  const auto tol  = bench::at_tolerance(1e-3);  // steps so long that both lie in one
  const auto both = integrate_stage<double>(fall, std::array{fall.r0}, 1e4, {}, bench::NoVisit{},
                                            mark_and_end_where(at_most(0.901), at_most(0.9)), tol);
  REQUIRE(both.status == StageStatus::ended);
  CHECK(both.mark_at < both.n);
  CHECK(both.mark_at > 0.0);
  const auto late = integrate_stage<double>(fall, std::array{fall.r0}, 1e4, {}, bench::NoVisit{},
                                            mark_and_end_where(at_most(0.899), at_most(0.9)), tol);
  REQUIRE(late.status == StageStatus::ended);
  CHECK(std::isnan(late.mark_at));
  const auto past = integrate_stage<double>(fall, std::array{fall.r0}, 80.0, {}, bench::NoVisit{},
                                            mark_where(at_most(2.0)), tol);
  CHECK(past.mark_at == 0.0);
}

TEST_CASE("Points before an event are visited, those behind it are left") {
  const Fall                fall;
  const double              place = fall.count(0.9);
  const std::vector<double> points{0.0, 0.5 * place, place - 1e-3, place + 1e-3, 2.0 * place};
  std::vector<double>       at;
  (void)integrate_stage<double>(
      fall, std::array{fall.r0}, 1e4, points, [&](double point, const auto&) { at.push_back(point); },
      end_where([](const auto& y, double) { return y[0] - 0.9; }), Tolerances{});
  CHECK(at == std::vector<double>(points.begin(), points.begin() + 3));
}

// failures

TEST_CASE("An integration that needs too many steps says so and how far it came") {
  const Fall fall;
  Tolerances tol = bench::at_tolerance(1e-12);
  tol.max_steps  = 5;
  const auto end = bench::end_of<1>(fall, {fall.r0}, 60.0, tol);
  CHECK(end.status == StageStatus::too_many_steps);
  CHECK(end.n > 0.0);
  CHECK(end.n < 60.0);
}

TEST_CASE("A rate that stops being a number ends the stage there, as a failure") {
  const auto stage =
      bench::plain_stage<1>([](const auto& y, double n) { return std::array{std::sqrt(1.0 - n) * y[0]}; });
  const auto end = bench::end_of<1>(stage, {1.0}, 10.0, {});
  CHECK(end.status == StageStatus::not_finite);
  // every stage of a step inside [0, 1]: up to the smallest step allowed and what the last one needed
  CHECK(end.n <= 1.0);
  CHECK(end.n > 0.999);
  const auto at_once = bench::plain_stage<1>(
      [](const auto&, double) { return std::array{std::numeric_limits<double>::quiet_NaN()}; });
  CHECK(bench::end_of<1>(at_once, {1.0}, 10.0, {}).status == StageStatus::not_finite);
}

TEST_CASE("A radius that grows without bound within the stage is a failure") {
  const auto stage = bench::plain_stage<1>([](const auto& y, double) { return std::array{y[0] * y[0]}; });
  const auto end   = bench::end_of<1>(stage, {1.0}, 10.0, {});  // r = 1/(1 − n)
  CHECK(end.status != StageStatus::done);
  CHECK(off(end.n, 1.0) <
        1e-6);  // the place of the pole moves with the error of the first steps, 1e-6 each at the most
}

TEST_CASE("Components that differ by twelve orders of magnitude are each held to the tolerance") {
  // the absolute tolerance lies far below a micrometre; with sizes in the range of edges it plays no part
  const auto stage = bench::plain_stage<2>([](const auto& y, double) {
    return std::array{-0.3 * y[0], 0.1 * y[1]};
  });
  const auto tol   = bench::at_tolerance(1e-8);
  const auto end   = bench::end_of<2>(stage, {1e6, 1e-3}, 20.0, tol);
  CHECK(std::abs(end.y[0] - 1e6 * std::exp(-6.0)) < bench::error_bound(end, tol, 1e6));
  // growing errors: each step errs by the tolerance of the value then, which grows as the solution does
  CHECK(off(end.y[1], 1e-3 * std::exp(2.0)) < end.steps * (tol.relative + tol.absolute_um / 1e-3));
}

// stages that need no solver

namespace {

using GrowthJet = ceres::Jet<double, 3>;

// 400 passes in maple under `law`, from a start below, within and above where the apex collapses; the start, the first
// number of the law and the load that makes an apex collapse carry derivatives
template <class Law, class With>
void each_growth(Law law, With&& with) {
  auto model = convert<GrowthJet>(bench::workshop());
  bool first = true;
  Law::fields([&](const Field&, GrowthJet& number) { number.v[1] = first ? number.a : 0.0, first = false; },
              law);
  model.coefficients.collapse_load_N_per_m.v[2] = 1.0;
  const auto& steel                             = model.steels[0];
  const auto  blade = assemble_blade(model.tools[bench::tool::iron], steel.hardness_GPa, steel.carbide_um,
                                     model.coefficients.carbide_share, steel.wear_ratio);
  Ledger<GrowthJet> ledger;
  ledger.reset(model.media.size());
  const auto step  = bench::cut(bench::wood::maple, 400);
  const auto stage = assemble(step, law, model, blade, EdgeState<GrowthJet>{}, ledger);
  for (const double below : {0.2, 0.95, 1.3}) {
    CAPTURE(Law::law_name, below);
    with(stage, std::array{GrowthJet(below * stage.collapse.critical_radius_um.a, 0)}, step.passes);
  }
}

template <class With>
void each_growth(With&& with) {
  each_growth(laws::SharedLoad<GrowthJet>{}, with);
  each_growth(laws::ConstantRate<GrowthJet>{}, with);
  each_growth(laws::SquareRoot<GrowthJet>{}, with);
  each_growth(laws::Power<GrowthJet>{}, with);
}

double off_with_derivatives(const GrowthJet& got, const GrowthJet& wanted) {
  double worst = off(got.a, wanted.a);
  for (int i = 0; i < 3; ++i)
    worst = std::max(worst, std::abs(got.v[i] - wanted.v[i]) / wanted.v.cwiseAbs().maxCoeff());
  return worst;
}

}  // namespace

TEST_CASE(
    "Where the rate depends on the radius alone, an integral leads to the same end as many steps of a solver") {
  each_growth([](const auto& stage, const auto& start, double passes) {
    const auto steps = integrate_stage<GrowthJet>(stage, start, passes, {}, bench::NoVisit{}, Events<>{},
                                                  bench::at_tolerance(1e-11));
    for (const double tolerance : {1e-4, 1e-6, 1e-9}) {
      CAPTURE(tolerance);
      StageEnd<GrowthJet, 1> end;
      REQUIRE(integrate_growth<GrowthJet>(stage, start, passes, {}, bench::NoVisit{},
                                          bench::at_tolerance(tolerance), end));
      // each of up to three integrals may err by a tenth of the tolerance in value, and Newton's last step leaves less;
      // derivatives are allowed four times as much, as everywhere; the solver errs by its 1e-11 some hundred times
      CHECK(off_with_derivatives(end.y[0], steps.y[0]) < 4.0 * tolerance + 1e-9);
    }
  });
}

TEST_CASE(
    "Looking at points does not move the end of an integral, and points lie on the curve of the solver") {
  each_growth([](const auto& stage, const auto& start, double passes) {
    const auto                            tolerances = bench::at_tolerance(1e-7);
    const std::vector<double>             points{0.0, 0.5, 1.0, 20.0, 21.0, 199.0, 400.0, 500.0};
    std::vector<std::array<GrowthJet, 1>> seen;
    StageEnd<GrowthJet, 1>                with, without;
    REQUIRE(integrate_growth<GrowthJet>(
        stage, start, passes, points, [&](double, const auto& y) { seen.push_back(y); }, tolerances, with));
    REQUIRE(integrate_growth<GrowthJet>(stage, start, passes, {}, bench::NoVisit{}, tolerances, without));
    CHECK(same_bits(with.y[0].a, without.y[0].a));
    REQUIRE(seen.size() == 7);  // 500 is not reached
    CHECK(same_bits(seen.front()[0].a, start[0].a));
    CHECK(same_bits(seen.back()[0].a, with.y[0].a));
    for (std::size_t i = 1; i < seen.size(); ++i) {
      const auto there = integrate_stage<GrowthJet>(stage, start, points[i], {}, bench::NoVisit{}, Events<>{},
                                                    bench::at_tolerance(1e-11));
      CHECK(off_with_derivatives(seen[i][0], there.y[0]) < 1e-6);  // up to six walks of 1e-7 each
    }
  });
}

TEST_CASE("A radius that does not grow all the way is left to the solver") {
  struct {
    double                       at_rest;
    double                       growth(double r) const { return at_rest - r; }
    static std::array<double, 0> joints() { return {}; }
  } tends_to{2.0};
  StageEnd<double, 1> end;
  CHECK(integrate_growth<double>(tends_to, std::array{1.0}, 3.0, {}, bench::NoVisit{}, {}, end));
  CHECK(off(end.y[0], 2.0 - std::exp(-3.0)) < 1e-6);
  CHECK_FALSE(integrate_growth<double>(tends_to, std::array{2.0}, 3.0, {}, bench::NoVisit{}, {}, end));
  CHECK_FALSE(integrate_growth<double>(tends_to, std::array{2.5}, 3.0, {}, bench::NoVisit{}, {}, end));
}

TEST_CASE("A walk that finds no way to a point that is looked at visits none") {
  struct {
    int*                         asked;
    int                          most;
    double                       growth(double) const { return ++*asked > most ? -1.0 : 1.0; }
    static std::array<double, 0> joints() { return {}; }
  } tires{nullptr, 1000000};
  int asked   = 0;
  tires.asked = &asked;
  StageEnd<double, 1> end;
  const std::array    start{1.0};
  const std::array    points{0.5, 3.0};
  std::vector<double> seen;
  const auto          visit = [&](double, const auto& y) { seen.push_back(y[0]); };
  REQUIRE(integrate_growth<double>(tires, start, 3.0, {}, visit, {}, end));
  // the way to the end is found again, and none to a point before it
  tires.most = std::exchange(asked, 0);
  CHECK_FALSE(integrate_growth<double>(tires, start, 3.0, points, visit, {}, end));
  CHECK(seen.empty());
  tires.most = 1000000;
  REQUIRE(integrate_growth<double>(tires, start, 3.0, points, visit, {}, end));
  REQUIRE(seen.size() == 2);
  CHECK(off(seen[0], 1.5) < 1e-9);
  CHECK(seen[1] == end.y[0]);
}

TEST_CASE(
    "Once radius and scratches have settled, the rest of a step is closed form, and costs no more steps") {
  Honing           h;
  const auto       start = h.stage.start(h.state);
  const Tolerances loose = bench::at_tolerance(1e-6), tight = bench::at_tolerance(1e-12);
  struct Unsettled {  // the same rates without the closed form
    const FaceStage<double>& stage;
    void rates(const std::array<double, 3>& y, std::array<double, 3>& dy, double n) const {
      stage.rates(y, dy, n);
    }
  } const unsettled{h.stage};
  const auto some = bench::end_of<3>(h.stage, start, 2000.0, loose);
  const auto more = bench::end_of<3>(h.stage, start, 20000.0, loose);
  CHECK(more.steps == some.steps);
  for (const double n : {2000.0, 20000.0}) {
    const auto end   = bench::end_of<3>(h.stage, start, n, loose);
    const auto exact = bench::end_of<3>(unsettled, start, n, tight);
    CAPTURE(n, exact.steps);
    CHECK(end.steps < exact.steps);
    for (std::size_t i = 0; i < 3; ++i)
      CHECK(off(end.y[i], exact.y[i]) < 1e-6);  // a tenth of it is left at the settling
  }
  // the points after it lie on the same curve
  const std::vector<double> points{1500.0, 1900.0};
  (void)integrate_stage<double>(
      h.stage, start, 2000.0, points,
      [&](double n, const auto& y) {
        const auto exact = bench::end_of<3>(unsettled, start, n, tight);
        for (std::size_t i = 0; i < 3; ++i) CHECK(off(y[i], exact.y[i]) < 1e-6);
      },
      Events<>{}, loose);
}
