// SPDX-License-Identifier: MIT
#include "sim/outline/pad_layer.hpp"

#include <array>
#include <cmath>

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

/// R integrated twice from 0, and its first two derivatives, on an even grid; quintic in between.
///
///     ∬R = ∫ (L(w) − 1)·(1 − cos wξ)/w³ + e^−w·ξ²/(2w) dw
class SmoothRest {
 public:
  SmoothRest() {
    using Rule = boost::math::quadrature::gauss<double, 10>;
    // panels of a quarter: at most half a wave of cos wξ at the largest ξ; L − 1 and e^−w are 1e-17 at 40
    for (int panel = 0; panel < 160; ++panel) {
      for (std::size_t k = 0; k < Rule::abscissa().size(); ++k)
        for (double sign : {-1.0, 1.0})
          add_wave(0.25 * panel + 0.125 * (1.0 + sign * Rule::abscissa()[k]), 0.125 * Rule::weights()[k]);
    }
    for (std::size_t i = 0; i < nodes_.size(); ++i) nodes_[i] = summed(static_cast<double>(i) * step);
  }

  [[nodiscard]] double operator()(double xi) const {
    const double at = xi / step;
    const auto   i  = std::min(static_cast<std::size_t>(at), nodes_.size() - 2);
    const double s  = at - static_cast<double>(i);
    const Node & a = nodes_[i], &b = nodes_[i + 1];
    // quintic Hermite: what is left of b beyond the parabola at a
    const double h  = step;
    const double d0 = b.value - a.value - h * (a.slope + 0.5 * h * a.curve);
    const double d1 = h * (b.slope - a.slope - h * a.curve);
    const double d2 = h * h * (b.curve - a.curve);
    const double c3 = 10.0 * d0 - 4.0 * d1 + 0.5 * d2, c4 = -15.0 * d0 + 7.0 * d1 - d2,
                 c5 = 6.0 * d0 - 3.0 * d1 + 0.5 * d2;
    const double hs = h * s;
    return a.value + hs * (a.slope + 0.5 * hs * a.curve) + s * s * s * (c3 + s * (c4 + s * c5));
  }
  [[nodiscard]] double slope_at_end() const { return nodes_.back().slope; }

 private:
  struct Wave {
    double w, amplitude, tail;
  };
  struct Node {
    double value, slope, curve;
  };
  static constexpr double step = 0.05;

  void add_wave(double w, double weight) {
    waves_.push_back({w, weight * (layer_per_half_plane(w) - 1.0) / w, weight * std::exp(-w) / w});
  }
  [[nodiscard]] Node summed(double xi) const {
    Node n{0.0, 0.0, 0.0};
    for (const Wave& v : waves_) {
      const double half = std::sin(0.5 * v.w * xi);
      n.value += v.amplitude * 2.0 * half * half / (v.w * v.w) + 0.5 * xi * xi * v.tail;
      n.slope += v.amplitude * std::sin(v.w * xi) / v.w + xi * v.tail;
      n.curve += v.amplitude * std::cos(v.w * xi) + v.tail;
    }
    return n;
  }

  std::vector<Wave>                                               waves_;
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
