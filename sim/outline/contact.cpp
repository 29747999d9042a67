// SPDX-License-Identifier: MIT
#include "sim/outline/contact.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <Eigen/Cholesky>

#include "sim/laws/geometry.hpp"

namespace arris::outline {

using Eigen::ArrayXd;
using Eigen::Index;
using Eigen::MatrixXd;

/// An outline as the pad sees it. Of the elements between edges: width and slope along the face, depth below its plane.
struct PadView {
  ArrayXd edge, width, gap, level;  ///< level: cosine of the slope
  Index   before_tip = 0;

  [[nodiscard]] Index elements() const { return width.size(); }
  /// The element that the other side works on when this side works on `k`; none (−1) where the pad does not reach it.
  [[nodiscard]] Index from_other_side(Index k) const {
    const Index opposite = 2 * before_tip - 1 - k;
    return opposite < elements() ? opposite : -1;
  }
};

namespace {

const double steepest = std::tan(82.0 * laws::degree);

/// From the far end of a face to the tip, and beyond it as far as the pad can look.
PadView seen_from_pad(const Outline& edge, Side side, double steeper) {
  const Flank &near = edge.flank(side), &far = edge.flank(other(side));
  const double c = std::cos(edge.half_angle()), s = std::sin(edge.half_angle());
  const auto   n = static_cast<Index>(near.size()), m = static_cast<Index>(far.size());
  ArrayXd      along(n + m - 1), height(n + m - 1);
  const auto   put = [&](Index k, double x, double y) {
    along[k]  = -(x * s + y * c);
    height[k] = x * c - y * s + steeper * (along[k] - along[0]);
  };
  for (Index k = 0; k < n; ++k) put(k, near.x[n - 1 - k], near.y[n - 1 - k]);
  Index count = n;
  for (Index i = 1; i < m; ++i, ++count) {
    put(count, -far.x[i], far.y[i]);
    const double run = along[count] - along[count - 1];
    if (run <= 0.0 || height[count - 1] - height[count] > steepest * run) break;
  }

  PadView     view;
  const Index elements = count - 1;
  view.before_tip      = n - 1;
  view.edge            = along.head(count);
  view.width           = along.segment(1, elements) - along.head(elements);
  view.gap             = -0.5 * (height.segment(1, elements) + height.head(elements));
  view.level = (1.0 + ((height.segment(1, elements) - height.head(elements)) / view.width).square()).rsqrt();
  return view;
}

}  // namespace

PadContact::PadContact(const Pad& pad) : pad_(pad), influence_(pad.thickness_um) {
  if (!(pad.modulus_Pa > 0.0 && pad.thickness_um > 0.0 && pad.strength > 0.0))
    throw std::invalid_argument("modulus, thickness and strength of a pad are positive");
}

const Contact& PadContact::press(const Outline& edge, Side side, const Press& press) {
  if (!(press.force_N_per_m > 0.0 && press.removal_um >= 0.0))
    throw std::invalid_argument("a blade is pressed on a pad, and loses steel or none");
  PadView     view = seen_from_pad(edge, side, press.steeper);
  const Index n    = view.elements();

  system_ = influence_.of(view.edge);
  // widths as the influence has them: the sink is a hundred times what one element adds to it
  view.width = influence_.edges().tail(n) - influence_.edges().head(n);
  system_.diagonal().array() += press.removal_um * view.width;
  if (press.both) {
    for (Index k = view.before_tip; k < n; ++k) {
      // each loses w·p of both: the mean of w here and there keeps the matrix symmetric, and is as exact as the step is short
      const Index  o    = view.from_other_side(k);
      const double loss = press.removal_um * std::sqrt(view.width[k] * view.width[o]);
      system_(k, o) += loss;
      system_(o, k) += loss;
    }
  }

  contact_.edge_um    = view.edge;
  contact_.before_tip = static_cast<std::size_t>(view.before_tip);
  contact_.touch.resize(static_cast<std::size_t>(n), Touch::touching);
  search(view, press);

  const ArrayXd loss = press.removal_um * contact_.pressure * view.level;
  contact_.near.assign(static_cast<std::size_t>(view.before_tip), 0.0);
  contact_.far.assign(static_cast<std::size_t>(n - view.before_tip), 0.0);
  for (Index k = 0; k < view.before_tip; ++k) contact_.near[view.before_tip - 1 - k] = loss[k];
  for (Index k = view.before_tip; k < n; ++k) contact_.far[k - view.before_tip] = loss[k];
  return contact_;
}

/// Changes which elements touch until pressures and gaps have the right signs.
void PadContact::search(const PadView& view, const Press& press) {
  constexpr int    at_once = 40, most = 300;
  constexpr double close = 1e-9;
  const double     limit = pad_.strength;
  for (int attempt = 0; attempt < most; ++attempt) {
    solve(view, press);
    Index  worst = -1;
    double by    = -1.0;
    Touch  worst_wants{};
    bool   settled = true;
    for (Index k = 0; k < view.elements(); ++k) {
      Touch&       touch  = contact_.touch[static_cast<std::size_t>(k)];
      const bool   free   = touch == Touch::touching;
      const double excess = free ? 0.0 : overlap_[k] / system_(k, k);
      const double tried  = contact_.pressure[k] + excess;
      Touch        wanted = Touch::touching;
      if (tried < -close * limit) wanted = Touch::apart;
      if (tried > (1.0 + close) * limit) wanted = Touch::giving_way;
      if (!free && std::abs(overlap_[k]) < 1e-12 * view.width[k]) wanted = touch;
      if (wanted == touch) continue;
      settled          = false;
      const double off = std::abs(tried - std::clamp(tried, 0.0, limit)) + std::abs(excess);
      if (off > by) worst = k, by = off, worst_wants = wanted;
      if (attempt < at_once) touch = wanted;
    }
    if (settled) return;
    if (attempt >= at_once) contact_.touch[static_cast<std::size_t>(worst)] = worst_wants;
  }
  throw std::runtime_error("no contact of blade and pad was found");
}

/// Pressure and sink when these elements touch, and how far pad and blade overlap where they do not.
void PadContact::solve(const PadView& view, const Press& press) {
  ++solutions_;
  const Index        n     = view.elements();
  const double       limit = pad_.strength;
  std::vector<Index> free;
  ArrayXd&           p = contact_.pressure;
  p                    = ArrayXd::Zero(n);
  double load          = 1e6 * press.force_N_per_m / pad_.modulus_Pa;  // µm
  for (Index k = 0; k < n; ++k) {
    const Touch touch = contact_.touch[static_cast<std::size_t>(k)];
    if (touch == Touch::touching) free.push_back(k);
    if (touch == Touch::giving_way) p[k] = limit, load -= limit * view.width[k];
  }
  if (free.empty()) throw std::runtime_error("the pad gives way everywhere under this force");

  // two right sides: a unit of sink, and the gaps with what gives way
  Eigen::MatrixX2d answer(static_cast<Index>(free.size()), 2);
  answer.col(0) = view.width(free);
  answer.col(1) = -(view.width * view.gap)(free) - (system_ * p.matrix()).array()(free);
  const Eigen::LLT<MatrixXd> factor(system_(free, free));
  const ArrayXd              width = view.width(free);
  factor.solveInPlace(answer);
  contact_.sink_um = (load - width.matrix().dot(answer.col(1))) / width.matrix().dot(answer.col(0));
  p(free)          = contact_.sink_um * answer.col(0) + answer.col(1);
  overlap_         = view.width * (contact_.sink_um - view.gap) - (system_ * p.matrix()).array();
}

}  // namespace arris::outline
