// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/curves.hpp"
#include "sim/figures/intervals.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"
#include "sim/wording.hpp"

namespace arris::report {
namespace {

Figure scores_figure(const StoredResult& r) {
  figures::IntervalFigure f;
  f.title              = "Share of the readings held back that lie in their bands";
  f.description        = r.answer.headline;
  const auto& which    = r.words("scores", "which");
  const auto &readings = r.column("scores", "readings"), &edges = r.column("scores", "edges");
  for (std::size_t i = 0; i < which.size(); ++i)
    f.rows.push_back(fmt::format("{}: {} of {}", which[i], counted(std::llround(readings[i]), "reading"),
                                 counted(std::llround(edges[i]), "edge")));
  for (const auto& [share, name] : {std::pair{90.0, "90"}, std::pair{50.0, "50"}}) {
    const std::string key = fmt::format("share_{}", name);
    f.columns.push_back({.label      = fmt::format("in {} % bands, per cent", name),
                         .value      = r.column("scores", key + "_pct"),
                         .low        = r.column("scores", key + "_low_pct"),
                         .high       = r.column("scores", key + "_high_pct"),
                         .level      = share,
                         .level_says = "as many as should"});
  }
  Figure figure = drawn(
      "scores", f.title,
      "A bar holds the share in 9 of 10 cases, by edges. One that lies left of its line: the bands are too narrow.",
      f);
  figure.tables.push_back(r.needed("scores"));
  return figure;
}

/// Rows of one edge among the tables of a forward score.
struct ForwardRows {
  const std::vector<std::string>& edge;
  const std::vector<double>&      passes;

  [[nodiscard]] std::vector<std::size_t> of(const std::string& name) const {
    std::vector<std::size_t> out;
    for (std::size_t i = 0; i < edge.size(); ++i) {
      if (edge[i] == name) out.push_back(i);
    }
    return out;
  }
};

void add_points(const StoredResult& r, const char* table, const std::string& edge, const char* says,
                figures::CurvePanel& panel) {
  const ForwardRows rows{r.words(table, "edge"), r.column(table, "passes")};
  const auto&       gf = r.column(table, "reading_gf");
  for (const std::size_t i : rows.of(edge)) {
    figures::MeasuredPoint m{.x = rows.passes[i], .y = gf[i], .low = gf[i], .high = gf[i], .says = {}};
    m.says = fmt::format("{} gf after {} passes, {}", figures::figure_number(gf[i]),
                         figures::figure_number(m.x), says);
    panel.points.push_back(std::move(m));
  }
}

// an edge with its readings, and the bands of those that were held back
figures::CurvePanel unit_panel(const StoredResult& r, const std::string& edge) {
  const ForwardRows   rows{r.words("held_back", "edge"), r.column("held_back", "passes")};
  figures::CurvePanel p;
  p.title   = edge;
  p.x_label = "passes since it was sharpened";
  p.bands.resize(2);
  for (const std::size_t i : rows.of(edge)) {
    if (!p.x.empty() && p.x.back() == rows.passes[i]) continue;
    p.x.push_back(rows.passes[i]);
    p.y.push_back(r.column("held_back", "foretold_gf")[i]);
    p.bands[0].low.push_back(r.column("held_back", "low_90_gf")[i]);
    p.bands[0].high.push_back(r.column("held_back", "high_90_gf")[i]);
    p.bands[1].low.push_back(r.column("held_back", "low_50_gf")[i]);
    p.bands[1].high.push_back(r.column("held_back", "high_50_gf")[i]);
  }
  p.x_high = 1.06 * p.x.back();
  if (p.x.size() == 1) {  // a stripe, as a band of one place is not seen
    p.x = {0.95 * p.x.front(), 1.05 * p.x.front()};
    p.y.push_back(p.y.front());
    for (figures::CurveBand& band : p.bands) {
      band.low.push_back(band.low.front());
      band.high.push_back(band.high.front());
    }
  }
  add_points(r, "kept", edge, "known to the forecast", p);
  add_points(r, "held_back", edge, "held back", p);
  return p;
}

// the edges that could be forecast, the worst first where there are too many to show
std::vector<std::string> edges_shown(const StoredResult& r, std::size_t most) {
  const auto&              edges = r.words("units", "edge");
  const auto&              score = r.column("units", "log_score");
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    if (std::isfinite(score[i])) order.push_back(i);
  }
  if (order.size() > most) {
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return score[a] < score[b]; });
    order.resize(most);
  }
  std::vector<std::string> out;
  for (const std::size_t i : order) out.push_back(edges[i]);
  return out;
}

Figure units_figure(const StoredResult& r, const std::vector<std::string>& edges, bool all) {
  figures::CurveFigure c;
  c.title       = "Readings held back, and what was foretold of them";
  c.description = r.answer.headline;
  c.y_label     = "reading, gf";
  c.line_says   = "what was foretold, the middle";
  c.points_say  = "readings: those where the bands are were held back, the others known";
  c.band_says   = {{"ink-twice", "where 5 in 10 should lie"}, {"ink", "9 in 10"}};
  for (const std::string& edge : edges) c.panels.push_back(unit_panel(r, edge));
  Figure f;
  f.name  = "units";
  f.title = c.title;
  f.caption =
      all ? "Of ten readings held back one should lie outside its band."
          : "Of ten readings held back one should lie outside its band. Shown are the edges that were foretold worst.";
  f.draw = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
  f.tables.push_back(r.needed("units"));
  return f;
}

}  // namespace

void add_forward(const StoredResult& r, Section& s) {
  constexpr std::size_t most_panels = 24;
  (void)r.needed("scores", 1);
  if (!(r.column("scores", "readings").front() > 0.0)) {  // no edge could be forecast
    add_rest(r, s, {});
    return;
  }
  s.figures.push_back(scores_figure(r));
  const auto edges = edges_shown(r, most_panels);
  s.figures.push_back(units_figure(r, edges, edges.size() < most_panels));
  add_rest(r, s, {"scores", "units", "kept"});
}

}  // namespace arris::report
