// SPDX-License-Identifier: MIT
#include <array>
#include <cmath>
#include <stdexcept>
#include <vector>

#include <Eigen/Cholesky>
#include <catch2/catch.hpp>

#include "sim/laws/geometry.hpp"
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

TEST_CASE("Two faces worked on one after the other come to what both at once do") {
  Outline alike = edge_of(0.15), apart = Outline::fresh(included, 0.15, micro, micro);
  strop(alike, thin_hide, plain, 8);
  strop(apart, thin_hide, plain, 8);
  CHECK_FALSE(apart.symmetric());
  CHECK(relative(apart.equivalent_radius_um(1.0), alike.equivalent_radius_um(1.0)) < 0.05);
  CHECK(relative(apart.depth_to_flat_um(Side::bevel), alike.depth_to_flat_um()) < 0.05);
  CHECK(relative(apart.depth_to_flat_um(Side::back), alike.depth_to_flat_um()) < 0.05);
}

TEST_CASE("A soft hide rounds ever more, a board does not") {
  const auto radii = [](const Pad& pad) {
    std::vector<double>         r;
    const std::array<double, 3> laps{4, 20, 60};
    Outline                     edge = edge_of(0.15);
    strop(edge, pad, plain, laps,
          [&](double, const Outline& now) { r.push_back(now.equivalent_radius_um(1.0)); });
    return r;
  };
  const auto soft = radii(soft_hide), hard = radii(board);
  CHECK(soft[1] > 1.5 * soft[0]);
  CHECK(soft[2] > 1.2 * soft[1]);
  CHECK(hard[1] < hard[0]);
  CHECK(hard[2] < hard[1]);
  CHECK(soft[1] > 10 * hard[1]);
}
