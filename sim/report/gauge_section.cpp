// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "sim/figures/curves.hpp"
#include "sim/figures/intervals.hpp"
#include "sim/figures/lines.hpp"
#include "sim/figures/svg.hpp"
#include "sim/report/parts.hpp"
#include "sim/wording.hpp"

namespace arris::report {
namespace {

// in percent on a logarithm, in gram-force on a plain scale
bool in_percent(const StoredResult& r) { return r.has_column("components", "scatter_pct"); }

Figure sources_figure(const StoredResult& r, bool percent) {
  const std::string       unit = percent ? "_pct" : "_gf";
  figures::IntervalFigure v;
  v.title       = "Where the scatter of a single reading comes from";
  v.description = r.answer.headline;
  v.rows        = r.words("components", "source");
  v.columns.push_back({.label = percent ? "scatter, % of the reading (90 %)" : "scatter, gf (90 %)",
                       .value = r.column("components", "scatter" + unit),
                       .low   = r.column("components", "low" + unit),
                       .high  = r.column("components", "high" + unit)});
  if (r.has_column("components", "share_pct"))
    v.columns.push_back({.label = "share of the variance, %", .value = r.column("components", "share_pct")});
  Figure f =
      drawn("components", "Where the scatter of a single reading comes from",
            "A tester is of use for these edges where its own scatter is small beside that of the edges.", v);
  f.tables.push_back(r.needed("components"));
  return f;
}

Figure replicates_figure(const StoredResult& r, bool percent, const std::string& difference) {
  figures::LineFigure l;
  l.title       = "What more readings find";
  l.description = "The smallest difference between two edges that is found, against readings of each.";
  l.x_label     = "readings of each edge";
  l.y_label     = percent ? "smallest difference that is found, %" : "smallest difference that is found, gf";
  l.x_log       = true;
  l.series.push_back({.name   = "smallest difference",
                      .x      = r.column("replicates", "readings_each"),
                      .y      = r.column("replicates", difference),
                      .points = true});
  if (const double asked = setting(r, "difference_pct"); percent && !std::isnan(asked)) {
    l.level      = asked;
    l.level_says = "asked for";
  }
  Figure f =
      drawn("replicates", "What more readings find", "Found 9 times in 10, with 5 false alarms in 100.", l);
  f.tables.push_back(r.needed("replicates"));
  return f;
}

// every reading in the order taken; none where there are no readings
std::optional<Figure> drift_figure(const StoredResult& r) {
  const auto &order = r.column("residuals", "order"), &residual = r.column("residuals", "residual_pct");
  const auto &edge = r.words("residuals", "edge"), &status = r.words("residuals", "status");
  if (order.empty()) return std::nullopt;
  figures::CurvePanel p;
  p.title   = "Does the tester drift?";
  p.x_label = "reading, in the order taken";
  p.x       = {1.0, *std::max_element(order.begin(), order.end())};
  p.y       = {0.0, 0.0};
  for (std::size_t i = 0; i < order.size(); ++i) {
    if (status[i] == "excluded" || !std::isfinite(residual[i])) continue;
    p.points.push_back({order[i], residual[i], residual[i], residual[i],
                        fmt::format("{}: {} %", edge[i], figures::figure_number(residual[i], 2))});
  }
  figures::CurveFigure c;
  c.title       = "Every reading in the order taken";
  c.description = "How far each reading lies from the mean of its edge, in per cent.";
  c.y_label     = "from the mean of its edge, %";
  c.panels.push_back(std::move(p));
  Figure f;
  f.name            = "order";
  f.title           = "Every reading in the order taken";
  f.caption         = "A tester that drifts shows a slope.";
  f.draw            = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
  AnswerTable table = r.needed("residuals");
  for (AnswerColumn& column : table.columns) column.head = column.says;
  f.tables.push_back(std::move(table));
  f.folded = true;
  return f;
}

}  // namespace

void add_gauge(const StoredResult& r, Section& s) {
  (void)r.words("components", "source");  // there is no such result without
  const bool percent = in_percent(r);
  if (r.has_column("components", percent ? "scatter_pct" : "scatter_gf"))
    s.figures.push_back(sources_figure(r, percent));
  if (const std::string difference = percent ? "difference_pct" : "difference_gf";
      r.has_column("replicates", difference) && r.needed("replicates").rows() > 1)
    s.figures.push_back(replicates_figure(r, percent, difference));
  if (r.has_column("residuals", "residual_pct")) {
    if (auto drift = drift_figure(r)) s.figures.push_back(std::move(*drift));
  }
  add_rest(r, s, {"components", "replicates", "residuals"});
  if (const double needed = setting(r, "readings_needed"); !std::isnan(needed))
    s.next.push_back(fmt::format("Read each edge {} where that difference matters.",
                                 counted(std::llround(needed), "time")));
}

}  // namespace arris::report
