// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/curves.hpp"
#include "sim/figures/intervals.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {

void add_forecast(const StoredResult& r, Section& s) {
  (void)r.needed("curves", 1);
  (void)r.needed("lives", 1);
  const double limit  = setting(r, "limit_gf");
  const auto   runs   = runs_of(r.words("curves", "edge"));
  const auto & passes = r.column("curves", "passes"), &reading = r.column("curves", "reading_gf"),
             &low = r.column("curves", "reading_low_gf"), &high = r.column("curves", "reading_high_gf"),
             &next_low  = r.column("curves", "next_reading_low_gf"),
             &next_high = r.column("curves", "next_reading_high_gf");
  const auto &edges = r.words("lives", "edge"), &routes = r.words("lives", "route"),
             &woods = r.words("lives", "wood");
  const auto &life = r.column("lives", "passes"), &life_high = r.column("lives", "next_passes_high");
  const bool  several = setting(r, "members") > 1.0;

  figures::CurveFigure main, all;
  LiveChart            live;
  live.y_label = "reading, gf";
  live.limit   = limit;
  for (std::size_t i = 0; i < runs.size(); ++i) {
    const Run&          run = runs[i];
    figures::CurvePanel p;
    const auto          row =
        static_cast<std::size_t>(std::find(edges.begin(), edges.end(), run.name) - edges.begin());
    p.title = run.name;
    if (row < edges.size()) {
      if (!routes[row].empty()) p.title += ", " + routes[row];
      p.title += ", in " + woods[row];
    }
    p.x_label = "passes since it was sharpened";
    p.x       = part(passes, run);
    p.y       = part(reading, run);
    if (several) {
      p.bands.push_back({part(next_low, run), part(next_high, run), "ink"});
      p.bands.push_back({part(low, run), part(high, run), "ink"});
    }
    // as far as it is of interest: beyond its life, or all of it
    double end = row < edges.size() ? life_high[row] : not_given;
    if (std::isnan(end) && row < edges.size()) end = 2.0 * life[row];
    p.x_high = std::isnan(end) || end <= 0.0 ? p.x.back() : std::min(1.3 * end, p.x.back());
    LiveLine line;
    line.name    = p.title;
    line.x_label = p.x_label;
    line.x       = p.x;
    line.y       = p.y;
    if (several) {
      line.low  = part(next_low, run);
      line.high = part(next_high, run);
    }
    if (r.table("readings") != nullptr) {
      const auto &of = r.words("readings", "edge"), &who = r.words("readings", "operator"),
                 &excluded = r.words("readings", "excluded");
      const auto &at = r.column("readings", "passes"), &gf = r.column("readings", "reading_gf");
      for (std::size_t k = 0; k < of.size(); ++k) {
        if (of[k] != run.name || !excluded[k].empty()) continue;
        figures::MeasuredPoint m;
        m.x = at[k];
        m.y = m.low = m.high = gf[k];
        m.says               = fmt::format("{} gf after {} passes{}", figures::figure_number(gf[k]),
                                           figures::figure_number(at[k]), who[k].empty() ? "" : ", read by " + who[k]);
        line.point_x.push_back(m.x);
        line.point_y.push_back(m.y);
        p.points.push_back(std::move(m));
      }
    }
    live.lines.push_back(std::move(line));
    if (i == 0) main.panels.push_back(p);
    all.panels.push_back(std::move(p));
  }
  for (figures::CurveFigure* c : {&main, &all}) {
    c->y_label    = "reading, gf";
    c->limit      = limit;
    c->limit_says = fmt::format("limit {} gf", figures::figure_number(limit));
    c->line_says  = "the mean edge";
    if (several) c->band_says = {{"ink-twice", "where it lies, 9 in 10"}, {"ink", "the next edges, 9 in 10"}};
    if (std::any_of(c->panels.begin(), c->panels.end(), [](const auto& p) { return !p.points.empty(); }))
      c->points_say = "readings that were taken";
  }
  main.title       = "Reading of edge " + runs.front().name + " against passes";
  main.description = s.answer;
  all.title        = "Reading of every edge against passes";
  all.description  = "One panel for each edge, with the limit; the table of lives has the numbers.";
  const std::string how =
      "Where the curve crosses the line the edge wants sharpening. The mean edge is a typical one; the next edge differs from it as edges of one history do.";
  Figure f;
  f.name    = "curves";
  f.title   = "Reading against passes: " + main.panels.front().title;
  f.caption = how;
  f.draw    = [main](double width, const std::string& id) { return figures::curves_svg(main, width, id); };
  f.tables.push_back(thinned(r.needed("curves"), 12));
  for (AnswerColumn& c : f.tables.back().columns) c.head = c.says;
  if (const AnswerTable* t = r.table("readings"))
    f.tables.push_back(columns_of(*t, {{"edge", "edge"},
                                       {"passes", "passes"},
                                       {"reading_gf", "gf"},
                                       {"operator", "read by"},
                                       {"excluded", "left out because"}}));
  f.live.push_back(std::move(live));
  s.figures.push_back(std::move(f));

  figures::IntervalFigure lives;
  lives.title       = "Passes until the limit";
  lives.description = "Each edge with the span in which nine of ten next edges end.";
  figures::IntervalColumn column{.label = "passes until the limit; the line holds 9 in 10 next edges",
                                 .log   = true};
  for (std::size_t i = 0; i < edges.size(); ++i) {
    lives.rows.push_back(edges[i] + (routes[i].empty() ? "" : ", " + routes[i]) + ", " + woods[i]);
    column.value.push_back(life[i] > 0.0 ? life[i] : not_given);
    column.low.push_back(std::max(r.column("lives", "next_passes_low")[i], 1.0));
    column.high.push_back(life_high[i]);
  }
  lives.columns.push_back(std::move(column));
  Figure side = drawn(
      "lives", "How long each edge lasts",
      "Equal steps are equal ratios. A dash: no pass is within the limit, or it outlasts what was looked at; the table says which.",
      lives);
  side.tables.push_back(r.needed("lives"));
  s.figures.push_back(std::move(side));

  if (all.panels.size() > 1) {
    Figure each;
    each.name    = "edges";
    each.title   = "Every edge against passes";
    each.caption = how;
    each.draw    = [all](double width, const std::string& id) { return figures::curves_svg(all, width, id); };
    s.figures.push_back(std::move(each));
  }
  add_rest(r, s, {"curves", "lives", "readings"});
  const std::string file        = shell_word(configuration_file(r));
  const auto        passes_told = [&](const char* name) {
    const double value = r.column("lives", name)[0];
    return std::isnan(value) ? std::string("more than were looked at") : figures::figure_number(value, 2);
  };
  if (several)
    s.certainty.insert(
        s.certainty.begin(),
        fmt::format("The mean edge {} is dull after {} to {} passes in 9 of 10 versions of the model.",
                    edges[0], passes_told("passes_low"), passes_told("passes_high")));
  if (has_fit(r))
    s.next.push_back(fmt::format("See which readings would narrow this most: arris plan {}", file));
  s.next.push_back(
      fmt::format("Find the routine that keeps the limit at the least time: arris upkeep {}", file));
}

}  // namespace arris::report
