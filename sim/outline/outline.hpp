// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <vector>

/// The outline of an edge in cross-section as a front of points, from the tip along both faces.
///
///     r_e(y) = ( b(y)/tan α − y )/( 1/sin α − 1 )      equivalent radius as met at y behind the tip
///     h      = max z − z_tip,   z = x·cos α − y·sin α   depth that flat honing removes before it meets the tip
///     s_k    : 0, s₁, s₁·(1 + g), …                    distances of the points from the tip along a face
///
/// | symbol | C++                  | meaning                                                            | unit | range     | default |
/// |--------|----------------------|--------------------------------------------------------------------|------|-----------|---------|
/// | α      | `half_angle`         | half of the included angle at the apex                             | rad  | 0 … π/4   | –       |
/// | x, y   | `Flank::x`, `y`      | points of a face: outward from the bisector, and into the blade    | µm   | ℝ         | –       |
/// | z      | –                    | height above the plane of a face                                   | µm   | ℝ         | –       |
/// | b(y)   | –                    | half of the blade's width at y behind the tip                      | µm   | ≥ 0       | –       |
/// | r_e    | `equivalent_radius_um` | radius of the arc, tangent to faces at α, that is as wide there  | µm   | ℝ         | –       |
/// | h      | `depth_to_flat_um`   | depth normal to a face from its highest point down to the tip      | µm   | ≥ 0       | –       |
/// | s₁     | `Mesh::finest_um`    | distance of the first point from the tip                           | µm   | > 0       | 0.05    |
/// | g      | `Mesh::growth`       | how much longer each distance is than the one before, as a factor  | –    | > 1       | 1.25    |
///
/// The origin is the ideal apex of the fresh edge: the point where its faces would meet. Both faces share the tip, the first point of
/// each. While both have been treated alike the outline is symmetric, and one face is worked on for both.
///
/// Steel goes normal to the outline. Points that have moved are put back to their distances from the tip. Where the faces have met,
/// what lies above breaks off and a new tip is there. A tip finer than s₁ is a corner of two segments: it moves to where
/// the two receded segments cross, which is the exact movement of a corner and that of an arc where there is one.
///
/// Not held: burrs, scratches, anything along the edge. Source: geometry, derived here.
/// Throws std::invalid_argument where a number is out of its range, and std::runtime_error where nothing of the edge is left.
///
///     auto edge = outline::Outline::fresh(30*degree, 0.15, {.land_um = 500, .step_angle = 5*degree, .behind_um = 6000});
///     edge.equivalent_radius_um(1.0);   // 0.15
///     edge.depth_to_flat_um();          // 0.11 = r·(1 − sin α)
namespace arris::outline {

/// How finely an outline is kept, and how far it may move in one step.
struct Mesh {
  double finest_um    = 0.05;  ///< distance of the first point from the tip
  double growth       = 1.25;  ///< of the distances, from one to the next
  double widest_um    = 15.0;  ///< distance of points on the land that is fine enough for `depth_to_flat_um`
  double widest_share = 0.05;  ///< or this share of the distance from the tip, where that is more
  double share_of_radius  = 0.25;  ///< a step takes off at most this share of the tip's radius,
  double share_of_spacing = 0.5;   ///< or this many of `finest_um`, where that is more
};

/// One face of a fresh edge: a land at the half angle, and a lower bevel behind it. Lengths in µm, angle in rad.
struct Face {
  double land_um;           ///< from the ideal apex; of a bevel without a step: all of it that touches
  double step_angle = 0.0;  ///< how much lower the bevel behind the land is; 0 where there is none
  double behind_um  = 0.0;  ///< how much of that is kept; on a pad, more than its sink over tan(step_angle)
};

/// The two faces; only where the back is flat do they differ in what is behind the land.
enum class Side : int { bevel = 0, back = 1 };
enum class Worked { both, bevel, back };

[[nodiscard]] constexpr Side other(Side side) { return side == Side::bevel ? Side::back : Side::bevel; }

/// Points of a face from the tip on: x outward from the bisector, y into the blade, µm.
struct Flank {
  std::vector<double> x, y;

  [[nodiscard]] std::size_t size() const { return x.size(); }
};

/// What is taken off the segments of a face from the tip on, normal to each, µm; those beyond its end keep theirs.
using Recession = std::vector<double>;

class Outline {
 public:
  /// An arc of `tip_radius_um` tangent to two like faces at an included angle (rad).
  [[nodiscard]] static Outline fresh(double included_angle, double tip_radius_um, const Face& both,
                                     const Mesh& mesh = {});
  /// The same with a back of its own.
  [[nodiscard]] static Outline fresh(double included_angle, double tip_radius_um, const Face& bevel,
                                     const Face& back, const Mesh& mesh = {});

  [[nodiscard]] double       half_angle() const { return half_angle_; }
  [[nodiscard]] const Mesh&  mesh() const { return mesh_; }
  [[nodiscard]] bool         symmetric() const { return symmetric_; }
  [[nodiscard]] const Flank& flank(Side side) const { return flanks_[stored(side)]; }

  /// r_e, µm: what a dubbed apex counts for where it is met at `behind_um`; 0 for a perfect edge, below 0 for a thinner one.
  [[nodiscard]] double equivalent_radius_um(double behind_um) const;
  /// Radius of the tip itself, µm: arc length over which the outline turns by 45° to either side of it, over that angle. Below
  /// `finest_um` it tells of the mesh.
  [[nodiscard]] double tip_radius_um() const;
  /// Angle between the faces where they lie `along_um` from the tip, less the included angle of the fresh edge, rad.
  [[nodiscard]] double extra_angle(double along_um) const;
  /// h of a face, µm.
  [[nodiscard]] double depth_to_flat_um(Side side = Side::bevel) const;
  /// How far the tip lies behind the ideal apex of the fresh edge, along the bisector, µm.
  [[nodiscard]] double tip_setback_um() const { return flanks_[0].y.front(); }
  /// Cross-section of steel between the tip and `down_to_um` behind the ideal apex of the fresh edge, µm².
  [[nodiscard]] double section_um2(double down_to_um) const;

  /// Takes steel off both faces alike (what the two sides of a lap do to a face is their sum), and puts the points in place again.
  void recede(const Recession& both);
  /// Takes off each face what is given for it. The outline is not symmetric after this.
  void recede(const Recession& bevel, const Recession& back);
  /// Moves the points of the faces, the tip first, into the blade along the bisector by so many µm; points beyond those given stay.
  /// The tip moves by the mean of both.
  void sink(const std::vector<double>& bevel, const std::vector<double>& back);
  /// Cuts a face by a plane that is steeper by `steeper` (rad) than the half angle: from where it touches, in by `depth_um`.
  void cut(Side side, double steeper, double depth_um);
  /// Cuts both faces so, each from where the plane touches it.
  void cut_both(double steeper, double depth_um);
  /// Puts the arc of this radius (µm) that touches both faces in the place of a tip that is finer; a tip that is blunter stays.
  /// Says whether there is such an arc now.
  bool round_tip(double radius_um);

 private:
  Outline(double half_angle, const Mesh& mesh) : half_angle_(half_angle), mesh_(mesh) {}

  [[nodiscard]] std::size_t stored(Side side) const {
    return symmetric_ ? 0 : static_cast<std::size_t>(side);
  }

  double                             half_angle_;
  Mesh                               mesh_;
  bool                               symmetric_ = true;
  std::array<Flank, 2>               flanks_;     // of a symmetric outline only the first is kept up
  std::array<std::vector<double>, 2> distances_;  // from the tip along the face, where points are put
  std::array<double, 2>              land_um_{};

  void separate();
  /// A face after a cut, its points not yet in place, and the length of the land that the cut has left.
  void take(Side side, Flank flank, double land_um);
};

}  // namespace arris::outline
