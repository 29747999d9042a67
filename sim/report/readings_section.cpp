// SPDX-License-Identifier: MIT
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/dots.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {
namespace {

// the readings of one edge at one moment
figures::DotRow row_of(const StoredResult& r, std::size_t cell) {
  const std::string &edge = r.words("edges", "edge")[cell], &moment = r.words("edges", "moment")[cell];
  figures::DotRow    row;
  row.name          = edge;
  row.more          = r.words("edges", "way")[cell];
  row.mean          = r.column("edges", "mean_gf")[cell];
  row.model         = r.has_column("edges", "model_gf") ? r.column("edges", "model_gf")[cell] : not_given;
  const auto &edges = r.words("readings", "edge"), &moments = r.words("readings", "moment"),
             &excluded = r.words("readings", "excluded"), &people = r.words("readings", "operator");
  const auto& values = r.column("readings", "reading_gf");
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (edges[i] != edge || moments[i] != moment || !excluded[i].empty() || !(values[i] > 0.0)) continue;
    row.values.push_back(values[i]);
    row.says.push_back(fmt::format("{}: {} gf{}", edge, figures::figure_number(values[i]),
                                   people[i].empty() ? "" : ", read by " + people[i]));
  }
  return row;
}

figures::DotFigure dots_of(const StoredResult& r) {
  figures::DotFigure f;
  f.title       = "Every reading";
  f.description = r.answer.headline;
  f.x_label     = "reading, gf";
  if (const double limit = configured_limit(r); limit > 0.0) {
    f.limit      = limit;
    f.limit_says = fmt::format("limit {} gf", figures::figure_number(limit));
  }
  // moments in the order of the table of kinds, edges in their own
  const auto& moments = r.words("edges", "moment");
  for (const std::string& moment : r.words("kinds", "moment")) {
    if (!f.groups.empty() && f.groups.back().heading == moment) continue;
    figures::DotGroup group{.heading = moment, .rows = {}};
    for (std::size_t cell = 0; cell < moments.size(); ++cell) {
      if (moments[cell] == moment) group.rows.push_back(row_of(r, cell));
    }
    f.groups.push_back(std::move(group));
  }
  return f;
}

}  // namespace

void add_readings(const StoredResult& r, Section& s) {
  const auto dots = dots_of(r);
  Figure     f;
  f.name    = "readings";
  f.title   = "Every reading";
  f.caption = "Each dot is a reading; further left is sharper. Equal steps are equal ratios.";
  if (r.has_column("edges", "model_gf"))
    f.caption += " The ring is what the fitted model says of an edge of that kind.";
  f.draw = [dots](double width, const std::string& id) { return figures::dots_svg(dots, width, id); };
  f.tables.push_back(r.needed("kinds"));
  if (r.table("differences") != nullptr) f.tables.push_back(r.needed("differences"));
  f.tables.push_back(r.needed("edges"));
  s.figures.push_back(std::move(f));
  add_rest(r, s, {"kinds", "differences", "edges", "readings"});
}

}  // namespace arris::report
