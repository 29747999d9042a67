// SPDX-License-Identifier: MIT
#include "sim/output/columns.hpp"

namespace arris {
namespace {

// the names of columns of wear, by unit
struct WearNames {
  const char *wear, *before, *after, *predicted;
};

WearNames names_in(const WearUnits& units) {
  const bool mm = units.per_um < 1.0;
  return mm ? WearNames{"wear_mm", "wear_before_mm", "wear_after_mm", "predicted_mm"}
            : WearNames{"wear_um", "wear_before_um", "wear_after_um", "predicted_um"};
}

const char* way_to_limit(const WearUnits& units) {
  const std::string way = units.way;
  return way == "minutes" ? "minutes_to_limit" : way == "passes" ? "passes_to_limit" : "metres_to_limit";
}

}  // namespace

std::optional<WearUnits> wear_units_of(const Scenario& scenario) {
  if (!scenario.model.specimen.in_use) return std::nullopt;
  return wear_units(scenario.model.specimen);
}

// clang-format off

Columns<TrackPoint> track_columns(const std::optional<WearUnits>& units) {
  if (!units) return track_columns();
  using P = TrackPoint;
  const WearUnits& u = *units;
  const WearNames names = names_in(u);
  return {{}, {
      {"step", "1", "step of the history, from 1", [](const P& p) { return p.step + 1.0; }},
      {"count", u.way_symbol, "way into the step", [](const P& p) { return p.count; }},
      {u.way, u.way_symbol, "way of the specimen so far", [](const P& p) { return p.passes; }},
      {names.wear, u.suffix, "wear of the specimen", [u](const P& p) { return u.per_um * p.reading_N; }},
  }};
}

Columns<StepSummary> step_columns(const std::optional<WearUnits>& units) {
  if (!units) return step_columns();
  using S = StepSummary;
  const WearUnits& u = *units;
  const WearNames names = names_in(u);
  return {{
      {"verb", "what is done: wear or read", [](const S& s) { return s.verb; }},
      {"subject", "counterface or name of the reading", [](const S& s) { return s.subject; }},
  }, {
      {"count", u.way_symbol, "way of the specimen in the step", [](const S& s) { return s.count; }},
      {names.before, u.suffix, "wear before the step", [u](const S& s) { return u.per_um * s.before.reading_N; }},
      {names.after, u.suffix, "wear after the step", [u](const S& s) { return u.per_um * s.after.reading_N; }},
  }};
}

Columns<EdgeResult> edge_columns(const std::optional<WearUnits>& units) {
  if (!units) return edge_columns();
  using E = EdgeResult;
  return {{
      {"name", "name of the specimen", [](const E& e) { return e.name; }},
      {"tool", "tool that it is one of", [](const E& e) { return e.tool; }},
      {"route", "route it follows first", [](const E& e) { return e.route; }},
      {"quantity", "what is measured of it", [q = units->quantity](const E&) { return q; }},
      {"status", "ok, or what went wrong", [](const E& e) { return e.status.usable() ? std::string("ok") : e.message; }},
  }, {
      {way_to_limit(*units), units->way_symbol, "way until the limit of wear is reached; missing when it is not", [](const E& e) { return e.life.passes; }},
  }};
}

Columns<ComparedMoment> comparison_columns(const std::optional<WearUnits>& units) {
  if (!units) return comparison_columns();
  using C = ComparedMoment;
  const WearUnits& u = *units;
  const bool      mm = u.per_um < 1.0;
  return {{
      {"edge", "name of the specimen", [](const C& c) { return c.edge; }},
      {"moment", "when the readings were taken", [](const C& c) { return c.moment; }},
  }, {
      {"readings", "1", "readings that count", [](const C& c) { return static_cast<double>(c.count); }},
      {"excluded", "1", "readings marked as excluded", [](const C& c) { return static_cast<double>(c.excluded); }},
      {mm ? "measured_mm" : "measured_um", u.suffix, "mean of the readings", [u](const C& c) { return u.per_um * c.measured_N; }},
      {names_in(u).predicted, u.suffix, "wear that the model predicts", [u](const C& c) { return u.per_um * c.predicted_N; }},
      {"ratio", "1", "measured over predicted", [](const C& c) { return c.ratio; }},
      {"in_sd", "1", "how far they are apart, over the stated scatter", [](const C& c) { return c.in_sd; }},
  }};
}

Columns<ReadingPoint> reading_columns(const std::optional<WearUnits>& units) {
  if (!units) return reading_columns();
  using R = ReadingPoint;
  const WearUnits& u = *units;
  const WearNames names = names_in(u);
  return {{
      {"edge", "name of the specimen", [](const R& r) { return r.edge; }},
      {"moment", "when it was taken", [](const R& r) { return r.reading->moment_name; }},
      {"operator", "who read", [](const R& r) { return r.reading->operator_name; }},
      {"test_day", "test day", [](const R& r) { return r.reading->test_day; }},
      {"excluded", "why it does not count; empty: it counts", [](const R& r) { return r.reading->excluded; }},
  }, {
      {"line", "1", "line in the readings file", [](const R& r) { return 1.0 * r.reading->line; }},
      {"step", "1", "step of the history, from 1", [](const R& r) { return r.reading->moment.step + 1.0; }},
      {u.way, u.way_symbol, "way of the specimen until then", [](const R& r) { return r.at.passes; }},
      {names.wear, u.suffix, "wear that was read; of one that could not be seen, what can", [u](const R& r) { return u.per_um * r.reading->reading_N; }},
      {"below", "1", "1 where less was there than can be seen", [](const R& r) { return r.reading->is_below ? 1.0 : 0.0; }},
      {names.predicted, u.suffix, "wear that the model predicts", [u](const R& r) { return u.per_um * r.at.reading_N; }},
  }};
}

// clang-format on

}  // namespace arris
