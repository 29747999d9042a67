// SPDX-License-Identifier: MIT
#include <cmath>

#include <boost/math/quadrature/tanh_sinh.hpp>
#include <catch2/catch.hpp>

#include "sim/laws/apex_kinematics.hpp"
#include "sim/laws/geometry.hpp"
#include "sim/laws/shaving.hpp"
#include "sim/laws/smooth.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::laws;
using bench::off;

namespace {

Wedge<double> wedge(double included_deg) { return {included_deg * degree}; }

// what double arithmetic leaves of a formula of a dozen operations without cancellation: some units in the last place
// (2.2e-16 each)
constexpr double exact = 1e-14;

}  // namespace

TEST_CASE("The ideal apex stands before the rounded one by the printed multiples of the radius") {
  struct Row {
    double included_deg, setback, last_digit;
  };
  for (const Row& row : {Row{20, 4.76, 0.01}, Row{25, 3.62, 0.01}, Row{30, 2.864, 0.001}, Row{35, 2.33, 0.01},
                         Row{40, 1.92, 0.01}, Row{45, 1.61, 0.01}}) {
    CAPTURE(row.included_deg);
    // a printed number is good to half a unit of its last digit
    CHECK(std::abs(wedge(row.included_deg).tip_setback(1.0) - row.setback) <= 0.5 * row.last_digit);
  }
  CHECK(std::abs(wedge(30).tangent_length(1.0) - 3.732) <= 0.5e-3);
  CHECK(std::abs(wedge(30).section_factor() - 2.423) <= 0.5e-3);
}

TEST_CASE("The arc touches both faces and its tip lies where the setback says") {
  bench::Dice dice(1);
  for (int i = 0; i < 100; ++i) {
    const auto   edge   = wedge(dice.between(5, 120));
    const double r      = dice.log_between(0.02, 100);
    const double alpha  = edge.half_angle();
    const double centre = r + edge.tip_setback(r);  // on the bisector, the ideal apex at 0
    const double t      = edge.tangent_length(r);
    CHECK(off(centre * std::sin(alpha), r) < exact);     // distance from the centre to a face
    CHECK(off(t * t + r * r, centre * centre) < exact);  // radius and face stand square to one another
  }
}

TEST_CASE("The missing section is the area between the faces and the arc") {
  boost::math::quadrature::tanh_sinh<double> quadrature;
  for (double included_deg : {20.0, 30.0, 45.0, 90.0}) {
    const auto   edge   = wedge(included_deg);
    const double r      = 0.7;
    const double tip    = edge.tip_setback(r);
    const double centre = r + tip;
    const double slope  = std::tan(edge.half_angle());
    const double touch  = edge.tangent_length(r) * std::cos(edge.half_angle());
    const double before = tip * tip * slope;  // the triangle in front of the tip
    const double beside = quadrature.integrate(
        [&](double x) { return 2.0 * (x * slope - std::sqrt((x - tip) * (centre + r - x))); }, tip, touch);
    CAPTURE(included_deg);
    // rounding of x near the tip, where the arc is steep, costs the root half its digits over 1e-8 of the way: 1e-12
    CHECK(off(before + beside, edge.missing_section(r)) < 1e-11);
  }
}

TEST_CASE("The land of a micro-bevel is the stretch between the back and the primary bevel") {
  CHECK(std::abs(land_per_depth(25 * degree, 30 * degree) - 9.70) <= 0.005);  // as printed

  bench::Dice dice(2);
  for (int i = 0; i < 100; ++i) {
    const double primary = dice.between(10, 40) * degree;
    const double micro   = primary + dice.between(0.5, 15) * degree;
    // back along y = 0, primary face y = x·tan β_p, micro-bevel y = (x − loss)·tan β_m
    const double loss  = dice.log_between(0.1, 1000);
    const double x     = loss * std::tan(micro) / (std::tan(micro) - std::tan(primary));
    const double y     = x * std::tan(primary);
    const double depth = loss * std::sin(micro);
    CHECK(off(depth * blade_loss_per_depth(micro), loss) < exact);
    // tan β_m − tan β_p loses what the angles have in common: 0.01 of 1 at the least, so two digits
    CHECK(off(depth * land_per_depth(primary, micro), std::hypot(x - loss, y)) < 100 * exact);
  }
  CHECK(off(full_bevel_land(3.0, 30 * degree), 6.0) < exact);
}

TEST_CASE("With the tip at rest the radius falls straight with the recession of the faces") {
  bench::Dice dice(3);
  for (int i = 0; i < 100; ++i) {
    const auto   edge = wedge(dice.between(15, 60));
    const double r    = dice.log_between(0.1, 10);
    // faces move in by δ, the ideal apex by δ/sin α; the tip stays: the setback shortens by as much
    const double delta      = dice.between(0.0, 0.5) * r * (1.0 - edge.sin_half());
    const double setback    = edge.tip_setback(r) - delta / edge.sin_half();
    const double new_radius = setback / edge.tip_setback(1.0);
    CHECK(off(r + delta * radius_rate(0.0, 1.0, edge.sin_half()), new_radius) < 10 * exact);
  }
}

TEST_CASE("The radius follows from where faces and tip have gone, whatever their speeds") {
  bench::Dice dice(4);
  for (int i = 0; i < 200; ++i) {
    const auto   edge = wedge(dice.between(15, 60));
    const double r    = dice.log_between(0.1, 10);
    const double n1 = dice.between(0, 0.1) * r, n2 = dice.between(0, 0.1) * r, tip = dice.between(0, 0.5) * r;
    // the ideal apex moves in along the bisector by the mean of the faces' recession over sin α
    const double setback    = edge.tip_setback(r) + tip - 0.5 * (n1 + n2) / edge.sin_half();
    const double new_radius = setback / edge.tip_setback(1.0);
    // setback and rate are exact; r + change may cancel to a tenth of r
    CHECK(off(r + radius_rate(tip, 0.5 * (n1 + n2), edge.sin_half()), new_radius) < 100 * exact);
  }
}

TEST_CASE("Removing the same from the whole outline takes as much off the radius") {
  for (double included_deg : {20.0, 30.0, 60.0}) {
    CHECK(off(radius_rate(0.2, 0.2, wedge(included_deg).sin_half()), -0.2) < exact);
  }
}

TEST_CASE("An edge blunts only where its tip recedes faster than the faces over the sine of the half angle") {
  for (double included_deg : {20.0, 30.0, 60.0}) {
    const double sin_half  = wedge(included_deg).sin_half();
    const double threshold = 0.1 / sin_half;
    CHECK(radius_rate(1.000001 * threshold, 0.1, sin_half) > 0.0);
    CHECK(radius_rate(0.999999 * threshold, 0.1, sin_half) < 0.0);
  }
}

TEST_CASE("A tip receding at constant speed makes the radius grow in proportion to the path") {
  const double sin_half = wedge(30).sin_half();
  const double speed    = 0.01;
  const auto   stage    = bench::plain_stage<1>(
      [&](const auto&, double) { return std::array{radius_rate(speed, 0.0, sin_half)}; });
  for (double x : {1.0, 10.0, 100.0}) {
    const auto end = bench::end_of<1>(stage, {0.0}, x, {});
    // the rate is a constant, which Runge–Kutta integrates without error but rounding
    CHECK(off(end.y[0], x * speed * sin_half / (1.0 - sin_half)) < 10 * exact);
  }
}

TEST_CASE("A section worn away at a constant rate makes the radius grow as the root of the path") {
  const auto   edge  = wedge(30);
  const double wear  = 0.02;  // µm² per metre
  const auto   stage = bench::plain_stage<1>([&](const auto& y, double) {
    // section g·r² grows by `wear`; the tip follows at D/r times the rate of the radius
    const double tip = edge.tip_setback(wear / (2.0 * edge.section_factor() * y[0]));
    return std::array{radius_rate(tip, 0.0, edge.sin_half())};
  });
  const double r0    = 0.1;
  const auto   tol   = bench::at_tolerance(1e-12);
  for (double x : {0.1, 1.0, 10.0, 100.0}) {
    const auto   end    = bench::end_of<1>(stage, {r0}, x, tol);
    const double closed = std::sqrt(r0 * r0 + wear * x / edge.section_factor());
    CHECK(std::abs(end.y[0] - closed) < bench::error_bound(end, tol, closed));
    // and so the missing section grows in proportion to the path
    CHECK(off(edge.missing_section(end.y[0]) - edge.missing_section(r0), wear * x) < 1e-8);
  }
}

TEST_CASE("The smooth positive part is exact outside its blend and twice differentiable at its borders") {
  const double w = 0.1;
  CHECK(smooth_positive(-w, w) == 0.0);
  CHECK(smooth_positive(-1.0, w) == 0.0);
  CHECK(smooth_positive(w, w) == w);
  CHECK(smooth_positive(1.0, w) == 1.0);
  CHECK(off(smooth_positive(0.0, w), 3.0 * w / 16.0) < exact);

  // differences over h stand for derivatives; the second derivative has a slope of at most 3/w² there (its polynomial
  // is (6t − 6t²)/(2w)), so a jump would show above h·3/w²; rounding adds ε·w/h²
  const double h     = 1e-4 * w;
  const double slack = 1.5 * h * 3.0 / (w * w) + 4 * 2.2e-16 * w / (h * h);
  for (double x : {-w, w}) {
    const auto   f      = [&](double at) { return smooth_positive(at, w); };
    const double first  = (f(x + h) - f(x - h)) / (2 * h);
    const double second = (f(x + h) - 2 * f(x) + f(x - h)) / (h * h);
    CHECK(std::abs(first - (x > 0 ? 1.0 : 0.0)) < h * slack);
    CHECK(std::abs(second) < slack);
  }
  double before = -1.0;
  for (int i = 0; i <= 1000; ++i) {
    const double x = (i / 500.0 - 1.0) * 1.5 * w;
    const double y = smooth_positive(x, w);
    CHECK(y >= std::max(x, 0.0));
    CHECK(y >= before);
    before = y;
  }
}

TEST_CASE(
    "A blade with equal bevels is honed over its whole width, a steeper micro-bevel on its land alone") {
  const auto  model = bench::workshop();
  const auto  iron  = bench::blade_of(model, bench::tool::iron);
  const auto& tool  = bench::tool_of(model, bench::tool::iron);
  CHECK(off(iron.land_per_depth,
            land_per_depth(tool.primary_bevel_deg * degree, tool.micro_bevel_deg * degree)) < exact);
  CHECK(off(iron.included, tool.micro_bevel_deg * degree) < exact);
  CHECK(off(iron.severity_of_angle, 1.0) < exact);  // 30° is the reference

  const auto  chisel      = bench::blade_of(model, bench::tool::chisel);
  const auto& whole_bevel = bench::tool_of(model, bench::tool::chisel);
  CHECK(chisel.land_per_depth == 0.0);
  CHECK(chisel.step_angle == 0.0);
  CHECK(chisel.full_land_mm == whole_bevel.bevel_contact_mm);
  auto  flat              = model;
  auto& ground            = flat.tools[bench::tool::chisel];
  ground.bevel_contact_mm = 100.0;  // flat all over: it touches over what there is
  CHECK(off(bench::blade_of(flat, bench::tool::chisel).full_land_mm,
            ground.thickness_mm / std::sin(ground.primary_bevel_deg * degree)) < exact);
}

TEST_CASE("A back bevel adds to the included angle and its land fits the corner it cuts off") {
  const auto   model = bench::workshop();
  const auto&  tool  = bench::tool_of(model, bench::tool::back_bevelled);
  const auto   blade = bench::blade_of(model, bench::tool::back_bevelled);
  const double micro = tool.micro_bevel_deg * degree, back = tool.back_bevel_deg * degree;
  CHECK(off(blade.included, micro + back) < exact);

  // flat back y = 0, micro-bevel y = x·tan β_m; the back bevel leaves it at (x₁, y₁), the new apex, and falls to the back
  const double x1 = 10.0, y1 = x1 * std::tan(micro);
  const double land  = y1 / std::sin(back);
  const double depth = x1 * std::sin(back) + y1 * std::cos(back);  // from the old apex to the back bevel
  CHECK(off(land / depth, blade.back_land_per_depth) < 10 * exact);
}

TEST_CASE("A knife is two half wedges back to back") {
  const auto  model = bench::workshop();
  const auto& tool  = bench::tool_of(model, bench::tool::knife);
  const auto  blade = bench::blade_of(model, bench::tool::knife);
  CHECK(blade.both_sides);
  CHECK(off(blade.included, tool.micro_bevel_deg * degree) < exact);
  CHECK(off(blade.land_per_depth, land_per_depth(0.5 * tool.primary_bevel_deg * degree,
                                                 0.5 * tool.micro_bevel_deg * degree)) < exact);
  CHECK(off(blade.full_land_mm, 0.5 * tool.thickness_mm / std::sin(0.5 * tool.primary_bevel_deg * degree)) <
        exact);
}

TEST_CASE("The thinnest shaving is three tenths of the apex radius") {
  CHECK(off(thinnest_shaving_um(5.0), 1.5) < exact);
}
