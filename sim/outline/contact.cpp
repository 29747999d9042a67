// SPDX-License-Identifier: MIT
#include "sim/outline/contact.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include <Eigen/Cholesky>

#include "sim/laws/geometry.hpp"

namespace arris::outline {

using Eigen::ArrayXd;
using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// An outline as the pad sees it. Of the elements between edges: width and slope along the face, depth below its plane.
struct PadView {
  ArrayXd edge, width, gap, level;  ///< level: cosine of the slope
  Index   before_tip = 0;           ///< elements of the face itself, had the pad seen all of them

  [[nodiscard]] Index elements() const { return width.size(); }
};

namespace {

const double steepest = std::tan(82.0 * laws::degree);

/// From the far end of a face over the tip, as far as the pad can look: up to where the outline is too steep or turns back.
PadView seen_from_pad(const Outline& edge, Side side, double steeper) {
  const Flank &near = edge.flank(side), &far = edge.flank(other(side));
  const double c = std::cos(edge.half_angle()), s = std::sin(edge.half_angle());
  const auto   n = static_cast<Index>(near.size()), m = static_cast<Index>(far.size());
  ArrayXd      along(n + m - 1), height(n + m - 1);
  const auto   put = [&](Index k, double x, double y) {
    along[k]  = -(x * s + y * c);
    height[k] = x * c - y * s + steeper * (along[k] - along[0]);
  };
  Index count = 0;
  for (; count < n + m - 1; ++count) {
    if (count < n)
      put(count, near.x[n - 1 - count], near.y[n - 1 - count]);
    else
      put(count, -far.x[count - n + 1], far.y[count - n + 1]);
    if (count == 0) continue;
    const double run = along[count] - along[count - 1];
    if (run <= 0.0 || height[count - 1] - height[count] > steepest * run) break;
  }

  PadView     view;
  const Index elements = count - 1;
  if (elements < 1) throw std::runtime_error("the blade does not lie on the pad");
  view.before_tip = n - 1;
  view.edge       = along.head(count);
  view.width      = along.segment(1, elements) - along.head(elements);
  view.gap        = -0.5 * (height.segment(1, elements) + height.head(elements));
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
      // steel beyond the tip is, mirrored, what the other side works on, so that each loses w·p of both; the mean of w here and there
      // keeps the matrix symmetric, and is as exact as the step is short
      const Index  mirror = 2 * view.before_tip - 1 - k;
      const double loss   = press.removal_um * std::sqrt(view.width[k] * view.width[mirror]);
      system_(k, mirror) += loss;
      system_(mirror, k) += loss;
    }
  }

  contact_.edge_um    = view.edge;
  contact_.before_tip = static_cast<std::size_t>(view.before_tip);
  contact_.touch.resize(static_cast<std::size_t>(n), Touch::touching);
  search(view, press);

  // element before_tip − 1 is the first segment of the face, element before_tip the first of the other
  const ArrayXd loss = press.removal_um * contact_.pressure * view.level;
  contact_.near.assign(static_cast<std::size_t>(view.before_tip), 0.0);
  contact_.far.assign(static_cast<std::size_t>(std::max(n - view.before_tip, Index{0})), 0.0);
  for (Index k = 0; k < n; ++k)
    k < view.before_tip ? contact_.near[view.before_tip - 1 - k] = loss[k]
                        : contact_.far[k - view.before_tip]      = loss[k];
  return contact_;
}

/// Finds which elements touch: nearly always a few changes to those that touched before; where these go round in circles, by descent.
void PadContact::search(const PadView& view, const Press& press) {
  const double load = 1e6 * press.force_N_per_m / pad_.modulus_Pa;  // µm
  if (!(load < pad_.strength * view.width.sum()))
    throw std::runtime_error("the pad gives way everywhere under this force");
  if (change_at_once(view, load)) return;
  fill_deepest(view, load);
  descend(view, load);
}

/// Gives every element the state that its pressure and gap ask for, again and again (a primal-dual active set); false where that does
/// not come to an end.
bool PadContact::change_at_once(const PadView& view, double load) {
  for (int attempt = 0; attempt < 12; ++attempt) {
    if (!solve(view, load)) return false;
    bool settled = true;
    for (Index k = 0; k < view.elements(); ++k) {
      Touch& touch = contact_.touch[static_cast<std::size_t>(k)];
      // an element that touches shows by its pressure what it should do, others by their overlap
      const double tried =
          contact_.pressure[k] + (touch == Touch::touching ? 0.0 : overlap_[k] / system_(k, k));
      Touch wanted = Touch::touching;
      if (tried < -close() || (touch == Touch::apart && tried < close())) wanted = Touch::apart;
      if (tried > pad_.strength + close() || (touch == Touch::giving_way && tried > pad_.strength - close()))
        wanted = Touch::giving_way;
      settled = settled && wanted == touch;
      touch   = wanted;
    }
    if (settled) return true;
  }
  return false;
}

/// Pressures that bear the load within their bounds: the strength of the pad on the elements that lie deepest in it.
void PadContact::fill_deepest(const PadView& view, double load) {
  std::vector<Index> by_gap(static_cast<std::size_t>(view.elements()));
  std::iota(by_gap.begin(), by_gap.end(), Index{0});
  std::sort(by_gap.begin(), by_gap.end(), [&](Index a, Index b) { return view.gap[a] < view.gap[b]; });
  for (Index k : by_gap) {
    const double p = std::min(pad_.strength, load / view.width[k]);
    load -= p * view.width[k];
    contact_.pressure[k]                        = p;
    contact_.touch[static_cast<std::size_t>(k)] = p <= 0.0            ? Touch::apart
                                                  : p < pad_.strength ? Touch::touching
                                                                      : Touch::giving_way;
  }
}

/// From pressures within their bounds downhill in energy, one element at a time: what leaves its bounds first is held there, and what
/// pulls at a bound most is let go. Energy is convex, so that this ends.
void PadContact::descend(const PadView& view, double load) {
  for (Index change = 0; change < 20 * view.elements(); ++change) {
    const ArrayXd before = contact_.pressure;
    if (!solve(view, load)) break;
    if (hold_first(before)) continue;
    if (!let_go_most()) return;
  }
  throw std::runtime_error("no contact of blade and pad was found");
}

/// Goes from pressures `before` toward those found as far as all stay within their bounds, and holds the element that stops it; false where
/// none does.
bool PadContact::hold_first(const ArrayXd& before) {
  double way  = 1.0;
  Index  held = -1;
  for (Index k = 0; k < before.size(); ++k) {
    const double p = contact_.pressure[k], bound = std::clamp(p, 0.0, pad_.strength);
    if (std::abs(p - bound) <= close()) continue;
    const double share = (bound - before[k]) / (p - before[k]);
    if (held < 0 || share < way) way = share, held = k;
  }
  if (held < 0) return false;
  contact_.touch[static_cast<std::size_t>(held)] =
      contact_.pressure[held] > before[held] ? Touch::giving_way : Touch::apart;
  contact_.pressure = before + way * (contact_.pressure - before);
  return true;
}

/// Lets the element touch that overlaps most though it is held apart, or least though it gives way; false where all are as they should be.
bool PadContact::let_go_most() {
  Index  free = -1;
  double most = close();
  for (Index k = 0; k < contact_.pressure.size(); ++k) {
    const double outward = -static_cast<double>(
        contact_.touch[static_cast<std::size_t>(k)]);  // 1 apart, 0 touching, −1 giving way
    const double pull = outward * overlap_[k] / system_(k, k);
    if (pull > most) most = pull, free = k;
  }
  if (free < 0) return false;
  contact_.touch[static_cast<std::size_t>(free)] = Touch::touching;
  return true;
}

/// Pressure and sink when these elements touch, and how far pad and blade overlap where they do not; false where none touches.
bool PadContact::solve(const PadView& view, double load) {
  ++solutions_;
  const Index        n = view.elements();
  std::vector<Index> free;
  ArrayXd&           p = contact_.pressure;
  p                    = ArrayXd::Zero(n);
  for (Index k = 0; k < n; ++k) {
    const Touch touch = contact_.touch[static_cast<std::size_t>(k)];
    if (touch == Touch::touching) free.push_back(k);
    if (touch == Touch::giving_way) p[k] = pad_.strength, load -= pad_.strength * view.width[k];
  }
  if (free.empty()) return false;

  // two right sides: a unit of sink, and the gaps with what gives way
  const VectorXd             width = view.width(free);
  const VectorXd             below = (view.width * view.gap + (system_ * p.matrix()).array())(free);
  const Eigen::LLT<MatrixXd> factor(system_(free, free));
  const VectorXd             by_sink = factor.solve(width), by_gap = factor.solve(below);
  contact_.sink_um = (load + width.dot(by_gap)) / width.dot(by_sink);
  p(free)          = contact_.sink_um * by_sink.array() - by_gap.array();
  overlap_         = view.width * (contact_.sink_um - view.gap) - (system_ * p.matrix()).array();
  return true;
}

}  // namespace arris::outline
