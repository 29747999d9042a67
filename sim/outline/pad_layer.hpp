// SPDX-License-Identifier: MIT
#pragma once

#include <Eigen/Core>

/// How an elastic layer on a rigid base sinks under pressure on part of it: plane strain, no friction, small slopes.
///
///     û(k) = 2/(E·k)·L(k·t)·p̂(k),   L(w) = (6·sinh 2w − 4w)/(6·cosh 2w + 4w² + 10)
///     u(x) = 2/(π·E)·∫ p(x')·K(|x − x'|/t) dx',   K(ξ) = −ln ξ + R(ξ),   R(ξ) = ∫₀^∞ [(L(w) − 1)·cos wξ + e^−w]/w dw
///     A_ij = 2/π·∫_i ∫_j K(|x − x'|/t) dx dx' = second difference of Ψ,   Ψ″ = K
///
/// | symbol | C++            | meaning                                                        | unit | range  | default |
/// |--------|----------------|----------------------------------------------------------------|------|--------|---------|
/// | E      | `Pad::modulus_Pa`   | modulus through the pad                                   | Pa   | > 0    | –       |
/// | t      | `Pad::thickness_um` | thickness of the pad, glued down                          | µm   | > 0    | –       |
/// | –      | `Pad::strength`| the pressure at which a pad gives way sideways, over E         | –    | > 0    | 1       |
/// | u, p   | –              | how far the surface sinks, and pressure over E                 | µm, – | –     | –       |
/// | A_ij   | `matrix`       | sink under a unit pressure on element j, summed over element i | µm²  | ≥ 0    | –       |
///
/// A half-plane for waves much shorter than t, springs of stiffness E/t for waves much longer: ∫ K dξ = π/2 over both sides. K is 0
/// beyond 12 thicknesses. Poisson's ratio is 0, as for materials that are compressed through their thickness.
/// Sinks are means over the elements, so that A is symmetric and positive definite.
/// Source: bonded layer after Johnson, Contact Mechanics (from memory); both limits are tested.
/// Throws nothing.
///
///     LayerInfluence layer(1000);
///     layer.of(edges) * pressure / width;   // sinks of the elements between edges, µm
namespace arris::outline {

/// What the blade is pressed on.
struct Pad {
  double modulus_Pa;
  double thickness_um;
  double strength = 1.0;  ///< nowhere more pressure than this many moduli
};

/// Ψ of distances over the thickness: the sink of a layer, integrated twice. Even.
[[nodiscard]] double layer_response(double distance);

/// A for elements between edges; kept from call to call where distances have hardly changed.
class LayerInfluence {
 public:
  /// `same`: the relative change of an element's width up to which what was worked out for it is taken again.
  explicit LayerInfluence(double thickness_um, double same = 1e-2) : thickness_(thickness_um), same_(same) {}

  /// `edges`: rising, µm.
  const Eigen::MatrixXd& of(const Eigen::ArrayXd& edges);
  /// The edges that A was worked out for, but for a shift those that were given, to within `same`.
  [[nodiscard]] const Eigen::ArrayXd& edges() const { return edges_; }

 private:
  double          thickness_, same_;
  Eigen::ArrayXd  edges_;   // as the matrix has them
  Eigen::MatrixXd table_;   // Ψ between edges
  Eigen::MatrixXd matrix_;  // A
};

}  // namespace arris::outline
