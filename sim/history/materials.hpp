// SPDX-License-Identifier: MIT
#pragma once

#include <string>

#include "sim/laws/field.hpp"

/// The materials a history names: steels, abrasive media, backings, compounds, woods, filaments. One struct per
/// configuration table, over the number type T; what each number means, its range and on what its default rests is in
/// its `fields`. Sources of shipped values stand beside them in configs/materials.
namespace arris {

/// `[steel.NAME]`
template <class T>
struct Steel {
  std::string name;
  T           hardness_hrc       = T(not_given);
  T           hardness_GPa       = T(not_given);
  T           carbide_um         = T(0.8);
  T           wear_ratio         = T(1.0);
  T           youngs_modulus_GPa = T(207.0);
  T           carbide_pct        = T(not_given);
  std::string carbide_type;
  std::string composition;
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("hardness_hrc").between(40, 68).optional().says("Rockwell C hardness as hardened and tempered"),
      s.hardness_hrc...);
    v(field("hardness_GPa").between(3.5, 10).derived().prior(1.03)
          .rests_on("ASTM E140 from hardness_hrc").says("indentation hardness"), s.hardness_GPa...);
    v(field("carbide_um").between(0.01, 100).rests_on("from memory").prior(2)
          .says("typical size of the large carbides"), s.carbide_um...);
    v(field("wear_ratio").between(0.1, 3).estimate().prior(1.5)
          .says("wear in wood relative to O1 at the same hardness"), s.wear_ratio...);
    v(field("youngs_modulus_GPa").between(150, 250).rests_on("from memory").says("elastic modulus"),
      s.youngs_modulus_GPa...);
    v(field("carbide_pct").between(0, 40).optional().says("volume of undissolved carbide"), s.carbide_pct...);
    v(field("carbide_type").optional().says("kind of carbide"), s.carbide_type...);
    v(field("composition").optional().says("alloy content, per cent by mass"), s.composition...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[family.NAME]`: what media of one kind have in common, whatever their grit.
template <class T>
struct Family {
  std::string name;
  T           cutting_rate         = T(1.0);
  T           protrusion           = T(1.0);
  T           active_grit_fraction = T(0.01);
  T           grit_angle_deg       = T(15.0);
  T           loose_grit_divisor   = T(1.0);
  T           glaze_floor          = T(0.5);
  T           glaze_strokes        = T(200.0);
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("cutting_rate").between(0.01, 20).estimate().prior(2)
          .says("abrasive wear coefficient relative to coefficients.abrasion"), s.cutting_rate...);
    v(field("protrusion").between(0.3, 5).estimate().prior(1.5).says("factor on the depth of scratches"),
      s.protrusion...);
    v(field("active_grit_fraction").between(1e-3, 1).estimate().says("grits that cut, per grit size squared"),
      s.active_grit_fraction...);
    v(field("grit_angle_deg").between(5, 40).estimate().says("flank angle of a grit"), s.grit_angle_deg...);
    v(field("loose_grit_divisor").between(1, 20).estimate()
          .says("how many times less rolling slurry removes than fixed grit"), s.loose_grit_divisor...);
    v(field("glaze_floor").between(0.01, 1).estimate().says("share of the cut a loaded surface keeps"),
      s.glaze_floor...);
    v(field("glaze_strokes").between(1, 1e6).estimate().says("strokes over which the surface loads"),
      s.glaze_strokes...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[medium.NAME]`: a family at one grit; any number of the family may be given anew.
template <class T>
struct Medium : Family<T> {
  std::string family;
  std::string grit;
  T           size_um = T(not_given);

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("family").says("family of media it belongs to"), s.family...);
    v(field("grit").optional().says("grit with its standard, such as \"JIS #1000\" or \"P800\""), s.grit...);
    v(field("size_um").between(0.02, 3000).derived().rests_on("grit standard").prior(1.3).says("mean grit size"),
      s.size_um...);
    Family<T>::fields(v, s...);
    // clang-format on
  }
};

/// `[backing.NAME]`: what a strop or film lies on.
template <class T>
struct Backing {
  std::string name;
  T           modulus_MPa      = T(not_given);
  T           thickness_mm     = T(not_given);
  T           unevenness_um    = T(1.0);
  T           modulus_low_MPa  = T(not_given);
  T           modulus_high_MPa = T(not_given);
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("modulus_MPa").between(0.05, 1e6).prior(3).says("elastic modulus through the thickness"),
      s.modulus_MPa...);
    v(field("thickness_mm").between(0.05, 100).says("thickness of the compliant layer"), s.thickness_mm...);
    v(field("unevenness_um").between(0, 200).estimate().prior(2)
          .says("departure from flat over the width of a land"), s.unevenness_um...);
    v(field("modulus_low_MPa").between(0.01, 1e6).optional().says("low end of what is plausible"),
      s.modulus_low_MPa...);
    v(field("modulus_high_MPa").between(0.01, 1e6).optional().says("high end of what is plausible"),
      s.modulus_high_MPa...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[compound.NAME]`: what a strop is charged with.
template <class T>
struct Compound {
  std::string name;
  T           size_um              = T(not_given);
  T           removal_nm           = T(1.8);
  T           protrusion           = T(1.0);
  T           active_grit_fraction = T(0.01);
  T           grit_angle_deg       = T(15.0);
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("size_um").between(0.01, 60).says("mean grit size"), s.size_um...);
    v(field("removal_nm").between(0, 1000).estimate().prior(3)
          .says("steel removed per lap of 0.2 m at 40 kPa and 7.1 GPa"), s.removal_nm...);
    v(field("protrusion").between(0.1, 5).estimate().says("factor on the depth of scratches"), s.protrusion...);
    v(field("active_grit_fraction").between(1e-3, 1).estimate().says("grits that cut, per grit size squared"),
      s.active_grit_fraction...);
    v(field("grit_angle_deg").between(5, 40).estimate().says("flank angle of a grit"), s.grit_angle_deg...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[wood.NAME]`
template <class T>
struct Wood {
  std::string name;
  T           side_hardness_N   = T(not_given);
  T           silica_pct        = T(0.0);
  T           extractive_factor = T(1.0);
  T           specific_gravity  = T(not_given);
  std::string gravity_basis;
  T           shear_MPa = T(not_given);
  std::string botanical;
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("side_hardness_N").between(100, 30000).says("Janka side hardness at 12 % moisture"),
      s.side_hardness_N...);
    v(field("silica_pct").between(0, 10).estimate().prior(2).says("silica content by dry mass"),
      s.silica_pct...);
    v(field("extractive_factor").between(0.1, 50).estimate().prior(2.5)
          .says("wear beyond what hardness and silica give"), s.extractive_factor...);
    v(field("specific_gravity").between(0.05, 1.5).optional().says("specific gravity"), s.specific_gravity...);
    v(field("gravity_basis").optional().says("moisture at which the volume was taken"), s.gravity_basis...);
    v(field("shear_MPa").between(0.5, 50).optional().says("shear strength parallel to the grain"), s.shear_MPa...);
    v(field("botanical").optional().says("botanical name"), s.botanical...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[filament.NAME]`: what the tester's edge is pressed through.
template <class T>
struct Filament {
  std::string name;
  T           diameter_mm        = T(not_given);
  T           shear_strength_MPa = T(not_given);
  T           cut_resistance_N   = T(0.5);
  T           slope_N_per_um     = T(3.0);
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("diameter_mm").between(0.02, 3).says("diameter"), s.diameter_mm...);
    v(field("shear_strength_MPa").between(1, 2000).says("shear strength across the filament"),
      s.shear_strength_MPa...);
    v(field("cut_resistance_N").between(0.01, 20).estimate().prior(1.5).says("force a perfect edge still needs"),
      s.cut_resistance_N...);
    v(field("slope_N_per_um").between(0.05, 100).estimate().prior(2).says("force per apex radius"),
      s.slope_N_per_um...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

}  // namespace arris
