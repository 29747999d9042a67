// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <set>

#include <fmt/format.h>

#include "sim/figures/curves.hpp"
#include "sim/figures/intervals.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {
namespace {

// the reading of each edge along its passes, one edge below the other
struct ForecastCurves {
  std::vector<Run>           edges;
  const std::vector<double>& passes;
  const std::vector<double>& reading;
  const std::vector<double>& low, &high;            // of the mean edge
  const std::vector<double>& next_low, &next_high;  // of the next edges
};

ForecastCurves forecast_curves(const StoredResult& r) {
  const auto numbers = [&](const char* name) -> const auto& { return r.column("curves", name); };
  return {.edges     = runs_of(r.words("curves", "edge")),
          .passes    = numbers("passes"),
          .reading   = numbers("reading_gf"),
          .low       = numbers("reading_low_gf"),
          .high      = numbers("reading_high_gf"),
          .next_low  = numbers("next_reading_low_gf"),
          .next_high = numbers("next_reading_high_gf")};
}

// passes until the limit, a row for each edge
struct ForecastLives {
  const std::vector<std::string>&edge, &route, &wood;
  const std::vector<double>&     passes, &next_high;
};

ForecastLives forecast_lives(const StoredResult& r) {
  return {.edge      = r.words("lives", "edge"),
          .route     = r.words("lives", "route"),
          .wood      = r.words("lives", "wood"),
          .passes    = r.column("lives", "passes"),
          .next_high = r.column("lives", "next_passes_high")};
}

std::string with_route(const std::string& edge, const std::string& route) {
  return edge + (route.empty() ? "" : ", " + route);
}

// what was read of an edge in wood, and not left out
std::vector<figures::MeasuredPoint> readings_of(const StoredResult& r, const std::string& edge) {
  std::vector<figures::MeasuredPoint> points;
  if (r.table("readings") == nullptr) return points;
  const auto &of = r.words("readings", "edge"), &who = r.words("readings", "operator"),
             &excluded = r.words("readings", "excluded");
  const auto &at = r.column("readings", "passes"), &gf = r.column("readings", "reading_gf");
  for (std::size_t k = 0; k < of.size(); ++k) {
    if (of[k] != edge || !excluded[k].empty()) continue;
    figures::MeasuredPoint m;
    m.x = at[k];
    m.y = m.low = m.high = gf[k];
    m.says               = fmt::format("{} gf after {} passes{}", figures::figure_number(gf[k]),
                                       figures::figure_number(at[k]), who[k].empty() ? "" : ", read by " + who[k]);
    points.push_back(std::move(m));
  }
  return points;
}

// the laws of an edge that the readings speak against
std::set<std::string> laws_ruled_out(const StoredResult& r, const std::string& edge) {
  std::set<std::string> out;
  if (r.table("laws") == nullptr) return out;
  const auto &of = r.words("laws", "edge"), &law = r.words("laws", "law");
  const auto& ruled_out = r.column("laws", "ruled_out");
  for (std::size_t k = 0; k < of.size(); ++k) {
    if (of[k] == edge && ruled_out[k] > 0.0) out.insert(law[k]);
  }
  return out;
}

// the reading under each wear law that answers rest on, where a fit kept several
std::vector<figures::NamedCurve> curves_by_law(const StoredResult& r, const std::string& edge,
                                               std::size_t points) {
  std::vector<figures::NamedCurve> out;
  if (r.table("law_curves") == nullptr) return out;
  const auto &of = r.words("law_curves", "edge"), &law = r.words("law_curves", "law");
  const auto& gf = r.column("law_curves", "reading_gf");
  for (std::size_t k = 0; k < of.size(); ++k) {
    if (of[k] != edge) continue;
    if (out.empty() || law[k] != out.back().name) out.push_back({law[k], {}});
    out.back().y.push_back(gf[k]);
  }
  const std::set<std::string> ruled_out = laws_ruled_out(r, edge);
  std::erase_if(out, [&](const figures::NamedCurve& curve) {
    return curve.y.size() != points || ruled_out.count(curve.name) > 0;
  });
  if (out.size() < 2) out.clear();  // the one law that is left is the curve itself
  return out;
}

// `several`: the model in several versions, so that there are bands
figures::CurvePanel panel_of(const StoredResult& r, const ForecastCurves& curves, const ForecastLives& lives,
                             const Run& edge, bool several) {
  const auto row      = static_cast<std::size_t>(std::find(lives.edge.begin(), lives.edge.end(), edge.name) -
                                            lives.edge.begin());
  const bool has_life = row < lives.edge.size();
  figures::CurvePanel p;
  p.title   = has_life ? with_route(edge.name, lives.route[row]) + ", in " + lives.wood[row] : edge.name;
  p.x_label = "passes since it was sharpened";
  p.x       = part(curves.passes, edge);
  p.y       = part(curves.reading, edge);
  if (several) {
    p.bands.push_back({part(curves.next_low, edge), part(curves.next_high, edge), "ink"});
    p.bands.push_back({part(curves.low, edge), part(curves.high, edge), "ink"});
  }
  // as far as it is of interest: beyond its life, or all of it
  double end = has_life ? lives.next_high[row] : not_given;
  if (std::isnan(end) && has_life) end = 2.0 * lives.passes[row];
  p.x_high = std::isnan(end) || end <= 0.0 ? p.x.back() : std::min(1.3 * end, p.x.back());
  p.points = readings_of(r, edge.name);
  p.others = curves_by_law(r, edge.name, p.x.size());
  return p;
}

// these panels under one limit, with the key that they need
figures::CurveFigure over_passes(std::vector<figures::CurvePanel> panels, double limit, bool several) {
  figures::CurveFigure c;
  c.y_label    = "reading, gf";
  c.limit      = limit;
  c.limit_says = fmt::format("limit {} gf", figures::figure_number(limit));
  c.line_says  = "the mean edge";
  if (several) c.band_says = {{"ink-twice", "where it lies, 9 in 10"}, {"ink", "the next edges, 9 in 10"}};
  if (std::any_of(panels.begin(), panels.end(), [](const auto& p) { return !p.points.empty(); }))
    c.points_say = "readings that were taken";
  if (std::any_of(panels.begin(), panels.end(), [](const auto& p) { return !p.others.empty(); }))
    c.others_say = "under each wear law that is left";
  c.panels = std::move(panels);
  return c;
}

constexpr const char* how_to_read =
    "Where the curve crosses the line the edge needs sharpening. The mean edge is a typical one; the next edge differs from it as edges sharpened alike do.";

LiveChart live_chart(const std::vector<figures::CurvePanel>& panels, double limit) {
  LiveChart live;
  live.y_label = "reading, gf";
  live.limit   = limit;
  for (const figures::CurvePanel& p : panels) live.lines.push_back(live_line(p.title, p));
  return live;
}

// the first edge, and all of them to be looked at closely
Figure first_edge_figure(const StoredResult& r, const std::string& edge,
                         const std::vector<figures::CurvePanel>& panels, double limit, bool several) {
  figures::CurveFigure c = over_passes({panels.front()}, limit, several);
  c.title                = "Reading of edge " + edge + " against passes";
  c.description          = r.answer.headline;
  Figure f;
  f.name    = "curves";
  f.title   = "Reading against passes: " + panels.front().title;
  f.caption = how_to_read;
  f.draw    = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
  f.tables.push_back(thinned(r.needed("curves"), 12));
  for (AnswerColumn& column : f.tables.back().columns) column.head = column.says;
  if (const AnswerTable* t = r.table("readings"))
    f.tables.push_back(columns_of(*t, {{"edge", "edge"},
                                       {"passes", "passes"},
                                       {"reading_gf", "gf"},
                                       {"operator", "read by"},
                                       {"excluded", "left out because"}}));
  f.live.push_back(live_chart(panels, limit));
  return f;
}

Figure every_edge_figure(const std::vector<figures::CurvePanel>& panels, double limit, bool several) {
  figures::CurveFigure c = over_passes(panels, limit, several);
  c.title                = "Reading of every edge against passes";
  c.description          = "One panel for each edge, with the limit; the table of lives has the numbers.";
  Figure f;
  f.name    = "edges";
  f.title   = "Every edge against passes";
  f.caption = how_to_read;
  f.draw    = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
  return f;
}

Figure lives_figure(const StoredResult& r, const ForecastLives& lives) {
  figures::IntervalFigure v;
  v.title       = "Passes until the limit";
  v.description = "Each edge with the span in which nine of ten next edges end.";
  figures::IntervalColumn column{.label = "passes until the limit; the line holds 9 in 10 next edges",
                                 .log   = true};
  for (std::size_t i = 0; i < lives.edge.size(); ++i) {
    v.rows.push_back(with_route(lives.edge[i], lives.route[i]) + ", " + lives.wood[i]);
    column.value.push_back(lives.passes[i] > 0.0 ? lives.passes[i] : not_given);
    column.low.push_back(std::max(r.column("lives", "next_passes_low")[i], 1.0));
    column.high.push_back(lives.next_high[i]);
  }
  v.columns.push_back(std::move(column));
  Figure f = drawn(
      "lives", "How long each edge lasts",
      "Equal steps are equal ratios. A dash: no pass is within the limit, or it outlasts what was looked at; the table says which.",
      v);
  f.tables.push_back(r.needed("lives"));
  return f;
}

// how surely the mean edge lasts so long: of the first row of lives
std::string certainty_of(const StoredResult& r, const std::string& edge) {
  const double low = r.column("lives", "passes_low")[0], high = r.column("lives", "passes_high")[0];
  if (std::isnan(low))
    return fmt::format(
        "The mean edge {} stays below the limit as far as was looked in 19 of 20 versions of the model.",
        edge);
  if (std::isnan(high))
    return fmt::format("The mean edge {} lasts {} passes or more in 19 of 20 versions of the model.", edge,
                       figures::figure_number(low, 2));
  return fmt::format("The mean edge {} is dull after {} to {} passes in 9 of 10 versions of the model.", edge,
                     figures::figure_number(low, 2), figures::figure_number(high, 2));
}

// the edge in hand, from where it was last read
Figure in_hand_figure(const StoredResult& r) {
  const std::string   edge = r.words("curves", "edge").front();
  const std::string   wood = r.words("left", "wood").front();
  figures::CurvePanel p;
  p.title   = fmt::format("{}, in {}", edge, wood);
  p.x_label = "passes since it was sharpened";
  p.x       = r.column("curves", "passes");
  p.y       = r.column("curves", "reading_gf");
  p.bands.push_back({r.column("curves", "reading_low_gf"), r.column("curves", "reading_high_gf"), "ink"});
  // as far as it is of interest: beyond its life, or all of it
  const double left = r.column("left", "passes_left_high").front();
  p.x_high          = std::isnan(left) ? p.x.back() : std::min(p.x.front() + 1.3 * left, p.x.back());
  if (!(p.x_high > p.x.front())) p.x_high = p.x.back();
  p.points = readings_of(r, edge);
  p.others = curves_by_law(r, edge, p.x.size());
  figures::CurveFigure c;
  c.title       = "Reading of the edge in hand against passes";
  c.description = r.answer.headline;
  c.y_label     = "reading, gf";
  c.line_says   = "this edge, the middle of all versions of the model";
  c.band_says   = {{"ink", "where it lies, 9 in 10"}};
  if (!p.points.empty()) c.points_say = "readings that were taken";
  if (!p.others.empty()) c.others_say = "under each wear law that is left";
  if (!std::isnan(setting(r, "limit_gf"))) {
    c.limit      = setting(r, "limit_gf");
    c.limit_says = fmt::format("limit {} gf", figures::figure_number(c.limit));
  }
  c.panels = {std::move(p)};
  Figure f;
  f.name    = "curves";
  f.title   = c.title;
  f.caption = "How this edge goes on by its own readings and by what is known of edges of its kind.";
  f.draw    = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
  f.tables.push_back(thinned(r.needed("curves"), 12));
  for (AnswerColumn& column : f.tables.back().columns) column.head = column.says;
  return f;
}

}  // namespace

void add_in_hand(const StoredResult& r, Section& s) {
  (void)r.needed("curves", 1);
  (void)r.needed("left", 1);
  s.figures.push_back(in_hand_figure(r));
  add_rest(r, s, {"curves", "readings", "law_curves"});
  s.next.push_back(fmt::format(
      "Read it again before it is dull, fit anew, and ask again: arris forecast {}{} --edge {} --from-now",
      shell_word(configuration_file(r)), fit_option(r), shell_word(r.words("left", "edge").front())));
}

void add_forecast(const StoredResult& r, Section& s) {
  (void)r.needed("curves", 1);
  (void)r.needed("lives", 1);
  if (is_of_specimens(r)) return add_specimen_forecast(r, s);
  const double         limit   = setting(r, "limit_gf");
  const bool           several = setting(r, "members") > 1.0;
  const ForecastCurves curves  = forecast_curves(r);
  const ForecastLives  lives   = forecast_lives(r);

  std::vector<figures::CurvePanel> panels;
  for (const Run& edge : curves.edges) panels.push_back(panel_of(r, curves, lives, edge, several));
  s.figures.push_back(first_edge_figure(r, curves.edges.front().name, panels, limit, several));
  s.figures.push_back(lives_figure(r, lives));
  if (panels.size() > 1) s.figures.push_back(every_edge_figure(panels, limit, several));
  add_rest(r, s, {"curves", "lives", "readings", "law_curves"});
  if (several) s.certainty.insert(s.certainty.begin(), certainty_of(r, lives.edge[0]));

  const std::string file = shell_word(configuration_file(r));
  if (has_fit(r))
    s.next.push_back(
        fmt::format("See which readings would narrow this most: arris plan {}{}", file, fit_option(r)));
  s.next.push_back(fmt::format("Find the routine that keeps the limit at the least time: arris upkeep {}{}",
                               file, fit_option(r)));
}

}  // namespace arris::report
