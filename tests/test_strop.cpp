// SPDX-License-Identifier: MIT
#include <cmath>

#include <boost/math/special_functions/lambert_w.hpp>
#include <boost/math/tools/toms748_solve.hpp>
#include <catch2/catch.hpp>

#include "sim/laws/dub.hpp"
#include "sim/laws/pad_contact.hpp"
#include "sim/laws/stropping.hpp"
#include "sim/laws/wear/wear_law.hpp"
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

namespace {

const OnPad<double> thin_hide{200.0, 34.6, 1000.0, 500.0, 540.0, 0.37};

}  // namespace

TEST_CASE("A blade held exactly bears as a flat punch does, a steeper one harder, a lower one not at all") {
  const auto factor = [](double held_deg, double scatter_deg) {
    return bearing(thin_hide, {held_deg * degree, scatter_deg * degree}).factor();
  };
  CHECK(factor(0.0, 0.0) == 1.0);
  double before = 0.0;
  for (double held = -2.0; held < 2.0; held += 0.05) {
    CHECK(factor(held, 0.0) >= before);
    CHECK(factor(held, 0.3) > factor(held, 0.1));
    before = factor(held, 0.0);
  }
  CHECK(off(factor(-2.0, 0.0), 1e-3) < exact);
  CHECK(factor(-2.0, 0.3) > 0.3);  // a hand that wobbles reaches the tip now and then
  // c_σ/θ₀ of the law
  const double per_tilt = of_outline::hand * 34.6 * 540.0 / 200.0 * (pi / 4 + 0.27);
  CHECK(off(factor(0.5, 0.0), 1.0 + 0.5 * degree * per_tilt) < exact);
  // what comes and goes from lap to lap is the wobble alone
  CHECK(bearing(thin_hide, {0.01, 0.0}).unsteady == 0.0);
  const auto both = bearing(thin_hide, {0.0, 0.5 * degree});
  CHECK(off(both.square * both.unsteady, std::pow(0.5 * degree * per_tilt, 2)) < exact);
  CHECK(off(both.square, 1.0 + std::pow(0.5 * degree * per_tilt, 2)) < exact);
  // the harder the pad, the more a fraction of a degree does
  auto hard        = thin_hide;
  hard.modulus_MPa = 122.0;
  CHECK(bearing(hard, {0.3 * degree, 0.0}).factor() > bearing(thin_hide, {0.3 * degree, 0.0}).factor());
}

TEST_CASE("The pressure at the tip is at most the modulus, and evens out as the edge wears in") {
  const auto edge = press_edge(thin_hide, {0.0, 0.0});
  CHECK(std::abs(edge.length_um - 0.0063) <= 0.0001);  // the examples of the header
  CHECK(std::abs(edge.tip_pressure_MPa(50.0, 0.15) - 0.78) <= 0.01);
  // K of a flat punch on a pad much thicker than the contact: F/(w·π·√ℓ)
  auto deep         = thin_hide;
  deep.thickness_um = 1e9;
  const double K    = 200.0 / (pi * std::sqrt(std::sqrt(500.0 * 540.0)));
  CHECK(off(press_edge(deep, {0.0, 0.0}).length_um, std::pow(K / 34.6, 2)) < 1e-12);
  double before = edge.modulus_MPa;
  for (double worn_in = 0.0; worn_in < 1e5; worn_in = 1.5 * worn_in + 0.1) {
    const double p = edge.tip_pressure_MPa(worn_in, 0.1);
    CHECK(p < before);
    CHECK(p > thin_hide.mean_MPa);
    before = p;
  }
  CHECK(off(edge.tip_pressure_MPa(1e12, 0.1), thin_hide.mean_MPa) < 1e-3);
}

TEST_CASE(
    "A dub grows while the edge wears in over less than where it is met, and shrinks after; its depth only grows") {
  bench::Dice dice(26);
  for (int i = 0; i < 300; ++i) {
    const PadEdge<double> pad{dice.log_between(1, 200), dice.log_between(1e-4, 2),
                              dice.log_between(1e-3, 0.3), dice.log_between(150, 3000),
                              dice.below(2) * dice.between(0, 1)};
    const double          y = dice.log_between(0.1, 2), half = dice.between(8, 22) * degree,
                 lap = dice.log_between(0.05, 20);
    CAPTURE(pad.length_um, pad.strain, pad.unsteady, y, lap);
    CHECK(dub_um(pad, 0.0, lap, y, half) == 0.0);
    double depth = 0.0;
    for (double w = 1e-3; w < 1e5; w *= 1.3) {
      CHECK(dub_angle(pad, w, lap, y, half) > 0.0);
      CHECK(half + dub_angle(pad, w, lap, y, half) < pi / 2);
      CHECK(depth_to_flat_um(pad, w) > depth);
      depth = depth_to_flat_um(pad, w);
      CHECK(off(worn_in_at_um(pad, depth), w) < 1e-6 * (1.0 + w / pad.contact_um));
    }
    CHECK(depth < deepest_to_flat_um(pad));
    CHECK(worn_in_at_um(pad, 0.0) == 0.0);
  }
  const auto thin = press_edge(thin_hide, {0.0, 0.0});
  CHECK(std::abs(dub_um(thin, 52.0, 2.6, 1.0, 15 * degree) - 0.13) <= 0.005);  // the examples of the header
  CHECK(std::abs(depth_to_flat_um(thin, 52.0) - 1.1) <= 0.05);
}

TEST_CASE("What a hand adds to a dub is worn in by a lap, not by all of them") {
  OnPad<double> board = thin_hide;
  board.modulus_MPa   = 122.0;
  const double lap    = 9.15;
  const auto   steady = press_edge(board, {0.0, 0.0}), shaky = press_edge(board, {0.0, 0.5 * degree});
  const auto   dub = [&](const PadEdge<double>& pad, double laps) {
    return dub_um(pad, laps * lap, lap, 1.0, 15 * degree);
  };
  CHECK(dub(steady, 100.0) < 0.6 * dub(steady, 4.0));
  CHECK(dub(shaky, 100.0) > 0.8 * dub(shaky, 4.0));
  CHECK(dub(shaky, 100.0) > 4.0 * dub(steady, 100.0));
  // squares of the two angles add up: that of the hand alone is the angle of a pad that presses by the wobble alone
  auto alone     = shaky;
  alone.strain   = 0.0;
  alone.unsteady = 1.0;
  alone.length_um *= shaky.unsteady;
  auto held = shaky;
  held.length_um *= 1.0 - shaky.unsteady;
  held.unsteady   = 0.0;
  const auto free = [&](const PadEdge<double>& pad) {
    const double angle = dub_angle(pad, 20 * lap, lap, 1.0, 15 * degree);
    return angle / std::sqrt(1.0 - std::pow(angle / (of_outline::steepest * 75 * degree), 2));
  };
  CHECK(off(free(shaky), std::hypot(free(held), free(alone))) < 1e-12);
}

TEST_CASE("Faces steeper by an angle are as much wider where they are met") {
  const double half = 15 * degree, by = 0.05, y = 0.7;
  // width of the steeper wedge there, over that of a round tip per radius
  const double wide       = y * (std::tan(half + by) - std::tan(half)),
               per_radius = std::tan(half) * (1 / std::sin(half) - 1);
  CHECK(off(dub_of_angle_um(by, y, half), wide / per_radius) < 1e-12);
  CHECK(dub_of_angle_um(0.0, y, half) == 0.0);
}

TEST_CASE("A tip behind a dub is met as the depth before it is gone, and what is left is the rest") {
  const TipContact<double> tip{2.0}, none{0.0};
  CHECK(none.at_tip_um(1.3) == 1.3);
  CHECK(none.share(0.0) == 1.0);
  CHECK(none.left_um(1.3) == 0.0);
  for (double off_um = 0.0; off_um < 5.0; off_um += 0.01) {
    CHECK(std::abs(tip.at_tip_um(off_um) - tip.left_um(off_um) - (off_um - 2.0)) < 1e-14);
    const double h = 1e-5;
    CHECK(std::abs((tip.at_tip_um(off_um + h) - tip.at_tip_um(off_um - h)) / (2 * h) - tip.share(off_um)) <
          1e-8);
  }
  CHECK(tip.share(1.0) == 0.0);
  CHECK(tip.share(2.0) == 0.5);
  CHECK(tip.share(3.0) == 1.0);
}

TEST_CASE("A delay below a picometre is none, and a short one changes next to nothing") {
  CHECK_FALSE(met_after(0.0).delayed());
  CHECK_FALSE(met_after(1e-20).delayed());
  CHECK(met_after(1e-5).delayed());
  const auto model = bench::workshop();
  const auto blade = bench::blade_of(model, bench::tool::iron);
  auto       edge  = initial_state(model.tools[bench::tool::iron], blade, model.tester.contact_distance_um);
  Ledger<double> ledger;
  edge.apex_radius_um = 0.4;
  auto stage = assemble(bench::strop(bench::backing::thin_hide, bench::compound::oxide, 20.0), model, blade,
                        edge, ledger);
  const auto end = [&](double excess_um) {
    stage.tip = met_after(excess_um);
    return bench::end_of<2>(stage, stage.start(edge), 20.0, Tolerances{}).y[0];
  };
  const double at_once = end(0.0);
  CHECK(at_once < 0.3);
  for (double excess_um : {1e-20, 1e-12, 2e-6, 1e-5, 1e-4, 1e-3}) {
    CAPTURE(excess_um);
    CHECK(std::abs(end(excess_um) - at_once) < 3.0 * excess_um + 1e-7);
  }
}

TEST_CASE("The same pad goes on at once, a harder one after what is dubbed more is worn down") {
  const auto model = bench::workshop();
  const auto blade = bench::blade_of(model, bench::tool::iron);
  const auto on    = [](int backing) { return bench::strop(backing, bench::compound::oxide, 40.0); };
  const auto after = [&](int backing) {
    return bench::run(model, bench::plan(bench::tool::iron, {on(backing)})).state;
  };
  Ledger<double> ledger;
  const auto     delay = [&](int next, const EdgeState<double>& edge) {
    return assemble(on(next), model, blade, edge, ledger).tip.excess_um;
  };
  const auto thin = after(bench::backing::thin_hide), soft = after(bench::backing::soft_hide);
  REQUIRE(soft.dub_um > 1.5 * thin.dub_um);
  CHECK(delay(bench::backing::thin_hide, thin) == 0.0);
  CHECK(delay(bench::backing::soft_hide, soft) == 0.0);
  CHECK(delay(bench::backing::soft_hide, thin) == 0.0);
  // the set-back of the arcs
  const double back = delay(bench::backing::thin_hide, soft);
  CHECK(back > 0.4 * (1.0 - blade.sin_half) * (soft.dub_um - thin.dub_um));
  CHECK(back < (1.0 - blade.sin_half) * soft.dub_um);
}

TEST_CASE("Wood blunts a dubbed edge more slowly than a straight one that reads the same") {
  const auto model = bench::workshop();
  const auto blade = bench::blade_of(model, bench::tool::iron);
  auto straight    = initial_state(model.tools[bench::tool::iron], blade, model.tester.contact_distance_um),
       dubbed      = straight;
  straight.apex_radius_um = 0.5;
  dubbed.apex_radius_um   = 0.1;
  dubbed.dub_um           = 0.4;
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  const laws::SharedLoad<double> law;
  const auto                     grown = [&](const EdgeState<double>& edge) {
    const auto stage = assemble(bench::cut(bench::wood::pine, 300), law, model, blade, edge, ledger);
    const auto y = bench::end_of<1>(stage, stage.start(edge), 300, Tolerances{}).y;
    return stage.finish(edge, y, 300.0).met_radius_um() - edge.met_radius_um();
  };
  CHECK(grown(dubbed) < 0.8 * grown(straight));
  CHECK(grown(dubbed) > 0.2 * grown(straight));
  // by the radius that bears the load, met nearer to the tip or further behind it
  const double b = borne_by_dub_um(0.4, 1.0, blade.sin_half);
  CHECK(off(b, of_outline::borne * blade.sin_half * 0.4) < 1e-14);
  CHECK(off(borne_by_dub_um(0.4, 0.5, blade.sin_half), b * std::pow(2.0, 0.85)) < 1e-14);
  CHECK(borne_by_dub_um(0.0, 1.0, blade.sin_half) == 0.0);
}

TEST_CASE("A compound removes its stated depth at the reference, in proportion to path, against hardness") {
  CHECK(off(40e-3 * strop_removal_per_MPa(3.0, 0.2, 7.1e9), 3e-3) < exact);
  CHECK(off(40e-3 * strop_removal_per_MPa(3.0, 0.6, 14.2e9), 4.5e-3) < exact);
}

TEST_CASE("Stropping takes off its removal over the whole contact") {
  const auto     model = bench::workshop();
  const auto     blade = bench::blade_of(model, bench::tool::iron);
  Ledger<double> ledger;
  const auto     stage = assemble(
          bench::strop(bench::backing::soft_hide, bench::compound::oxide, 1.0), model, blade,
          initial_state(model.tools[bench::tool::iron], blade, model.tester.contact_distance_um), ledger);
  CHECK(off(stage.removed(7.0), 7.0 * stage.removal_um * 1e3 * stage.contact.contact_m) < exact);
  CHECK(stage.contact.contact_m >
        1e-3 * bench::tool_of(model, bench::tool::iron).land_mm);  // it wraps round the land
}

namespace {

// readings after each lap, 0 … laps, of an edge that is keen already and has a burr
std::vector<double> readings_on(Model<double> model, int backing, int laps) {
  auto& tool          = model.tools[bench::tool::iron];
  tool.apex_radius_um = 0.15;
  tool.scratch_um     = 0.01;
  tool.burr_um        = 1.0;
  std::vector<double> points, values;
  for (int i = 0; i <= laps; ++i) points.push_back(i);
  const auto r =
      bench::run(model, bench::plan(bench::tool::iron, {bench::strop(backing, bench::compound::oxide, laps)}),
                 {}, points);
  REQUIRE(r.status.usable());
  for (const auto& sight : r.witness.seen)
    values.push_back(bench::reading_N(model, bench::tool::iron, sight.state));
  return values;
}
std::ptrdiff_t least_of(const std::vector<double>& values) {
  return std::min_element(values.begin(), values.end()) - values.begin();
}

}  // namespace

TEST_CASE(
    "A soft pad helps up to a finite number of laps and rounds from there on, a hard one does no harm") {
  const auto model = bench::workshop();
  const auto hard  = readings_on(model, bench::backing::board, 300),
             soft  = readings_on(model, bench::backing::soft_hide, 300);
  CHECK(least_of(hard) > 100);
  CHECK(least_of(soft) > 0);  // the burr goes first: a few laps do good
  CHECK(least_of(soft) < 60);
  CHECK(std::is_sorted(soft.begin() + least_of(soft),
                       std::max_element(soft.begin() + least_of(soft), soft.end())));
  CHECK(*std::max_element(soft.begin(), soft.end()) > 1.3 * soft[static_cast<std::size_t>(least_of(soft))]);
}

TEST_CASE("Laps in two steps do what they do in one") {
  const auto model = bench::workshop();
  for (const int backing : {bench::backing::board, bench::backing::thin_hide, bench::backing::soft_hide}) {
    const auto strop = [&](double laps) { return bench::strop(backing, bench::compound::oxide, laps); };
    const auto tol   = bench::at_tolerance(1e-10);
    const auto whole = bench::run(model, bench::plan(bench::tool::iron, {strop(60)}), tol);
    const auto parts = bench::run(model, bench::plan(bench::tool::iron, {strop(13), strop(47)}), tol);
    EdgeState<double>::components(
        [&](const char* name, double a, double b) {
          CAPTURE(backing, name);
          CHECK(std::abs(a - b) <= 1e-7 * std::abs(b));
        },
        parts.state, whole.state);
  }
}

TEST_CASE("A harder pad does not meet a tip that a softer one has dubbed until the land is worn down to it") {
  auto model                                          = bench::workshop();
  model.backings[bench::backing::board].unevenness_um = 0.0;
  const auto soft        = bench::strop(bench::backing::soft_hide, bench::compound::oxide, 100);
  auto       hard        = bench::strop(bench::backing::board, bench::compound::oxide, 0);
  hard.angle_scatter_deg = 0.0;
  const auto after       = [&](double laps) {
    hard.laps = laps;
    return bench::run(model, bench::plan(bench::tool::iron, {soft, hard})).state;
  };
  const auto start = after(0.0);
  CHECK(off(after(3.0).apex_radius_um, start.apex_radius_um) < exact);
  CHECK(off(after(3.0).dub_um, start.dub_um) < 1e-9);
  CHECK(after(3.0).dub_depth_um < start.dub_depth_um);
  CHECK(after(2000.0).dub_um < 0.3 * start.dub_um);
  CHECK(after(2000.0).dub_depth_um < 0.7 * start.dub_depth_um);
}

TEST_CASE("Each stropping makes the next honing longer, and honing takes the dub away") {
  const auto model  = bench::workshop();
  const auto hone   = [](double strokes) { return bench::hone(bench::medium::middle, strokes, true); };
  double     before = 0.0;
  for (int cycles = 0; cycles < 5; ++cycles) {
    std::vector<Step> steps{hone(20), bench::hone(bench::medium::fine, 40)};
    for (int i = 0; i < cycles; ++i) {
      steps.emplace_back(bench::strop(bench::backing::thin_hide, bench::compound::oxide, 20));
      steps.emplace_back(bench::cut(bench::wood::pine, 20));
    }
    const auto worn = bench::run(model, bench::plan(bench::tool::iron, steps)).state;
    steps.emplace_back(hone(5));
    const auto r = bench::run(model, bench::plan(bench::tool::iron, steps));
    REQUIRE(r.status.usable());
    const double to_burr = r.witness.outcomes.back().strokes_to_burr;
    CAPTURE(cycles, worn.dub_depth_um, to_burr);
    CHECK(to_burr >= before);
    CHECK((cycles == 0) == (worn.dub_depth_um == 0.0));
    if (cycles > 0) CHECK(r.state.dub_depth_um < 0.1 * worn.dub_depth_um);
    before = to_burr;
  }
  CHECK(before > 3.0);
}
