// SPDX-License-Identifier: MIT
#pragma once

#include <vector>

#include <Eigen/Core>

#include "sim/outline/outline.hpp"
#include "sim/outline/pad_layer.hpp"

/// A blade pressed on a pad: where they touch and with what pressure, while steel goes away under it.
///
///     sink − gap − (A·p)/width − κE·n·(p + p of the other side) = 0  where 0 < p < strength,  ≤ 0 where p = 0,  ≥ 0 where p = strength
///     Σ p·width = F/(w_b·E)
///
/// | symbol | C++                | meaning                                                     | unit | range | default |
/// |--------|--------------------|-------------------------------------------------------------|------|-------|---------|
/// | F/w_b  | `force_N_per_m`    | force per width of the blade                                | N/m  | > 0   | –       |
/// | κE·n   | `removal_um`       | what a pressure of one modulus takes off in this step; 0 presses only | µm | ≥ 0 | 0    |
/// | –      | `steeper`          | how much steeper than the land the blade is held; below 0: lower, the apex is lifted | rad | – | 0 |
/// | p      | `Contact::pressure`| pressure on the elements, over the pad's modulus            | –    | 0 … strength | – |
/// | –      | `Contact::sink_um` | how far the blade is pressed in                             | µm   | –     | –       |
///
/// The face lies on the pad; the pad also meets the other face beyond the tip, up to 82° against the first. Pressure acts on the area as
/// the pad sees it, so that steel loses κ·p·cos φ normal to itself, φ the slope. Pressures are those at the end of the step, since
/// a pad answers a loss of nanometres over a micrometre at once. Where the blade is turned over in between (`both`), steel near the tip loses from the other
/// side as well.
///
/// Which elements touch is found by a search that begins with the ones that touched before: a primal-dual active set, which mostly needs
/// one solution, and where that goes round in circles a descent in energy, which always ends.
/// Throws std::invalid_argument where a number is out of its range, std::runtime_error where the pad gives way everywhere under the force,
/// or no contact is found.
///
///     PadContact contact({34.6e6, 1000});
///     contact.press(edge, Side::bevel, {.force_N_per_m = 200}).sink_um;   // 6.4 of a fresh edge with a land of 0.5 mm
namespace arris::outline {

enum class Touch : signed char { apart = -1, touching = 0, giving_way = 1 };

struct Contact {
  /// Edges of the elements along the face, from its far end on, with the tip and what lies beyond it.
  Eigen::ArrayXd     edge_um;
  Eigen::ArrayXd     pressure;  ///< over the modulus
  double             sink_um = 0.0;
  std::vector<Touch> touch;
  std::size_t        before_tip = 0;  ///< elements of the face itself, had the pad seen all of them
  Recession          near,
      far;  ///< what the segments of the face and of the other lose by this side, µm, from the tip on
};

struct Press {
  double force_N_per_m;
  double removal_um = 0.0;
  double steeper    = 0.0;
  bool   both       = true;  ///< the step takes steel off by both sides alike
};

struct PadView;  // contact.cpp

/// Presses a face of an outline on a pad. What has been worked out for the pad, and what touched, is kept for the next press of that face.
class PadContact {
 public:
  explicit PadContact(const Pad& pad);

  const Contact& press(const Outline& edge, Side side, const Press& press);

  [[nodiscard]] const Contact& last() const { return contact_; }
  [[nodiscard]] const Pad&     pad() const { return pad_; }
  [[nodiscard]] long           solutions() const { return solutions_; }

 private:
  void search(const PadView& view, const Press& press);
  bool change_at_once(const PadView& view, double load);
  void fill_deepest(const PadView& view, double load);
  void descend(const PadView& view, double load);
  bool hold_first(const Eigen::ArrayXd& before);
  bool let_go_most();
  bool solve(const PadView& view, double load);
  /// Pressures that are the same, over the modulus.
  [[nodiscard]] double close() const { return 1e-9 * pad_.strength; }

  Pad             pad_;
  LayerInfluence  influence_;
  Contact         contact_;
  Eigen::MatrixXd system_;   // A and what the step takes off
  Eigen::ArrayXd  overlap_;  // of pad and blade, summed over an element, µm²
  long            solutions_ = 0;
};

}  // namespace arris::outline
