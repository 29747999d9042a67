// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include "sim/laws/field.hpp"

/// What a workshop knows beside the physics: how fast people work, what things cost, and when an edge is dull.
///
/// Money is in whatever currency the configuration writes its prices in; nothing converts it.
namespace arris {

/// `[workshop]`: pace and regrinding.
struct Pace {
  double      strokes_per_minute   = 40.0;
  double      laps_per_minute      = 30.0;
  double      passes_per_minute    = 8.0;
  double      step_min             = 0.5;
  double      strop_min            = 0.5;
  double      hone_min             = 3.0;
  double      wage_per_hour        = 0.0;
  double      grind_min            = 15.0;
  double      grind_loss_mm        = 0.5;
  double      grind_land_mm        = 3.0;
  double      usable_blade_mm      = 40.0;
  double      sharpenings_per_year = not_given;
  std::string currency;
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("strokes_per_minute").between(1, 1000).estimate().says("strokes on a medium"), s.strokes_per_minute...);
    v(field("laps_per_minute").between(1, 1000).estimate().says("laps on a strop"), s.laps_per_minute...);
    v(field("passes_per_minute").between(0.1, 1000).estimate().says("passes in wood, pauses included"),
      s.passes_per_minute...);
    v(field("step_min").between(0, 240).estimate().says("to take up the next medium or strop"), s.step_min...);
    v(field("strop_min").between(0, 240).estimate().says("to stop work for a stropping and go on"), s.strop_min...);
    v(field("hone_min").between(0, 240).estimate().says("to take the iron out for honing and set it again"),
      s.hone_min...);
    v(field("wage_per_hour").between(0, 1e6).says("what an hour of work costs; 0 leaves time out of the money"),
      s.wage_per_hour...);
    v(field("grind_min").between(0, 600).estimate().says("to grind the primary bevel anew"), s.grind_min...);
    v(field("grind_loss_mm").between(0, 20).estimate().says("blade length that one grinding takes"),
      s.grind_loss_mm...);
    v(field("grind_land_mm").between(0.05, 50).estimate().says("land of the micro-bevel at which to grind anew"),
      s.grind_land_mm...);
    v(field("usable_blade_mm").between(1, 500).estimate().says("blade length that can be used up"),
      s.usable_blade_mm...);
    v(field("sharpenings_per_year").between(1, 1e6).optional()
          .says("how often an edge is sharpened in a year; without it no cost of a year is worked out"),
      s.sharpenings_per_year...);
    v(field("currency").optional().says("in which prices and wage are written"), s.currency...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[price.NAME]`: what a medium, backing or compound costs and what it takes to keep. NAME is that of the material as the
/// steps write it; `[price."a family"]` stands for every medium of that family that has no entry of its own.
struct Price {
  std::string name;
  double      price                 = 0.0;
  double      life_strokes          = not_given;
  double      flatten_every_strokes = not_given;
  double      flatten_min           = 3.0;
  double      flatten_price         = 0.0;
  double      soak_min              = 0.0;
  double      clean_min             = 0.0;
  double      change_min            = 0.0;
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("price").between(0, 1e7).says("purchase, in the currency of [workshop]"), s.price...);
    v(field("life_strokes").between(1, 1e9).optional()
          .says("strokes or laps until it is used up and bought anew; without it nothing is used up"),
      s.life_strokes...);
    v(field("flatten_every_strokes").between(1, 1e9).optional()
          .says("strokes or laps between two flattenings, dressings or chargings"), s.flatten_every_strokes...);
    v(field("flatten_min").between(0, 600).estimate().says("for one of them"), s.flatten_min...);
    v(field("flatten_price").between(0, 1e6)
          .says("what one of them uses up, in the currency of [workshop]: abrasive, wear of a flattening plate"),
      s.flatten_price...);
    v(field("soak_min").between(0, 240)
          .says("work to make it ready each time it is taken up: to soak a stone, to wet a sheet"),
      s.soak_min...);
    v(field("clean_min").between(0, 240).says("to wipe it and clean up each time it is put away"), s.clean_min...);
    v(field("change_min").between(0, 240)
          .says("to change it when it is used up, as a sheet of film; counts only where life_strokes is given"),
      s.change_min...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[limit.NAME]`: the reading at which an edge is too dull for a task.
struct Limit {
  std::string name;
  double      reading_gf = not_given;
  std::string note;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("reading_gf").between(1, 1e5).says("reading above which the edge no longer does it"), s.reading_gf...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

struct Workshop {
  Pace               pace;
  std::vector<Price> prices;  ///< of the configuration
  std::vector<Limit> limits;  ///< shipped ones and those of the configuration

  /// The entry for a material, or else for its family; nullptr when neither has one. Whatever the case of letters.
  [[nodiscard]] const Price* price_of(const std::string& material, const std::string& family = {}) const;
  /// nullptr when there is none of that name.
  [[nodiscard]] const Limit* limit_named(const std::string& name) const;
};

}  // namespace arris
