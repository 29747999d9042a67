// SPDX-License-Identifier: MIT
#include "sim/simulate/reading_points.hpp"

#include <cmath>

namespace arris {
namespace {

// The point of a curve at a moment: between two recorded points counts and path go on straight, and so do the rest to within
// how closely a curve is recorded.
TrackPoint at_moment(const std::vector<TrackPoint>& track, const Moment& moment) {
  const TrackPoint* before = nullptr;
  const TrackPoint* after  = nullptr;
  for (const TrackPoint& p : track) {
    const bool reached = p.step < moment.step ||
                         (p.step == moment.step && (std::isnan(moment.count) || p.count <= moment.count));
    if (reached) {
      before = &p;
    } else if (after == nullptr) {
      after = &p;
    }
  }
  if (before == nullptr) {
    TrackPoint none;
    none.strokes = none.passes = none.reading_N = not_given;
    return none;
  }
  TrackPoint point = *before;
  if (after != nullptr && after->step == before->step && !std::isnan(moment.count) &&
      before->step == moment.step && after->count > before->count) {
    const double share = (moment.count - before->count) / (after->count - before->count);
    const auto   mix   = [&](double TrackPoint::*member) {
      point.*member = before->*member + share * (after->*member - before->*member);
    };
    mix(&TrackPoint::count);
    mix(&TrackPoint::strokes);
    mix(&TrackPoint::passes);
    mix(&TrackPoint::path_m);
    mix(&TrackPoint::reading_N);
    mix(&TrackPoint::apex_radius_um);
  }
  return point;
}

}  // namespace

std::vector<ReadingPoint> reading_points(const SimulationResult&     result,
                                         const std::vector<Reading>& readings) {
  std::vector<ReadingPoint> points;
  for (const Reading& r : readings) {
    if (std::isnan(r.reading_N)) continue;
    const EdgeResult& edge = result.edges[static_cast<std::size_t>(r.edge)];
    points.push_back({edge.name, &r, at_moment(edge.track, r.moment)});
  }
  return points;
}

}  // namespace arris
