// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "sim/diagnostic.hpp"
#include "sim/figures/curves.hpp"
#include "sim/figures/heat_map.hpp"
#include "sim/figures/intervals.hpp"
#include "sim/figures/lines.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"
#include "sim/text.hpp"

namespace arris::report {
namespace {

double setting(const StoredResult& r, const std::string& name) {
  const auto found = r.numbers.find(name);
  return found == r.numbers.end() ? not_given : found->second;
}

// tables that no figure shows, in the order of their names
void add_rest(const StoredResult& r, Section& s, const std::vector<std::string>& shown) {
  for (const AnswerTable& t : r.answer.tables) {
    if (t.name.empty() || t.name == "map" || std::find(shown.begin(), shown.end(), t.name) != shown.end())
      continue;
    s.tables.push_back(t);
  }
}

bool has_fit(const StoredResult& r) { return r.origin("command").find("--fit") != std::string::npos; }

Figure drawn(const char* name, const std::string& title, const std::string& caption,
             figures::LineFigure lines) {
  Figure f;
  f.name    = name;
  f.title   = title;
  f.caption = caption;
  f.draw    = [lines = std::move(lines)](double width, const std::string& id) {
    return figures::lines_svg(lines, width, id);
  };
  return f;
}

void add_map(const StoredResult& r, Section& s) {
  // throws where something of it is not there, or of another type
  const auto definition =
      nlohmann::json::parse(r.texts.count("definition") > 0 ? r.texts.at("definition") : "");
  static const std::map<std::string, const char*> headings = {
      {"soft-strop", "How many laps, on a softer or harder strop"},
      {"bevel-angle", "Which bevel keeps its edge"},
      {"strokes", "How many strokes each step deserves"},
      {"skip-grits", "Which grit could be left out"},
      {"wood", "How long the edge lasts in other woods"}};
  if (const auto found = headings.find(definition.value("question", "")); found != headings.end())
    s.heading = found->second;
  const auto&       axes   = definition.at("axes");
  const auto&       output = definition.at("outputs").at(0);
  const std::string name   = output.at("name").get<std::string>();
  const auto        label  = [](const nlohmann::json& of) {
    const std::string units = of.at("units").get<std::string>(), says = of.at("says").get<std::string>();
    const std::string unit = units == "1" || units.empty() ? ""
                                     : units == "um"               ? ", µm"
                                     : units == "degree"           ? ", °"
                                                                   : ", " + units;
    // what is already in the name of the unit
    return (says == "reading of the tester in gram-force" ? std::string("reading") : says) + unit;
  };
  const auto own = [](const nlohmann::json& axis) {
    return axis.at("own").is_number() ? axis.at("own").get<double>() : not_given;
  };
  const bool numbers =
      std::none_of(axes.begin(), axes.end(), [](const nlohmann::json& a) { return a["text"].get<bool>(); });
  std::vector<std::string> shown;
  if (axes.size() == 2 && numbers && r.grids.count("map/" + name) > 0) {
    // laps, passes and strokes go across; what they are tried on goes up
    figures::HeatMap m;
    m.x = r.column("map", axes.at(1).at("name").get<std::string>());
    m.y = r.column("map", axes.at(0).at("name").get<std::string>());
    m.z = r.grids.at("map/" + name).numbers;
    if (m.z.size() != m.x.size() * m.y.size()) r.refuse("the map of the sweep does not fit its axes");
    m.x_label     = label(axes.at(1));
    m.y_label     = label(axes.at(0));
    m.z_label     = label(output);
    m.y_log       = m.y.size() > 3 && m.y.front() > 0.0 && m.y.back() / m.y.front() > 20.0;
    m.z_log       = true;
    m.title       = m.z_label + " over " + m.x_label + " and " + m.y_label;
    m.description = s.answer;
    Figure f;
    f.name    = "map";
    f.title   = "The map: " + m.z_label;
    f.caption = "The lighter, the lower the reading.";
    if (definition.at("question") == "soft-strop" && r.has_column("optima", "best_laps")) {
      m.line = r.column("optima", "best_laps");
      if (m.line.size() != m.y.size()) r.refuse("the best numbers of laps do not fit the map of the sweep");
      m.line_says = "best number of laps";
      f.name      = "soft-strop";
      f.title     = "Stiffness of the pad against laps";
      f.caption =
          "Across: laps; up: how stiff the pad is, from soft hide to hard backing. The lighter, the sharper. "
          "The line is the "
          "fewest laps whose reading is no more than 2 % above the least: left of it there is more to gain, "
          "right of it there "
          "is nothing to gain, and on a soft pad the edge is only rounded.";
      f.tables.push_back(r.needed("optima"));
      shown.emplace_back("optima");
    }
    if (const double x = own(axes.at(1)), y = own(axes.at(0)); !std::isnan(x) && !std::isnan(y)) {
      m.mark_x    = x;
      m.mark_y    = y;
      m.mark_says = "as configured";
    }
    if (m.x.size() > 1 && m.y.size() > 1) {
      f.draw = [m](double width, const std::string& id) { return figures::heat_map_svg(m, width, id); };
      if (f.tables.empty()) {
        AnswerTable         grid{.name = "map", .says = m.title, .axis = "combination"};
        std::vector<double> ys, xs, zs;
        const std::size_t   every = std::max<std::size_t>(1, m.x.size() / 6),
                          by      = std::max<std::size_t>(1, m.y.size() / 8);
        for (std::size_t i = 0; i < m.y.size(); i += by) {
          for (std::size_t k = 0; k < m.x.size(); k += every) {
            ys.push_back(m.y[i]);
            xs.push_back(m.x[k]);
            zs.push_back(m.z[i * m.x.size() + k]);
          }
        }
        grid.number("y", "1", m.y_label, "", ys);
        grid.number("x", "1", m.x_label, "", xs);
        grid.number("z", "1", m.z_label, "", zs);
        if (zs.size() < m.z.size()) grid.says += " (some of the points; all are in the result file)";
        f.tables.push_back(std::move(grid));
      }
      s.figures.push_back(std::move(f));
    }
  } else if (axes.size() == 2 && axes.at(0).at("text").get<bool>() != axes.at(1).at("text").get<bool>() &&
             r.grids.count("map/" + name) > 0) {
    // a curve for each material or step
    const std::size_t     words_at = axes.at(0).at("text").get<bool>() ? 0 : 1;
    const nlohmann::json &of = axes.at(words_at), &along = axes.at(1 - words_at);
    const auto&           names = r.words("map", of.at("name").get<std::string>());
    const auto&           x     = r.column("map", along.at("name").get<std::string>());
    const auto&           z     = r.grids.at("map/" + name).numbers;
    if (z.size() != names.size() * x.size()) r.refuse("the map of the sweep does not fit its axes");
    constexpr std::size_t most = 12;
    figures::CurveFigure  c;
    c.title       = label(output) + " against " + label(along);
    c.description = s.answer;
    c.y_label     = label(output);
    if (const double limit = setting(r, "limit_gf"); name == "reading_gf" && limit > 0.0) {
      c.limit      = limit;
      c.limit_says = fmt::format("limit {} gf", figures::figure_number(limit));
    }
    for (std::size_t i = 0; i < std::min(names.size(), most); ++i) {
      figures::CurvePanel panel;
      panel.title   = names[i];
      panel.x_label = label(along);
      panel.x       = x;
      for (std::size_t k = 0; k < x.size(); ++k)
        panel.y.push_back(words_at == 0 ? z[i * x.size() + k] : z[k * names.size() + i]);
      c.panels.push_back(std::move(panel));
    }
    Figure f;
    f.name    = "sweep";
    f.title   = c.title;
    f.caption = "All panels share the height.";
    if (names.size() > most) f.caption += fmt::format(" {} of {}; the table has all.", most, names.size());
    f.draw = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
    if (r.table("optima") != nullptr) {
      f.tables.push_back(r.needed("optima"));
      shown.emplace_back("optima");
    }
    s.figures.push_back(std::move(f));
  } else if (axes.size() == 1 && numbers && r.has_column("map", name)) {
    figures::LineFigure l;
    l.title       = label(output) + " against " + label(axes.at(0));
    l.description = s.answer;
    l.x_label     = label(axes.at(0));
    l.y_label     = label(output);
    l.from_zero   = false;
    l.series.push_back({.name   = label(output),
                        .x      = r.column("map", axes.at(0).at("name").get<std::string>()),
                        .y      = r.column("map", name),
                        .points = axes.at(0).at("count").get<std::size_t>() <= 40});
    if (l.series[0].x.size() != l.series[0].y.size()) r.refuse("the map of the sweep does not fit its axes");
    if (const double x = own(axes.at(0)); !std::isnan(x)) {
      l.mark      = x;
      l.mark_says = "as configured";
    }
    if (l.series[0].x.size() > 1) {
      Figure f = drawn("sweep", l.title, "Everything else stays as the configuration has it.", l);
      if (r.table("curve") != nullptr) {
        f.tables.push_back(r.needed("curve"));
        shown.emplace_back("curve");
      }
      s.figures.push_back(std::move(f));
    }
  } else if (axes.size() == 1 && r.has_column("map", name)) {
    // materials, or steps left out
    figures::IntervalFigure i;
    const std::string       axis = axes.at(0).at("name").get<std::string>();
    i.title                      = label(output) + " by " + label(axes.at(0));
    i.description                = s.answer;
    i.rows                       = r.words("map", axis);
    i.columns.emplace_back();
    i.columns.back().label = label(output);
    i.columns.back().value = r.column("map", name);
    if (i.columns.back().value.size() != i.rows.size())
      r.refuse("the map of the sweep does not fit its axes");
    Figure f;
    f.name    = "sweep";
    f.title   = i.title;
    f.caption = "Everything else stays as the configuration has it.";
    f.draw    = [i](double width, const std::string& id) { return figures::intervals_svg(i, width, id); };
    s.figures.push_back(std::move(f));
  }
  add_rest(r, s, shown);
  s.certainty.emplace_back(
      "A sweep is worked out for the configuration as it stands: how far its parameters are uncertain is not "
      "in it. Take the order more seriously than the numbers.");
  s.next.push_back(fmt::format(
      "Put the best value into the configuration and look at every step: arris simulate {} --edge {}",
      shell_word(configuration_file(r)), shell_word(definition.at("edge").get<std::string>())));
}

}  // namespace

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
      "Where the curve crosses the line the edge wants sharpening. The mean edge is a typical one; the next "
      "edge differs "
      "from it as edges of one history do.";
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
  Figure side;
  side.name  = "lives";
  side.title = "How long each edge lasts";
  side.caption =
      "Equal steps are equal ratios. A dash: no pass is within the limit, or it outlasts what was looked at; "
      "the "
      "table says which.";
  side.draw = [lives](double width, const std::string& id) {
    return figures::intervals_svg(lives, width, id);
  };
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

void add_comparison(const StoredResult& r, Section& s) {
  figures::IntervalFigure v;
  v.title            = "Ways of sharpening side by side";
  v.description      = s.answer;
  v.rows             = r.words("ways", "way");
  v.reference        = 0;
  const double limit = setting(r, "limit_gf");
  const auto column = [&](const char* label, const char* value, const char* low, const char* high, bool log) {
    figures::IntervalColumn c{.label = label, .value = r.column("ways", value), .log = log};
    if (low != nullptr) c.low = r.column("ways", low);
    if (high != nullptr) c.high = r.column("ways", high);
    if (log) {
      for (std::size_t i = 0; i < c.value.size(); ++i) {
        if (!(c.value[i] > 0.0)) c.value[i] = not_given;
        if (i < c.low.size()) c.low[i] = std::max(c.low[i], 1.0);
      }
    }
    return c;
  };
  v.columns.push_back(
      column("reading ready for work, gf (90 %)", "reading_gf", "reading_low_gf", "reading_high_gf", false));
  v.columns.back().level      = limit;
  v.columns.back().level_says = "limit";
  v.columns.push_back(column("passes to the limit (next edges, 9 in 10)", "passes", "next_passes_low",
                             "next_passes_high", true));
  v.columns.push_back(column("minutes of one sharpening", "minutes", nullptr, nullptr, false));
  Figure f;
  f.name  = "routes";
  f.title = "Routes side by side";
  f.caption =
      "Further left is sharper, or quicker; further right in the middle lasts longer. The first way, in "
      "plum, is the one "
      "that the others are compared with. All on one tool and in one wood.";
  f.draw = [v](double width, const std::string& id) { return figures::intervals_svg(v, width, id); };
  f.tables.push_back(r.needed("ways"));
  f.tables.push_back(r.needed("against"));
  s.figures.push_back(std::move(f));

  if (r.table("steps") != nullptr) {
    AnswerTable steps = r.needed("steps");
    for (AnswerColumn& c : steps.columns) c.head = c.head.empty() ? c.says : c.head;
    s.tables.push_back(std::move(steps));
  }
  add_rest(r, s, {"ways", "against", "steps"});
  // the verdicts on the ways that are not told at the top
  const auto &          ways = r.words("against", "way"), &verdict = r.words("against", "verdict");
  constexpr std::size_t most = 4;
  for (std::size_t i = 1; i < ways.size() && ways.size() <= most; ++i)
    s.certainty.push_back(ways[i] + ": " + verdict[i] + ".");
  if (ways.size() > most)
    s.certainty.push_back("The verdict on every way, with its certainty, stands in the table \"" +
                          r.needed("against").says + "\".");
  const std::string file = shell_word(configuration_file(r));
  s.next.push_back(
      fmt::format("Plan the experiment that would tell them apart: arris plan {} --difference 10", file));
}

void add_sweep(const StoredResult& r, Section& s) {
  try {
    add_map(r, s);
  } catch (const nlohmann::json::exception& fault) {
    r.refuse(
        fmt::format("the definition of the sweep in the result cannot be read: {}", printable(fault.what())));
  }
}

void add_upkeep(const StoredResult& r, Section& s) {
  const std::string file = shell_word(configuration_file(r));
  if (r.table("trade_off") != nullptr && r.needed("trade_off").rows() > 1) {
    const auto&         limits = r.column("trade_off", "limit_gf");
    figures::LineFigure l;
    l.title       = "What a sharper edge costs";
    l.description = s.answer;
    l.x_label     = "limit of the reading, gf";
    l.y_label     = "minutes of upkeep per 1000 passes";
    l.y_log       = true;
    figures::LineSeries minutes{
        .name = "minutes", .x = limits, .y = r.column("trade_off", "minutes"), .points = true};
    for (std::size_t i = 0; i < limits.size(); ++i) {
      const auto at = [&](const char* name) {
        return r.has_column("trade_off", name) ? r.column("trade_off", name)[i] : not_given;
      };
      const double strop = at("strop_every_passes"), hone = at("hone_every_passes");
      std::string  says;
      if (std::isfinite(strop)) says += fmt::format("strop every {}", figures::figure_number(strop));
      if (std::isfinite(hone))
        says += fmt::format("{}hone every {}", says.empty() ? "" : ", ", figures::figure_number(hone));
      minutes.says.push_back(says);
    }
    l.series.push_back(std::move(minutes));
    l.mark      = setting(r, "limit_gf");
    l.mark_says = "as asked";
    Figure f    = drawn(
           "trade-off", "What a sharper edge costs",
           "Each point is the cheapest routine that keeps its limit; numbers beside it are passes. Equal steps "
              "upwards are equal ratios.",
           l);
    f.tables.push_back(r.needed("trade_off"));
    f.tables.push_back(r.needed("routines"));
    s.figures.push_back(std::move(f));
  }
  if (r.table("caution") != nullptr && r.needed("caution").rows() > 1) {
    const auto &passes = r.column("caution", "passes"), &keeping = r.column("caution", "keeping_pct"),
               &minutes = r.column("caution", "minutes");
    figures::LineFigure l;
    l.title       = "How surely the limit is kept";
    l.description = "Share of the versions of the model that keep the limit, against passes at a stretch.";
    l.x_label     = "passes at a stretch";
    l.y_label     = "versions of the model that keep the limit, %";
    l.most        = 100.0;
    l.x_from_zero = true;
    figures::LineSeries series{.name = "kept", .x = passes, .y = keeping, .points = true};
    for (const double m : minutes) series.says.push_back(fmt::format("{} min", figures::figure_number(m, 2)));
    // ascending, whatever the table has
    std::vector<std::size_t> order(passes.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {  // missing ones last
      return passes[a] < passes[b] || (std::isnan(passes[b]) && !std::isnan(passes[a]));
    });
    figures::LineSeries sorted{.name = series.name, .points = true};
    for (const std::size_t i : order) {
      sorted.x.push_back(series.x[i]);
      sorted.y.push_back(series.y[i]);
      sorted.says.push_back(series.says[i]);
    }
    l.series.push_back(std::move(sorted));
    Figure f = drawn("caution", "How surely the limit is kept",
                     "Further left is more careful: fewer passes before the strop, and more minutes of "
                     "upkeep per 1000 passes, "
                     "which stand beside each point.",
                     l);
    f.tables.push_back(r.needed("caution"));
    s.figures.push_back(std::move(f));
    // what would be safe, from the same numbers
    for (std::size_t i = order.size(); i-- > 0;) {
      const std::size_t k = order[i];
      if (keeping[k] < 90.0) continue;
      s.next.push_back(fmt::format(
          "To be nearly sure of the limit work no more than {} passes at a stretch: {} % of the versions "
          "of the model keep it then, for {} minutes per 1000 passes.",
          figures::figure_number(passes[k]), figures::figure_number(keeping[k], 2),
          figures::figure_number(minutes[k], 2)));
      break;
    }
  }
  if (!has_fit(r))
    s.next.push_back(
        fmt::format("Let it rest on readings of your own: arris fit {} --draws 2000 --out fit.h5, then this "
                    "command with --fit fit.h5",
                    file));
  // members and fronts are thousands of rows for a machine
  add_rest(r, s,
           {"trade_off", "routines", "caution", "members", "by_interval", "reading_front", "steel_front"});
}

void add_gauge(const StoredResult& r, Section& s) {
  figures::IntervalFigure v;
  v.title       = "Where the scatter of a single reading comes from";
  v.description = s.answer;
  v.rows        = r.words("components", "source");
  // in percent on a logarithm, in gram-force on a plain scale
  const bool percent = r.has_column("components", "scatter_pct");
  const auto name    = [&](const char* what) { return std::string(what) + (percent ? "_pct" : "_gf"); };
  if (r.has_column("components", name("scatter"))) {
    v.columns.push_back({.label = percent ? "scatter, % of the reading (90 %)" : "scatter, gf (90 %)",
                         .value = r.column("components", name("scatter")),
                         .low   = r.column("components", name("low")),
                         .high  = r.column("components", name("high"))});
    if (r.has_column("components", "share_pct"))
      v.columns.push_back(
          {.label = "share of the variance, %", .value = r.column("components", "share_pct")});
    Figure f;
    f.name    = "components";
    f.title   = "Where the scatter of a single reading comes from";
    f.caption = "A tester is of use for these edges where its own scatter is small beside that of the edges.";
    f.draw    = [v](double width, const std::string& id) { return figures::intervals_svg(v, width, id); };
    f.tables.push_back(r.needed("components"));
    s.figures.push_back(std::move(f));
  }
  const std::string found = percent ? "difference_pct" : "difference_gf";
  if (r.has_column("replicates", found) && r.needed("replicates").rows() > 1) {
    figures::LineFigure l;
    l.title       = "What more readings find";
    l.description = "The smallest difference between two edges that is found, against readings of each.";
    l.x_label     = "readings of each edge";
    l.y_label = percent ? "smallest difference that is found, %" : "smallest difference that is found, gf";
    l.x_log   = true;
    l.series.push_back({.name   = "smallest difference",
                        .x      = r.column("replicates", "readings_each"),
                        .y      = r.column("replicates", found),
                        .points = true});
    if (const double asked = setting(r, "difference_pct"); percent && !std::isnan(asked)) {
      l.level      = asked;
      l.level_says = "asked for";
    }
    Figure f =
        drawn("replicates", "What more readings find", "Found 9 times in 10, with 5 false alarms in 100.", l);
    f.tables.push_back(r.needed("replicates"));
    s.figures.push_back(std::move(f));
  }
  if (r.table("residuals") != nullptr && r.has_column("residuals", "residual_pct")) {
    figures::CurveFigure c;
    c.title       = "Every reading in the order taken";
    c.description = "How far each reading lies from the mean of its edge, in per cent.";
    c.y_label     = "from the mean of its edge, %";
    figures::CurvePanel p;
    const auto &order = r.column("residuals", "order"), &residual = r.column("residuals", "residual_pct");
    const auto &edge = r.words("residuals", "edge"), &status = r.words("residuals", "status");
    p.title   = "Does the tester drift?";
    p.x_label = "reading, in the order taken";
    for (std::size_t i = 0; i < order.size(); ++i) {
      if (status[i] == "excluded" || !std::isfinite(residual[i])) continue;
      p.points.push_back({order[i], residual[i], residual[i], residual[i],
                          fmt::format("{}: {} %", edge[i], figures::figure_number(residual[i], 2))});
    }
    if (!order.empty()) {
      p.x = {1.0, *std::max_element(order.begin(), order.end())};
      p.y = {0.0, 0.0};
      c.panels.push_back(std::move(p));
      Figure f;
      f.name    = "order";
      f.title   = "Every reading in the order taken";
      f.caption = "A tester that drifts shows a slope.";
      f.draw    = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
      AnswerTable table = r.needed("residuals");
      for (AnswerColumn& column : table.columns) column.head = column.says;
      f.tables.push_back(std::move(table));
      f.folded = true;
      s.figures.push_back(std::move(f));
    }
  }
  add_rest(r, s, {"components", "replicates", "residuals"});
  if (const double needed = setting(r, "readings_needed"); !std::isnan(needed))
    s.next.push_back(fmt::format("Read each edge {:.0f} time{} where that difference matters.", needed,
                                 needed == 1.0 ? "" : "s"));
}

void add_plan(const StoredResult& r, Section& s) {
  if (r.table("power") != nullptr && r.needed("power").rows() > 1) {
    figures::LineFigure l;
    l.title       = "What so many edges find";
    l.description = s.answer;
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
    Figure f = drawn("power", "What so many edges find",
                     "Each curve is for so many readings of each edge. Where they lie together, more "
                     "readings of the same edges "
                     "would hardly help.",
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
    Figure f;
    f.name    = "parameters";
    f.title   = "What the experiment would teach";
    f.caption = "Further left is better known.";
    f.draw    = [v](double width, const std::string& id) { return figures::intervals_svg(v, width, id); };
    f.tables.push_back(r.needed("parameters"));
    s.figures.push_back(std::move(f));
  }
  // the key would give away what the codes hide
  add_rest(r, s, {"power", "sizes", "parameters", "key"});
}

void add_weighing(const StoredResult& r, Section& s) {
  const AnswerTable* laws = r.answer.tables.empty() ? nullptr : r.table("laws");
  if (laws != nullptr && r.has_column("laws", "difference") && r.has_column("laws", "difference_se")) {
    figures::IntervalFigure v;
    v.title       = "How well each law foretells edges that were left out";
    v.description = s.answer;
    v.rows        = r.words("laws", "law");
    figures::IntervalColumn c{.label = "elpd less than the best, ± 2 standard errors",
                              .value = r.column("laws", "difference")};
    const auto&             se = r.column("laws", "difference_se");
    for (std::size_t i = 0; i < se.size(); ++i) {
      c.low.push_back(c.value[i] - 2.0 * se[i]);
      c.high.push_back(c.value[i] + 2.0 * se[i]);
    }
    v.columns.push_back(std::move(c));
    Figure f;
    f.name    = "laws";
    f.title   = "How well each law foretells edges that were left out";
    f.caption = "An interval that reaches zero is no evidence against its law.";
    f.draw    = [v](double width, const std::string& id) { return figures::intervals_svg(v, width, id); };
    f.tables.push_back(*laws);
    s.figures.push_back(std::move(f));
    add_rest(r, s, {"laws"});
    return;
  }
  add_rest(r, s, {});
}

}  // namespace arris::report
