// SPDX-License-Identifier: MIT
#include <cmath>

#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/special_functions/lambert_w.hpp>
#include <catch2/catch.hpp>

#include "sim/laws/abrasion.hpp"
#include "sim/laws/burr.hpp"
#include "sim/laws/glazing.hpp"
#include "sim/laws/honing_floor.hpp"
#include "sim/laws/land_growth.hpp"
#include "sim/laws/scratch.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::laws;
using bench::off;
using boost::math::lambert_w0;

namespace {

// what double arithmetic leaves of a formula of a dozen operations without cancellation: some units in the last place
constexpr double exact = 1e-14;

constexpr double ln2 = 0.69314718055994530942;

double sine_of_half(double included_deg) { return std::sin(0.5 * included_deg * degree); }

// A bevel honed over its whole width on a medium that does not glaze, its scratches already those of the medium, with
// m = 1: the case in which everything has a closed form.
struct PlainHoning {
  Model<double>     model = bench::workshop();
  Blade<double>     blade;
  EdgeState<double> state;
  FaceStage<double> stage;
  double r_inf, a, fall;  // floor, removal of the face per stroke, fall of the radius far above the floor

  explicit PlainHoning(double apex_radius_um) {
    model.coefficients.floor_exponent              = 1.0;
    model.media[bench::medium::middle].glaze_floor = 1.0;
    blade                                          = bench::blade_of(model, bench::tool::chisel);
    state = initial_state(model.tools[bench::tool::chisel], blade, model.tester.contact_distance_um);
    Ledger<double> ledger;
    ledger.reset(model.media.size());
    const auto step      = bench::hone(bench::medium::middle, 1.0);
    state.scratch_um     = assemble(step, model, blade, state, ledger).own_scratch(0.0);
    state.apex_radius_um = apex_radius_um;
    stage                = assemble(step, model, blade, state, ledger);
    r_inf                = stage.floor.radius_um(state.scratch_um);
    a                    = stage.land.removal_um(0.0);
    fall                 = 0.5 * a / (1.0 - blade.sin_half);
  }
};

}  // namespace

// removal

TEST_CASE("Removal follows Archard's law: in proportion to pressure and path, against hardness") {
  const Abrasion<double> law{0.05, 100.0, 1.0};
  const double           k = law.coefficient(18.0);
  CHECK(std::abs(k - 0.00763) <= 0.5e-5);  // the example of the header, as printed
  CHECK(std::abs(law.removal_um(k, 0.8e6, 0.1, 7.1e9) - 0.086) <= 0.5e-3);
  const double a = law.removal_um(k, 0.8e6, 0.1, 7.1e9);
  CHECK(off(law.removal_um(k, 1.6e6, 0.1, 7.1e9), 2 * a) < exact);
  CHECK(off(law.removal_um(k, 0.8e6, 0.3, 7.1e9), 3 * a) < exact);
  CHECK(off(law.removal_um(k, 0.8e6, 0.1, 14.2e9), a / 2) < exact);
  CHECK(off(a, 1e6 * (k / 7.1e9) * 0.8e6 * 0.1) < exact);  // Preston's law with k_P = K/H
}

TEST_CASE("The wear coefficient rises with the grit as a power and levels off") {
  bench::Dice dice(11);
  for (int i = 0; i < 50; ++i) {
    const Abrasion<double> law{dice.between(0.01, 0.2), dice.between(50, 150), dice.between(0.5, 1.5)};
    CHECK(off(law.coefficient(law.critical_size_um), 0.5 * law.coefficient_inf) < exact);
    // fine grit: K = K∞·χ to a share χ, coarse grit: K = K∞ to a share 1/χ
    const double chi   = 1e-6;
    const double ratio = std::pow(chi, 1.0 / law.size_exponent);
    CHECK(off(law.coefficient(law.critical_size_um * ratio), law.coefficient_inf * chi) < 1.1 * chi);
    CHECK(off(law.coefficient(law.critical_size_um / ratio), law.coefficient_inf) < 1.1 * chi);
  }
}

// glazing

TEST_CASE("Strokes on a glazing medium are worth the integral of its remaining cut") {
  const Glazing<double> film{0.3, 60.0};
  CHECK(film.share(0.0) == 1.0);
  CHECK(std::abs(film.effective(0.0, 60.0) - 44.5) <= 0.05);  // the example of the header, as printed

  bench::Dice dice(12);
  for (int i = 0; i < 50; ++i) {
    const Glazing<double> g{dice.uniform(), dice.log_between(5, 5000)};
    const double          used = dice.between(0, 500), n = dice.between(0.1, 500);
    double                error    = 0.0;
    const double          integral = boost::math::quadrature::gauss_kronrod<double, 61>::integrate(
        [&](double at) { return g.share(used + at); }, 0.0, n, 15, 1e-13, &error);
    // quadrature asked for 1e-13; 1 − e^(−n/n_glaze) loses up to n_glaze/n = 5e4 of 1e-16
    CHECK(off(g.effective(used, n), integral) < 2e-11);
  }
}

TEST_CASE("Two bouts on a medium are worth as much as one of the same length") {
  const Glazing<double> g{0.4, 80.0};
  CHECK(off(g.effective(15.0, 25.0) + g.effective(40.0, 60.0), g.effective(15.0, 85.0)) < 10 * exact);
  CHECK(g.effective(10.0, 0.0) == 0.0);
}

TEST_CASE("A loaded surface keeps its residual cut") {
  const Glazing<double> g{0.4, 80.0};
  CHECK(off(g.share(1e5), 0.4) < exact);  // e^(−1250) is nothing
  CHECK(off(g.effective(1e5, 100.0), 40.0) < exact);
}

// land

TEST_CASE("On a micro-bevel the square of the depth grows in proportion to the strokes") {
  const LandGrowth<double> land{0.043, 9.70, 0.0};
  CHECK(land.grows());
  CHECK(std::abs(land.land_mm(50.0) - 0.485) <= 0.5e-3);
  const double h0     = 12.0;
  const auto   growth = [&](const std::array<double, 1>& h, double) {
    // Archard: removal = W/ℓ with ℓ = c·h, mm of land on µm of depth
    return std::array{0.043 / (1e-3 * 9.70 * h[0])};
  };
  const double gain = 2.0 * 0.043 / (1e-3 * 9.70);
  for (double n : {1.0, 10.0, 100.0, 1000.0}) {
    const double h = bench::brute_force<1>(growth, {h0}, n)[0];
    // the brute force is good to about its number of steps, a few hundred, times 1e-12
    CHECK(off(land.depth(h0, n), h) < 1e-9);
    CHECK(off(h * h - h0 * h0, gain * n) < 1e-8);
    CHECK(off(land.removal_um(h) * land.land_mm(h), 0.043) <
          exact);  // removal times land is the same at every depth
  }
}

TEST_CASE("Over the whole bevel the depth grows in proportion to the strokes") {
  const LandGrowth<double> land{0.043, 0.0, 7.1};
  CHECK_FALSE(land.grows());
  CHECK(off(land.depth(3.0, 200.0), 3.0 + 0.043 / 7.1 * 200.0) < exact);
  CHECK(land.land_mm(3.0) == 7.1);
  CHECK(land.land_mm(300.0) == 7.1);
}

TEST_CASE("Depth integrates removal also while the medium glazes") {
  const LandGrowth<double> land{0.043, 9.70, 0.0};
  const Glazing<double>    glaze{0.3, 60.0};
  const double             used = 20.0, h0 = 15.0;
  const double             h = bench::brute_force<1>(
      [&](const auto& y, double n) { return std::array{land.removal_um(y[0]) * glaze.share(used + n)}; },
      {h0}, 150.0)[0];
  CHECK(off(land.depth(h0, glaze.effective(used, 150.0)), h) < 1e-9);  // as above
}

// scratches

TEST_CASE("Scratches are as deep as printed at 0.8 MPa in steel of 7.3 GPa") {
  struct Row {
    double size_um, depth_um, last_digit;
  };
  for (double exponent : {0.0, 0.5, 1.0}) {  // at the reference pressure the load exponent is without effect
    const ScratchDepth<double> scratch{15 * degree, 0.01, exponent, 1.0};
    for (const Row& row : {Row{60, 1.34, 0.01}, Row{18, 0.40, 0.01}, Row{10, 0.22, 0.01},
                           Row{3, 0.067, 0.001}, Row{1, 0.022, 0.001}}) {
      CAPTURE(row.size_um, exponent);
      CHECK(std::abs(scratch.depth_um(row.size_um, 0.8e6, 7.3e9) - row.depth_um) <= 0.5 * row.last_digit);
    }
  }
}

TEST_CASE("Scratch depth goes with the root of the pressure where the same grits carry any load") {
  const ScratchDepth<double> same{15 * degree, 0.01, 0.0, 1.0}, more{15 * degree, 0.01, 1.0, 1.0};
  CHECK(off(same.depth_um(10, 3.2e6, 7e9), 2.0 * same.depth_um(10, 0.8e6, 7e9)) < exact);
  CHECK(off(more.depth_um(10, 3.2e6, 7e9), more.depth_um(10, 0.8e6, 7e9)) < exact);
  CHECK(off(same.depth_um(10, 0.8e6, 28e9), 0.5 * same.depth_um(10, 0.8e6, 7e9)) < exact);
  CHECK(off(same.depth_um(30, 0.8e6, 7e9), 3.0 * same.depth_um(10, 0.8e6, 7e9)) < exact);
}

TEST_CASE("A medium cuts away the scratches of the one before as the closed form says") {
  // with u = s − s_m:  u + 2·s_m·ln u = u₀ + 2·s_m·ln u₀ − a·n,  so  u = 2·s_m·W₀( (u₀/2s_m)·e^((u₀ − a·n)/2s_m) )
  const double a   = 0.03;
  const auto   tol = bench::at_tolerance(1e-12);
  for (double own : {0.05, 0.4}) {
    const auto stage =
        bench::plain_stage<1>([&](const auto& s, double) { return std::array{scratch_rate(a, s[0], own)}; });
    for (double start : {0.3 * own, own, 1.2, 0.25}) {  // from above and from below
      for (double n : {1.0, 10.0, 30.0}) {
        const double u0     = start - own;
        const double closed = own + 2 * own * lambert_w0(u0 / (2 * own) * std::exp((u0 - a * n) / (2 * own)));
        const auto   end    = bench::end_of<1>(stage, {start}, n, tol);
        CAPTURE(own, start, n);
        CHECK(std::abs(end.y[0] - closed) <
              bench::error_bound(end, tol, std::max(start, own)) + exact * closed);
      }
    }
  }
}

TEST_CASE("Deep scratches go at the rate of removal and the medium's own stay") {
  CHECK(off(scratch_rate(0.1, 1.0, 0.2), -0.1 * 0.8 / 1.2) < exact);
  CHECK(std::abs(scratch_rate(0.1, 1.0, 0.2) + 0.067) <= 0.5e-3);  // the example of the header
  CHECK(off(scratch_rate(0.1, 1e6, 0.2), -0.1) < 1e-6);            // to a share 2·s_m/s
  CHECK(scratch_rate(0.1, 0.2, 0.2) == 0.0);
  CHECK(scratch_rate(0.1, 0.1, 0.2) > 0.0);
}

// honing floor

TEST_CASE("The floor is no smaller than any of its parts") {
  const HoningFloor<double> floor{6.0, 0.08, 0.02, 2.0};
  CHECK(std::abs(floor.radius_um(0.027) - 0.182) <= 0.5e-3);  // the example of the header
  CHECK(floor.radius_um(0.0) > 0.08);
  CHECK(off(HoningFloor<double>{6.0, 0.0, 0.02, 2.0}.radius_um(0.0), 0.02) < exact);
  CHECK(off(floor.radius_um(100.0), 600.0) < 1e-7);  // the rest adds 0.0034/(2·600²)
}

TEST_CASE(
    "Far above the floor the radius falls as the kinematics of the apex has it, below the floor it rises") {
  const double sin_half = sine_of_half(30);
  for (double m : {1.0, 2.0, 3.0}) {
    const HoningFloor<double> floor{6.0, 0.08, 0.02, m};
    // short of it by (r∞/r)^m, 1e-6 or less
    CHECK(off(floor.rate(1e6, 1.0, 0.05, sin_half), radius_rate(0.0, 0.05, sin_half)) < 1.1e-6);
    CHECK(floor.rate(1.0, 1.0, 0.05, sin_half) == 0.0);
    CHECK(floor.rate(0.5, 1.0, 0.05, sin_half) > 0.0);
  }
  // the shortcut taken for m = 2 is the power
  const HoningFloor<double> square{6.0, 0.08, 0.02, 2.0}, nearly{6.0, 0.08, 0.02, 2.0 + 1e-12};
  CHECK(off(square.rate(1.0, 0.3, 0.05, sin_half), nearly.rate(1.0, 0.3, 0.05, sin_half)) < 1e-11);
}

TEST_CASE(
    "With m = 1 and constant scratches the assembled honing step falls to the floor along Lambert's W") {
  for (double start : {0.4, 2.0, 10.0}) {  // the first below the floor, so that it blunts
    PlainHoning  h(start * 0.5);
    const double u0  = (h.state.apex_radius_um - h.r_inf) / h.r_inf;
    const auto   tol = bench::at_tolerance(1e-12);
    for (double n : {1.0, 30.0, 300.0, 3000.0}) {
      const double u      = lambert_w0(u0 * std::exp(u0 - h.fall * n / h.r_inf));
      const auto   end    = bench::end_of<3>(h.stage, h.stage.start(h.state), n, tol);
      const double closed = h.r_inf * (1.0 + u);
      CAPTURE(start, n);
      // W₀ has a relative slope of 1/(1 + w) to its argument, which has rounding of ε·|exponent| ≤ 100 ε
      CHECK(std::abs(end.y[0] - closed) <
            bench::error_bound(end, tol, std::max(start, closed)) + 100 * exact);
      // own scratches stay as they are, to rounding
      CHECK(off(end.y[1], h.state.scratch_um) < exact);
    }
  }
}

TEST_CASE("With m = 2 the fall to the floor keeps its integral") {
  // dr/dn = −A·(1 − ρ²/r²)  ⇒  r + (ρ/2)·ln((r − ρ)/(r + ρ)) + A·n  stays the same
  const double              sin_half = sine_of_half(30), rho = 0.2, v = 0.01;
  const HoningFloor<double> floor{6.0, 0.08, 0.02, 2.0};
  const auto                stage = bench::plain_stage<1>(
      [&](const auto& r, double) { return std::array{floor.rate(r[0], rho, v, sin_half)}; });
  const double r0 = 3.0, speed = v / (1.0 - sin_half);
  const auto   integral = [&](double r) { return r + 0.5 * rho * std::log((r - rho) / (r + rho)); };
  const auto   tol      = bench::at_tolerance(1e-12);
  for (double n : {10.0, 100.0, 200.0, 220.0}) {
    const auto   end   = bench::end_of<1>(stage, {r0}, n, tol);
    const double slope = 1.0 / (1.0 - rho * rho / (end.y[0] * end.y[0]));  // of the integral with r
    CHECK(std::abs(integral(end.y[0]) + speed * n - integral(r0)) <
          slope * bench::error_bound(end, tol, r0) + exact);
  }
}

// burr

TEST_CASE("A burr opens once the faces meet, and half where the apex counts as reached") {
  CHECK(std::abs(burr_opening(0.5, 0.5) - 0.981) <= 0.5e-3);  // the examples of the header
  CHECK(std::abs(burr_opening(2.0, 0.5) - 0.050) <= 0.5e-3);
  CHECK(off(burr_opening(apex_reached_ratio * 0.5, 0.5), 0.5) < exact);
  CHECK(burr_opening(0.4, 0.5) == 1.0);
  // by the ratio, as lanes work it out: the same but for the rounding of a handful of operations
  for (double r = 0.4; r < 4.0; r *= 1.07)
    CHECK(burr_opening_at(r / 0.5) == Approx(burr_opening(r, 0.5)).epsilon(1e-13));
  CHECK(burr_opening(100.0, 0.5) < 1e-80);
}

TEST_CASE("The burr grows towards its limit, and one that is longer is worn down to it") {
  const auto   tol   = bench::at_tolerance(1e-12);
  const double limit = BurrLimit<double>{5.0, 0.2}.length_um(0.8), a = 0.02, opening = 0.7;
  CHECK(std::abs(limit - 7.6) <= 0.05);  // the example of the header
  CHECK(BurrLimit<double>{5.0, 0.2}.length_um(0.1) == 5.0);
  for (double start : {0.0, 3.0, 7.0, 20.0}) {
    const Burr<double> burr{0.6, limit, 0.05, start};
    const auto         stage =
        bench::plain_stage<1>([&](const auto& b, double) { return std::array{burr.rate(b[0], a, opening)}; });
    double before = start;
    for (double n : {1.0, 20.0, 400.0}) {
      const auto   end   = bench::end_of<1>(stage, {start}, n, tol);
      const double after = burr.after(a * opening * n, n);
      CHECK(std::abs(end.y[0] - after) < bench::error_bound(end, tol, std::max(limit, start)) + exact);
      CHECK((start < limit ? after > before && after < limit : after < before && after > limit));
      before = after;
    }
  }
}

TEST_CASE("Twice the pressure raises no longer a burr than the foil can stand") {
  auto model                                    = bench::workshop();
  model.tools[bench::tool::iron].scratch_um     = 0.05;
  model.tools[bench::tool::iron].apex_radius_um = 0.3;
  const auto burr_of                            = [&](double force_N, double strokes) {
    auto step    = bench::hone(bench::medium::fine, strokes);
    step.force_N = force_N;
    return bench::run(model, bench::plan(bench::tool::iron, {step})).state.burr_um;
  };
  CHECK(burr_of(40.0, 20.0) > 1.5 * burr_of(20.0, 20.0));  // sooner there
  CHECK(off(burr_of(40.0, 2e4), burr_of(20.0, 2e4)) < 1e-6);
}

TEST_CASE("On the back the burr goes exponentially and the scratches of the bevel stay") {
  const auto        model = bench::workshop();
  const auto        blade = bench::blade_of(model, bench::tool::iron);
  EdgeState<double> state =
      initial_state(model.tools[bench::tool::iron], blade, model.tester.contact_distance_um);
  state.burr_um = 3.0;
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  const auto stage = assemble(bench::back(bench::medium::fine, 1.0), model, blade, state, ledger);
  const auto tol   = bench::at_tolerance(1e-12);
  for (double n : {1.0, 5.0, 40.0}) {
    const auto   end    = bench::end_of<3>(stage, stage.start(state), n, tol);
    const double closed = 3.0 * std::exp(-model.coefficients.burr_loss_back * n);
    CHECK(end.y[1] == state.scratch_um);
    const auto after = stage.finish(state, end.y, n);
    CHECK(off(after.burr_um, closed) < exact);
    CHECK(after.bevel_depth_um == state.bevel_depth_um);
    CHECK(after.back_depth_um == 0.0);  // a flat back is a face without depth of its own
  }
}

TEST_CASE("In wood the burr breaks off exponentially over its path") {
  CHECK(off(burr_after_path(2.0, 6.0, 3.0), 2.0 * std::exp(-2.0)) < exact);
  const double b =
      bench::brute_force<1>([](const auto& y, double) { return std::array{-y[0] / 3.0}; }, {2.0}, 6.0)[0];
  CHECK(off(burr_after_path(2.0, 6.0, 3.0), b) < 1e-9);  // some hundred steps of 1e-12
}

// the assembled stage

TEST_CASE("A face stage agrees with plain equations in which its depth is integrated as well") {
  auto model = bench::workshop();
  for (const int tool :
       {bench::tool::iron, bench::tool::chisel, bench::tool::back_bevelled, bench::tool::knife}) {
    for (double load_exponent : {0.4, 1.0}) {
      for (const bool is_bevel : {true, false}) {
        model.coefficients.active_grit_load_exponent = load_exponent;
        const auto&       c                          = model.coefficients;
        const auto&       stone                      = model.media[bench::medium::fine];
        const auto        blade                      = bench::blade_of(model, tool);
        EdgeState<double> state = initial_state(model.tools[static_cast<std::size_t>(tool)], blade,
                                                model.tester.contact_distance_um);
        state.apex_radius_um    = 1.5;
        state.burr_um           = 0.2;
        state.back_depth_um     = blade.back_land_per_depth > 0.0 ? 20.0 : 0.0;
        Ledger<double> ledger;
        ledger.reset(model.media.size());
        ledger.strokes_on_medium[bench::medium::fine] = 25.0;

        const double n = is_bevel ? 80.0 : 20.0, force_N = 18.0, stroke_m = 0.09;
        const auto   with = [&](auto step) {
          step.force_N   = force_N;
          step.stroke_mm = 1e3 * stroke_m;
          return assemble(step, model, blade, state, ledger);
        };
        const auto stage =
            is_bevel ? with(bench::hone(bench::medium::fine, n)) : with(bench::back(bench::medium::fine, n));

        const double per_depth = is_bevel ? blade.land_per_depth : blade.back_land_per_depth;
        const double wide_m    = 1e-3 * (is_bevel ? blade.full_land_mm : blade.back_land_mm);
        const double chi       = std::pow(stone.size_um / c.critical_size_um, c.size_exponent);
        const double k = c.abrasion * stone.cutting_rate / stone.loose_grit_divisor * chi / (1.0 + chi);
        const double faces =
            is_bevel && blade.both_sides ? 2.0 : 1.0;  // in turn: each gets every second stroke
        const double growth = is_bevel ? c.burr_growth : 0.0;
        const double limit  = c.burr_limit_um * std::pow(stage.own_scratch_um / 0.1, c.burr_limit_exponent) *
                             (blade.both_sides ? c.burr_limit_alternating : 1.0);
        const double loss = is_bevel ? 0.0 : c.burr_loss_back;
        REQUIRE(state.burr_um < limit);
        const auto plain = [&](const std::array<double, 4>& y, double at) {
          const auto [r, s, b, h] = y;
          const double land_m     = per_depth > 0.0 ? 1e-6 * per_depth * h : wide_m;
          const double p          = force_N / (blade.width_m * land_m);
          const double cut =
              stone.glaze_floor + (1.0 - stone.glaze_floor) * std::exp(-(25.0 + at) / stone.glaze_strokes);
          const double a   = 1e6 * k * cut * p * stroke_m / blade.hardness_Pa;
          const double own = std::tan(stone.grit_angle_deg * degree) * stone.size_um *
                             std::sqrt(2.0 * p /
                                       (pi * blade.hardness_Pa * stone.active_grit_fraction *
                                        std::pow(p / 0.8e6, c.active_grit_load_exponent))) *
                             stone.protrusion;
          const double r_inf =
              std::sqrt(std::pow(c.radius_per_scratch * s, 2) + std::pow(blade.carbide_radius_um, 2) +
                        std::pow(c.floor_radius_um, 2));
          const double open = std::exp(-smooth_positive(r - r_inf, 0.1 * r_inf) / r_inf);
          return std::array{-0.5 * a / (1.0 - blade.sin_half) * (1.0 - std::pow(r_inf / r, c.floor_exponent)),
                            is_bevel ? -a / faces * (s - own) / (s + own) : 0.0,
                            growth * a / blade.sin_included * open * (1.0 - b / limit) - loss * b, a / faces};
        };
        const double h0    = is_bevel ? state.bevel_depth_um : state.back_depth_um;
        const auto   brute = bench::brute_force<4>(plain, {1.5, state.scratch_um, 0.2, h0}, n);
        const auto   tol   = bench::at_tolerance(1e-11);
        const auto   end   = bench::end_of<3>(stage, stage.start(state), n, tol);
        const auto   after = stage.finish(state, end.y, n);
        CAPTURE(tool, load_exponent, is_bevel);
        // some hundred steps of 1e-11, and of 1e-12 of the brute force; radius and scratches pull the burr after them by
        // no more than the ratio of their sizes, about ten
        CHECK(off(after.apex_radius_um, brute[0]) < 1e-8);
        CHECK(off(after.scratch_um, brute[1]) < 1e-8);
        CHECK(off(after.burr_um, brute[2]) < 1e-8);
        const double depth = is_bevel ? after.bevel_depth_um : after.back_depth_um;
        if (is_bevel || per_depth > 0.0) CHECK(off(depth, brute[3]) < 1e-9);
        // what was removed is Archard's volume over the width, µm·mm
        const double archard = 1e9 * k * stage.glaze.effective(25.0, n) * force_N * stroke_m /
                               (blade.width_m * blade.hardness_Pa);
        CHECK(off(stage.removed(n), archard) < 100 * exact);
      }
    }
  }
}

TEST_CASE("A land shorter than the rounded apex counts as long as the apex is round") {
  const auto        model = bench::workshop();
  const auto        blade = bench::blade_of(model, bench::tool::iron);
  EdgeState<double> state =
      initial_state(model.tools[bench::tool::iron], blade, model.tester.contact_distance_um);
  state.apex_radius_um = 8.0;
  state.bevel_depth_um = 1e-3;
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  const auto stage = assemble(bench::hone(bench::medium::middle, 1.0), model, blade, state, ledger);
  CHECK(off(1e3 * stage.land.land_mm(stage.start_depth_um),
            Wedge<double>{blade.included}.tangent_length(8.0)) < exact);
}

TEST_CASE("The apex counts as reached where the closed form falls to it") {
  PlainHoning  h(6.0);
  const double u0 = (6.0 - h.r_inf) / h.r_inf;
  // u + ln u = u₀ + ln u₀ − A·n/r∞ with u = ln 2
  const double closed = h.r_inf / h.fall * (u0 - ln2 + std::log(u0 / ln2));
  const auto   tol    = bench::at_tolerance(1e-12);
  const auto   end =
      integrate_stage<double>(h.stage, h.stage.start(h.state), 10 * closed, {}, bench::NoVisit{},
                              end_where([&](const auto& y, double n) { return h.stage.to_burr(y, n); }), tol);
  REQUIRE(end.status == StageStatus::ended);
  CHECK(off(end.n, closed) < 1e-9);
  CHECK(off(end.y[0], apex_reached_ratio * h.r_inf) < 1e-9);
}

TEST_CASE(
    "Honed in turn, each face of a knife wears half as fast as one that gets every stroke, and the apex no slower") {
  auto model                                 = bench::workshop();
  model.tools[bench::tool::knife].scratch_um = 0.5;
  auto       one_sided                       = bench::blade_of(model, bench::tool::knife);
  const auto knife                           = one_sided;
  one_sided.both_sides                       = false;
  const auto state = initial_state(model.tools[bench::tool::knife], knife, model.tester.contact_distance_um);
  Ledger<double> ledger;
  ledger.reset(model.media.size());
  const auto step  = bench::hone(bench::medium::fine, 1.0);
  const auto turns = assemble(step, model, knife, state, ledger),
             same  = assemble(step, model, one_sided, state, ledger);
  FaceStage<double>::Vector by_turns, on_one;
  turns.rates(turns.start(state), by_turns, 0.0);
  same.rates(same.start(state), on_one, 0.0);
  CHECK(off(by_turns[1], 0.5 * on_one[1]) < exact);
  // n̄ is the mean of the faces: half of the removal whether one face has all of it or both have half
  CHECK(off(by_turns[0], on_one[0]) < exact);
  CHECK(off(turns.finish(state, turns.start(state), 40.0).bevel_depth_um,
            same.land.depth(same.start_depth_um, 0.5 * same.glaze.effective(0.0, 40.0))) < exact);
}
