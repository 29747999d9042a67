// SPDX-License-Identifier: MIT
#include "sim/outline/pad_layer.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>

#include <boost/math/quadrature/gauss.hpp>

#include "sim/laws/geometry.hpp"

namespace arris::outline {

namespace {

constexpr double farthest = 12.0;  // thicknesses, beyond which a layer does not answer

/// L(w).
double layer_per_half_plane(double w) {
  if (w > 40.0) return 1.0;
  return (6.0 * std::sinh(2.0 * w) - 4.0 * w) / (6.0 * std::cosh(2.0 * w) + 4.0 * w * w + 10.0);
}

/// R integrated twice from 0, on an even grid; a quintic between its points.
///
///     ∬R = ∫ (L(w) − 1)·(1 − cos wξ)/w³ + e^−w·ξ²/(2w) dw
class SmoothRest {
 public:
  SmoothRest() {
    using Rule = boost::math::quadrature::gauss<double, 10>;
    // panels of a half: at most a wave of cos wξ in each; L − 1 and e^−w are 1e-17 at 40
    for (int panel = 0; panel < 80; ++panel)
      for (std::size_t k = 0; k < Rule::abscissa().size(); ++k)
        for (double sign : {-1.0, 1.0})
          add_wave(0.5 * panel + 0.25 * (1.0 + sign * Rule::abscissa()[k]), 0.25 * Rule::weights()[k]);
  }

  [[nodiscard]] double operator()(double xi) const {
    const double at = xi / step;
    const auto   i  = std::min(static_cast<std::size_t>(at), nodes_.size() - 2);
    const double s = at - static_cast<double>(i), h = step;
    const Node & a = nodes_[i], &b = nodes_[i + 1];
    // quintic Hermite: the parabola at a, and what is left of value, slope and curvature at b
    const double d0 = b.value - a.value - h * (a.slope + 0.5 * h * a.curvature);
    const double d1 = h * (b.slope - a.slope - h * a.curvature);
    const double d2 = h * h * (b.curvature - a.curvature);
    const double c3 = 10.0 * d0 - 4.0 * d1 + 0.5 * d2;
    const double c4 = -15.0 * d0 + 7.0 * d1 - d2;
    const double c5 = 6.0 * d0 - 3.0 * d1 + 0.5 * d2;
    const double hs = h * s;
    return a.value + hs * (a.slope + 0.5 * hs * a.curvature) + s * s * s * (c3 + s * (c4 + s * c5));
  }
  [[nodiscard]] double slope_at_end() const { return nodes_.back().slope; }

 private:
  struct Node {
    double value = 0.0, slope = 0.0, curvature = 0.0;
  };
  static constexpr double step = 0.05;

  /// Adds what wave number w gives, with this weight of the quadrature, at all points: half the angle wξ is turned on from point to point.
  void add_wave(double w, double weight) {
    const double               amplitude = weight * (layer_per_half_plane(w) - 1.0) / w;
    const double               tail      = weight * std::exp(-w) / w;
    const std::complex<double> turn      = std::polar(1.0, 0.5 * w * step);
    std::complex<double>       half      = 1.0;
    for (std::size_t i = 0; i < nodes_.size(); ++i, half *= turn) {
      const double xi = static_cast<double>(i) * step, sine = half.imag(), cosine = half.real();
      nodes_[i].value += amplitude * 2.0 * sine * sine / (w * w) + 0.5 * tail * xi * xi;
      nodes_[i].slope += amplitude * 2.0 * sine * cosine / w + tail * xi;
      nodes_[i].curvature += amplitude * (1.0 - 2.0 * sine * sine) + tail;
    }
  }

  std::array<Node, static_cast<std::size_t>(farthest / step) + 1> nodes_;
};

double twice_integrated_log(double xi) { return xi > 0.0 ? -0.5 * xi * xi * (std::log(xi) - 1.5) : 0.0; }

}  // namespace

double layer_response(double distance) {
  static const SmoothRest rest;
  static const double     end       = twice_integrated_log(farthest) + rest(farthest);
  static const double     end_slope = farthest * (1.0 - std::log(farthest)) + rest.slope_at_end();
  const double            xi        = std::abs(distance);
  return xi < farthest ? twice_integrated_log(xi) + rest(xi) : end + end_slope * (xi - farthest);
}

const Eigen::MatrixXd& LayerInfluence::of(const Eigen::ArrayXd& edges) {
  const Eigen::Index n = edges.size();
  // as many edges from the back on as are where they were, but for a shift of all of them
  Eigen::Index kept = 0;
  if (edges_.size() > 0) {
    kept = 1;
    while (kept < std::min(n, edges_.size())) {
      const double now = edges[kept] - edges[kept - 1], before = edges_[kept] - edges_[kept - 1];
      if (std::abs(now - before) > same_ * before) break;
      ++kept;
    }
  }
  if (kept == n && n == edges_.size()) return matrix_;

  Eigen::ArrayXd placed(n);
  placed.head(kept) = edges_.head(kept);
  for (Eigen::Index i = kept; i < n; ++i)
    placed[i] = i == 0 ? edges[0] : placed[i - 1] + (edges[i] - edges[i - 1]);
  edges_ = placed;
  table_.conservativeResize(n, n);
  for (Eigen::Index j = kept; j < n; ++j)
    for (Eigen::Index i = 0; i <= j; ++i) table_(i, j) = layer_response((placed[j] - placed[i]) / thickness_);

  const double scale = 2.0 / laws::pi * thickness_ * thickness_;
  const auto   psi   = [&](Eigen::Index i, Eigen::Index j) { return i <= j ? table_(i, j) : table_(j, i); };
  const Eigen::Index first = kept == 0 ? 0 : kept - 1;  // elements with an edge that moved
  matrix_.conservativeResize(n - 1, n - 1);
  for (Eigen::Index j = first; j < n - 1; ++j)
    for (Eigen::Index i = 0; i <= j; ++i)
      matrix_(i, j) = matrix_(j, i) = scale * (psi(i + 1, j) + psi(i, j + 1) - psi(i + 1, j + 1) - psi(i, j));
  return matrix_;
}

}  // namespace arris::outline
