// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <utility>
#include <vector>

/// The cross-section of an edge, to scale: two faces, the arc at the apex tangent to both, scratches on what is honed, the burr.
///
/// Where the outline of an edge is known point by point, as that of a dubbed one, it is drawn instead.
///
/// What is true to scale: the angles, the apex radius, the depth of the scratches (drawn as notches with flanks of 15°, the
/// grit angle of sim/laws/scratch.hpp, as if cut across), the length of the burr. What is not known is drawn by convention: the
/// thickness of the burr, which way it curls (to the side that is not honed), where along the face the scratches lie.
namespace arris::figures {

/// The blade behind the edge; angles in degrees as in a configuration's [tool], lengths in mm.
struct BladeSection {
  double primary_bevel_deg = 25.0;
  double micro_bevel_deg   = 30.0;  ///< that of the primary where the whole bevel is honed
  double back_bevel_deg    = 0.0;
  double thickness_mm      = 3.0;
  bool   both_sides        = false;  ///< a knife: both faces alike, the angles between them
};

/// The edge at one moment, in µm.
struct EdgeOutline {
  double      apex_radius_um = 0.1;
  double      scratch_um     = 0.0;
  double      burr_um        = 0.0;
  double      land_mm        = 0.0;  ///< for the small picture of the whole bevel
  std::string label;                 ///< "stropped", "after 150 passes"
  /// From the back over the tip to the bevel: off the bisector to the side of the bevel, and into the blade from where the faces would
  /// meet, µm. Drawn in the place of arc and faces, without scratches; empty: these.
  std::vector<std::pair<double, double>> points;
};

struct EdgeSection {
  BladeSection             blade;
  EdgeOutline              now;
  std::vector<EdgeOutline> earlier;        ///< dashed, laid on the same two faces
  double                   view_um = 0.0;  ///< width of the view; 0 chooses one (section_view_um)
  double      close_um             = 0.0;  ///< width of a second, closer view of the apex in a frame; 0: none
  bool        whole                = true;       ///< with a small picture of the whole bevel, in mm
  std::string name                 = "section";  ///< id of the picture: letters, digits, dashes
  double      width                = 480.0;      ///< of the picture, in its own units (pixels at full size)
};

/// The width of view in which radius, scratches and burr of this outline are seen, in steps of 1-2-5, µm.
[[nodiscard]] double section_view_um(const BladeSection& blade, const EdgeOutline& outline);

/// Several in one picture, side by side where each has `least_wide`; their `width` and `name` count for nothing.
[[nodiscard]] std::string edge_sections_svg(const std::vector<EdgeSection>& sections, double width,
                                            const std::string& id, double least_wide = 320.0);

/// Why there is no picture of it: angles that no blade has, a radius that is not above 0; empty where there is one.
[[nodiscard]] std::string section_fault(const EdgeSection& section);

/// The picture, an `<svg>` element. Throws std::invalid_argument where section_fault has something to say.
[[nodiscard]] std::string edge_section_svg(const EdgeSection& section);

}  // namespace arris::figures
