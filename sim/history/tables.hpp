// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/laws/calibrated.hpp"
#include "sim/laws/field.hpp"

/// The tables of a configuration that are not materials: tool, tester, scatter, coefficients, numerics, output.
namespace arris {

/// `[tool.NAME]`: a blade, and the state in which its history begins.
template <class T>
struct Tool {
  std::string name;
  std::string kind;
  std::string steel;
  T           hardness_hrc      = T(not_given);
  T           width_mm          = T(not_given);
  T           thickness_mm      = T(not_given);
  T           primary_bevel_deg = T(not_given);
  T           micro_bevel_deg   = T(not_given);
  T           back_bevel_deg    = T(0.0);
  T           back_contact_mm   = T(20.0);
  T           bevel_contact_mm  = T(1.0);
  int         honed_sides       = 1;
  T           apex_radius_um    = T(4.0);
  T           scratch_um        = T(0.5);
  T           burr_um           = T(0.0);
  T           land_mm           = T(0.5);
  T           chip_um           = T(0.0);
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("kind").optional().says("plane iron, chisel, knife, in your own words"), s.kind...);
    v(field("steel").says("steel by its AISI grade or your own name"), s.steel...);
    v(field("hardness_hrc").between(40, 68).optional().says("Rockwell C hardness of this blade, if not the steel's"),
      s.hardness_hrc...);
    v(field("width_mm").between(0.5, 500).says("width of the edge"), s.width_mm...);
    v(field("thickness_mm").between(0.2, 25).says("thickness of the blade behind the bevel"), s.thickness_mm...);
    v(field("primary_bevel_deg").between(5, 80).says("primary (ground) bevel; of a knife, both sides together"),
      s.primary_bevel_deg...);
    v(field("micro_bevel_deg").between(5, 85).derived().rests_on("the primary bevel")
          .says("honed bevel; equal to the primary when the whole bevel is honed"), s.micro_bevel_deg...);
    v(field("back_bevel_deg").between(0, 40).says("bevel honed on the back; 0 for a flat back"), s.back_bevel_deg...);
    v(field("back_contact_mm").between(0.1, 200).estimate().says("length of a flat back that lies on the stone"),
      s.back_contact_mm...);
    v(field("bevel_contact_mm").between(0.05, 100).estimate()
          .says("length over which a whole bevel lies on stone or pad: a hollow grind, or a bevel that is never quite flat, touches over less than all of it"),
      s.bevel_contact_mm...);
    v(field("honed_sides").between(1, 2).says("1 for irons and chisels, 2 for knives, honed in turn"),
      s.honed_sides...);
    v(field("apex_radius_um").between(0.02, 200).estimate().prior(2).says("apex radius at the start"),
      s.apex_radius_um...);
    v(field("scratch_um").between(0.001, 50).estimate().says("depth of scratches on the bevel at the start"),
      s.scratch_um...);
    v(field("burr_um").between(0, 500).estimate().says("burr at the start"), s.burr_um...);
    v(field("land_mm").between(0.001, 100).estimate().says("micro-bevel land at the start"), s.land_mm...);
    v(field("chip_um").between(0, 2000).estimate().says("depth of chips or nicks in the edge at the start"), s.chip_um...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[tester]`
template <class T>
struct Tester {
  std::string filament            = "nylon 0.25 mm";
  T           cut_resistance_N    = T(not_given);
  T           slope_N_per_um      = T(not_given);
  T           saturation_N        = T(not_given);
  T           contact_distance_um = T(calibrated::contact_distance_um);
  T           burr_share          = T(0.3);
  T           wedge_share         = T(0.05);

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("filament").says("filament in the tester"), s.filament...);
    v(field("cut_resistance_N").between(0.01, 20).derived().rests_on("the filament").prior(1.5)
          .says("force a perfect edge still needs"), s.cut_resistance_N...);
    v(field("slope_N_per_um").between(0.05, 100).derived().rests_on("the filament").prior(2)
          .says("force per apex radius"), s.slope_N_per_um...);
    v(field("saturation_N").between(0.1, 500).derived().rests_on("shear strength and diameter of the filament")
          .prior(1.5).says("force at which a blunt bar parts the filament"), s.saturation_N...);
    v(field("contact_distance_um").between(0.05, 5).calibrated().prior(1.5)
          .says("distance behind the tip at which the filament meets the edge, y"), s.contact_distance_um...);
    v(field("burr_share").between(0, 1).estimate().says("how much of the burr counts as radius"), s.burr_share...);
    v(field("wedge_share").between(0, 0.5).estimate().says("effect of the wedge angle on the cut resistance"),
      s.wedge_share...);
    // clang-format on
  }
};

/// `[scatter]`: how readings of the same thing differ, as coefficients of variation.
template <class T>
struct Scatter {
  T reading_cv  = T(0.10);
  T edge_cv     = T(0.10);
  T operator_cv = T(0.03);
  T lot_cv      = T(0.03);
  T rate_cv     = T(0.0);
  T day_cv      = T(0.0);
  T way_cv      = T(0.0);
  T way_wear_cv = T(0.0);
  T wood_cv     = T(0.0);

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("reading_cv").between(0, 1).estimate().says("repeated readings of one edge"), s.reading_cv...);
    v(field("edge_cv").between(0, 1).estimate().says("apex radius from edge to edge of the same history"),
      s.edge_cv...);
    v(field("operator_cv").between(0, 1).estimate().says("from operator to operator"), s.operator_cv...);
    v(field("lot_cv").between(0, 1).estimate().says("from filament lot to filament lot"), s.lot_cv...);
    v(field("rate_cv").between(0, 1).estimate().says("growth of the apex in wood from edge to edge of the same history; a fit finds it"),
      s.rate_cv...);
    v(field("day_cv").between(0, 1).estimate().says("from one test day to the next; a fit finds it"), s.day_cv...);
    v(field("way_cv").between(0, 1).estimate().says("apex radius from one way of sharpening to the next, beside what the model says of each; a fit finds it"), s.way_cv...);
    v(field("way_wear_cv").between(0, 1).estimate().says("growth of the apex in wood from one way of sharpening to the next, beside what the model says of each; a fit finds it"), s.way_wear_cv...);
    v(field("wood_cv").between(0, 1).estimate().says("growth of the apex from one wood to the next, beside what the model says of each; a fit finds it"), s.wood_cv...);
    // clang-format on
  }
};

/// `[coefficients]`: the numbers of the laws that belong to no material (physics of each: sim/laws).
template <class T>
struct Coefficients {
  T abrasion                  = T(calibrated::abrasion);
  T critical_size_um          = T(100.0);
  T size_exponent             = T(calibrated::size_exponent);
  T active_grit_load_exponent = T(1.0);
  T radius_per_scratch        = T(calibrated::radius_per_scratch);
  T carbide_share             = T(calibrated::carbide_share);
  T floor_radius_um           = T(0.02);
  T floor_exponent            = T(2.0);
  T burr_growth               = T(0.7);
  T burr_limit_um             = T(calibrated::burr_limit_um);
  T burr_limit_exponent       = T(0.2);
  T burr_limit_alternating    = T(0.3);
  T burr_loss_one_sided       = T(calibrated::burr_loss_one_sided);
  T burr_loss_back            = T(calibrated::burr_loss_back);
  T burr_loss_strop           = T(calibrated::burr_loss_strop);
  T burr_break_off_m          = T(calibrated::burr_break_off_m);
  T dub_share                 = T(1.0);
  T dub_depth_share           = T(1.0);
  T chip_load_N_per_m         = T(270.0);
  T chip_least_um             = T(3.0);
  T chip_length_m             = T(60.0);
  T nicks_um_per_km           = T(1.5);
  T wood_hardness_exponent    = T(1.6);
  T silica_per_pct            = T(7.0);
  T collapse_load_N_per_m     = T(calibrated::collapse_load_N_per_m);
  T collapse_length_m         = T(calibrated::collapse_length_m);

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("abrasion").between(0.001, 1).calibrated().prior(2.5)
          .says("abrasive wear coefficient K∞ of coarse, fixed, fresh grit"), s.abrasion...);
    v(field("critical_size_um").between(10, 500).rests_on("from memory").prior(1.4)
          .says("grit size below which the wear coefficient falls"), s.critical_size_um...);
    v(field("size_exponent").between(0.2, 3).calibrated().prior(1.3).says("how fast it falls with the grit"),
      s.size_exponent...);
    v(field("active_grit_load_exponent").between(0, 1).rests_on("from memory")
          .says("how the number of cutting grits grows with pressure"), s.active_grit_load_exponent...);
    v(field("radius_per_scratch").between(0.1, 40).calibrated().prior(2).says("apex radius per depth of scratch, c_s"),
      s.radius_per_scratch...);
    v(field("carbide_share").between(0, 1).calibrated().prior(2).says("apex radius over carbide size, of carbides of 1 µm; it grows with the cube root of the size"),
      s.carbide_share...);
    v(field("floor_radius_um").between(0.02, 1).rests_on("verified, US 9,808,944").prior(1.5)
          .says("smallest apex radius that honing leaves"), s.floor_radius_um...);
    v(field("floor_exponent").between(1, 3).estimate().says("sharpness of the approach to that radius, m"),
      s.floor_exponent...);
    v(field("burr_growth").between(0, 1).estimate().prior(1.5).says("share of the removed steel that bends over"),
      s.burr_growth...);
    v(field("burr_limit_um").between(0.2, 100).calibrated().prior(2)
          .says("length of burr that a foil can stand, where scratches are 0.1 µm deep, b₁"), s.burr_limit_um...);
    v(field("burr_limit_exponent").between(0, 1).estimate()
          .says("how that length grows with the scratches of the medium"), s.burr_limit_exponent...);
    v(field("burr_limit_alternating").between(0.01, 1).estimate().prior(2)
          .says("share of that length that stands when both sides are honed in turn"), s.burr_limit_alternating...);
    v(field("burr_loss_one_sided").between(0, 1).calibrated().prior(2.5)
          .says("share lost per stroke of what stands beyond that length"), s.burr_loss_one_sided...);
    v(field("burr_loss_back").between(0, 1).calibrated().prior(2.5).says("share of the burr lost per stroke on the back"),
      s.burr_loss_back...);
    v(field("burr_loss_strop").between(0, 1).calibrated().prior(2.5).says("share of the burr lost per lap"),
      s.burr_loss_strop...);
    v(field("burr_break_off_m").between(0.01, 1000).calibrated().prior(2.5)
          .says("path in wood over which the burr breaks off"), s.burr_break_off_m...);
    v(field("dub_share").between(0, 10).rests_on("computed: sim/outline, error in configs/closures").prior(1.17)
          .says("what a strop's dub adds to the radius, over what the outline of the edge gives; the prior is how far the two part"),
      s.dub_share...);
    v(field("dub_depth_share").between(0.01, 10).rests_on("computed: sim/outline, error in configs/closures").prior(1.17)
          .says("depth to flat of a stropped bevel, over what the outline of the edge gives"), s.dub_depth_share...);
    v(field("chip_load_N_per_m").between(0, 5000).estimate().prior(1.3)
          .says("load per length of edge, in sugar maple, that breaks pieces out of a thin apex; 0 switches chips off"),
      s.chip_load_N_per_m...);
    v(field("chip_least_um").between(0.1, 100).estimate().says("depth below which nothing breaks out"),
      s.chip_least_um...);
    v(field("chip_length_m").between(0.1, 10000).estimate().prior(2.5)
          .says("path in wood over which chips come"), s.chip_length_m...);
    v(field("nicks_um_per_km").between(0, 1000).estimate().prior(2.5)
          .says("depth that nicks grow by in sugar maple at any angle: knots, grit, knocks"), s.nicks_um_per_km...);
    v(field("wood_hardness_exponent").between(0, 4).estimate().prior(1.3).says("how wear grows with side hardness"),
      s.wood_hardness_exponent...);
    v(field("silica_per_pct").between(0, 50).estimate().prior(2).says("wear added per per cent of silica"),
      s.silica_per_pct...);
    v(field("collapse_load_N_per_m").between(0, 5000).calibrated().prior(1.8)
          .says("load per length of edge that bends a thin tip; 0 switches collapse off"), s.collapse_load_N_per_m...);
    v(field("collapse_length_m").between(0.01, 1000).calibrated().prior(2.5)
          .says("path over which a tip that is too thin gives way"), s.collapse_length_m...);
    // clang-format on
  }
};

/// `[numerics]`
struct Numerics {
  double      relative_tolerance = 1e-6;
  int         max_steps          = 100000;
  std::string fidelity           = "reduced";  ///< or "outline"

  [[nodiscard]] bool follows_outline() const { return fidelity == "outline"; }

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("relative_tolerance").between(1e-12, 1e-2).says("error allowed at each step of the integration"),
      s.relative_tolerance...);
    v(field("max_steps").between(10, 1e8).says("steps after which an integration gives up"), s.max_steps...);
    v(field("fidelity").says("what a simulation reads: reduced (the laws alone) or outline (the edge's outline, followed step by step beside them)"),
      s.fidelity...);
    // clang-format on
  }
};

/// `[output]`
struct Output {
  int    points_per_step  = 24;
  double reading_limit_gf = not_given;
  double wear_limit_um    = not_given;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("points_per_step").between(1, 10000).says("points of the curve recorded in each step"),
      s.points_per_step...);
    v(field("reading_limit_gf").between(1, 1e5).optional()
          .says("reading above which the edge counts as dull; passes to it are reported"), s.reading_limit_gf...);
    v(field("wear_limit_um").between(1e-3, 1e7).optional()
          .says("wear at which the life of a specimen ends; the way to it is reported"), s.wear_limit_um...);
    // clang-format on
  }
};

}  // namespace arris
