// SPDX-License-Identifier: MIT
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/intervals.hpp"
#include "sim/figures/lines.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {

void add_plan(const StoredResult& r, Section& s) {
  if (r.table("power") != nullptr && r.needed("power").rows() > 1) {
    figures::LineFigure l;
    l.title       = "What so many edges find";
    l.description = r.answer.headline;
    l.x_label     = "edges of each group";
    l.y_label     = "experiments that find the difference, %";
    l.x_log       = true;
    for (const char* n : {"1", "3", "10"}) {
      const std::string name = fmt::format("power_{}_pct", n);
      if (!r.has_column("power", name)) continue;
      l.series.push_back({.name = fmt::format("{} reading{}", n, *n == '1' && n[1] == 0 ? "" : "s"),
                          .x    = r.column("power", "edges_per_group"),
                          .y    = r.column("power", name)});
    }
    if (const double wanted = setting(r, "power_wanted"); !std::isnan(wanted)) {
      l.level      = 100.0 * wanted;
      l.level_says = "wanted";
    }
    if (const double edges = setting(r, "edges_per_group"); !std::isnan(edges)) {
      l.mark      = edges;
      l.mark_says = "planned";
    }
    Figure f = drawn(
        "power", "What so many edges find",
        "Each curve is for so many readings of each edge. Where they lie together, more readings of the same edges would hardly help.",
        l);
    f.tables.push_back(r.needed("power"));
    f.tables.push_back(r.needed("sizes"));
    s.figures.push_back(std::move(f));
  }
  if (r.has_column("parameters", "now_pct")) {
    figures::IntervalFigure v;
    v.title = "How closely a fit would know its parameters";
    v.description =
        "Uncertainty of each parameter as a share of that before any reading, now and after the experiment.";
    for (const std::string& path : r.words("parameters", "parameter"))
      v.rows.push_back(path.substr(path.rfind('.') + 1));
    v.columns.push_back(
        {.label = "now, % of the prior's uncertainty", .value = r.column("parameters", "now_pct")});
    v.columns.push_back({.label = "after the experiment, %", .value = r.column("parameters", "then_pct")});
    Figure f = drawn("parameters", "What the experiment would teach", "Further left is better known.", v);
    f.tables.push_back(r.needed("parameters"));
    s.figures.push_back(std::move(f));
  }
  // the key would give away what the codes hide
  add_rest(r, s, {"power", "sizes", "parameters", "key"});
}

}  // namespace arris::report
