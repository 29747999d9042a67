// SPDX-License-Identifier: MIT
#include "sim/outline/cutting.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "sim/laws/geometry.hpp"

namespace arris::outline {

namespace {

/// A face as the wood meets it, at its points from the tip on: h, h·v, √(1 + m²) of the slope m = dy/dx, and distance from the tip.
///
/// The front moves into the blade by H(m) = 1 − sin α·√(1 + m²), which is concave: what happens at the tip spreads outward. So each point
/// has the slope of its own side of the tip, extrapolated to it by the lesser curvature of two: of second order, and without ripples.
struct Met {
  std::vector<double> facing, parting, stretch, along;
  double              width = 0.0;  ///< ∫ h·v dx
};

double lesser(double a, double b) { return a * b <= 0.0 ? 0.0 : std::abs(a) < std::abs(b) ? a : b; }

/// Slopes at the points of a face. `steps` are the widths of its segments.
std::vector<double> slopes_from_tip(const std::vector<double>& width, const std::vector<double>& slope) {
  std::vector<double> at(slope.size() + 1, 0.0);
  double              curvature = 2.0 * slope[0] / width[0];  // at the tip, whose other side is alike
  if (slope[0] < 0.0) at[0] = slope[0];                       // a notch fills up
  for (std::size_t i = 0; i < slope.size(); ++i) {
    const double next =
        i + 1 < slope.size() ? 2.0 * (slope[i + 1] - slope[i]) / (width[i + 1] + width[i]) : 0.0;
    at[i + 1] = slope[i] + 0.5 * width[i] * lesser(curvature, next);
    curvature = next;
  }
  return at;
}

Met met_by_wood(const Flank& f, double sin_half, double nose_um) {
  // twice as steep as the faces: what is steeper meets nothing, and may lean over
  const double        vertical = 2.0 / sin_half;
  std::vector<double> width, slope;
  Met                 met{{}, {}, {}, {0.0}};
  for (std::size_t i = 1; i < f.size(); ++i) {
    const double dx = f.x[i] - f.x[i - 1], dy = f.y[i] - f.y[i - 1];
    width.push_back(std::max(dx, std::abs(dy) / vertical));
    slope.push_back(dy / width.back());
    met.along.push_back(met.along.back() + std::sqrt(dx * dx + dy * dy));
  }
  for (double m : slopes_from_tip(width, slope)) {
    met.stretch.push_back(std::sqrt(1.0 + m * m));
    met.facing.push_back(std::max(0.0, (1.0 / met.stretch.back() - sin_half) / (1.0 - sin_half)));
    const double off = met.along[met.parting.size()] / nose_um;
    met.parting.push_back(met.facing.back() / (1.0 + off * off * off * off));
  }
  for (std::size_t i = 0; i < width.size(); ++i)
    met.width += 0.5 * width[i] * (met.parting[i] + met.parting[i + 1]);
  return met;
}

/// How far each point of a face sinks into the blade under the pressure of the wood, by the wear at hand, µm per metre.
std::vector<double> sinking(const Met& met, const WoodLoad& wood, double wear, double width) {
  const double on_tip = (1.0 - wood.share_on_faces) * wood.parting_N_per_m / width;
  const double on_faces =
      wood.share_on_faces * wood.parting_N_per_m / (wood.zone_um * std::sqrt(2.0 * laws::pi));
  std::vector<double> rate(met.facing.size());
  for (std::size_t i = 0; i < rate.size(); ++i) {
    const double off = met.along[i] / wood.zone_um;
    rate[i] =
        wear * met.stretch[i] *
        (wood.crushing_MPa * met.facing[i] + on_tip * met.parting[i] + on_faces * std::exp(-0.5 * off * off));
  }
  return rate;
}

std::vector<double> scaled(double factor, std::vector<double> v) {
  for (double& x : v) x *= factor;
  return v;
}

/// Of both faces, µm per metre.
struct Sinking {
  std::vector<double> bevel, back;

  [[nodiscard]] double of_tip() const { return std::max(bevel[0], back[0]); }
};

Sinking sinking_of(const Outline& edge, const WoodLoad& wood, double wear) {
  const double sin_half = std::sin(edge.half_angle());
  const Met    bevel    = met_by_wood(edge.flank(Side::bevel), sin_half, wood.nose_um);
  const Met    back  = edge.symmetric() ? bevel : met_by_wood(edge.flank(Side::back), sin_half, wood.nose_um);
  const double width = bevel.width + back.width;
  return {sinking(bevel, wood, wear, width), sinking(back, wood, wear, width)};
}

/// What a step may take off: half of what one on a pad may, since this one is explicit.
double most_in_a_step(const Outline& edge) {
  const Mesh& mesh = edge.mesh();
  return 0.5 * std::max(mesh.share_of_radius * edge.tip_radius_um(), mesh.share_of_spacing * mesh.finest_um);
}

}  // namespace

Effort cut_wood(Outline& edge, const WoodLoad& wood, double wear_um_per_MPa_m, std::span<const double> path_m,
                const Observer& at_each) {
  if (!(wood.crushing_MPa >= 0.0 && wood.parting_N_per_m >= 0.0 && wood.share_on_faces >= 0.0 &&
        wood.share_on_faces <= 1.0 && wood.zone_um > 0.0 && wood.nose_um > 0.0 && wear_um_per_MPa_m >= 0.0))
    throw std::invalid_argument(
        "loads and wear are not negative, a share lies between 0 and 1, a zone has a size");
  Effort effort;
  double done = 0.0;
  for (double goal : path_m) {
    while (done < goal * (1.0 - 1e-12)) {
      const Sinking rate = sinking_of(edge, wood, wear_um_per_MPa_m);
      const double  step =
          rate.of_tip() > 0.0 ? std::min(goal - done, most_in_a_step(edge) / rate.of_tip()) : goal - done;
      edge.sink(scaled(step, rate.bevel), scaled(step, rate.back));
      done += step;
      ++effort.steps;
    }
    if (at_each) at_each(goal, edge);
  }
  return effort;
}

Effort cut_wood(Outline& edge, const WoodLoad& wood, double wear_um_per_MPa_m, double path_m) {
  return cut_wood(edge, wood, wear_um_per_MPa_m, std::span(&path_m, 1), {});
}

}  // namespace arris::outline
