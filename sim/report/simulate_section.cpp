// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <map>
#include <optional>
#include <set>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/figures/curves.hpp"
#include "sim/figures/edge_section.hpp"
#include "sim/figures/poster.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"
#include "sim/stop.hpp"
#include "sim/text.hpp"

namespace arris::report {
namespace {

// an edge of a simulation, as its file has it
struct Edge {
  std::string              name, tool, route;
  std::vector<std::string> verb, subject;  // of each step
  std::vector<double>      step, strokes, passes, reading, radius, scratch, burr,
      land;                                                          // of each point of the curve
  std::map<double, std::vector<std::pair<double, double>>> outline;  // after steps, from 1, that left a dub
  double life          = not_given;  // passes to the limit; NaN where it was not reached, or there is none
  bool   is_unfinished = false;      // its history stopped within the last of these steps

  // the last point of a step, from 0; of an earlier one where this has none
  [[nodiscard]] std::size_t end_of(std::size_t s) const {
    std::size_t found = 0;
    for (std::size_t i = 0; i < step.size(); ++i) {
      if (step[i] <= static_cast<double>(s) + 1.0) found = i;
    }
    return found;
  }
  [[nodiscard]] std::size_t first_cut() const {
    return static_cast<std::size_t>(std::find(verb.begin(), verb.end(), "cut") - verb.begin());
  }
};

// the step in which a history stopped has a curve but no row: what it was shows in what grew
void add_unfinished_step(Edge& e) {
  const double step = static_cast<double>(e.verb.size()) + 1.0;
  const auto   from = std::find(e.step.begin(), e.step.end(), step) - e.step.begin();
  if (from == std::ssize(e.step)) return;
  const bool is_cut = e.passes.back() > e.passes[static_cast<std::size_t>(from)];
  e.verb.emplace_back(is_cut ? "cut" : "unfinished");
  e.subject.emplace_back(is_cut ? "wood" : "");
  e.is_unfinished = true;
}

std::vector<Edge> edges_of(const StoredResult& r) {
  std::vector<Edge> edges;
  const auto&       names = r.words("edges", "name");
  for (std::size_t i = 0; i < names.size(); ++i) {
    stop_if_wished();
    const std::string track = "edge/" + names[i] + "/track", steps = "edge/" + names[i] + "/steps";
    if (r.table(track) == nullptr || r.table(steps) == nullptr) continue;
    Edge e;
    e.name  = names[i];
    e.tool  = r.words("edges", "tool")[i];
    e.route = r.words("edges", "route")[i];
    if (r.has_column("edges", "passes_to_limit")) e.life = r.column("edges", "passes_to_limit")[i];
    e.verb    = r.words(steps, "verb");
    e.subject = r.words(steps, "subject");
    e.step    = r.column(track, "step");
    e.strokes = r.column(track, "strokes");
    e.passes  = r.column(track, "passes");
    e.reading = r.column(track, "reading_gf");
    e.radius  = r.column(track, "apex_radius_um");
    e.scratch = r.column(track, "scratch_um");
    e.burr    = r.column(track, "burr_um");
    e.land    = r.column(track, "land_mm");
    if (r.words("edges", "status")[i] != "ok") add_unfinished_step(e);
    for (const double step : e.step) {
      if (!(step >= 1.0 && step <= static_cast<double>(e.verb.size())))
        r.refuse(fmt::format("/{} is of steps that are not there", printable(track)));
    }
    const std::string outline = "edge/" + names[i] + "/outline";
    if (r.table(outline) != nullptr) {
      const auto &step = r.column(outline, "step"), &x = r.column(outline, "x_um"),
                 &y = r.column(outline, "y_um");
      for (std::size_t k = 0; k < step.size(); ++k) {
        if (!std::isfinite(step[k]))
          r.refuse(fmt::format("/{} is of steps that are not there", printable(outline)));
        e.outline[step[k]].emplace_back(x[k], y[k]);
      }
    }
    if (!e.step.empty()) edges.push_back(std::move(e));
  }
  return edges;
}

std::string called(const Edge& e) {
  std::string text = e.name + ": " + e.tool;
  if (!e.route.empty()) text += ", " + e.route;
  if (e.first_cut() < e.verb.size()) text += ", in " + e.subject[e.first_cut()];
  return text;
}

/// A moment of the history of an edge.
struct Moment {
  std::string label;
  std::size_t at       = 0;     ///< point of the curve
  bool        on_paper = true;  ///< one of those that a person remembers
};

// All at the scale of the widest, so that a duller edge looks duller; the edge as it was, a hundred times as blunt, at its own. Frames that show
// the apex closer are of one scale too, three times as large or more.
std::vector<figures::EdgeSection> at_one_scale(std::vector<figures::EdgeSection> sections) {
  double view = 0.0;
  for (std::size_t i = 1; i < sections.size(); ++i)
    view = std::max(view, figures::section_view_um(sections[i].blade, sections[i].now));
  const auto is_small = [&](const figures::EdgeSection& s) {
    figures::EdgeOutline apex = s.now;  // without the burr, which is what makes the view wide
    apex.burr_um              = 0.0;
    return figures::section_view_um(s.blade, apex) < 0.5 * view;
  };
  const bool any_small = sections.size() > 1 && std::any_of(sections.begin() + 1, sections.end(), is_small);
  for (std::size_t i = 1; i < sections.size(); ++i) {
    sections[i].view_um  = view;
    sections[i].close_um = any_small ? 0.1 * view : 0.0;
  }
  return sections;
}

// the moments that a person remembers: as it was, off the stones, stropped, and after each stretch in wood
std::vector<Moment> moments_of(const Edge& e) {
  std::vector<Moment> moments{{"as it was", 0}};
  const auto          add = [&](const std::string& label, std::size_t at) {
    if (moments.back().at != at) moments.push_back({label, at});
  };
  const std::size_t cut  = e.first_cut();
  const auto        last = [&](const char* verb) {
    std::size_t found = e.verb.size();
    for (std::size_t s = 0; s < cut && s < e.verb.size(); ++s) {
      if (e.verb[s] == verb) found = s;
    }
    return found;
  };
  const std::size_t stone = last("hone"), back = last("back"), strop = last("strop");
  if (stone < e.verb.size()) add("after the last stone, burr standing", e.end_of(stone));
  if (back < e.verb.size()) add("burr taken off on the back", e.end_of(back));
  if (strop < e.verb.size()) add("stropped", e.end_of(strop));
  int stretches = 0;
  for (std::size_t s = cut; s < e.verb.size() && stretches < 2; ++s) {
    if (e.verb[s] != "cut") continue;
    add(fmt::format("after {:.0f} passes", e.passes[e.end_of(s)]), e.end_of(s));
    ++stretches;
  }
  return moments;
}

// steps that do something to the edge, evenly chosen where there are more than `most`
std::vector<std::size_t> working_steps(const Edge& e, std::size_t most) {
  std::vector<std::size_t> all;
  for (std::size_t s = 0; s < e.verb.size(); ++s) {
    if (e.verb[s] != "read" && e.verb[s] != "dress") all.push_back(s);
  }
  if (all.size() <= most) return all;
  std::vector<std::size_t> chosen;
  for (std::size_t k = 0; k < most; ++k) chosen.push_back(all[k * (all.size() - 1) / (most - 1)]);
  return chosen;
}

// the end of steps between them, for those who move through the history; outlines of a dub are known at these alone
std::vector<Moment> with_steps_between(const Edge& e, std::vector<Moment> moments, std::size_t most) {
  for (const std::size_t s : working_steps(e, most)) {
    stop_if_wished();
    const std::size_t at = e.end_of(s);
    if (std::any_of(moments.begin(), moments.end(), [&](const Moment& m) { return m.at == at; })) continue;
    const std::string label = e.verb[s] == "cut" ? fmt::format("after {:.0f} passes", e.passes[at])
                              : e.verb[s] == "unfinished"
                                  ? "where it stopped"
                                  : fmt::format("after {}: {}", e.verb[s], e.subject[s]);
    moments.push_back({label, at, false});
  }
  std::stable_sort(moments.begin(), moments.end(),
                   [](const Moment& a, const Moment& b) { return a.at < b.at; });
  return moments;
}

bool is_in_wood(const Edge& e, const Moment& m) {
  return e.verb[static_cast<std::size_t>(e.step[m.at] - 1.0)] == "cut" && e.passes[m.at] > 0.0;
}

std::vector<figures::EdgeSection> sections_of(const StoredResult& r, const Edge& e,
                                              const std::vector<Moment>& moments) {
  const auto                        blade = blade_of(r, e.tool);
  std::vector<figures::EdgeSection> sections;
  const auto                        outline = [&](const Moment& m) {
    figures::EdgeOutline now{e.radius[m.at], e.scratch[m.at], e.burr[m.at] < 1e-3 ? 0.0 : e.burr[m.at],
                             e.land[m.at], m.label};
    // outlines are those of the ends of steps
    const auto known = e.outline.find(e.step[m.at]);
    if (known != e.outline.end() && e.end_of(static_cast<std::size_t>(known->first) - 1) == m.at)
      now.points = known->second;
    return now;
  };
  for (std::size_t i = 0; i < moments.size(); ++i) {
    stop_if_wished();
    figures::EdgeSection section;
    section.blade = blade;
    section.now   = outline(moments[i]);
    // worn edges are laid over what they were; honed ones have other faces
    if (i > 0 && is_in_wood(e, moments[i])) section.earlier = {outline(moments[i - 1])};
    if (const std::string fault = figures::section_fault(section); !fault.empty())
      r.refuse(fmt::format("edge {} in the result cannot be drawn: {}", printable(e.name), fault));
    sections.push_back(std::move(section));
  }
  return at_one_scale(std::move(sections));
}

// `most`: steps between the remembered moments that are drawn too
Figure section_figure(const StoredResult& r, const Edge& e, bool first, std::size_t most) {
  Figure f;
  f.name  = first ? "section" : "section " + e.name;
  f.title = "The edge in cross-section: " + called(e);
  f.caption =
      "To scale, and all but the edge as it was at one scale, so that they can be compared; where apexes are small a frame shows each closer, with a bar of its own, these too at one scale. Angles, apex radius, depth of scratches and length of burr are the model's; how thick the burr is, which way it curls and where scratches lie are drawn by convention. Ochre: the burr, and in the small picture the honed land. Dashed: the edge before, laid on the same faces.";
  const auto moments  = first ? with_steps_between(e, moments_of(e), most) : moments_of(e);
  const auto sections = sections_of(r, e, moments);
  for (const Moment& m : moments) f.frames.push_back({m.label, m.on_paper});
  if (std::any_of(sections.begin(), sections.end(), [](const auto& s) { return !s.now.points.empty(); }))
    f.caption +=
        " Where a strop has dubbed the edge it is drawn by its outline, as pad, stones and wood have left it, without scratches; elsewhere as an arc between flat faces.";
  if (const auto all = working_steps(e, e.verb.size()).size(); first && all > most)
    f.caption += fmt::format(" Of {} steps {} are drawn, evenly chosen; --whole draws all.", all, most);
  std::vector<figures::EdgeSection> on_paper;
  for (std::size_t i = 0; i < sections.size(); ++i) {
    if (moments[i].on_paper) on_paper.push_back(sections[i]);
  }
  f.draw = [on_paper](double width, const std::string& id) {
    return figures::edge_sections_svg(on_paper, width, id);
  };
  f.pieces = [sections](const std::string& id) {
    std::vector<std::string> pieces;
    for (std::size_t i = 0; i < sections.size(); ++i) {
      figures::EdgeSection one = sections[i];
      one.name                 = fmt::format("{}-{}", id, i);
      one.width                = 340.0;
      pieces.push_back(figures::edge_section_svg(one));
    }
    return pieces;
  };
  AnswerTable              table{.name = "section", .says = "What is drawn", .axis = "moment"};
  std::vector<std::string> label;
  std::vector<double>      radius, scratch, burr, land;
  for (const auto& s : sections) {
    label.push_back(s.now.label);
    radius.push_back(s.now.apex_radius_um);
    scratch.push_back(s.now.scratch_um);
    burr.push_back(s.now.burr_um);
    land.push_back(s.now.land_mm);
  }
  table.text("moment", "moment", "when", label);
  table.number("apex_radius_um", "um", "apex radius µm", "", radius);
  table.number("scratch_um", "um", "scratches µm", "", scratch);
  table.number("burr_um", "um", "burr µm", "", burr);
  table.number("land_mm", "mm", "honed land mm", "", land);
  f.tables.push_back(std::move(table));
  f.folded = !first;
  return f;
}

std::vector<figures::MeasuredPoint> measured(const StoredResult& r, const std::string& edge,
                                             bool against_passes, double from_strokes, double to_strokes) {
  std::vector<figures::MeasuredPoint> points;
  if (r.table("readings") == nullptr) return points;
  const auto &names = r.words("readings", "edge"), &moment = r.words("readings", "moment"),
             &person = r.words("readings", "operator"), &excluded = r.words("readings", "excluded");
  const auto &strokes = r.column("readings", "strokes"), &passes = r.column("readings", "passes"),
             &reading = r.column("readings", "reading_gf");
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (names[i] != edge || !excluded[i].empty()) continue;
    if (against_passes ? strokes[i] < from_strokes : strokes[i] > to_strokes || passes[i] > 0.0) continue;
    figures::MeasuredPoint p;
    p.x = against_passes ? passes[i] : strokes[i];
    p.y = p.low = p.high = reading[i];
    p.says               = fmt::format("{} gf, {}{}", figures::figure_number(reading[i]), moment[i],
                         person[i].empty() ? "" : ", read by " + person[i]);
    points.push_back(std::move(p));
  }
  return points;
}

// strokes before the first cut; NaN where it never cuts
double strokes_until_cut(const Edge& e) {
  const std::size_t cut = e.first_cut();
  if (cut >= e.verb.size()) return not_given;
  for (std::size_t i = 0; i < e.step.size(); ++i) {
    if (e.step[i] >= static_cast<double>(cut) + 1.0) return e.strokes[i];
  }
  return not_given;
}

figures::CurvePanel passes_panel(const StoredResult& r, const Edge& e) {
  figures::CurvePanel p;
  p.title           = e.name + (e.route.empty() ? "" : ", " + e.route);
  p.x_label         = "passes in wood";
  const double from = strokes_until_cut(e);
  for (std::size_t i = 0; i < e.step.size(); ++i) {
    if (e.step[i] < static_cast<double>(e.first_cut()) + 1.0) continue;
    // of what is done at one number of passes, as a touch-up, the first and the last
    const auto n = p.x.size();
    if (n > 1 && p.x[n - 1] == e.passes[i] && p.x[n - 2] == e.passes[i]) {
      p.y[n - 1] = e.reading[i];
      continue;
    }
    p.x.push_back(e.passes[i]);
    p.y.push_back(e.reading[i]);
  }
  p.points = measured(r, e.name, true, from, 0.0);
  return p;
}

// the words on a medium that fit beside a line
std::string brief(const std::string& verb, const std::string& subject) {
  const auto comma = subject.find(", ");
  return verb + ": " + (comma == std::string::npos ? subject : subject.substr(comma + 2));
}

// on what the edge was before its first cut: a ground for each step, a darker one for every other stone
std::vector<figures::CurvePanel::Ground> grounds_of(const Edge& e) {
  std::vector<figures::CurvePanel::Ground> grounds;
  bool                                     finer = false;
  const std::string*                       stone = nullptr;
  double                                   from  = 0.0;
  for (std::size_t s = 0; s < std::min(e.first_cut(), e.verb.size()); ++s) {
    const double to = e.strokes[e.end_of(s)];
    if (e.verb[s] == "hone") {
      finer = stone != nullptr && *stone != e.subject[s] ? !finer : finer;
      stone = &e.subject[s];
    }
    if (to > from && (e.verb[s] == "hone" || e.verb[s] == "back" || e.verb[s] == "strop"))
      grounds.push_back({from, to, e.verb[s] == "hone" ? (finer ? "finer" : "stone") : e.verb[s]});
    from = to;
  }
  return grounds;
}

// what the grounds mean, those that are there
std::vector<std::pair<std::string, std::string>> meaning_of(
    const std::vector<figures::CurvePanel::Ground>& grounds) {
  std::vector<std::pair<std::string, std::string>> out;
  for (const auto& [kind, says] : {std::pair{"stone", "a medium under the bevel"},
                                   {"finer", "the next one"},
                                   {"back", "under the back"},
                                   {"strop", "strop"}}) {
    if (std::any_of(grounds.begin(), grounds.end(), [name = kind](const auto& g) { return g.kind == name; }))
      out.emplace_back(kind, says);
  }
  return out;
}

// reading against strokes and laps, then passes in wood
figures::CurveFigure history_curve(const StoredResult& r, const Edge& e, double limit) {
  figures::CurveFigure c;
  c.title       = "Reading of edge " + e.name + " against strokes and passes";
  c.description = fmt::format(
      "From {} gf as it was to {} gf after the last step; the table has the reading after every step.",
      figures::figure_number(e.reading.front()), figures::figure_number(e.reading.back()));
  c.y_label               = "reading, gf";
  c.log                   = true;
  c.side_by_side          = true;
  c.limit                 = limit > 0.0 ? limit : 0.0;
  c.limit_says            = "limit";
  c.line_says             = "the model, a typical edge";
  const std::size_t   cut = e.first_cut();
  figures::CurvePanel honing;
  honing.title   = "on stones and strop";
  honing.x_label = "strokes and laps";
  double last    = -1.0;
  for (std::size_t i = 0; i < e.step.size(); ++i) {
    if (e.step[i] >= static_cast<double>(cut) + 1.0) break;
    honing.x.push_back(e.strokes[i]);
    honing.y.push_back(e.reading[i]);
    const auto s = static_cast<std::size_t>(e.step[i] - 1.0);
    if (e.step[i] != last && (e.verb[s] == "hone" || e.verb[s] == "back" || e.verb[s] == "strop"))
      honing.marks.push_back({e.strokes[i], brief(e.verb[s], e.subject[s])});
    last = e.step[i];
  }
  honing.points  = measured(r, e.name, false, 0.0, cut < e.verb.size() ? strokes_until_cut(e) : INFINITY);
  honing.grounds = grounds_of(e);
  c.ground_says  = meaning_of(honing.grounds);
  if (!honing.x.empty()) c.panels.push_back(std::move(honing));
  if (cut < e.verb.size()) {
    auto wood  = passes_panel(r, e);
    wood.title = "in " + e.subject[cut];
    c.panels.push_back(std::move(wood));
  }
  const bool points =
      std::any_of(c.panels.begin(), c.panels.end(), [](const auto& p) { return !p.points.empty(); });
  if (points) c.points_say = "readings that were taken";
  return c;
}

Figure history_figure(const StoredResult& r, const Edge& e, double limit, bool first) {
  const figures::CurveFigure c = history_curve(r, e, limit);
  Figure                     f;
  f.name  = first ? "history" : "history " + e.name;
  f.title = "Reading against strokes and passes: " + called(e);
  f.caption =
      "Equal steps upwards are equal ratios. On the left each stone, strop and turn to the back has a ground of its own, and its name; on the right the edge works in wood, and a fall is a touch-up in between.";
  f.draw = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
  const std::string steps = "edge/" + e.name + "/steps";
  AnswerTable       table = columns_of(r.needed(steps), {{"verb", "step"},
                                                         {"subject", "with"},
                                                         {"count", "count"},
                                                         {"strokes_to_burr", "burr after"},
                                                         {"apex_radius_after_um", "radius µm"},
                                                         {"dub_after_um", "dub µm"},
                                                         {"scratch_after_um", "scratch µm"},
                                                         {"burr_after_um", "burr µm"},
                                                         {"land_after_mm", "land mm"},
                                                         {"steel_removed_mg", "steel mg"},
                                                         {"reading_after_gf", "gf"}});
  table.says              = "What each step of edge " + e.name + " did";
  // what is left of a burr or a dub below a nanometre is none
  for (AnswerColumn& column : table.columns) {
    if (column.name != "burr_after_um" && column.name != "dub_after_um") continue;
    for (double& um : column.numbers) um = um < 1e-3 ? 0.0 : um;
  }
  f.tables.push_back(std::move(table));
  f.folded = !first;
  return f;
}

// the steps in words, a line each
std::vector<std::string> steps_in_words(const StoredResult& r, const Edge& e) {
  const std::string        steps = "edge/" + e.name + "/steps";
  const auto&              count = r.column(steps, "count");
  const auto&              after = r.column(steps, "reading_after_gf");
  std::vector<std::string> out;
  for (std::size_t s = 0; s < e.verb.size() && s < count.size(); ++s) {
    if (e.verb[s] == "read") continue;
    std::string line = fmt::format("{}. {}: {}", out.size() + 1, e.verb[s], e.subject[s]);
    if (count[s] > 0.0)
      line += fmt::format(", {:.0f} {}", count[s],
                          e.verb[s] == "cut"     ? "passes"
                          : e.verb[s] == "strop" ? "laps"
                                                 : "strokes");
    out.push_back(line + fmt::format(": {} gf", figures::figure_number(after[s])));
  }
  return out;
}

// the facts of a life, a sentence each; at a fit how many passes it lasts is for a forecast, which weighs all that was fitted
std::vector<std::string> facts_of(const Edge& e, double limit, bool at_fit) {
  std::vector<std::string> facts;
  const std::size_t        cut = e.first_cut();
  std::string read = fmt::format("As it was the edge reads {} gf", figures::figure_number(e.reading.front()));
  if (cut > 0 && cut < e.verb.size())
    read += fmt::format(", ready for work {} gf", figures::figure_number(e.reading[e.end_of(cut - 1)]));
  if (cut < e.verb.size())
    read += fmt::format(", after {} passes {} gf", figures::figure_number(e.passes.back()),
                        figures::figure_number(e.reading.back()));
  facts.push_back(read + ".");
  const auto within = [&](std::size_t i) {
    return e.step[i] < static_cast<double>(cut) + 1.0 || e.reading[i] <= limit;
  };
  if (e.is_unfinished) facts.emplace_back("There its history stopped, before all was done.");
  bool stays = limit > 0.0 && cut < e.verb.size() && !e.is_unfinished;
  for (std::size_t i = 0; i < e.step.size() && stays; ++i) stays = within(i);
  if (stays)
    facts.push_back(
        fmt::format("In wood it stays within the limit of {} gf.", figures::figure_number(limit)));
  if (limit > 0.0 && !std::isnan(e.life) && !at_fit)
    facts.push_back(fmt::format("It passes the limit of {} gf after {} passes.",
                                figures::figure_number(limit), figures::figure_number(e.life)));
  return facts;
}

// one sheet on the life of an edge, drawn when it is asked for by its name
Figure poster_figure(const StoredResult& r, const Edge& e, double limit, bool first) {
  figures::Poster poster;
  poster.title = "The life of edge " + e.name;
  poster.lead  = e.tool + (e.route.empty() ? "" : ", " + e.route);
  if (e.first_cut() < e.verb.size()) poster.lead += ", in " + e.subject[e.first_cut()];
  poster.facts    = facts_of(e, limit, has_fit(r));
  poster.curve    = history_curve(r, e, limit);
  poster.sections = sections_of(r, e, moments_of(e));
  for (figures::EdgeSection& s : poster.sections) s.whole = false;
  poster.steps = steps_in_words(r, e);
  poster.how_to_read =
      "All but the edge as it was are at one scale, and so are the frames that show the apex closer. Ochre: the burr. Dashed: the edge before. Above, equal steps upwards are equal ratios.";
  poster.source = fmt::format("Drawn by arris from {}. A prediction is an estimate, not a promise.",
                              std::filesystem::path(r.file).filename().string());
  Figure f;
  f.name  = first ? "poster" : "poster " + e.name;
  f.title = "A poster, A4: " + called(e);
  f.draw  = [poster](double width, const std::string& id) { return figures::poster_svg(poster, width, id); };
  f.on_page = false;
  return f;
}

// the edge with the most readings shows most
std::size_t most_read(const StoredResult& r, const std::vector<Edge>& edges) {
  std::size_t best = 0, most = 0;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const auto n = measured(r, edges[i].name, true, 0.0, 0.0).size();
    if (n > most) {
      best = i;
      most = n;
    }
  }
  return best;
}

std::vector<AnswerTable> wear_tables(const StoredResult& r) {
  std::vector<AnswerTable> tables;
  if (const AnswerTable* c = r.table("comparison")) {
    tables.push_back(columns_of(*c, {{"edge", "edge"},
                                     {"moment", "when"},
                                     {"readings", "readings"},
                                     {"measured_gf", "measured gf"},
                                     {"predicted_gf", "predicted gf"},
                                     {"ratio", "measured/predicted"},
                                     {"in_sd", "in s.d."}}));
    tables.back().says = "Measured beside predicted";
  }
  std::vector<std::pair<const char*, const char*>> columns{
      {"name", "edge"}, {"tool", "tool"}, {"route", "route"}, {"included_angle_deg", "angle °"}};
  // at a fit a life is for a forecast
  if (!has_fit(r)) columns.emplace_back("passes_to_limit", "passes to the limit");
  columns.emplace_back("status", "status");
  tables.push_back(columns_of(r.needed("edges"), columns));
  tables.back().says = "The edges";
  return tables;
}

// whether an edge does better than another: its history was finished, it lasts longer, or reads less at its end
bool is_better(const Edge& a, const Edge& b) {
  if (a.is_unfinished != b.is_unfinished) return b.is_unfinished;
  if (std::isnan(a.life) != std::isnan(b.life)) return std::isnan(a.life);
  return std::isnan(a.life) ? a.reading.back() < b.reading.back() : a.life > b.life;
}

/// The edges that a page draws.
struct Choice {
  std::set<std::size_t> shown;
  std::string           says;  ///< which these are; empty where they are all
};

Choice choice_of(const StoredResult& r, const std::vector<Edge>& edges, std::size_t best,
                 const Extent& extent) {
  constexpr std::size_t most = 12;  // beyond twice as many a choice is made
  Choice                out;
  for (const std::string& name : extent.edges) {
    const auto found =
        std::find_if(edges.begin(), edges.end(), [&](const Edge& e) { return e.name == name; });
    if (found == edges.end())
      throw Error(Exit::usage, {.code = "unknown-edge",
                                .what = fmt::format("there is no edge \"{}\"", printable(name)),
                                .next = "Its table of edges names them all.",
                                .file = r.file});
    out.shown.insert(static_cast<std::size_t>(found - edges.begin()));
  }
  std::vector<std::size_t> order(edges.size());
  for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
  if (extent.whole || edges.size() <= 2 * most) {
    out.shown.insert(order.begin(), order.end());
    return out;
  }
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return is_better(edges[a], edges[b]); });
  const bool asked = !out.shown.empty();
  out.shown.insert({best, order.front(), order[order.size() / 2], order.back()});
  for (std::size_t k = 0; k < most && out.shown.size() < most; ++k)
    out.shown.insert(order[k * (order.size() - 1) / (most - 1)]);
  out.says = fmt::format(
      "Of the {} edges {} are drawn: {}the best ({}), a typical one ({}), the worst ({}) and others in between, by {}. arris report --edge NAME,NAME draws others, --whole all of them; the result file has every one, and the table of edges names them.",
      edges.size(), out.shown.size(), asked ? "those that were asked for, " : "", edges[order.front()].name,
      edges[order[order.size() / 2]].name, edges[order.back()].name,
      std::isnan(edges[order.back()].life) ? "the reading at their end" : "how long they last");
  return out;
}

// all edges that work in wood; none where no edge does
std::optional<Figure> wear_figure(const StoredResult& r, const std::vector<Edge>& edges, double limit,
                                  const Choice& choice) {
  figures::CurveFigure all;
  all.title       = "Reading of every edge against passes in wood";
  all.description = "One panel for each edge that works in wood; the tables have the numbers.";
  all.y_label     = "reading, gf";
  all.limit       = limit > 0.0 ? limit : 0.0;
  all.limit_says  = fmt::format("limit {} gf", figures::figure_number(limit));
  all.line_says   = "the model, a typical edge";
  LiveChart live;
  live.y_label = "reading, gf";
  live.limit   = all.limit;
  for (const std::size_t i : choice.shown) {
    const Edge& e = edges[i];
    if (e.first_cut() >= e.verb.size()) continue;
    auto panel = passes_panel(r, e);
    if (!panel.points.empty()) all.points_say = "readings that were taken";
    live.lines.push_back(live_line(called(e), panel));
    all.panels.push_back(std::move(panel));
  }
  if (all.panels.empty()) return std::nullopt;
  Figure f;
  f.name    = "wear";
  f.title   = choice.says.empty() ? "Every edge in wood" : "Edges in wood";
  f.caption = "All panels share the height of the reading; each has passes of its own.";
  if (!choice.says.empty()) f.caption += " " + choice.says;
  f.draw   = [all](double width, const std::string& id) { return figures::curves_svg(all, width, id); };
  f.tables = wear_tables(r);
  f.live.push_back(std::move(live));
  return f;
}

// the other edges one by one, on the page as far as they were chosen
void add_others(const StoredResult& r, const std::vector<Edge>& edges, std::size_t best, double limit,
                const Choice& choice, Section& s) {
  if (!choice.says.empty()) s.more.push_back(choice.says);
  for (std::size_t i = 0; i < edges.size(); ++i) {
    if (i == best) continue;
    stop_if_wished();
    const bool on_page = choice.shown.count(i) > 0;
    s.figures.push_back(history_figure(r, edges[i], limit, false));
    s.figures.back().on_page = on_page;
    s.figures.push_back(section_figure(r, edges[i], false, 0));
    s.figures.back().on_page = on_page;
  }
}

}  // namespace

void add_simulation(const StoredResult& r, Section& s) {
  if (is_of_specimens(r)) return add_specimens(r, s);
  const auto edges = edges_of(r);
  if (edges.empty()) return;
  const double          limit         = configured_limit(r);
  const std::size_t     best          = most_read(r, edges);
  const Choice          choice        = choice_of(r, edges, best, s.extent);
  constexpr std::size_t moved_through = 100;  // cross-sections of 4 kB each
  s.figures.push_back(
      section_figure(r, edges[best], true, s.extent.whole ? edges[best].verb.size() : moved_through));
  s.figures.push_back(history_figure(r, edges[best], limit, true));
  if (auto wear = wear_figure(r, edges, limit, choice)) s.figures.push_back(std::move(*wear));
  for (const std::size_t i : choice.shown) s.figures.push_back(poster_figure(r, edges[i], limit, i == best));
  add_others(r, edges, best, limit, choice, s);

  if (has_fit(r) && !std::isnan(limit))
    s.certainty.emplace_back(
        "Curves are here those of one wear law by itself. How long an edge lasts stands in the forecast, which weighs all laws that were fitted, and corrects each by what it missed.");
  const std::string file = shell_word(configuration_file(r));
  s.next.push_back(
      has_fit(r) ? fmt::format("Look at one edge step by step: arris simulate {} --edge {}{}", file,
                               shell_word(edges[best].name), fit_option(r))
      : r.table("readings") != nullptr
          ? fmt::format("Tune the model to the readings: arris fit {} --draws 2000 --out fit.h5", file)
          : fmt::format("Find out how many readings would tell: arris plan {}", file));
  s.next.push_back(fmt::format(
      "Make a poster of its life, A4: arris report {} --figure poster --out poster.pdf", shell_word(r.file)));
  s.next.push_back(fmt::format("See how surely an edge lasts: arris forecast {}{}", file, fit_option(r)));
}

}  // namespace arris::report
