// SPDX-License-Identifier: MIT
#include "sim/outline/outline.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <stdexcept>
#include <tuple>
#include <utility>

// clang-format off
#include <math.h>  // NOLINT(modernize-deprecated-headers): the isnan that the header below looks for, which must therefore come after
#include <boost/math/interpolators/pchip.hpp>
// clang-format on

#include "sim/laws/geometry.hpp"

namespace arris::outline {

namespace {

struct Vector {
  double x, y;
};

Vector operator+(Vector a, Vector b) { return {a.x + b.x, a.y + b.y}; }
Vector operator-(Vector a, Vector b) { return {a.x - b.x, a.y - b.y}; }
Vector operator*(double k, Vector a) { return {k * a.x, k * a.y}; }
double dot(Vector a, Vector b) { return a.x * b.x + a.y * b.y; }
double length(Vector a) { return std::sqrt(a.x * a.x + a.y * a.y); }
Vector unit(Vector a) { return (1.0 / length(a)) * a; }
Vector outward(Vector along) {
  return {along.y, -along.x};
}  // normal of a direction that leads from the tip back
Vector mirrored(Vector a) { return {-a.x, a.y}; }

Vector point(const Flank& f, std::size_t i) { return {f.x[i], f.y[i]}; }
void   append(Flank& f, Vector p) {
    f.x.push_back(p.x);
    f.y.push_back(p.y);
}

void require(bool holds, const char* what) {
  if (!holds) throw std::invalid_argument(what);
}

/// Length along the points from the first to each.
std::vector<double> lengths(const Flank& f) {
  std::vector<double> s(f.size(), 0.0);
  for (std::size_t i = 1; i < s.size(); ++i) s[i] = s[i - 1] + length(point(f, i) - point(f, i - 1));
  return s;
}

/// Where points of a face are put: distances from the tip, growing, up to `whole_um`.
std::vector<double> graded(const Mesh& mesh, double land_um, double whole_um) {
  std::vector<double> at{0.0};
  double              step = mesh.finest_um;
  while (at.back() < whole_um) {
    at.push_back(at.back() + step);
    step *= mesh.growth;
    if (at.back() < land_um) step = std::min(step, std::max(mesh.widest_um, mesh.widest_share * at.back()));
  }
  return at;
}

/// The distances that fit on a face of this length, and its end.
std::vector<double> fitting(const std::vector<double>& distances, double whole_um) {
  std::vector<double> at(distances.begin(), std::lower_bound(distances.begin(), distances.end(), whole_um));
  at.push_back(whole_um);
  const std::size_t n = at.size();
  if (n > 3 && at[n - 1] - at[n - 2] < 0.2 * (at[n - 2] - at[n - 3]))
    at.erase(at.end() - 2);  // no sliver at the end
  return at;
}

/// Value at `at` of straight lines through points; the ends hold beyond them.
double on_lines(const std::vector<double>& x, const std::vector<double>& y, double at) {
  const auto above = std::upper_bound(x.begin(), x.end(), at);
  if (above == x.begin()) return y.front();
  if (above == x.end()) return y.back();
  const auto i = static_cast<std::size_t>(above - x.begin());
  return y[i - 1] + (at - x[i - 1]) / (x[i] - x[i - 1]) * (y[i] - y[i - 1]);
}

/// Puts points at `distances` from the tip again. A monotone cubic in the length along a curve, straight lines after a cut by a plane.
enum class Between { curved, straight };

void put_in_place(Flank& flank, const std::vector<double>& distances, Between between) {
  std::vector<double>       s  = lengths(flank);
  const std::vector<double> at = fitting(distances, s.back());
  Flank                     placed;
  placed.x.reserve(at.size());
  placed.y.reserve(at.size());
  if (between == Between::straight || s.size() < 4) {
    for (double d : at) append(placed, {on_lines(s, flank.x, d), on_lines(s, flank.y, d)});
  } else {
    using Curve = boost::math::interpolators::pchip<std::vector<double>>;
    const Curve x(std::vector<double>(s), std::vector<double>(flank.x));
    const Curve y(std::move(s), std::vector<double>(flank.y));
    for (double d : at) append(placed, {x(d), y(d)});
  }
  placed.x.front() = flank.x.front();
  placed.y.front() = flank.y.front();
  flank            = std::move(placed);
}

double taken(const Recession& recession, std::size_t segment) {
  return segment < recession.size() ? recession[segment] : 0.0;
}

/// Points of a face after its segments have receded, the tip aside: each along the normal there, by what the segments beside it lose;
/// both as interpolated between the middles of these, which is of second order where lengths differ.
void recede_behind_tip(Flank& f, const Recession& recession) {
  const std::size_t n    = std::min(f.size(), recession.size() + 1);
  Vector            past = point(f, 0);  // the point before, where it was
  for (std::size_t i = 1; i < n; ++i) {
    const Vector here = point(f, i), before = here - past;
    past         = here;
    Vector along = before;
    double depth = taken(recession, i - 1);
    if (i + 1 < f.size()) {
      const Vector after = point(f, i + 1) - here;
      const double a = length(before), b = length(after);
      along = (b / a) * before + (a / b) * after;
      depth = (b * depth + a * taken(recession, i)) / (a + b);
    }
    const Vector to = here - depth * outward(unit(along));
    f.x[i]          = to.x;
    f.y[i]          = to.y;
  }
}

/// How the tip moves when the two segments that meet in it recede by `a` and `b`; `along_a` and `along_b` lead away from it, in one frame,
/// and b is on the far side. Where the receded segments cross, if they meet at an angle; along their common normal otherwise.
Vector tip_recession(Vector along_a, double a, Vector along_b, double b) {
  const Vector normal_a = outward(unit(along_a)), normal_b = mirrored(outward(unit(mirrored(along_b))));
  const Vector normal = unit(normal_a + normal_b), across{-normal.y, normal.x};
  const double c = dot(normal_a, normal), s = dot(normal_a, across);
  Vector       move = ((a + b) / (2.0 * c)) * normal;
  if (std::abs(s) > 0.5) move = move + ((a - b) / (2.0 * s)) * across;
  return move;
}

/// Where a receded first segment, as it lay before, leads over the tip to if the tip has come past its other end: no farther than that end.
Vector held_back(Vector to, Vector along, Vector next) {
  const Vector direction = unit(along);
  const double past      = dot(to - next, direction);
  return past > 0.0 ? to - past * direction : to;
}

/// Takes away the first `count` points and puts a tip there; a point that nearly coincides with it goes too.
void begin_at(Flank& f, std::size_t count, Vector tip, double finest_um) {
  while (count + 1 < f.size() && length(point(f, count) - tip) < 0.1 * finest_um) ++count;
  f.x.erase(f.x.begin(), f.x.begin() + static_cast<std::ptrdiff_t>(count - 1));
  f.y.erase(f.y.begin(), f.y.begin() + static_cast<std::ptrdiff_t>(count - 1));
  f.x.front() = tip.x;
  f.y.front() = tip.y;
}

/// Takes away what lies above the point where the two halves of a symmetric edge have met, if they have.
bool break_off_symmetric(Flank& f, double finest_um) {
  std::size_t last = 0;
  for (std::size_t i = 1; i < f.size(); ++i)
    if (f.x[i] <= 0.0) last = i;
  if (last == 0) return false;
  if (last + 1 == f.size()) throw std::runtime_error("nothing is left of the edge");
  const double share = f.x[last] / (f.x[last] - f.x[last + 1]);
  begin_at(f, last + 1, {0.0, f.y[last] + share * (f.y[last + 1] - f.y[last])}, finest_um);
  return true;
}

/// The same of two faces that differ.
bool break_off(Flank& bevel, Flank& back, double finest_um) {
  // width of the blade where a point of one face is, the other face between its points by straight lines; not above the second of them
  struct Width {
    double y, width;
  };
  std::vector<Width> widths;
  const auto         look = [&](const Flank& f, const Flank& facing) {
    for (std::size_t i = 1; i < f.size() && f.y[i] <= facing.y.back(); ++i)
      if (f.y[i] >= facing.y[1]) widths.push_back({f.y[i], f.x[i] + on_lines(facing.y, facing.x, f.y[i])});
  };
  look(bevel, back);
  look(back, bevel);
  std::sort(widths.begin(), widths.end(), [](const Width& a, const Width& b) { return a.y < b.y; });
  const auto open =
      std::find_if(widths.rbegin(), widths.rend(), [](const Width& w) { return w.width <= 0.0; });
  if (open == widths.rend()) return false;
  if (open == widths.rbegin()) throw std::runtime_error("nothing is left of the edge");
  const Width  met = *open, next = *std::prev(open);
  const double y    = met.y + (next.y - met.y) * met.width / (met.width - next.width);
  const double x    = 0.5 * (on_lines(bevel.y, bevel.x, y) - on_lines(back.y, back.x, y));
  const auto   keep = [&](Flank& f, Vector tip) {
    const auto below =
        static_cast<std::size_t>(std::upper_bound(f.y.begin() + 1, f.y.end(), y) - f.y.begin());
    begin_at(f, std::min(below, f.size() - 1), tip, finest_um);
  };
  keep(bevel, {x, y});
  keep(back, {-x, y});
  return true;
}

/// Both faces as one line from the far end of the first over the tip to that of the second, in the frame of the first.
Flank joined(const Flank& first, const Flank& second) {
  Flank line;
  for (std::size_t i = first.size(); i-- > 0;) append(line, point(first, i));
  for (std::size_t i = 1; i < second.size(); ++i) append(line, mirrored(point(second, i)));
  return line;
}

/// Parts such a line at its lowest point, the tip.
std::pair<Flank, Flank> parted(const Flank& line) {
  const auto tip = static_cast<std::size_t>(std::min_element(line.y.begin(), line.y.end()) - line.y.begin());
  std::pair<Flank, Flank> faces;
  for (std::size_t i = tip + 1; i-- > 0;) append(faces.first, point(line, i));
  for (std::size_t i = tip; i < line.size(); ++i) append(faces.second, mirrored(point(line, i)));
  return faces;
}

/// A plane in the frame of a face: what lies above `height` along `normal` goes.
struct Plane {
  Vector normal;
  double height;

  [[nodiscard]] double above(Vector p) const { return dot(p, normal) - height; }
};

Plane plane_through_highest(const Flank& line, double angle, double depth_um) {
  Plane plane{{std::cos(angle), -std::sin(angle)}, -std::numeric_limits<double>::infinity()};
  for (std::size_t i = 0; i < line.size(); ++i)
    plane.height = std::max(plane.height, dot(point(line, i), plane.normal));
  plane.height -= depth_um;
  return plane;
}

struct Cut {
  Flank  line;
  Vector behind;  ///< where the plane leaves the face, far from the tip
  bool   any = false;
};

/// The line without what lies above the plane; it begins at the far end of the face that is cut.
Cut cut_by(const Flank& line, const Plane& plane) {
  Cut        cut{{}, {0.0, 0.0}};
  const auto leave = [&](Vector p) {
    if (!cut.any) cut.behind = p;
    cut.any = true;
    append(cut.line, p);
  };
  double past = plane.above(point(line, 0));
  if (past > 0.0)
    leave(point(line, 0) - past * plane.normal);
  else
    append(cut.line, point(line, 0));
  for (std::size_t i = 1; i < line.size(); ++i) {
    const Vector here  = point(line, i);
    const double above = plane.above(here);
    if ((above > 0.0) != (past > 0.0))
      leave(point(line, i - 1) + past / (past - above) * (here - point(line, i - 1)));
    if (above <= 0.0) append(cut.line, here);
    past = above;
  }
  return cut;
}

/// The line as it is in the frame of the other face.
Flank turned_over(const Flank& line) {
  Flank turned;
  for (std::size_t i = line.size(); i-- > 0;) append(turned, mirrored(point(line, i)));
  return turned;
}

/// Slope against the bisector, rad, of the segments of a face, at the distance `along_um` from the tip.
double slope_at(const Flank& f, double along_um) {
  const std::vector<double> s = lengths(f);
  std::vector<double>       middle, angle;
  for (std::size_t i = 1; i < f.size(); ++i) {
    middle.push_back(0.5 * (s[i - 1] + s[i]));
    angle.push_back(std::atan2(f.x[i] - f.x[i - 1], f.y[i] - f.y[i - 1]));
  }
  return on_lines(middle, angle, along_um);
}

/// Length over which a face turns by 45° from the tip on.
double length_of_turn(const Flank& f) {
  constexpr double wanted = 0.25 * laws::pi;
  double           s = 0.0, at = 0.0,
         turn = 0.0;  // length to the point, and the middle and direction of the segment before
  for (std::size_t i = 1; i < f.size(); ++i) {
    const Vector along  = point(f, i) - point(f, i - 1);
    const double middle = s + 0.5 * length(along), now = std::max(turn, std::atan2(along.y, along.x));
    if (now > wanted) return at + (wanted - turn) / (now - turn) * (middle - at);
    s += length(along);
    at   = middle;
    turn = now;
  }
  return at;
}

/// How far outward a face lies at y; a monotone cubic between points, so that a curved face does not come out too thin.
double outward_at(const Flank& f, double y) {
  const auto above = static_cast<std::size_t>(std::upper_bound(f.y.begin(), f.y.end(), y) - f.y.begin());
  const auto from  = above < 3 ? std::size_t{0} : above - 3;
  const auto to    = std::min(f.size(), above + 3);
  if (to - from < 4 || above == 0 || above == f.size()) return on_lines(f.y, f.x, y);
  for (std::size_t i = from + 1; i < to; ++i)
    if (f.y[i] <= f.y[i - 1]) return on_lines(f.y, f.x, y);  // a tip as flat as this has no such curve
  const auto part = [&](const std::vector<double>& v) {
    return std::vector<double>(v.begin() + static_cast<std::ptrdiff_t>(from),
                               v.begin() + static_cast<std::ptrdiff_t>(to));
  };
  return boost::math::interpolators::pchip<std::vector<double>>(part(f.y), part(f.x))(y);
}

/// ∫ x dy of a face from the tip down to y.
double section_of(const Flank& f, double down_to) {
  double sum = 0.0;
  for (std::size_t i = 1; i < f.size(); ++i) {
    const Vector a    = point(f, i - 1);
    Vector       b    = point(f, i);
    const bool   last = b.y >= down_to;
    if (last) b = a + (down_to - a.y) / (b.y - a.y) * (b - a);
    sum += 0.5 * (a.x + b.x) * (b.y - a.y);
    if (last) break;
  }
  return sum;
}

struct Nearest {
  Vector      point;
  double      distance;
  std::size_t segment;  ///< from this point of the face to the next
};

Nearest nearest_on(const Flank& f, Vector to) {
  Nearest found{point(f, 0), std::numeric_limits<double>::infinity(), 0};
  for (std::size_t i = 0; i + 1 < f.size(); ++i) {
    const Vector from = point(f, i), along = point(f, i + 1) - from;
    const double share    = std::clamp(dot(to - from, along) / dot(along, along), 0.0, 1.0);
    const Vector here     = from + share * along;
    const double distance = length(to - here);
    if (distance < found.distance) found = {here, distance, i};
  }
  return found;
}

/// A disc between two faces that touches each once; in the frame of the first.
struct Disc {
  Vector  centre;
  double  radius;
  Nearest first, second;  ///< where it touches, each in the frame of its face
};

/// The disc of this radius that lies nearest to the tip. Distances to straight faces are linear, so that Newton's steps end soon.
std::optional<Disc> disc_between(const Flank& first, const Flank& second, double radius, double sin_half) {
  Vector        centre     = point(first, 0) + Vector{0.0, radius / sin_half};
  constexpr int most_steps = 60;
  for (int step = 0; step < most_steps; ++step) {
    const Disc   disc{centre, radius, nearest_on(first, centre), nearest_on(second, mirrored(centre))};
    const double a = radius - disc.first.distance, b = radius - disc.second.distance;
    if (std::max(std::abs(a), std::abs(b)) < 1e-9 * radius) return disc;
    if (!(std::min(disc.first.distance, disc.second.distance) > 0.0)) return std::nullopt;
    const Vector m = unit(centre - disc.first.point), n = unit(centre - mirrored(disc.second.point));
    const double cross = m.x * n.y - m.y * n.x;
    if (std::abs(cross) < 1e-3) return std::nullopt;
    centre = centre + Vector{(a * n.y - b * m.y) / cross, (b * m.x - a * n.x) / cross};
  }
  return std::nullopt;
}

/// A face that begins at the lowest point of a disc and follows it to where they touch; empty where the disc touches it beyond that point.
Flank around(const Flank& f, Vector centre, double radius, const Nearest& touch, double finest_um) {
  Flank        face;
  const double turn = std::atan2(touch.point.x - centre.x, centre.y - touch.point.y);
  if (!(turn > 0.0)) return face;
  constexpr int pieces = 12;
  for (int i = 0; i <= pieces; ++i) {
    const double angle = turn * i / pieces;
    append(face, centre + radius * Vector{std::sin(angle), -std::cos(angle)});
  }
  std::size_t next = touch.segment + 1;
  while (next + 1 < f.size() && length(point(f, next) - touch.point) < 0.1 * finest_um) ++next;
  for (; next < f.size(); ++next) append(face, point(f, next));
  return face;
}

Flank fresh_flank(double half_angle, double r, const Face& face, const std::vector<double>& distances) {
  const double arc   = r * (0.5 * laws::pi - half_angle);
  const double land  = face.land_um - r / std::tan(half_angle);
  const double lower = half_angle - face.step_angle;
  const double whole = arc + land + face.behind_um;
  Flank        f;
  for (double s : fitting(distances, whole)) {
    const double turned = r > 0.0 ? std::min(s, arc) / r : 0.0;
    const double on = std::clamp(s - arc, 0.0, land), behind = std::max(s - arc - land, 0.0);
    append(f, {r * std::sin(turned) + on * std::sin(half_angle) + behind * std::sin(lower),
               r * (1.0 / std::sin(half_angle) - std::cos(turned)) + on * std::cos(half_angle) +
                   behind * std::cos(lower)});
  }
  return f;
}

void check(double half_angle, double r, const Face& face, const Mesh& mesh) {
  require(half_angle > 0.0 && half_angle < 0.25 * laws::pi, "an included angle lies between 0 and 90°");
  require(r >= 0.0, "the radius of a tip is not negative");
  require(face.land_um > 2.0 * r / std::tan(half_angle), "a land is longer than the arc of the tip reaches");
  require(face.step_angle >= 0.0 && face.step_angle < half_angle,
          "the bevel behind a land is lower than it, by less than the half angle");
  require(face.behind_um >= 0.0, "the length behind a land is not negative");
  require(mesh.finest_um > 0.0 && mesh.finest_um < 0.1 * face.land_um, "the first point lies on the land");
  require(mesh.growth > 1.0 && mesh.widest_um > mesh.finest_um, "distances grow from the tip on");
  require(mesh.share_of_radius > 0.0 && mesh.share_of_spacing > 0.0, "a step takes something off");
}

}  // namespace

Outline Outline::fresh(double included_angle, double tip_radius_um, const Face& both, const Mesh& mesh) {
  Outline edge    = fresh(included_angle, tip_radius_um, both, both, mesh);
  edge.symmetric_ = true;
  return edge;
}

Outline Outline::fresh(double included_angle, double tip_radius_um, const Face& bevel, const Face& back,
                       const Mesh& mesh) {
  Outline edge(0.5 * included_angle, mesh);
  edge.symmetric_     = false;
  const Face* faces[] = {&bevel, &back};
  for (std::size_t k = 0; k < 2; ++k) {
    check(edge.half_angle_, tip_radius_um, *faces[k], mesh);
    edge.land_um_[k]   = faces[k]->land_um;
    edge.distances_[k] = graded(mesh, faces[k]->land_um, faces[k]->land_um + faces[k]->behind_um);
    edge.flanks_[k]    = fresh_flank(edge.half_angle_, tip_radius_um, *faces[k], edge.distances_[k]);
  }
  return edge;
}

double Outline::equivalent_radius_um(double behind_um) const {
  const double y    = tip_setback_um() + behind_um;
  const double half = 0.5 * (outward_at(flank(Side::bevel), y) + outward_at(flank(Side::back), y));
  return (half / std::tan(half_angle_) - behind_um) / (1.0 / std::sin(half_angle_) - 1.0);
}

double Outline::tip_radius_um() const {
  return (length_of_turn(flank(Side::bevel)) + length_of_turn(flank(Side::back))) / (0.5 * laws::pi);
}

double Outline::extra_angle(double along_um) const {
  return slope_at(flank(Side::bevel), along_um) + slope_at(flank(Side::back), along_um) - 2.0 * half_angle_;
}

double Outline::depth_to_flat_um(Side side) const {
  const Flank& f       = flank(side);
  const Plane  through = plane_through_highest(f, half_angle_, 0.0);
  return -through.above(point(f, 0));
}

double Outline::section_um2(double down_to_um) const {
  return section_of(flank(Side::bevel), down_to_um) + section_of(flank(Side::back), down_to_um);
}

void Outline::recede(const Recession& both) {
  if (!symmetric_) return recede(both, both);
  Flank&       f   = flanks_[0];
  const Vector tip = point(f, 0), along = point(f, 1) - tip;
  const double a = taken(both, 0);
  recede_behind_tip(f, both);
  if (!break_off_symmetric(f, mesh_.finest_um)) {
    const Vector to = tip - tip_recession(along, a, mirrored(along), a);
    begin_at(f, 1, {0.0, held_back(to, along, point(f, 1)).y}, mesh_.finest_um);
  }
  put_in_place(f, distances_[0], Between::curved);
}

void Outline::recede(const Recession& bevel, const Recession& back) {
  separate();
  Flank &      a = flanks_[0], &b = flanks_[1];
  const Vector tip = point(a, 0), along_a = point(a, 1) - tip, along_b = point(b, 1) - mirrored(tip);
  recede_behind_tip(a, bevel);
  recede_behind_tip(b, back);
  if (!break_off(a, b, mesh_.finest_um)) {
    Vector to = tip - tip_recession(along_a, taken(bevel, 0), mirrored(along_b), taken(back, 0));
    to        = held_back(to, along_a, point(a, 1));
    to        = mirrored(held_back(mirrored(to), along_b, point(b, 1)));
    begin_at(a, 1, to, mesh_.finest_um);
    begin_at(b, 1, mirrored(to), mesh_.finest_um);
  }
  std::tie(a, b) = parted(joined(a, b));
  put_in_place(a, distances_[0], Between::curved);
  put_in_place(b, distances_[1], Between::curved);
}

void Outline::sink(const std::vector<double>& bevel, const std::vector<double>& back) {
  const auto lower = [](Flank& f, const std::vector<double>& by) {
    for (std::size_t i = 1; i < std::min(f.size(), by.size()); ++i) f.y[i] += by[i];
  };
  const double tip = 0.5 * (taken(bevel, 0) + taken(back, 0));
  lower(flanks_[0], bevel);
  flanks_[0].y[0] += tip;
  if (!symmetric_) {
    lower(flanks_[1], back);
    flanks_[1].y[0] += tip;
    std::tie(flanks_[0], flanks_[1]) = parted(joined(flanks_[0], flanks_[1]));
    put_in_place(flanks_[1], distances_[1], Between::curved);
  }
  put_in_place(flanks_[0], distances_[0], Between::curved);
}

void Outline::cut(Side side, double steeper, double depth_um) {
  require(depth_um >= 0.0, "a cut goes into the steel");
  separate();
  const Flank line = joined(flank(side), flank(other(side)));
  const Cut   cut  = cut_by(line, plane_through_highest(line, half_angle_ + steeper, depth_um));
  if (!cut.any) return;
  auto [near, far]     = parted(cut.line);
  const double land_um = length(cut.behind - point(near, 0));
  take(side, std::move(near), land_um);
  take(other(side), std::move(far), 0.0);
}

void Outline::cut_both(double steeper, double depth_um) {
  require(depth_um >= 0.0, "a cut goes into the steel");
  const Flank  line = joined(flank(Side::bevel), flank(Side::back)), turned = turned_over(line);
  const double angle  = half_angle_ + steeper;
  const Cut    first  = cut_by(line, plane_through_highest(line, angle, depth_um));
  const Cut    second = cut_by(turned_over(first.line), plane_through_highest(turned, angle, depth_um));
  if (!first.any && !second.any) return;
  auto [back, bevel] = parted(second.line);
  if (symmetric_) bevel.x[0] = 0.0;
  const double of_bevel = length(first.behind - point(bevel, 0)),
               of_back  = length(second.behind - point(back, 0));
  take(Side::bevel, std::move(bevel), of_bevel);
  if (!symmetric_) take(Side::back, std::move(back), of_back);
}

bool Outline::round_tip(double radius_um) {
  require(radius_um > 0.0, "the radius of an arc is above 0");
  if (tip_radius_um() >= radius_um) return false;
  const Flank &first = flank(Side::bevel), &second = flank(Side::back);
  const auto   disc = disc_between(first, second, radius_um, std::sin(half_angle_));
  if (!disc) return false;
  Flank bevel = around(first, disc->centre, radius_um, disc->first, mesh_.finest_um);
  Flank back  = around(second, mirrored(disc->centre), radius_um, disc->second, mesh_.finest_um);
  if (bevel.size() == 0 || back.size() == 0) return false;
  if (symmetric_) {
    bevel.x[0] = 0.0;
  } else {
    flanks_[1] = std::move(back);
    put_in_place(flanks_[1], distances_[1], Between::curved);
  }
  flanks_[0] = std::move(bevel);
  put_in_place(flanks_[0], distances_[0], Between::curved);
  return true;
}

void Outline::take(Side side, Flank flank, double land_um) {
  const std::size_t k = stored(side);
  land_um_[k]         = std::max(land_um_[k], land_um);
  distances_[k]       = graded(mesh_, land_um_[k], lengths(flank).back());
  put_in_place(flank, distances_[k], Between::straight);
  flanks_[k] = std::move(flank);
}

void Outline::separate() {
  if (!symmetric_) return;
  flanks_[1]    = flanks_[0];
  distances_[1] = distances_[0];
  land_um_[1]   = land_um_[0];
  symmetric_    = false;
}

}  // namespace arris::outline
