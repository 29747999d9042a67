// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>
#include <vector>

#include "sim/history/stages.hpp"
#include "sim/integrate/stepper.hpp"
#include "sim/laws/wear/shared_load.hpp"
#include "validation/closures/row.hpp"

/// The reduced law of stropping on the histories of cases.csv, and how far it is from the outline there.
///
///     e = ½·ln( (x² + f²)/(x_o² + f²) ),   x = r + D at ½, 1 and 2 µm, or h;  x_o the same of the outline, 0 where it is below
///
/// f is 0.015 µm (0.05 µm on pads below 5 MPa) for radii and 0.1 µm for h. The outline has no carbides and no scratches: an arc that they
/// leave is put on its tip where it is seen, and r∞ of the law is that, 2 nm where there is none. Wood wears by the shared load, with the loads that the outline has. In wood h is not compared: that of the outline has
/// the arc of the tip in it.
namespace arris::closures {

template <class T>
struct Shape {
  std::array<T, 3> radius_um{};  ///< r + D, met at `met_um`
  T                depth_um{};   ///< h
};

namespace detail {

inline constexpr double no_scratch_um = 1e-9;

template <class T, class Constants>
[[nodiscard]] StropStage<T, Constants> stage_of(const Row& row, double behind_um, const EdgeState<T>& before,
                                                const Constants& fitted) {
  StropStage<T, Constants> f{};
  f.contact =
      laws::press_pad(T(row.force_N_per_m), T(1.0), T(1e6 * row.modulus_MPa), T(1e-6 * row.thickness_um),
                      T(1e-6 * row.land_um), T(row.step_angle_deg * laws::degree));
  f.pad = laws::press_edge<T, Constants>(
      {T(row.force_N_per_m), T(row.modulus_MPa), T(row.thickness_um), T(row.land_um),
       T(1e6 * f.contact.contact_m), T(1e-6 * f.contact.pressure_Pa)},
      {T(row.held_deg * laws::degree), T(row.scatter_deg * laws::degree)}, fitted);
  f.floor            = {T(0.0), T(0.0), T(row.floor_um), T(2.0)};
  f.per_MPa          = T(row.removal_um_per_MPa);
  f.removal_um       = f.per_MPa * 1e-6 * f.contact.pressure_Pa;
  f.own_scratch_um   = T(no_scratch_um);
  f.half_angle       = T(0.5 * row.included_deg * laws::degree);
  f.fall_per_removal = laws::radius_rate(T(0.0), T(1.0), T(std::sin(0.5 * row.included_deg * laws::degree)));
  f.behind_um        = T(behind_um);
  f.beside           = before.beside;
  f.dub_share = f.depth_share = T(1.0);
  arris::detail::meet_dub(f, before);
  return f;
}

// A/2r + B of an arc that the loads of the outline act on.
template <class T, class Constants>
[[nodiscard]] CutStage<T, laws::SharedLoad<T>> wood_of(const Row& row, double behind_um,
                                                       const EdgeState<T>& before, const Constants& fitted) {
  const double                     alpha = 0.5 * row.included_deg * laws::degree, s = std::sin(alpha);
  const double                     per_tip = maple.wear_um_per_MPa_m * s / (1.0 - s);
  const double                     width   = (0.5 * laws::pi - alpha - s * std::cos(alpha)) / (1.0 - s);
  CutStage<T, laws::SharedLoad<T>> f{};
  f.wear     = {T(2.0 * per_tip * maple.parting_N_per_m / width), T(per_tip * maple.crushing_MPa)};
  f.collapse = {T(0.0), T(1.0)};
  f.pass_m   = 1.0;
  f.borne_um = laws::borne_by_dub_um<T, Constants>(before.dub_um, T(behind_um), T(s), fitted);
  return f;
}

// Edges at each row as a tester would meet them `behind_um` behind the tip.
template <class T, class Constants>
[[nodiscard]] std::vector<EdgeState<T>> edges_of(const Case& rows, double behind_um,
                                                 const Constants& fitted) {
  std::vector<EdgeState<T>> out;
  EdgeState<T>              edge;
  edge.apex_radius_um = T(rows.front().start_radius_um);
  edge.scratch_um     = T(no_scratch_um);
  edge.beside = laws::beside_arc(T(behind_um), T(std::sin(0.5 * rows.front().included_deg * laws::degree)));
  for (std::size_t first = 0; first < rows.size(); first = out.size()) {
    const Row&          row = rows[first];
    std::vector<double> counts;
    for (std::size_t i = first; i < rows.size() && rows[i].step == row.step; ++i)
      counts.push_back(row.in_wood() ? rows[i].path_m : rows[i].laps);
    const auto follow = [&](const auto& stage) {
      const auto see = [&](double n, const auto& y) { out.push_back(stage.finish(edge, y, T(n))); };
      const auto end =
          integrate_stage(stage, stage.start(edge), counts.back(), counts, see, Events<>{}, Tolerances{});
      if (end.status != StageStatus::done) throw std::runtime_error(row.name + " cannot be integrated");
    };
    if (row.in_wood())
      follow(wood_of(row, behind_um, edge, fitted));
    else
      follow(stage_of(row, behind_um, edge, fitted));
    edge = out.back();
  }
  return out;
}

}  // namespace detail

/// What the law says of each row. Throws std::runtime_error where a step cannot be integrated.
template <class T, class Constants>
[[nodiscard]] std::vector<Shape<T>> shapes_of(const Case& rows, const Constants& fitted) {
  std::vector<Shape<T>> out(rows.size());
  for (std::size_t y = 0; y < met_um.size(); ++y) {
    const auto edges = detail::edges_of<T>(rows, met_um[y], fitted);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      out[i].radius_um[y] = edges[i].met_radius_um();
      out[i].depth_um     = edges[i].dub_depth_um;
    }
  }
  return out;
}

/// e at ½, 1 and 2 µm, and of h.
template <class T>
[[nodiscard]] std::array<T, 4> errors_of(const Row& row, const Shape<T>& shape) {
  using std::log;
  const double floor = row.modulus_MPa < 5.0 ? 0.05 : 0.015;
  const auto   error = [](const T& law, double outline, double least) {
    outline = std::max(outline, 0.0);
    return T(0.5 * log((law * law + least * least) / (outline * outline + least * least)));
  };
  return {error(shape.radius_um[0], row.radius_half_um, floor),
          error(shape.radius_um[1], row.radius_one_um, floor),
          error(shape.radius_um[2], row.radius_two_um, floor),
          row.in_wood() ? T(0.0) : error(shape.depth_um, row.depth_um, 0.1)};
}

}  // namespace arris::closures
