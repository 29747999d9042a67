// SPDX-License-Identifier: MIT
#include <array>
#include <cmath>
#include <stdexcept>
#include <vector>

#include <Eigen/Cholesky>
#include <catch2/catch.hpp>

#include "sim/laws/geometry.hpp"
#include "sim/laws/pad_contact.hpp"
#include "sim/outline/contact.hpp"
#include "sim/outline/cutting.hpp"
#include "sim/outline/honing.hpp"
#include "sim/outline/outline.hpp"
#include "sim/outline/pad_layer.hpp"
#include "sim/outline/stropping.hpp"

using namespace arris;
using namespace arris::outline;
using laws::degree;

namespace {

constexpr double included = 30 * degree;
const double     sin_half = std::sin(0.5 * included);
const Face       micro{.land_um = 500, .step_angle = 5 * degree, .behind_um = 6000};
const Pad        board{.modulus_Pa = 122e6, .thickness_um = 12000};
const Pad        thin_hide{.modulus_Pa = 34.6e6, .thickness_um = 1000};
const Pad        thick_hide{.modulus_Pa = 20e6, .thickness_um = 2500};
const Pad        soft_hide{.modulus_Pa = 3.16e6, .thickness_um = 4500};
const Stropping  plain{.force_N_per_m = 200};

Outline edge_of(double r, const Mesh& mesh = {}) { return Outline::fresh(included, r, micro, mesh); }

/// Twice as fine as the default where it matters, with steps of a third.
constexpr Mesh fine{.finest_um        = 0.02,
                    .growth           = 1.12,
                    .widest_um        = 10,
                    .widest_share     = 0.05,
                    .share_of_radius  = 0.15,
                    .share_of_spacing = 0.4};

/// Equivalent radii at 1 µm after these laps.
std::vector<double> stropped(Outline edge, const Pad& pad, const Stropping& how, std::vector<double> laps) {
  std::vector<double> r;
  strop(edge, pad, how, laps,
        [&](double, const Outline& now) { r.push_back(now.equivalent_radius_um(1.0)); });
  return r;
}

double relative(double a, double b) { return std::abs(a / b - 1.0); }

/// Pressures under a rigid flat punch between the first and the last edge, load 1.
Eigen::VectorXd flat_punch(const Eigen::ArrayXd& edges, double thickness) {
  LayerInfluence        layer(thickness);
  const Eigen::VectorXd width = edges.tail(edges.size() - 1) - edges.head(edges.size() - 1);
  const Eigen::VectorXd p     = layer.of(edges).llt().solve(width);
  return p / width.dot(p);
}

}  // namespace

TEST_CASE("A layer pressed evenly and widely is a bed of springs") {
  const auto     edges = Eigen::ArrayXd::LinSpaced(801, -20.0, 20.0);
  LayerInfluence layer(1.0);
  // all of the response lies within 12 thicknesses, and there are 20 to either side; the rest is quadrature
  const double sink = layer.of(edges).row(400).sum() / 0.05;
  CHECK(relative(sink, 1.0) < 1e-6);
}

TEST_CASE("Under a flat punch on a half-plane pressure is P over π·√(a² − x²)") {
  // half width 1, elements from 1e-4 at the ends to a twentieth in the middle, a layer 1e5 thick
  std::vector<double> from_end{0.0};
  for (double step = 1e-4; from_end.back() < 1.0; step = std::min(1.05 * step, 0.05))
    from_end.push_back(from_end.back() + step);
  const double   scale = from_end.back();
  const auto     n     = static_cast<Eigen::Index>(from_end.size());
  Eigen::ArrayXd edges(2 * n - 1);
  for (Eigen::Index i = 0; i < n; ++i) {
    edges[i]             = from_end[static_cast<std::size_t>(i)] / scale;
    edges[2 * n - 2 - i] = 2.0 - edges[i];
  }
  const Eigen::VectorXd p = flat_punch(edges, 1e5);
  for (Eigen::Index i = 0; i < p.size(); ++i) {
    const double a = edges[i] - 1.0, b = edges[i + 1] - 1.0;
    // mean of the exact pressure over the element; a piecewise constant pressure is off by some per cent where it is singular
    const double exact =
        (std::asin(std::min(b, 1.0)) - std::asin(std::max(a, -1.0))) / (3.14159265358979324 * (b - a));
    const double end = std::min(a + 1.0, 1.0 - b);
    CHECK(relative(p[i], exact) < (end < 1e-3 ? 0.15 : 0.01));
  }
}

TEST_CASE("A fresh outline measures as it was made") {
  for (double r : {0.0, 0.05, 0.15, 0.5}) {
    const Outline edge = edge_of(r);
    CAPTURE(r);
    // points lie on the arc; the cubic between them, at most a fourth of their distance from it, is off by less than a thousandth of a µm
    CHECK(std::abs(edge.equivalent_radius_um(2.0) - r) < 2e-3);
    CHECK(relative(edge.depth_to_flat_um() + 1.0, r * (1 - sin_half) + 1.0) < 1e-12);
    CHECK(std::abs(edge.tip_setback_um() - r * (1 / sin_half - 1)) < 1e-12);
    CHECK(std::abs(edge.extra_angle(3.0)) < 1e-12);
  }
}

TEST_CASE("Even removal takes the radius down by as much, and leaves a keen edge keen") {
  const double    delta = 0.1;
  Outline         round = edge_of(0.5), keen = edge_of(0.0);
  const Recession step(round.flank(Side::bevel).size(), delta / 20);
  for (int i = 0; i < 20; ++i) {
    round.recede(step);
    keen.recede(step);
  }
  // interpolation of 20 steps on points of 0.05 µm
  CHECK(std::abs(round.equivalent_radius_um(2.0) - (0.5 - delta)) < 4e-3);
  CHECK(std::abs(keen.equivalent_radius_um(1.0)) < 1e-9);
  CHECK(relative(keen.tip_setback_um(), delta / sin_half) < 1e-9);
}

TEST_CASE("A plane cut meets the tip after the depth to flat") {
  Outline edge = edge_of(0.15);
  strop(edge, thick_hide, plain, 10);
  const double  h = edge.depth_to_flat_um(), tip = edge.tip_setback_um();
  const Outline before = edge;
  hone_flat(edge, {.depth_um = 0.99 * h});
  CHECK(edge.tip_setback_um() == Approx(tip).epsilon(1e-12));
  CHECK(edge.depth_to_flat_um() == Approx(0.01 * h).epsilon(1e-9));
  edge = before;
  hone_flat(edge, {.depth_um = 1.05 * h});
  // beyond it the tip is where the planes cross
  CHECK(edge.tip_setback_um() - tip == Approx(0.05 * h / sin_half).epsilon(1e-9));
  CHECK(std::abs(edge.equivalent_radius_um(1.0)) < 1e-9);
  CHECK(std::abs(edge.depth_to_flat_um()) < 1e-9);
}

TEST_CASE("One face can be honed alone, and the back after it") {
  Outline edge = edge_of(0.3);
  hone_flat(edge, {.depth_um = 0.5, .worked = Worked::bevel});
  CHECK_FALSE(edge.symmetric());
  CHECK(std::abs(edge.depth_to_flat_um(Side::bevel)) < 1e-9);
  // the back keeps what is left of its arc: the tip is where the plane meets that, or the face behind it
  const double left = edge.depth_to_flat_um(Side::back);
  CHECK(left >= 0.0);
  CHECK(left < 0.3 * (1 - sin_half));
  hone_flat(edge, {.depth_um = left + 0.1, .worked = Worked::back});
  CHECK(std::abs(edge.equivalent_radius_um(1.0)) < 1e-9);
  CHECK(std::abs(edge.extra_angle(5.0)) < 1e-9);
}

TEST_CASE("Held steeper, a stone leaves a steeper land") {
  Outline edge = edge_of(0.1);
  hone_flat(edge, {.depth_um = 1.0, .steeper = 2 * degree});
  CHECK(edge.extra_angle(1.0) == Approx(4 * degree).epsilon(1e-6));
}

TEST_CASE("A strop takes off what force and sliding say") {
  for (const Pad& pad : {board, thin_hide, soft_hide}) {
    Outline      edge   = edge_of(0.15);
    const double before = edge.section_um2(3000);
    strop(edge, pad, plain, 10);
    // κ·F per side; points are interpolated between elements that differ in width by a fourth
    CHECK(before - edge.section_um2(3000) == Approx(2 * 0.075 * 200 * 10).epsilon(0.02));
  }
}

TEST_CASE("On a rigid plane the radius falls by kinematics alone") {
  // a pad of granite: even pressure on the land, none on the arc, so that dr/dn = −n̄/(1 − sin α) with n̄ = κ·F/ℓ
  const Pad    granite{.modulus_Pa = 52e9, .thickness_um = 20000};
  const double per_lap = 0.075 * 200 / 500;
  const auto   r       = stropped(edge_of(0.15), granite, plain, {1, 2});
  // the land is shorter than 500 µm by the arc, and longer by what the corner behind it wears: a few per cent of what is taken off
  CHECK(r[0] == Approx(0.15 - per_lap / (1 - sin_half)).margin(0.05 * 0.15));
  CHECK(r[1] == Approx(0.15 - 2 * per_lap / (1 - sin_half)).margin(0.05 * 0.15));
}

TEST_CASE("The blade sinks as the closed formula of the reduced law says, to a factor") {
  for (const Pad& pad : {board, thin_hide, thick_hide}) {
    PadContact   contact(pad);
    const double sink = contact.press(edge_of(0.15), Side::bevel, {.force_N_per_m = 200}).sink_um;
    const auto   closed =
        laws::press_pad(10.0, 0.05, pad.modulus_Pa, 1e-6 * pad.thickness_um, 0.5e-3, 5 * degree);
    // it takes land and bevel for one flat contact
    CHECK(sink / (1e6 * closed.sink_m) > 0.9);
    CHECK(sink / (1e6 * closed.sink_m) < 1.6);
    const auto&  last  = contact.last();
    const auto   n     = last.pressure.size();
    const double force = (last.pressure * (last.edge_um.tail(n) - last.edge_um.head(n))).sum();
    CHECK(force * pad.modulus_Pa * 1e-6 == Approx(200).epsilon(1e-9));
    CHECK(last.pressure.minCoeff() >= 0.0);
    CHECK(last.pressure.maxCoeff() <= 1.0 + 1e-9);
  }
}

TEST_CASE("Whatever touched before, the same elements touch") {
  const Outline edge = edge_of(0.15), held_low = edge_of(1.0);
  PadContact    fresh(thin_hide), used(thin_hide);
  used.press(held_low, Side::bevel, {.force_N_per_m = 20, .steeper = -2 * degree});
  used.press(held_low, Side::bevel, {.force_N_per_m = 900, .steeper = 3 * degree});
  const Press press{.force_N_per_m = 200, .removal_um = 0.1};
  const auto  wanted = fresh.press(edge, Side::bevel, press), found = used.press(edge, Side::bevel, press);
  CHECK(wanted.touch == found.touch);
  // influences are kept while widths are the same to a hundredth
  CHECK(found.sink_um == Approx(wanted.sink_um).epsilon(1e-2));
}

TEST_CASE("Two faces worked on one after the other come to what both at once do") {
  for (const Pad& pad : {board, thin_hide, soft_hide}) {
    Outline alike = edge_of(0.15), apart = Outline::fresh(included, 0.15, micro, micro);
    strop(alike, pad, plain, 8);
    strop(apart, pad, plain, 8);
    CHECK_FALSE(apart.symmetric());
    // each face meets what the other has left at the tip within a step: some per cent
    CHECK(relative(apart.equivalent_radius_um(1.0), alike.equivalent_radius_um(1.0)) < 0.04);
    CHECK(relative(apart.depth_to_flat_um(Side::bevel), alike.depth_to_flat_um()) < 0.04);
    CHECK(relative(apart.depth_to_flat_um(Side::back), alike.depth_to_flat_um()) < 0.04);
  }
}

TEST_CASE("One face can be stropped alone") {
  Outline      edge   = edge_of(0.15);
  const double before = edge.section_um2(3000);
  Stropping    how    = plain;
  how.worked          = Worked::bevel;
  strop(edge, thin_hide, how, 10);
  CHECK(before - edge.section_um2(3000) == Approx(0.075 * 200 * 10).epsilon(0.02));
  CHECK(edge.depth_to_flat_um(Side::bevel) > 3 * edge.depth_to_flat_um(Side::back));
}

TEST_CASE("A soft hide rounds ever more, a board does not") {
  const auto soft = stropped(edge_of(0.15), soft_hide, plain, {4, 20, 60});
  const auto hard = stropped(edge_of(0.15), board, plain, {4, 20, 60});
  CHECK(soft[1] > 1.5 * soft[0]);
  CHECK(soft[2] > 1.2 * soft[1]);
  CHECK(hard[1] < hard[0]);
  CHECK(hard[2] < hard[1]);
  CHECK(soft[1] > 10 * hard[1]);
}

TEST_CASE("Where an edge began is forgotten") {
  // the finer model in validation/profile has this within 2 % from lap 16 on
  for (const Pad& pad : {board, thin_hide, thick_hide, soft_hide}) {
    const double wanted = stropped(edge_of(0.15), pad, plain, {16})[0];
    CHECK(relative(stropped(edge_of(0.05), pad, plain, {16})[0], wanted) < 0.02);
    CHECK(relative(stropped(edge_of(0.4), pad, plain, {16})[0], wanted) < 0.04);
  }
}

TEST_CASE("The default mesh gives what a fine one does") {
  for (const Pad& pad : {board, thin_hide, thick_hide, soft_hide}) {
    const auto r      = stropped(edge_of(0.15), pad, plain, {4, 10, 20}),
               wanted = stropped(edge_of(0.15, fine), pad, plain, {4, 10, 20});
    // steps and spacing; on the soft hide the edge has been through a radius finer than a segment in its first lap
    CHECK(relative(r[0], wanted[0]) < 0.04);
    CHECK(relative(r[1], wanted[1]) < 0.025);
    CHECK(relative(r[2], wanted[2]) < 0.02);
  }
}

TEST_CASE("A whole bevel works as a land does, and the length of its contact decides") {
  const auto whole = [](double mm, const Mesh& mesh) {
    return Outline::fresh(included, 0.15, {.land_um = 1e3 * mm}, mesh);
  };
  for (const Pad& pad : {thin_hide, soft_hide}) {
    const auto r      = stropped(whole(1, {}), pad, plain, {4, 20}),
               wanted = stropped(whole(1, fine), pad, plain, {4, 20});
    CHECK(relative(r[0], wanted[0]) < 0.03);
    CHECK(relative(r[1], wanted[1]) < 0.03);
    CHECK(stropped(whole(11, {}), pad, plain, {20})[0] < 0.5 * r[1]);
  }
}

TEST_CASE("Radii are those of the finer model in Python") {
  // validation/profile/strop.py, strop() with points from 0.005 µm, on the board 0.0025, mean over ± 15 % of the laps against its sawtooth,
  // which leaves some 2 %; soft hide, whose radii are large, from 0.02. 5 % was asked for on hides.
  struct Case {
    Pad                   pad;
    double                included_deg, start_um;
    std::array<double, 4> radius;
  };
  const std::vector<double> laps{4, 10, 20, 40};
  for (const Case& c : {Case{board, 30, 0.15, {0.0334, 0.0264, 0.0231, 0.0214}},
                        Case{board, 30, 0.5, {0.0327, 0.0264, 0.0231, 0.0212}},
                        Case{thin_hide, 25, 0.15, {0.1505, 0.1241, 0.1044, 0.0885}},
                        Case{thin_hide, 30, 0.15, {0.1619, 0.1321, 0.1101, 0.0930}},
                        Case{thin_hide, 30, 0.5, {0.1599, 0.1306, 0.1098, 0.0930}},
                        Case{thick_hide, 30, 0.15, {0.2865, 0.2681, 0.2318, 0.1954}},
                        Case{thick_hide, 30, 0.05, {0.2862, 0.2675, 0.2321, 0.1947}},
                        Case{soft_hide, 25, 0.15, {0.2517, 0.4412, 0.6243, 0.7952}},
                        Case{soft_hide, 30, 0.15, {0.2905, 0.5295, 0.7473, 0.9510}},
                        Case{soft_hide, 35, 0.15, {0.3369, 0.6281, 0.8855, 1.1275}}}) {
    const auto r = stropped(Outline::fresh(c.included_deg * degree, c.start_um, micro), c.pad, plain, laps);
    for (std::size_t i = 0; i < laps.size(); ++i) {
      CAPTURE(c.pad.modulus_Pa, c.included_deg, c.start_um, laps[i]);
      CHECK(relative(r[i], c.radius[i]) < 0.05);
    }
  }
}

TEST_CASE("A harder pad does not touch a dubbed tip until the land has come down to it") {
  Outline edge = edge_of(0.15);
  strop(edge, soft_hide, plain, 20);
  const double dubbed = edge.equivalent_radius_um(1.0);
  const auto   r      = stropped(edge, thin_hide, plain, {5, 30});
  CHECK(r[0] == Approx(dubbed).epsilon(1e-3));
  CHECK(r[1] < 0.2 * dubbed);
}

TEST_CASE("The hand: scatter dubs on hard pads, a mean has a sign, and the same hand gives the same bits") {
  Stropping shaky = plain;
  shaky.scatter   = 0.5 * degree;
  CHECK(stropped(edge_of(0.15), board, shaky, {20})[0] > 2 * stropped(edge_of(0.15), board, plain, {20})[0]);
  CHECK(stropped(edge_of(0.15), board, shaky, {20}) == stropped(edge_of(0.15), board, shaky, {20}));
  Stropping another      = shaky;
  another.first_quantile = 0.2;
  CHECK(stropped(edge_of(0.15), board, shaky, {20}) != stropped(edge_of(0.15), board, another, {20}));

  Stropping high = plain, low = plain;
  high.steeper       = 0.5 * degree;
  low.steeper        = -0.5 * degree;
  const double right = stropped(edge_of(0.15), thin_hide, plain, {20})[0];
  CHECK(stropped(edge_of(0.15), thin_hide, high, {20})[0] > 1.3 * right);
  CHECK(stropped(edge_of(0.15), thin_hide, low, {20})[0] < 0.7 * right);
  // a board that is held off the tip does not touch it
  CHECK(stropped(edge_of(0.15), board, low, {20})[0] == Approx(0.15).epsilon(0.01));
}

TEST_CASE("In wood steel goes in proportion to the load along the way") {
  // parting alone: the load does not depend on the tip, and once the tip has the shape that it keeps, neither does the section per path;
  // that the radius then goes as the root of the path is another way to say so
  Outline                   edge = edge_of(0.02);
  std::vector<double>       section, radius;
  const std::vector<double> path{100, 200, 300, 400};
  cut_wood(edge, {.crushing_MPa = 0, .parting_N_per_m = 300}, 2.8e-5, path, [&](double, const Outline& now) {
    section.push_back(now.section_um2(50));
    radius.push_back(now.tip_radius_um());
  });
  CHECK(section[1] - section[2] == Approx(section[0] - section[1]).epsilon(0.02));
  CHECK(section[2] - section[3] == Approx(section[0] - section[1]).epsilon(0.02));
  CHECK(radius[3] == Approx(2 * radius[0]).epsilon(0.04));
  // of p over the true area, Σp·ds is between f₀ and 1/sin α times that
  const double per_load = (section[0] - section[1]) / (2.8e-5 * 300 * 100);
  CHECK(per_load > 1.0);
  CHECK(per_load < 1.5);
}

TEST_CASE("In wood the default mesh gives what a fine one and the finer model in Python do") {
  struct Case {
    WoodLoad              wood;
    std::array<double, 3> python;  // validation/profile/wood.py, cut() from 0.15 µm with points from 0.02 µm
  };
  const std::vector<double> path{5, 20, 60};
  for (const Case& c : {Case{{.crushing_MPa = 64.5, .parting_N_per_m = 450}, {0.2337, 0.3907, 0.6500}},
                        Case{{.crushing_MPa = 31.5, .parting_N_per_m = 300, .share_on_faces = 0.3},
                             {0.1917, 0.2808, 0.4341}}}) {
    for (const Mesh& mesh : {Mesh{}, fine}) {
      Outline             edge = edge_of(0.15, mesh);
      std::vector<double> r;
      cut_wood(edge, c.wood, 2.8e-5, path,
               [&](double, const Outline& now) { r.push_back(now.equivalent_radius_um(1.0)); });
      for (std::size_t i = 0; i < r.size(); ++i) CHECK(relative(r[i], c.python[i]) < 0.02);
    }
  }
}

TEST_CASE("Load on the faces keeps the tip keener") {
  Outline on_tip = edge_of(0.15), on_faces = edge_of(0.15);
  cut_wood(on_tip, {.crushing_MPa = 31.5, .parting_N_per_m = 300}, 2.8e-5, 100);
  cut_wood(on_faces, {.crushing_MPa = 31.5, .parting_N_per_m = 300, .share_on_faces = 0.3}, 2.8e-5, 100);
  CHECK(on_faces.equivalent_radius_um(1.0) < 0.9 * on_tip.equivalent_radius_um(1.0));
}

TEST_CASE("A bevel that is a little steeper for half a millimetre does not take the load off its tip") {
  Outline straight = edge_of(0.15), round = edge_of(0.15);
  hone_flat(round, {.depth_um = 1.0, .steeper = 0.25 * degree, .worked = Worked::bevel});
  round.round_tip(0.15);
  for (Outline* edge : {&straight, &round})
    cut_wood(*edge, {.crushing_MPa = 0, .parting_N_per_m = 300}, 2.8e-5, 30);
  CHECK(relative(round.equivalent_radius_um(1.0), straight.equivalent_radius_um(1.0)) < 0.05);
}

TEST_CASE("Wood wears two faces that differ as it does alike ones") {
  Outline alike = edge_of(0.15), apart = Outline::fresh(included, 0.15, micro, micro);
  for (Outline* edge : {&alike, &apart})
    cut_wood(*edge, {.crushing_MPa = 64.5, .parting_N_per_m = 450}, 2.8e-5, 60);
  CHECK_FALSE(apart.symmetric());
  CHECK(relative(apart.equivalent_radius_um(1.0), alike.equivalent_radius_um(1.0)) < 1e-9);
}

TEST_CASE("A history of all of it: blunted, honed on the bevel, turned over, stropped") {
  Outline edge = edge_of(0.1);
  cut_wood(edge, {.crushing_MPa = 64.5, .parting_N_per_m = 450}, 2.8e-5, 100);
  const double dull = edge.equivalent_radius_um(1.0);
  hone_flat(edge, {.depth_um = edge.depth_to_flat_um() + 0.5, .worked = Worked::bevel});
  hone_flat(edge, {.depth_um = edge.depth_to_flat_um(Side::back) + 0.1, .worked = Worked::back});
  CHECK(std::abs(edge.equivalent_radius_um(1.0)) < 1e-6);
  strop(edge, thin_hide, plain, 20);
  // as an edge that was fresh
  CHECK(relative(edge.equivalent_radius_um(1.0), stropped(edge_of(0.15), thin_hide, plain, {20})[0]) < 0.05);
  CHECK(edge.equivalent_radius_um(1.0) < 0.3 * dull);
}

TEST_CASE("Numbers out of their range are refused") {
  CHECK_THROWS_AS(Outline::fresh(0.0, 0.1, micro), std::invalid_argument);
  CHECK_THROWS_AS(Outline::fresh(included, -0.1, micro), std::invalid_argument);
  CHECK_THROWS_AS(Outline::fresh(included, 0.1, {.land_um = 0.1}), std::invalid_argument);
  CHECK_THROWS_AS(Outline::fresh(included, 0.1, {.land_um = 500, .step_angle = 20 * degree}),
                  std::invalid_argument);
  CHECK_THROWS_AS(Outline::fresh(included, 0.1, micro, Mesh{.growth = 1.0}), std::invalid_argument);
  Outline edge = edge_of(0.1);
  CHECK_THROWS_AS(hone_flat(edge, {.depth_um = -1}), std::invalid_argument);
  CHECK_THROWS_AS(strop(edge, {.modulus_Pa = 0, .thickness_um = 1000}, plain, 1), std::invalid_argument);
  CHECK_THROWS_AS(strop(edge, thin_hide, {.force_N_per_m = 0}, 1), std::invalid_argument);
  CHECK_THROWS_AS(cut_wood(edge, {.crushing_MPa = -1, .parting_N_per_m = 1}, 1e-4, 1), std::invalid_argument);
  // 1 MPa over half a millimetre and what of the bevel is kept does not carry 100 N on a millimetre
  CHECK_THROWS_AS(strop(edge, {.modulus_Pa = 1e6, .thickness_um = 1000}, {.force_N_per_m = 1e5}, 1),
                  std::runtime_error);
}
