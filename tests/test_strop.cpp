// SPDX-License-Identifier: MIT
#include <cmath>

#include <boost/math/special_functions/lambert_w.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <catch2/catch.hpp>

#include "sim/laws/pad_contact.hpp"
#include "sim/laws/stropping.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::laws;
using bench::off;

namespace {

// what double arithmetic leaves of a formula of a dozen operations without cancellation: some units in the last place
constexpr double exact = 1e-14;

struct Press {
  double force_N, width_m, modulus_Pa, thickness_m, land_m, step_angle;

  [[nodiscard]] PadContact<double> contact() const {
    return press_pad(force_N, width_m, modulus_Pa, thickness_m, land_m, step_angle);
  }
  [[nodiscard]] double load_m() const { return force_N / (width_m * modulus_Pa); }
};

// from felt to glass, from a fingertip's force to a heavy hand
Press any_press(bench::Dice& dice) {
  return {dice.log_between(0.5, 200),     dice.log_between(5e-3, 0.3),  dice.log_between(0.1e6, 1e11),
          dice.log_between(0.05e-3, 0.1), dice.log_between(5e-6, 0.02), dice.between(0.2, 15) * degree};
}

// the equation of the pad as it stands in the header: what the left side is over the right
double balance(const Press& s, const PadContact<double>& c) {
  const double reach = s.step_angle > 0.0 ? s.land_m + c.sink_m / std::tan(s.step_angle) : s.land_m;
  const double layer = 1.0 / (1.0 / s.thickness_m + 1.0 / (2.0 * reach));
  return c.sink_m * reach / (s.load_m() * layer);
}

}  // namespace

TEST_CASE("The sink of a pad satisfies the implicit equation of the contact") {
  bench::Dice dice(21);
  for (int i = 0; i < 5000; ++i) {
    const Press s = any_press(dice);
    const auto  c = s.contact();
    CAPTURE(s.force_N, s.width_m, s.modulus_Pa, s.thickness_m, s.land_m, s.step_angle);
    // the root is taken without cancellation; δ and ℓ_c carry some ten roundings each
    CHECK(std::abs(balance(s, c) - 1.0) < 1e-12);
    CHECK(off(s.land_m + c.sink_m / std::tan(s.step_angle), c.contact_m) < 1e-12);
    CHECK(off(c.pressure_Pa * s.width_m * c.contact_m, s.force_N) < exact);
  }
}

TEST_CASE("The contact is the one root that a bracketing solver finds") {
  bench::Dice dice(22);
  for (int i = 0; i < 300; ++i) {
    const Press s      = any_press(dice);
    const auto  excess = [&](double sink) {
      const double reach = s.land_m + sink / std::tan(s.step_angle);
      return sink * reach * (1.0 / s.thickness_m + 1.0 / (2.0 * reach)) - s.load_m();
    };
    // 2·load is what an endlessly thick pad sinks by: the most there is
    std::uintmax_t iterations = 200;
    const auto     root       = boost::math::tools::toms748_solve(
                  excess, 0.0, 2.1 * s.load_m(), boost::math::tools::eps_tolerance<double>(50), iterations);
    CHECK(off(s.contact().sink_m, 0.5 * (root.first + root.second)) <
          1e-12);  // 50 bits are 1e-15, plus rounding
  }
}

TEST_CASE("The example of the pad's header holds") {
  const auto c = press_pad(10.0, 0.05, 40e6, 1e-3, 0.5e-3, 5 * degree);
  CHECK(std::abs(c.sink_m - 4.7e-6) <= 0.05e-6);
  CHECK(std::abs(c.contact_m - 0.554e-3) <= 0.5e-6);
}

TEST_CASE(
    "A thin pad sinks like a layer on a rigid base, a thick one by a depth that the land does not change") {
  bench::Dice dice(23);
  for (int i = 0; i < 200; ++i) {
    Press s       = any_press(dice);
    s.thickness_m = 1e-6 * s.land_m;
    auto c        = s.contact();
    CHECK(off(c.sink_m * c.contact_m, s.load_m() * s.thickness_m) < 1e-6);  // short of it by t/(2ℓ_c)

    s             = any_press(dice);
    s.thickness_m = 1e7 * s.contact().contact_m;
    c             = s.contact();
    CHECK(off(c.sink_m, 2.0 * s.load_m()) < 2.0 * c.contact_m / s.thickness_m);  // short of it by that
    CHECK(c.contact_m < 1e-3 * s.thickness_m);                                   // and that is little
  }
}

TEST_CASE("On a whole bevel the contact is the land and the sink follows at once") {
  bench::Dice dice(24);
  for (int i = 0; i < 200; ++i) {
    Press s      = any_press(dice);
    s.step_angle = 0.0;
    const auto c = s.contact();
    CHECK(c.contact_m == s.land_m);
    CHECK(std::abs(balance(s, c) - 1.0) < exact);
    CHECK(off(c.pressure_Pa, s.force_N / (s.width_m * s.land_m)) < exact);
  }
}

TEST_CASE("A steep step behind the land keeps the contact to the land, as a whole bevel does") {
  Press      s{10.0, 0.05, 40e6, 1e-3, 0.5e-3, 1.57};
  const auto steep = s.contact();
  s.step_angle     = 0.0;
  // contact exceeds the land by δ/tan Δ = 5e-6·8e-4, 1e-5 of the land; the sink differs by as much
  CHECK(off(steep.sink_m, s.contact().sink_m) < 2e-5);
}

TEST_CASE("A pad sinks more under more force, the softer and the thicker it is") {
  bench::Dice dice(25);
  for (int i = 0; i < 500; ++i) {
    const Press  s    = any_press(dice);
    const double sink = s.contact().sink_m;
    Press        t    = s;
    t.force_N *= 1.5;
    CHECK(t.contact().sink_m > sink);
    t = s;
    t.modulus_Pa *= 1.5;
    CHECK(t.contact().sink_m < sink);
    t = s;
    t.thickness_m *= 1.5;
    CHECK(t.contact().sink_m > sink);
    t = s;
    t.land_m *= 1.5;
    CHECK(t.contact().sink_m <= sink * (1 + exact));
  }
}

TEST_CASE("A pad reaches the apex fully without a gap and hardly at all if it sinks less than the gap") {
  CHECK(strop_reach(1.0, 0.0) == 1.0);
  CHECK(std::abs(strop_reach(10.0, 5.0) - 0.865) <= 0.5e-3);  // the example of the header
  CHECK(off(strop_reach(1e-4, 10.0), 1e-5) < 0.6e-5);         // δ/γ, less half its square
  CHECK(off(strop_gap(0.5 * degree, 500.0, 3.0), std::tan(0.5 * degree) * 500.0 + 3.0) < exact);
  CHECK(strop_gap(0.0, 500.0, 0.0) == 0.0);  // a jig on a flat plate
}

TEST_CASE("Floor and drape add as squares to the radius that a strop leaves") {
  CHECK(std::abs(strop_radius(0.1, 10.0, 0.01) - 0.141) <= 0.5e-3);
  CHECK(off(strop_radius(0.3, 40.0, 0.01), 0.5) < exact);
  CHECK(strop_radius(0.3, 0.0, 0.01) == 0.3);
}

TEST_CASE(
    "A compound removes its stated depth at the reference, in proportion to pressure and path, against hardness") {
  CHECK(off(strop_removal_um(3.0, 40e3, 0.2, 7.1e9), 3e-3) < exact);
  CHECK(off(strop_removal_um(3.0, 80e3, 0.6, 14.2e9), 9e-3) < exact);
}

TEST_CASE(
    "With m = 1 and the compound's own scratches stropping follows Lambert's W and the burr an exponential") {
  auto model                        = bench::workshop();
  model.coefficients.floor_exponent = 1.0;
  const auto tol                    = bench::at_tolerance(1e-12);
  for (const int backing : {bench::backing::thin_hide, bench::backing::soft_hide, bench::backing::board}) {
    const auto        blade = bench::blade_of(model, bench::tool::iron);
    EdgeState<double> state = initial_state(model.tools[bench::tool::iron], blade);
    Ledger<double>    ledger;
    ledger.reset(model.media.size());
    const auto step  = bench::strop(backing, bench::compound::oxide, 1.0);
    const auto stage = assemble(step, model, blade, state, ledger);
    state.scratch_um = stage.own_scratch_um;
    state.burr_um    = 1.0;

    const double r_s  = stage.equilibrium_um(state.scratch_um);
    const double fall = stage.reach * stage.removal_um / (1.0 - blade.sin_half);
    for (double start : {0.5, 4.0}) {
      state.apex_radius_um = start * r_s;
      for (double laps : {1.0, 20.0, 100.0}) {
        const auto   end = bench::end_of<3>(stage, stage.start(state), laps, tol);
        const double u   = boost::math::lambert_w0((start - 1.0) * std::exp(start - 1.0 - fall * laps / r_s));
        CAPTURE(backing, start, laps);
        CHECK(std::abs(end.y[0] - r_s * (1.0 + u)) < bench::error_bound(end, tol, 4.0 * r_s) + 10 * exact);
        CHECK(off(end.y[1], stage.own_scratch_um) < exact);
        const double burr = std::exp(-stage.reach * model.coefficients.burr_loss_strop * laps);
        CHECK(std::abs(end.y[2] - burr) < bench::error_bound(end, tol, 1.0));
      }
    }
  }
}

TEST_CASE("Stropping takes off its removal over the whole contact") {
  const auto     model = bench::workshop();
  const auto     blade = bench::blade_of(model, bench::tool::iron);
  Ledger<double> ledger;
  const auto     stage = assemble(bench::strop(bench::backing::soft_hide, bench::compound::oxide, 1.0), model,
                                  blade, initial_state(model.tools[bench::tool::iron], blade), ledger);
  CHECK(off(stage.removed(7.0), 7.0 * stage.removal_um * 1e3 * stage.contact.contact_m) < exact);
  CHECK(stage.contact.contact_m >
        1e-3 * bench::tool_of(model, bench::tool::iron).land_mm);  // it wraps round the land
}

TEST_CASE("A softer pad never has a smaller equilibrium radius") {
  bench::Dice dice(26);
  for (int i = 0; i < 100; ++i) {
    auto model = bench::workshop();
    bench::draw_from_priors(model, dice);
    const int         tool       = dice.below(static_cast<int>(model.tools.size()));
    const auto        blade      = bench::blade_of(model, tool);
    EdgeState<double> state      = initial_state(model.tools[static_cast<std::size_t>(tool)], blade);
    const double      scratch_um = dice.log_between(0.005, 0.5);
    double            before     = 0.0;
    for (double MPa = 1e5; MPa > 0.05; MPa *= 0.7) {
      model.backings[bench::backing::soft_hide].modulus_MPa = MPa;
      Ledger<double> ledger;
      const auto stage = assemble(bench::strop(bench::backing::soft_hide, bench::compound::oxide, 1.0), model,
                                  blade, state, ledger);
      CHECK(stage.equilibrium_um(scratch_um) >= before * (1 - exact));
      before = stage.equilibrium_um(scratch_um);
    }
  }
}

TEST_CASE("A strop helps up to a finite number of laps, the fewer the softer it is") {
  auto  model         = bench::workshop();
  auto& tool          = model.tools[bench::tool::iron];
  auto& hide          = model.backings[bench::backing::soft_hide];
  tool.apex_radius_um = 0.3;
  tool.scratch_um     = 0.01;
  tool.burr_um        = 2.0;
  const auto blade    = bench::blade_of(model, bench::tool::iron);

  const auto equilibrium_um = [&] {
    Ledger<double> ledger;
    const auto stage = assemble(bench::strop(bench::backing::soft_hide, bench::compound::bare, 1.0), model,
                                blade, initial_state(tool, blade), ledger);
    return stage.equilibrium_um(stage.own_scratch_um);
  };
  std::vector<double> laps;
  for (int i = 0; i <= 2000; ++i) laps.push_back(i);
  const auto readings = [&] {
    const auto r =
        bench::run(model,
                   bench::plan(bench::tool::iron,
                               {bench::strop(bench::backing::soft_hide, bench::compound::bare, 2000)}),
                   {}, laps);
    REQUIRE(r.status.usable());
    std::vector<double> values;
    for (const auto& sight : r.witness.seen) {
      values.push_back(bench::reading_N(model, bench::tool::iron, sight.state));
    }
    REQUIRE(values.size() == laps.size());
    return values;
  };

  // a stiff pad, which would leave a finer apex than it finds, does nothing but good
  hide.modulus_MPa = 1000.0;
  REQUIRE(equilibrium_um() < tool.apex_radius_um);
  const auto stiff = readings();
  CHECK(std::is_sorted(stiff.rbegin(), stiff.rend()));

  // softer and softer from where the pad would leave a blunter apex than it finds
  while (equilibrium_um() < 1.5 * tool.apex_radius_um) hide.modulus_MPa *= 0.9;
  std::vector<std::ptrdiff_t> best;
  for (int i = 0; i < 6; ++i, hide.modulus_MPa *= 0.6) {
    const auto values = readings();
    const auto least  = std::min_element(values.begin(), values.end());
    best.push_back(least - values.begin());
    CAPTURE(hide.modulus_MPa, best.back());
    CHECK(best.back() < 1000);                   // finite, and well inside what was looked at
    CHECK(std::is_sorted(least, values.end()));  // from there on it only rounds
    CHECK(values.back() > *least);
  }
  CHECK(best.front() > 0);  // the burr goes first: a few laps do good
  CHECK(std::is_sorted(best.rbegin(), best.rend()));
  CHECK(best.back() < best.front());
}
