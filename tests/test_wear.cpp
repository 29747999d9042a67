// SPDX-License-Identifier: MIT
#include <cmath>
#include <set>
#include <stdexcept>
#include <string>
#include <tuple>
#include <variant>

#include <boost/math/special_functions/lambert_w.hpp>
#include <catch2/catch.hpp>

#include "sim/laws/collapse.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "sim/laws/wood_severity.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::laws;
using bench::off;

namespace {

// what double arithmetic leaves of a formula of a dozen operations without cancellation: some units in the last place
constexpr double exact = 1e-14;

double sine_of_half(double included_deg) { return std::sin(0.5 * included_deg * degree); }

// The radius after `path_m` under each law, from r₀ at a path `since_m` after the last abrasive. A law without a closed
// form here does not compile.
struct ClosedForm {
  double r0, since_m, path_m;

  double operator()(const SharedLoad<double>& law) const {
    const double c = law.parting_um2_per_m / (2.0 * law.crushing_um_per_m);
    const double z = -1.0 - (r0 / c - std::log1p(r0 / c)) - law.crushing_um_per_m * path_m / c;
    return c * (-boost::math::lambert_wm1(-std::exp(z)) - 1.0);
  }
  double operator()(const ConstantRate<double>& law) const { return r0 + law.rate_um_per_m * path_m; }
  double operator()(const SquareRoot<double>& law) const {
    return std::sqrt(r0 * r0 + law.section_um2_per_m * path_m);
  }
  double operator()(const Power<double>& law) const {
    const double q1 = law.exponent + 1.0;
    return std::pow(std::pow(r0, q1) + q1 * law.rate_um_per_m * path_m, 1.0 / q1);
  }
  double operator()(const Formula<double>&) const {
    throw std::logic_error("a formula has no closed form");  // test_formula.cpp
  }
  double operator()(const Settling<double>& law) const {
    return r0 + law.line_um_per_m * path_m +
           law.settle_um * std::exp(-since_m / law.settle_m) * -std::expm1(-path_m / law.settle_m);
  }
};

// every law built in, with its defaults
template <std::size_t... I>
std::vector<WearLaw<double>> registered(std::index_sequence<I...>) {
  return {WearLaw<double>(std::in_place_index<I>)...};
}
std::vector<WearLaw<double>> all_laws() {
  return registered(std::make_index_sequence<std::variant_size_v<BuiltInWearLaw<double>>>());
}

// a model whose edges do not collapse
Model<double> without_collapse() {
  auto model                               = bench::workshop();
  model.coefficients.collapse_load_N_per_m = 0.0;
  return model;
}

}  // namespace

// laws

TEST_CASE("Every wear law integrates to its closed form, in any wood, steel and tool") {
  const auto tol = bench::at_tolerance(1e-12);
  for (const auto& any : all_laws()) {
    std::visit(
        [&](const auto& law) {
          auto model = without_collapse();
          for (const int tool : {bench::tool::iron, bench::tool::knife}) {
            for (const int wood : {bench::wood::pine, bench::wood::teak}) {
              const auto     blade = bench::blade_of(model, tool);
              Ledger<double> ledger;
              ledger.path_since_abrasive_m = 7.0;
              const auto   step            = bench::cut(wood, 1.0);
              const auto   stage           = assemble(step, law, model, blade, EdgeState<double>{}, ledger);
              const double times = severity(model, blade, model.woods[static_cast<std::size_t>(wood)]);
              for (double r0 : {0.2, 3.0}) {
                for (double passes : {1.0, 100.0, 10000.0}) {
                  const auto   end    = bench::end_of<1>(stage, {r0}, passes, tol);
                  const double closed = ClosedForm{r0, 7.0, passes * step.pass_m}(law.times(times));
                  CAPTURE(law.law_name, tool, wood, r0, passes);
                  // W₋₁ has a branch point at r = 0, where r = c·(y − 1) has an error of ε·c²/r
                  double slack = exact * closed;
                  if constexpr (requires { law.crushing_um_per_m; }) {
                    slack +=
                        4 * 2.2e-16 * std::pow(law.parting_um2_per_m / (2 * law.crushing_um_per_m), 2) / r0;
                  }
                  CHECK(std::abs(end.y[0] - closed) < bench::error_bound(end, tol, closed) + slack);
                }
              }
            }
          }
        },
        any);
  }
}

TEST_CASE("Shared-load wear is fast at first, slower later and linear in the end") {
  const SharedLoad<double> law{3.5e-3, 1.2e-4};
  CHECK(std::abs(law.rate(0.5, 0.0) - 3.62e-3) <= 0.5e-5);      // the example of the header
  CHECK(off(law.rate(1e-6, 0.0), 0.5 * 3.5e-3 / 1e-6) < 1e-7);  // crushing adds 2B·r/A
  CHECK(off(law.rate(1e6, 0.0), 1.2e-4) < 2e-5);                // parting adds A/(2B·r)
  // without crushing it is the square-root law
  const SharedLoad<double> parting{3.5e-3, 0.0};
  const SquareRoot<double> root{3.5e-3};
  for (double r : {0.1, 1.0, 10.0}) CHECK(parting.rate(r, 0.0) == root.rate(r, 0.0));
}

TEST_CASE("The power law runs from constant rate to square root, and long paths grow as a power") {
  for (double r : {0.1, 1.0, 10.0}) {
    CHECK(off(Power<double>{2e-3, 0.0}.rate(r, 0.0), ConstantRate<double>{2e-3}.rate(r, 0.0)) < exact);
    CHECK(off(Power<double>{2e-3, 1.0}.rate(r, 0.0), SquareRoot<double>{4e-3}.rate(r, 0.0)) < exact);
  }
  // below 0 it speeds up: a tenfold radius wears 10^0.5 times as fast
  const Power<double> faster{2e-3, -0.5};
  CHECK(off(faster.rate(1.0, 0.0) / faster.rate(0.1, 0.0), std::sqrt(10.0)) < exact);
  for (double q : {0.2, 0.7, 1.0}) {
    const Power<double> law{2e-3, q};
    // far from the start a path 1000 times as long gives a radius 1000^(1/(q+1)) times as large
    const double ratio = ClosedForm{0.1, 0.0, 1e12}(law) / ClosedForm{0.1, 0.0, 1e9}(law);
    CHECK(off(std::log(ratio) / std::log(1000.0), 1.0 / (q + 1.0)) <
          1e-6);  // r₀ is 1e-7 of what has grown by then
  }
}

TEST_CASE("Settling in goes on where it left off, and starts anew after an abrasive") {
  auto model        = without_collapse();
  model.wear->law   = Settling<double>{};
  const auto&  law  = std::get<Settling<double>>(model.wear->law);
  const auto   tool = bench::tool::iron;
  const double r0   = model.tools[tool].apex_radius_um;
  const double pass = bench::cut(bench::wood::pine, 1).pass_m;
  const double n1 = std::ceil(0.3 * law.settle_m / pass), n2 = std::ceil(1.1 * law.settle_m / pass);
  const auto   tol   = bench::at_tolerance(1e-12);
  const auto   times = severity(model, bench::blade_of(model, tool), model.woods[bench::wood::pine]);
  const auto   grown = [&](const std::vector<Step>& steps) {
    const auto r = bench::run(model, bench::plan(tool, steps), tol);
    REQUIRE(r.status.usable());
    return r.state.apex_radius_um;
  };
  const auto in_pine = [](double n) { return bench::cut(bench::wood::pine, n); };
  // each of the runs takes less than a thousand steps of 1e-12
  const double whole = ClosedForm{r0, 0.0, (n1 + n2) * pass}(law.times(times));
  CHECK(off(grown({in_pine(n1 + n2)}), whole) < 1e-9);
  CHECK(off(grown({in_pine(n1), in_pine(n2)}), whole) < 1e-9);
  CHECK(off(grown({in_pine(0.5 * n1), in_pine(0.5 * n1), in_pine(n2)}), whole) < 1e-9);
  CHECK(off(grown({in_pine(n1), bench::read("between"), bench::dress(bench::medium::fine), in_pine(n2)}),
            whole) < 1e-9);

  // a billionth of a stroke changes the edge by nothing, yet it is an abrasive: settling starts anew
  auto         touch = bench::hone(bench::medium::film, 1e-9);
  const double r1    = ClosedForm{r0, 0.0, n1 * pass}(law.times(times));
  CHECK(off(grown({in_pine(n1), touch, in_pine(n2)}), ClosedForm{r1, 0.0, n2 * pass}(law.times(times))) <
        1e-9);
  CHECK(grown({in_pine(n1), touch, in_pine(n2)}) > whole * (1 + 1e-6));
}

TEST_CASE(
    "The order of two woods matters under settling, which remembers the path, and not under shared load") {
  auto       model  = without_collapse();
  const auto tol    = bench::at_tolerance(1e-12);
  const auto radius = [&](int first, int second) {
    return bench::run(model, bench::plan(bench::tool::iron, {bench::cut(first, 30), bench::cut(second, 30)}),
                      tol)
        .state.apex_radius_um;
  };
  model.wear->law = SharedLoad<double>{};
  CHECK(off(radius(bench::wood::pine, bench::wood::oak), radius(bench::wood::oak, bench::wood::pine)) < 1e-9);
  model.wear->law = Settling<double>{};
  CHECK(radius(bench::wood::oak, bench::wood::pine) >
        radius(bench::wood::pine, bench::wood::oak) * (1 + 1e-4));
}

TEST_CASE("Under a constant load the same section wears away whatever the angle") {
  auto model      = without_collapse();
  model.wear->law = SquareRoot<double>{};
  auto&  tool     = model.tools[bench::tool::iron];
  double first    = 0.0;
  for (double micro_deg : {26.0, 30.0, 35.0, 45.0}) {
    tool.micro_bevel_deg = micro_deg;
    tool.apex_radius_um  = 0.5;
    const auto r = bench::run(model, bench::plan(bench::tool::iron, {bench::cut(bench::wood::oak, 500)}),
                              bench::at_tolerance(1e-12));
    const Wedge<double> edge{micro_deg * degree};
    const double        section = edge.missing_section(r.state.apex_radius_um) - edge.missing_section(0.5);
    if (first == 0.0) first = section;
    CHECK(off(section, first) < 1e-8);  // some hundred steps of 1e-12, and the difference loses a digit
  }
}

// registry

TEST_CASE("Every registered wear law has a name of its own, described parameters and a rate that scales") {
  std::set<std::string> names;
  bench::Dice           dice(41);
  for (auto& any : all_laws()) {
    std::visit(
        [&](auto law) {
          CAPTURE(law.law_name);
          CHECK(names.insert(std::string(law.law_name)).second);
          int fields = 0;
          law.fields(
              [&](const Field& f, double& value) {
                ++fields;
                CAPTURE(f.key);
                CHECK((value >= f.low && value <= f.high));
                CHECK_FALSE(f.doc.empty());
                CHECK_FALSE(f.status.empty());
                CHECK((unit_of(f.key) != nullptr || f.key == "exponent"));  // whatever has a unit says so
              },
              law);
          CHECK(fields > 0);
          for (int i = 0; i < 50; ++i) {
            const double r = dice.log_between(0.02, 50), x = dice.between(0, 500),
                         times = dice.log_between(0.1, 50);
            CHECK(law.rate(r, x) > 0.0);
            CHECK(off(law.times(times).rate(r, x), times * law.rate(r, x)) < exact);
            CHECK(law.rate(1.1 * r, x) <= law.rate(r, x));  // no law wears faster as it blunts
          }
        },
        any);
  }
  CHECK(names.size() == std::variant_size_v<BuiltInWearLaw<double>>);
}

TEST_CASE("A model keeps its wear law and numbers when converted") {
  for (const auto& any : all_laws()) {
    auto model      = bench::workshop();
    model.wear->law = any;
    auto copy       = convert<double>(model);
    CHECK(copy.wear->law.index() == any.index());
    std::vector<double> before, after;
    for_each_number(model, [&](const std::string&, const Field&, double& value) { before.push_back(value); });
    for_each_number(copy, [&](const std::string&, const Field&, double& value) { after.push_back(value); });
    REQUIRE(before.size() == after.size());
    for (std::size_t i = 0; i < before.size(); ++i) {
      CHECK((before[i] == after[i] || (std::isnan(before[i]) && std::isnan(after[i]))));
    }
  }
}

// collapse

TEST_CASE("Obtuse edges survive thinner, by the printed factors") {
  struct Row {
    double included_deg, factor;
  };
  for (const Row& row : {Row{20, 6.8}, Row{25, 5.6}, Row{30, 4.9}, Row{35, 4.3}, Row{40, 3.9}}) {
    CAPTURE(row.included_deg);
    // r_c = 1.5·F′/(H/3)·factor
    const double radius = Collapse<double>::radius_um(100.0, 7.2e9, sine_of_half(row.included_deg));
    CHECK(std::abs(radius / (1e6 * 1.5 * 100.0 / 2.4e9) - row.factor) <= 0.05);
  }
  CHECK(std::abs(Collapse<double>::radius_um(60.0, 7.1e9, 0.2588) - 0.185) <=
        0.5e-3);  // the example of the header
}

TEST_CASE("The more obtuse the bevel, the smaller the radius below which it collapses") {
  auto   model  = bench::workshop();
  double before = 1e9;
  for (double micro_deg = 26.0; micro_deg < 60.0; micro_deg += 1.0) {
    model.tools[bench::tool::iron].micro_bevel_deg = micro_deg;
    const auto stage =
        assemble(bench::cut(bench::wood::pine, 1), std::get<SharedLoad<double>>(model.wear->law), model,
                 bench::blade_of(model, bench::tool::iron), EdgeState<double>{}, Ledger<double>{});
    CHECK(stage.collapse.critical_radius_um < before);
    CHECK(stage.collapse.critical_radius_um > 0.0);
    before = stage.collapse.critical_radius_um;
  }
}

TEST_CASE("A tip too thin gives way exponentially, a tip thick enough not at all") {
  const Collapse<double> collapse{0.5, 8.0};
  CHECK(collapse.rate(0.55) == 0.0);
  CHECK(collapse.rate(5.0) == 0.0);
  CHECK(off(collapse.rate(0.1), 0.4 / 8.0) < exact);
  CHECK(Collapse<double>{0.0, 8.0}.rate(0.1) == 0.0);

  // below 0.9·r_c the smooth positive part is the plain one: r = r_c − (r_c − r₀)·e^(−x/L_c)
  auto       model = bench::workshop();
  const auto blade = bench::blade_of(model, bench::tool::iron);
  const auto step  = bench::cut(bench::wood::pine, 1);
  const auto stage =
      assemble(step, ConstantRate<double>{0.0}, model, blade, EdgeState<double>{}, Ledger<double>{});
  const double r_c = stage.collapse.critical_radius_um, length = model.coefficients.collapse_length_m;
  const double r0  = 0.1 * r_c;
  const auto   tol = bench::at_tolerance(1e-12);
  for (double share : {0.1, 1.0, 2.1}) {  // 1 − 0.9·e^(−2.1) = 0.89
    const auto   end    = bench::end_of<1>(stage, {r0}, share * length / step.pass_m, tol);
    const double closed = r_c - (r_c - r0) * std::exp(-share);
    CHECK(std::abs(end.y[0] - closed) < bench::error_bound(end, tol, r_c) + exact);
  }
}

// severity

TEST_CASE("The reference wood, steel, hardness and angle wear as the law is written") {
  const auto model = bench::workshop();
  CHECK(off(severity(model, bench::blade_of(model, bench::tool::iron), model.woods[bench::wood::pine]), 1.0) <
        exact);
}

TEST_CASE("Severity takes up hardness, silica, extractives and steel as stated") {
  const WoodSeverity<double> law{1.6, 7.0};
  CHECK(std::abs(law.wood(6450.0, 1.0, 0.03) - 3.81) <= 0.005);  // the example of the header
  CHECK(off(law.wood(2.0 * reference_side_hardness_N, 1.0, 0.0), std::pow(2.0, 1.6)) < exact);
  CHECK(off(law.wood(reference_side_hardness_N, 2.5, 0.4), 2.5 * 3.8) < exact);
  CHECK(off(law.steel(0.5, reference_hardness_Pa), 0.5) < exact);  // D2 at the hardness of O1
  CHECK(off(law.steel(1.0, 2.0 * reference_hardness_Pa), 0.5) < exact);

  // a steel with half the wear ratio cuts twice the path to the same radius, its collapse aside
  auto model                                    = without_collapse();
  model.tools[bench::tool::iron].apex_radius_um = 0.5;
  const auto after                              = [&](double wear_ratio, double passes) {
    model.steels[bench::steel::o1].wear_ratio = wear_ratio;
    return bench::run(model, bench::plan(bench::tool::iron, {bench::cut(bench::wood::maple, passes)}),
                                                   bench::at_tolerance(1e-12))
        .state.apex_radius_um;
  };
  CHECK(off(after(0.5, 600), after(1.0, 300)) < 1e-9);  // some hundred steps of 1e-12
}

TEST_CASE("Harder wood and more silica never dull an edge slower") {
  bench::Dice dice(42);
  const auto  laws = all_laws();
  for (int i = 0; i < 60; ++i) {
    auto model      = bench::workshop();
    model.wear->law = laws[static_cast<std::size_t>(i) % laws.size()];
    bench::draw_from_priors(model, dice);
    const int tool = dice.below(static_cast<int>(model.tools.size()));
    model.tools[static_cast<std::size_t>(tool)].apex_radius_um = dice.log_between(0.05, 3);
    model.tools[static_cast<std::size_t>(tool)].burr_um        = dice.between(0, 3);
    const auto tol                                             = bench::at_tolerance(1e-10);
    const auto reading                                         = [&](double hardness_N, double silica_pct) {
      model.woods[bench::wood::oak].side_hardness_N = hardness_N;
      model.woods[bench::wood::oak].silica_pct      = silica_pct;
      const auto r = bench::run(model, bench::plan(tool, {bench::cut(bench::wood::oak, 200)}), tol);
      REQUIRE(r.status.usable());
      return bench::reading_N(model, tool, r.state);
    };
    const double hardness_N = dice.log_between(200, 8000), silica_pct = dice.log_between(1e-3, 1);
    const double base = reading(hardness_N, silica_pct);
    // the integrations err by some hundred steps of 1e-10
    CHECK(reading(1.5 * hardness_N, silica_pct) >= base * (1 - 1e-8));
    CHECK(reading(hardness_N, 2.0 * silica_pct) >= base * (1 - 1e-8));
  }
}
