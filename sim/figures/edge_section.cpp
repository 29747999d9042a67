// SPDX-License-Identifier: MIT
#include "sim/figures/edge_section.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include <fmt/format.h>

#include "sim/figures/plot.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/geometry.hpp"

namespace arris::figures {
namespace {

using Point = std::pair<double, double>;

// The two faces from the apex, which is at 0, 0: directions in rad from the horizontal back of the blade. Lengths in µm, up
// is up.
struct Faces {
  double upper, lower;

  [[nodiscard]] double included() const { return upper - lower; }
  [[nodiscard]] double middle() const { return 0.5 * (upper + lower); }
};

Faces faces_of(const BladeSection& blade) {
  const double honed = blade.micro_bevel_deg * laws::degree, back = blade.back_bevel_deg * laws::degree;
  return blade.both_sides ? Faces{0.5 * honed, -0.5 * honed} : Faces{honed, -back};
}

Point along(double direction, double length, Point from = {0.0, 0.0}) {
  return {from.first + length * std::cos(direction), from.second + length * std::sin(direction)};
}

// A honed face from `from` to `to` µm off the apex, notches of depth `s` cut into it; `inward` points into the steel.
void add_face(Points& points, double direction, double inward, double from, double to, double scratch_um) {
  points.push_back(along(direction, from));
  constexpr double flank = 15.0 * laws::degree;
  const double     pitch = 2.0 * scratch_um / std::tan(flank);
  // so many that they could not be told apart are left out
  if (scratch_um > 0.0 && pitch > (to - from) / 70.0) {
    for (double at = from + 0.25 * pitch; at + pitch < to; at += pitch) {
      points.push_back(along(direction, at));
      points.push_back(along(inward, scratch_um, along(direction, at + 0.5 * pitch)));
    }
  }
  points.push_back(along(direction, to));
}

// The arc of the apex from the lower face to the upper.
void add_arc(Points& points, const Faces& faces, double radius_um) {
  const double  half   = 0.5 * faces.included();
  const Point   centre = along(faces.middle(), radius_um / std::sin(half));
  const double  from = faces.lower - 0.5 * laws::pi, to = faces.upper + 0.5 * laws::pi - 2.0 * laws::pi;
  constexpr int pieces = 24;
  for (int i = 0; i <= pieces; ++i)
    points.push_back(along(from + (to - from) * i / pieces, radius_um, centre));
}

// The tip of an edge, from where the faces would meet along the middle.
double tip_of(const Faces& faces, const EdgeOutline& edge) {
  if (edge.points.empty()) return laws::Wedge<double>{faces.included()}.tip_setback(edge.apex_radius_um);
  double tip = edge.points.front().second;
  for (const Point& p : edge.points) tip = std::min(tip, p.second);
  return tip;
}

// How far the tip lies below the faces, as a flat stone on the bevel meets it.
double below_face(const Faces& faces, const EdgeOutline& edge) {
  const double half    = 0.5 * faces.included();
  double       highest = 0.0, tip = 0.0, lowest = edge.points.front().second;
  for (std::size_t i = 0; i < edge.points.size(); ++i) {
    const auto [x, y]   = edge.points[i];
    const double height = x * std::cos(half) - y * std::sin(half);
    highest             = i == 0 ? height : std::max(highest, height);
    if (y <= lowest) {
      lowest = y;
      tip    = height;
    }
  }
  return highest - tip;
}

// An outline that is known point by point, the faces going on from its ends.
Points known_outline(const Faces& faces, const EdgeOutline& edge, double reach_um) {
  Points       points{{0.0, 0.0}};
  const double c = std::cos(faces.middle()), s = std::sin(faces.middle());
  for (const auto& [x, y] : edge.points) points.emplace_back(y * c - x * s, y * s + x * c);
  points.front() = along(faces.lower, reach_um, points[1]);
  points.push_back(along(faces.upper, reach_um, points.back()));
  return points;
}

// From far down the lower face round the apex and up the other.
Points outline(const BladeSection& blade, const EdgeOutline& edge, double reach_um) {
  const Faces faces = faces_of(blade);
  if (!edge.points.empty()) return known_outline(faces, edge, reach_um);
  const double tangent = laws::Wedge<double>{faces.included()}.tangent_length(edge.apex_radius_um);
  const double end     = std::max(reach_um, 1.2 * tangent);
  Points       lower, points;
  const bool   lower_honed = blade.both_sides || blade.back_bevel_deg > 0.0;
  add_face(lower, faces.lower, faces.lower + 0.5 * laws::pi, tangent, end,
           lower_honed ? edge.scratch_um : 0.0);
  points.assign(lower.rbegin(), lower.rend());
  add_arc(points, faces, edge.apex_radius_um);
  add_face(points, faces.upper, faces.upper - 0.5 * laws::pi, tangent, end, edge.scratch_um);
  return points;
}

// A thin foil that leaves the tip and curls to the side that is not honed, as long as the burr along its middle.
Points foil(const BladeSection& blade, const EdgeOutline& edge) {
  const Faces   faces = faces_of(blade);
  const double  half  = 0.5 * faces.included();
  const double  reach = tip_of(faces, edge);
  Point         at    = along(faces.middle(), reach + 0.2 * edge.apex_radius_um);
  const double  root  = std::min(0.9 * edge.apex_radius_um * std::cos(half), 0.12 * edge.burr_um);
  Points        one, other;
  constexpr int pieces = 20;
  for (int i = 0; i <= pieces; ++i) {
    const double share     = static_cast<double>(i) / pieces;
    const double direction = faces.middle() + laws::pi + (0.25 + 1.0 * share);  // turning down
    const double thick     = root * (1.0 - 0.8 * share);
    one.push_back(along(direction + 0.5 * laws::pi, thick, at));
    other.push_back(along(direction - 0.5 * laws::pi, thick, at));
    at = along(direction, edge.burr_um / pieces, at);
  }
  one.insert(one.end(), other.rbegin(), other.rend());
  return one;
}

double round_up(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  for (const double step : {1.0, 2.0, 5.0}) {
    if (value <= step * power * (1.0 + 1e-9)) return step * power;
  }
  return 10.0 * power;
}

double round_down(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(value)));
  for (const double step : {5.0, 2.0}) {
    if (value >= step * power) return step * power;
  }
  return power;
}

void check(const EdgeSection& section) {
  if (const std::string fault = section_fault(section); !fault.empty()) throw std::invalid_argument(fault);
}

// a burr below a nanometre is no burr
constexpr double least_burr_um = 1e-3;

// What the picture shows, for those who cannot see it.
std::string described(const EdgeSection& section) {
  const Faces faces = faces_of(section.blade);
  std::string text =
      fmt::format("Faces at {}° to one another; apex radius {} µm, scratches {} µm deep, burr {} µm long.",
                  figure_number(faces.included() / laws::degree), figure_number(section.now.apex_radius_um),
                  figure_number(section.now.scratch_um),
                  figure_number(section.now.burr_um > least_burr_um ? section.now.burr_um : 0.0));
  if (!section.now.points.empty()) text += " Drawn by its outline, dub and all.";
  for (const EdgeOutline& e : section.earlier)
    text += fmt::format(" Dashed{}: apex radius {} µm.", e.label.empty() ? "" : ", " + e.label,
                        figure_number(e.apex_radius_um));
  return text;
}

// A bar of a round length with the length beside it; `unit_um` is one unit of the picture in µm.
void draw_scale(Svg& svg, double x, double y, double longest, double unit_um, bool in_mm) {
  const double      length = round_down(longest * unit_um);
  const double      drawn  = length / unit_um;
  const std::string says =
      in_mm ? figure_number(length * 1e-3) + " mm"
            : (length < 0.1 ? figure_number(length * 1e3) + " nm" : figure_number(length) + " µm");
  svg.line(x, y, x + drawn, y, "scale");
  svg.line(x, y - 4, x, y + 4, "scale");
  svg.line(x + drawn, y - 4, x + drawn, y + 4, "scale");
  svg.text(x + drawn + 6, y + 4, says);
}

// The whole bevel at a scale of millimetres: primary bevel, honed land, thickness.
void draw_whole(Svg& svg, const BladeSection& blade, const EdgeOutline& edge, double x, double y,
                double width, double height) {
  const double side    = blade.both_sides ? 0.5 : 1.0;
  const double primary = side * blade.primary_bevel_deg * laws::degree;
  const double micro   = side * blade.micro_bevel_deg * laws::degree;
  const double back    = blade.both_sides ? 0.0 : blade.back_bevel_deg * laws::degree;
  const double thick   = side * blade.thickness_mm;
  const double land    = std::max(edge.land_mm, 0.0);
  const double reach   = 1.5 * thick / std::tan(primary);
  const double scale   = std::min(width / reach, height / (blade.both_sides ? 2.0 * thick : thick));
  const double base    = blade.both_sides ? y + 0.5 * height : y + height;
  const auto   place   = [&](Point p) { return Point{x + p.first * scale, base - p.second * scale}; };

  // the honed land, then the ground bevel, up to the face of the blade
  const double shown  = micro > primary ? std::min(land, thick / std::sin(primary)) : 0.0;
  const Point  corner = along(micro, shown);
  const Point  top{corner.first + std::max(thick - corner.second, 0.0) / std::tan(primary), thick};
  Points       points{place({0.0, 0.0}), place(corner), place(top), place({reach, thick})};
  if (blade.both_sides) {
    points.push_back(place({reach, -thick}));
    points.push_back(place({top.first, -thick}));
    points.push_back(place({corner.first, -corner.second}));
  } else {
    points.push_back(place({reach, 0.0}));
    if (back > 0.0) points.push_back(place({0.12 * reach, 0.0}));
  }
  svg.begin_clipped(x - 2, y - 2, width + 2, height + 4);
  svg.polyline(points, "steel", true);
  if (shown > 0.0) svg.polyline({place({0.0, 0.0}), place(corner)}, "line-ochre");
  svg.end();
  svg.circle(x, base, 6, "note");
  draw_scale(svg, x, y + height + 20, 0.5 * width, 1e3 / scale, true);
}

// the apex alone at a scale of its own, in a frame; by its tip, as a worn one has come far from where the faces would meet
void draw_close(Svg& svg, const EdgeSection& section, const Box& box) {
  const Faces  faces  = faces_of(section.blade);
  const double unit   = section.close_um / box.width;
  const double tip_um = tip_of(faces, section.now);
  const Point  origin = along(faces.middle(), tip_um);
  const double x0 = box.x + 0.25 * box.width, y0 = box.y + 0.32 * box.height;
  Points       points = outline(section.blade, section.now, 1.5 * section.close_um + 2.0 * tip_um);
  for (Point& p : points) p = {x0 + (p.first - origin.first) / unit, y0 - (p.second - origin.second) / unit};
  svg.rect(box.x, box.y, box.width, box.height, "frame");
  svg.begin_clipped(box.x, box.y, box.width, box.height);
  svg.polyline(points, "steel", true);
  svg.end();
  draw_scale(svg, box.x + 6.0, box.y + box.height - 8.0, 0.4 * box.width, unit, false);
}

// a line above the picture, and its class
using WordsAbove = std::vector<std::pair<std::string, const char*>>;

// a name, numbers, what is dashed
WordsAbove words_above(const EdgeSection& section, double width) {
  WordsAbove out;
  const auto say = [&](const std::string& words, const char* look, double size) {
    for (const std::string& line : lines_of(words, width - 16.0, size)) out.emplace_back(line, look);
  };
  if (!section.now.label.empty()) say(section.now.label, "strong", bold_size);
  std::string numbers =
      fmt::format("apex radius {} µm, scratches {} µm, ", figure_number(section.now.apex_radius_um),
                  figure_number(section.now.scratch_um, 2));
  numbers += section.now.burr_um > least_burr_um
                 ? fmt::format("burr {} µm", figure_number(section.now.burr_um, 2))
                 : "no burr";
  if (section.whole && section.now.land_mm > 0.0)
    numbers += fmt::format(", honed land {} mm", figure_number(section.now.land_mm, 2));
  say(numbers, "", 12.0);
  for (const EdgeOutline& e : section.earlier)
    say(fmt::format("dashed: {}{} µm", e.label.empty() ? "" : e.label + ", ",
                    figure_number(e.apex_radius_um)),
        "soft", 12.0);
  return out;
}

constexpr double words_line = 15.0;

// four lines in any case, so that neighbours are level
double words_height(const EdgeSection& section, double width) {
  return std::max(66.0, 6.0 + words_line * static_cast<double>(words_above(section, width).size()));
}

double section_height(const EdgeSection& section, double width) {
  return std::round(0.52 * width) + words_height(section, width);
}

std::string title_of(const EdgeSection& section) {
  return section.now.label.empty() ? std::string("Cross-section of the edge")
                                   : "Cross-section of the edge, " + section.now.label;
}

double view_of(const EdgeSection& section) {
  return section.view_um > 0.0 ? section.view_um : section_view_um(section.blade, section.now);
}

bool shows_burr(const EdgeSection& section, double view) {
  return section.now.burr_um > 0.0 && section.now.burr_um > 0.004 * view;
}

/// Where the close-up and the scale of a section stand.
struct Below {
  Box    close;
  double scale_x, scale_width;  ///< left end of the scale, and how wide it may be
};

// to the left of the whole blade, or beside the scale; right of a burr, which hangs down at the left, and above that of a knife, whose steel is
// on both sides
Below below_of(const EdgeSection& section, double width, double height) {
  const bool   burr = shows_burr(section, view_of(section)), knife = section.blade.both_sides;
  const double left = burr && !knife ? 0.27 * width : 8.0, top = burr && knife   ? 0.02
                                                                 : section.whole ? 0.56
                                                                                 : 0.58;
  if (section.whole) return {{left, top * height, 0.3 * width, 0.32 * height}, left + 2.0, 0.22 * width};
  if (burr && !knife) return {{0.56 * width, top * height, 0.42 * width, 0.4 * height}, left, 0.14 * width};
  return {{left, top * height, 0.42 * width, 0.4 * height}, 0.55 * width, 0.22 * width};
}

// One section into a box of a picture whose corner is at 0, 0; `words` of its height are for words.
void draw_section(Svg& svg, const EdgeSection& section, double width, double words) {
  check(section);
  const BladeSection& blade  = section.blade;
  const Faces         faces  = faces_of(blade);
  const double        view   = view_of(section);
  const double        height = std::round(0.52 * width);
  const double        unit   = view / width;  // µm per unit of the picture

  // the apex a fifth in from the left; lower where the steel lies above it, higher where faces bend away on both sides
  const double x0 = 0.22 * width;
  const double y0 = height * ((section.now.points.empty() ? 0.47 : 0.33) + 0.2 * std::sin(faces.middle()));
  // a known outline by its tip, which may have come far from where the faces would meet
  const Point origin =
      section.now.points.empty() ? Point{0.0, 0.0} : along(faces.middle(), tip_of(faces, section.now));
  const auto at = [&](Point p) {
    return Point{x0 + (p.first - origin.first) / unit, y0 - (p.second - origin.second) / unit};
  };
  const auto all_at = [&](Points points) {
    for (Point& p : points) p = at(p);
    return points;
  };

  // words first, the picture below them
  double y = 14.0;
  for (const auto& [line, look] : words_above(section, width)) {
    svg.text(8, y, line, Svg::Anchor::start, look);
    y += words_line;
  }

  svg.begin_at(0.0, words);
  svg.begin_clipped(0, 0, width, height);
  const double reach = 1.3 * view;
  if (shows_burr(section, view)) svg.polyline(all_at(foil(blade, section.now)), "burr", true);
  svg.polyline(all_at(outline(blade, section.now, reach)), "steel", true);
  for (const EdgeOutline& e : section.earlier) {
    EdgeOutline smooth = e;  // notches of several outlines would hide one another
    smooth.scratch_um  = 0.0;
    svg.polyline(all_at(outline(blade, smooth, reach)), "before");
  }
  svg.end();

  // names of the faces, in the steel beside them
  const double right = width - 8.0, reach_um = origin.first + (right - 30.0 - x0) * unit;
  const auto   face = [&](double direction) { return at({reach_um, reach_um * std::tan(direction)}).second; };
  svg.text(right, std::max(face(faces.upper) + 18.0, 14.0), "bevel", Svg::Anchor::end, "small");
  svg.text(right, face(faces.lower) - 8.0,
           blade.both_sides             ? "bevel"
           : blade.back_bevel_deg > 0.0 ? "back bevel"
                                        : "back",
           Svg::Anchor::end, "small");

  const Below below = below_of(section, width, height);
  if (section.close_um > 0.0) draw_close(svg, section, below.close);
  draw_scale(svg, below.scale_x, height - 14, below.scale_width, unit, false);
  if (section.whole) {
    const double w = 0.34 * width, h = 0.21 * height, left = width - w - 8, top = height - h - 34;
    svg.rect(left - 12, top - 6, w + 20, h + 40, "frame");
    draw_whole(svg, blade, section.now, left, top, w, h);
  }
  svg.end();
}

}  // namespace

double section_view_um(const BladeSection& blade, const EdgeOutline& outline) {
  const double tangent =
      laws::Wedge<double>{faces_of(blade).included()}.tangent_length(outline.apex_radius_um);
  const double arc = std::max({2.2 * tangent, 8.0 * outline.scratch_um, 3.4 * outline.burr_um, 0.05});
  if (outline.points.empty()) return round_up(arc);
  // wide enough to see the faces bend
  return round_up(std::max(arc, 6.0 * below_face(faces_of(blade), outline)));
}

std::string edge_section_svg(const EdgeSection& section) {
  Svg svg(section.width, section_height(section, section.width), section.name, title_of(section),
          described(section));
  draw_section(svg, section, section.width, words_height(section, section.width));
  return svg.text_of();
}

std::string section_fault(const EdgeSection& section) {
  constexpr double    most     = 1e9;  // a kilometre in µm; comparisons with NaN are false
  const BladeSection& b        = section.blade;
  const double        included = b.micro_bevel_deg + (b.both_sides ? 0.0 : b.back_bevel_deg);
  if (!(b.primary_bevel_deg > 0.0 && b.micro_bevel_deg >= b.primary_bevel_deg && b.back_bevel_deg >= 0.0 &&
        included < 179.0 && b.thickness_mm > 0.0 && b.thickness_mm < most))
    return "no blade has these bevels and this thickness";
  const auto sound = [](const EdgeOutline& e) {
    return e.apex_radius_um > 0.0 && e.apex_radius_um < most && e.scratch_um >= 0.0 && e.scratch_um < most &&
           e.burr_um >= 0.0 && e.burr_um < most &&
           std::all_of(e.points.begin(), e.points.end(),
                       [](const Point& p) { return std::abs(p.first) < most && std::abs(p.second) < most; });
  };
  if (!sound(section.now) || !std::all_of(section.earlier.begin(), section.earlier.end(), sound))
    return "an edge has an apex radius above 0, and scratches and a burr not below 0";
  return {};
}

std::string edge_sections_svg(const std::vector<EdgeSection>& sections, double width, const std::string& id,
                              double least_wide) {
  const int columns =
      std::clamp(static_cast<int>(width / least_wide), 1, std::max(1, static_cast<int>(sections.size())));
  const int    rows = (static_cast<int>(sections.size()) + columns - 1) / columns;
  const double gap = 12.0, wide = (width - gap * (columns - 1)) / columns;
  double       words = 0.0;
  for (const EdgeSection& s : sections) words = std::max(words, words_height(s, wide));
  const double tall = std::round(0.52 * wide) + words + gap;
  std::string  says;
  for (const EdgeSection& s : sections) says += (says.empty() ? "" : " ") + title_of(s) + ": " + described(s);
  Svg svg(width, rows * tall - gap, id, "Cross-sections of the edge", says);
  for (std::size_t i = 0; i < sections.size(); ++i) {
    const int column = static_cast<int>(i) % columns, row = static_cast<int>(i) / columns;
    svg.begin_at(column * (wide + gap), row * tall);
    draw_section(svg, sections[i], wide, words);
    svg.end();
  }
  return svg.text_of();
}

}  // namespace arris::figures
