// SPDX-License-Identifier: MIT
#include "sim/output/columns.hpp"

#include <algorithm>
#include <iterator>

#include "sim/laws/gram_force.hpp"

namespace arris {

bool holds_whole_numbers(std::string_view name) {
  static constexpr std::string_view names[]{"at_bound",
                                            "below",
                                            "block",
                                            "blocks",
                                            "crossed",
                                            "determined",
                                            "edges",
                                            "edges_first",
                                            "edges_per_group",
                                            "edges_second",
                                            "evaluations",
                                            "excluded",
                                            "failed",
                                            "filaments",
                                            "first_failure_column",
                                            "first_failure_row",
                                            "first_row",
                                            "groups",
                                            "is_logarithmic",
                                            "keeps",
                                            "line",
                                            "measurements",
                                            "members",
                                            "most_stroppings",
                                            "moved",
                                            "order",
                                            "readings",
                                            "readings_each",
                                            "readings_per_edge",
                                            "replicate",
                                            "rows_per_chunk",
                                            "schema_version",
                                            "starts_agreeing",
                                            "step",
                                            "still_good",
                                            "usable"};
  return std::find(std::begin(names), std::end(names), name) != std::end(names);
}

namespace {

struct Spelling {
  std::string_view people, files;
};
constexpr Spelling spellings[]{{"µm", "um"}, {"²", "^2"}, {"°", "degree"}, {"%", "percent"}};

std::string respelled(std::string_view unit, std::string_view Spelling::*from,
                      std::string_view Spelling::*to) {
  std::string out(unit);
  for (const Spelling& s : spellings) {
    const std::string_view before = s.*from, after = s.*to;
    for (std::size_t at = out.find(before); at != std::string::npos; at = out.find(before, at + after.size()))
      out.replace(at, before.size(), after);
  }
  return out;
}

}  // namespace

std::string unit_for_files(std::string_view symbol) {
  return respelled(symbol, &Spelling::people, &Spelling::files);
}

std::string unit_for_people(std::string_view spelled) {
  return respelled(spelled, &Spelling::files, &Spelling::people);
}

// clang-format off

const Columns<TrackPoint>& track_columns() {
  using P = TrackPoint;
  static const Columns<P> columns{
      {},
      {
          {"step", "1", "step of the history, from 1", [](const P& p) { return p.step + 1.0; }},
          {"count", "1", "strokes, laps or passes into the step", [](const P& p) { return p.count; }},
          {"strokes", "1", "strokes and laps so far", [](const P& p) { return p.strokes; }},
          {"passes", "1", "passes in wood so far", [](const P& p) { return p.passes; }},
          {"path_m", "m", "path in wood so far", [](const P& p) { return p.path_m; }},
          {"apex_radius_um", "um", "apex radius", [](const P& p) { return p.apex_radius_um; }},
          {"scratch_um", "um", "depth of the scratches on the bevel", [](const P& p) { return p.scratch_um; }},
          {"burr_um", "um", "length of the burr", [](const P& p) { return p.burr_um; }},
          {"dub_um", "um", "what the dub of the tip adds to the radius that a tester meets", [](const P& p) { return p.dub_um; }},
          {"dub_depth_um", "um", "what flat honing takes off the bevel before it meets the tip", [](const P& p) { return p.dub_depth_um; }},
          {"chip_um", "um", "depth of chips and nicks", [](const P& p) { return p.chip_um; }},
          {"land_mm", "mm", "honed land", [](const P& p) { return p.land_mm; }},
          {"blade_loss_um", "um", "blade length honed away so far", [](const P& p) { return p.blade_loss_um; }},
          {"tip_setback_um", "um", "ideal apex to tip of the arc", [](const P& p) { return p.tip_setback_um; }},
          {"mass_loss_mg", "mg", "steel honed, stropped and worn away so far", [](const P& p) { return p.mass_loss_mg; }},
          {"reading_N", "N", "reading of the tester", [](const P& p) { return p.reading_N; }},
          {"reading_gf", "gf", "reading of the tester in gram-force", [](const P& p) { return laws::in_gram_force(p.reading_N); }},
      }};
  return columns;
}

const Columns<OutlineVertex>& outline_columns() {
  using V = OutlineVertex;
  static const Columns<V> columns{{}, {
          {"step", "1", "step of the history after which the edge is so, from 1", [](const V& v) { return v.step + 1.0; }},
          {"x_um", "um", "off the bisector, to the side of the bevel", [](const V& v) { return v.x_um; }},
          {"y_um", "um", "into the blade, from where fresh faces would meet", [](const V& v) { return v.y_um; }},
      }};
  return columns;
}

const Columns<StepSummary>& step_columns() {
  using S = StepSummary;
  static const Columns<S> columns{
      {
          {"verb", "what is done: hone, back, strop, cut, read or dress", [](const S& s) { return s.verb; }},
          {"subject", "medium, backing, wood or name of the reading", [](const S& s) { return s.subject; }},
      },
      {
          {"count", "1", "strokes, laps or passes", [](const S& s) { return s.count; }},
          {"strokes_to_burr", "1", "strokes until the apex was reached and a burr raised", [](const S& s) { return s.strokes_to_burr; }},
          {"steel_removed_mg", "mg", "steel removed in the step", [](const S& s) { return s.steel_removed_mg; }},
          {"thinnest_shaving_um", "um", "thinnest shaving the edge can still form", [](const S& s) { return s.thinnest_shaving_um; }},
          {"skates_after_passes", "1", "passes after which the stated shaving no longer forms", [](const S& s) { return s.skates_after_passes; }},
          {"apex_radius_before_um", "um", "apex radius before the step", [](const S& s) { return s.before.apex_radius_um; }},
          {"apex_radius_after_um", "um", "apex radius after the step", [](const S& s) { return s.after.apex_radius_um; }},
          {"scratch_after_um", "um", "depth of the scratches after the step", [](const S& s) { return s.after.scratch_um; }},
          {"burr_after_um", "um", "length of the burr after the step", [](const S& s) { return s.after.burr_um; }},
          {"dub_after_um", "um", "what the dub of the tip adds to the radius that a tester meets, after the step", [](const S& s) { return s.after.dub_um; }},
          {"dub_depth_after_um", "um", "what flat honing takes off the bevel before it meets the tip, after the step", [](const S& s) { return s.after.dub_depth_um; }},
          {"chip_after_um", "um", "depth of chips and nicks after the step", [](const S& s) { return s.after.chip_um; }},
          {"land_after_mm", "mm", "honed land after the step", [](const S& s) { return s.after.land_mm; }},
          {"blade_loss_after_um", "um", "blade length honed away so far", [](const S& s) { return s.after.blade_loss_um; }},
          {"reading_before_N", "N", "reading before the step", [](const S& s) { return s.before.reading_N; }},
          {"reading_after_N", "N", "reading after the step", [](const S& s) { return s.after.reading_N; }},
          {"reading_after_gf", "gf", "reading after the step in gram-force", [](const S& s) { return laws::in_gram_force(s.after.reading_N); }},
      }};
  return columns;
}

const Columns<EdgeResult>& edge_columns() {
  using E = EdgeResult;
  static const Columns<E> columns{
      {
          {"name", "name of the edge", [](const E& e) { return e.name; }},
          {"tool", "tool it is the edge of", [](const E& e) { return e.tool; }},
          {"route", "route it follows first", [](const E& e) { return e.route; }},
          {"status", "ok, or what went wrong", [](const E& e) { return e.status.usable() ? std::string("ok") : e.message; }},
      },
      {
          {"included_angle_deg", "degree", "included angle", [](const E& e) { return e.included_angle_deg; }},
          {"passes_to_limit", "1", "passes until the reading limit is crossed, touched up on the way where steps say so, and at the best values of a fit where one is used (forecast has its median); missing when it is not", [](const E& e) { return e.life.passes; }},
          {"next_honing_um", "um", "what the next honing takes off the bevel before it meets all of the edge", [](const E& e) { return e.next_honing.depth_um; }},
          {"next_honing_strokes", "1", "strokes that takes on the first medium of the edge, freshly dressed", [](const E& e) { return e.next_honing.strokes; }},
      }};
  return columns;
}

const Columns<ComparedMoment>& comparison_columns() {
  using C = ComparedMoment;
  static const Columns<C> columns{
      {
          {"edge", "name of the edge", [](const C& c) { return c.edge; }},
          {"moment", "when the readings were taken", [](const C& c) { return c.moment; }},
      },
      {
          {"readings", "1", "readings that count", [](const C& c) { return static_cast<double>(c.count); }},
          {"excluded", "1", "readings marked as excluded", [](const C& c) { return static_cast<double>(c.excluded); }},
          {"measured_gf", "gf", "geometric mean of the readings", [](const C& c) { return laws::in_gram_force(c.measured_N); }},
          {"predicted_gf", "gf", "reading that the model predicts", [](const C& c) { return laws::in_gram_force(c.predicted_N); }},
          {"ratio", "1", "measured over predicted", [](const C& c) { return c.ratio; }},
          {"spread_cv", "1", "coefficient of variation between the readings", [](const C& c) { return c.spread_cv; }},
          {"in_sd", "1", "log ratio over the stated scatter", [](const C& c) { return c.in_sd; }},
      }};
  return columns;
}

const Columns<ComparedMeasure>& measure_columns() {
  using C = ComparedMeasure;
  static const Columns<C> columns{
      {
          {"kind", "apex radius, recession or mass loss", [](const C& c) { return std::string(name_of(c.kind)); }},
          {"edge", "name of the edge", [](const C& c) { return c.edge; }},
          {"moment", "when it was measured", [](const C& c) { return c.moment; }},
          {"unit", "unit of measured and predicted", [](const C& c) { return unit_for_files(unit_of(c.kind)); }},
      },
      {
          {"measurements", "1", "measurements that count", [](const C& c) { return static_cast<double>(c.count); }},
          {"measured", "1", "geometric mean of the measurements, in the unit of its row", [](const C& c) { return c.measured; }},
          {"predicted", "1", "what the model predicts, in the unit of its row", [](const C& c) { return c.predicted; }},
          {"ratio", "1", "measured over predicted", [](const C& c) { return c.ratio; }},
          {"in_sd", "1", "log ratio over its uncertainty", [](const C& c) { return c.in_sd; }},
      }};
  return columns;
}

const Columns<ReadingPoint>& reading_columns() {
  using R = ReadingPoint;
  static const Columns<R> columns{
      {
          {"edge", "name of the edge", [](const R& r) { return r.edge; }},
          {"moment", "when it was taken", [](const R& r) { return r.reading->moment_name; }},
          {"operator", "who read", [](const R& r) { return r.reading->operator_name; }},
          {"filament_lot", "filament lot", [](const R& r) { return r.reading->filament_lot; }},
          {"test_day", "test day", [](const R& r) { return r.reading->test_day; }},
          {"excluded", "why it does not count; empty: it counts", [](const R& r) { return r.reading->excluded; }},
      },
      {
          {"line", "1", "line in the readings file", [](const R& r) { return 1.0 * r.reading->line; }},
          {"step", "1", "step of the history, from 1", [](const R& r) { return r.reading->moment.step + 1.0; }},
          {"strokes", "1", "strokes and laps until then, as the model has it", [](const R& r) { return r.at.strokes; }},
          {"passes", "1", "passes in wood until then", [](const R& r) { return r.at.passes; }},
          {"reading_gf", "gf", "what the tester showed", [](const R& r) { return laws::in_gram_force(r.reading->reading_N); }},
          {"predicted_gf", "gf", "reading that the model predicts", [](const R& r) { return laws::in_gram_force(r.at.reading_N); }},
      }};
  return columns;
}

// clang-format on

}  // namespace arris
