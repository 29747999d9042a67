// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

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

// throws Json::exception where something of a definition is not there, or of another type
using Json = nlohmann::ordered_json;

// over the section, where a question was asked
std::optional<std::string> heading_of(const std::string& question) {
  static const std::map<std::string, const char*> headings = {
      {"soft-strop", "How many laps, on a softer or harder strop"},
      {"bevel-angle", "Which bevel keeps its edge"},
      {"strokes", "How many strokes each step deserves"},
      {"skip-grits", "Which grit could be left out"},
      {"wood", "How long the edge lasts in other woods"}};
  const auto found = headings.find(question);
  return found == headings.end() ? std::nullopt : std::optional<std::string>(found->second);
}

std::string key_of(const Json& of) { return of.at("name").get<std::string>(); }

// an axis or an output as it stands beside a figure, with its unit
std::string label_of(const Json& of) {
  const std::string units = of.at("units").get<std::string>(), says = of.at("says").get<std::string>();
  const std::string unit = units == "1" || units.empty() ? ""
                           : units == "um"               ? ", µm"
                           : units == "degree"           ? ", °"
                                                         : ", " + units;
  // what is already in the name of the unit
  return (says == "reading of the tester in gram-force" ? std::string("reading") : says) + unit;
}

// what the configuration has in place of an axis; NaN where that is no number
double configured_value(const Json& axis) {
  return axis.at("own").is_number() ? axis.at("own").get<double>() : not_given;
}

// materials or steps instead of numbers
bool is_of_words(const Json& axis) { return axis.at("text").get<bool>(); }

void check_size(const StoredResult& r, std::size_t values, std::size_t places) {
  if (values != places) r.refuse("the map of the sweep does not fit its axes");
}

figures::HeatMap map_of(const StoredResult& r, const Json& axes, const Json& output) {
  // laps, passes and strokes go across; what they are tried on goes up
  figures::HeatMap m;
  m.x = r.column("map", key_of(axes.at(1)));
  m.y = r.column("map", key_of(axes.at(0)));
  m.z = r.grids.at("map/" + key_of(output)).numbers;
  check_size(r, m.z.size(), m.x.size() * m.y.size());
  m.x_label     = label_of(axes.at(1));
  m.y_label     = label_of(axes.at(0));
  m.z_label     = label_of(output);
  m.y_log       = m.y.size() > 3 && m.y.front() > 0.0 && m.y.back() / m.y.front() > 20.0;
  m.z_log       = true;
  m.title       = m.z_label + " over " + m.x_label + " and " + m.y_label;
  m.description = r.answer.headline;
  return m;
}

// the map of laps over stiffness, with the best number of laps on each pad
figures::HeatMap with_best_laps(const StoredResult& r, figures::HeatMap m) {
  m.line = r.column("optima", "best_laps");
  if (m.line.size() != m.y.size()) r.refuse("the best numbers of laps do not fit the map of the sweep");
  m.line_says = "best number of laps";
  return m;
}

// some of the points of a map: no more than a table can have
AnswerTable some_points(const figures::HeatMap& m) {
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
  return grid;
}

Figure map_figure(const StoredResult& r, const Json& definition) {
  const Json&      axes = definition.at("axes");
  figures::HeatMap m    = map_of(r, axes, definition.at("outputs").at(0));
  Figure           f;
  f.name    = "map";
  f.title   = "The map: " + m.z_label;
  f.caption = "The lighter, the lower the reading.";
  if (definition.at("question") == "soft-strop" && r.has_column("optima", "best_laps")) {
    m       = with_best_laps(r, std::move(m));
    f.name  = "soft-strop";
    f.title = "Stiffness of the pad against laps";
    f.caption =
        "Across: laps; up: how stiff the pad is, from soft hide to hard backing. The lighter, the sharper. "
        "The line is the fewest laps whose reading is no more than 2 % above the least: left of it there is more to gain, right of it there is nothing to gain, and on a soft pad the edge is only rounded.";
    f.tables.push_back(r.needed("optima"));
  }
  if (const double x = configured_value(axes.at(1)), y = configured_value(axes.at(0));
      !std::isnan(x) && !std::isnan(y)) {
    m.mark_x    = x;
    m.mark_y    = y;
    m.mark_says = "as configured";
    if (f.name == "soft-strop") {
      const std::string own = definition.at("about").get<std::string>();
      m.mark_says           = fmt::format("your strop: {}, {} laps", own, figures::figure_number(x));
      for (auto& pad : pads_of(r)) {
        if (pad.second != own) m.heights.push_back(std::move(pad));
      }
      f.caption += " The point is your strop as the configuration has it";
      f.caption += m.heights.empty() ? "." : "; how stiff its other pads are stands at the right side.";
    }
  }
  if (m.x.size() < 2 || m.y.size() < 2) return f;
  if (f.tables.empty()) f.tables.push_back(some_points(m));
  f.draw = [m](double width, const std::string& id) { return figures::heat_map_svg(m, width, id); };
  return f;
}

// an axis of words and one of numbers: a panel for each of the words, along the numbers
std::vector<figures::CurvePanel> panels_of(const StoredResult& r, const Json& words, const Json& along,
                                           const std::string& output, bool words_first) {
  const auto& names = r.words("map", key_of(words));
  const auto& x     = r.column("map", key_of(along));
  const auto& z     = r.grids.at("map/" + output).numbers;
  check_size(r, z.size(), names.size() * x.size());
  std::vector<figures::CurvePanel> panels;
  for (std::size_t i = 0; i < names.size(); ++i) {
    figures::CurvePanel panel;
    panel.title   = names[i];
    panel.x_label = label_of(along);
    panel.x       = x;
    for (std::size_t k = 0; k < x.size(); ++k)
      panel.y.push_back(words_first ? z[i * x.size() + k] : z[k * names.size() + i]);
    panels.push_back(std::move(panel));
  }
  return panels;
}

// a curve for each material or step
Figure panels_figure(const StoredResult& r, const Json& definition) {
  const Json &         axes = definition.at("axes"), &output = definition.at("outputs").at(0);
  const bool           words_first = is_of_words(axes.at(0));
  const Json &         words = axes.at(words_first ? 0 : 1), &along = axes.at(words_first ? 1 : 0);
  figures::CurveFigure c;
  c.panels      = panels_of(r, words, along, key_of(output), words_first);
  c.title       = label_of(output) + " against " + label_of(along);
  c.description = r.answer.headline;
  c.y_label     = label_of(output);
  if (const double limit = setting(r, "limit_gf"); key_of(output) == "reading_gf" && limit > 0.0) {
    c.limit      = limit;
    c.limit_says = fmt::format("limit {} gf", figures::figure_number(limit));
  }
  Figure f;
  f.name    = "sweep";
  f.title   = c.title;
  f.caption = "All panels share the height.";
  if (constexpr std::size_t most = 12; c.panels.size() > most) {
    f.caption += fmt::format(" {} of {}; the table has all.", most, c.panels.size());
    c.panels.resize(most);
  }
  f.draw = [c](double width, const std::string& id) { return figures::curves_svg(c, width, id); };
  if (r.table("optima") != nullptr) f.tables.push_back(r.needed("optima"));
  return f;
}

// one axis of numbers
Figure curve_figure(const StoredResult& r, const Json& definition) {
  const Json &        axis = definition.at("axes").at(0), &output = definition.at("outputs").at(0);
  figures::LineFigure l;
  l.title       = label_of(output) + " against " + label_of(axis);
  l.description = r.answer.headline;
  l.x_label     = label_of(axis);
  l.y_label     = label_of(output);
  l.from_zero   = false;
  l.series.push_back({.name   = label_of(output),
                      .x      = r.column("map", key_of(axis)),
                      .y      = r.column("map", key_of(output)),
                      .points = axis.at("count").get<std::size_t>() <= 40});
  check_size(r, l.series[0].y.size(), l.series[0].x.size());
  if (const double x = configured_value(axis); !std::isnan(x)) {
    l.mark      = x;
    l.mark_says = "as configured";
  }
  if (l.series[0].x.size() < 2) return {};
  Figure f = drawn("sweep", l.title, "Everything else stays as the configuration has it.", l);
  if (r.table("curve") != nullptr) f.tables.push_back(r.needed("curve"));
  return f;
}

// one axis of materials, or of steps left out
Figure choices_figure(const StoredResult& r, const Json& definition) {
  const Json &            axis = definition.at("axes").at(0), &output = definition.at("outputs").at(0);
  const std::string       name = key_of(axis);
  figures::IntervalFigure i;
  i.title       = label_of(output) + " by " + label_of(axis);
  i.description = r.answer.headline;
  i.rows        = r.words("map", name);
  i.columns.emplace_back();
  i.columns.back().label = label_of(output);
  i.columns.back().value = r.column("map", key_of(output));
  check_size(r, i.columns.back().value.size(), i.rows.size());
  return drawn("sweep", i.title, "Everything else stays as the configuration has it.", i);
}

// rows of a design put into groups of like size by an input, the least first: the mean of the answer in each
figures::LineSeries grouped_by(const std::string& name, const std::vector<double>& x,
                               const std::vector<double>& y) {
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < x.size(); ++i) {
    if (!std::isnan(y[i])) order.push_back(i);
  }
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return x[a] < x[b]; });
  const std::size_t   groups = std::clamp<std::size_t>(order.size() / 16, 2, 10);
  figures::LineSeries series{.name = name, .points = true};
  for (std::size_t g = 0; g < groups; ++g) {
    const std::size_t first = g * order.size() / groups, end = (g + 1) * order.size() / groups;
    if (first == end) continue;
    double sum = 0.0;
    for (std::size_t i = first; i < end; ++i) sum += y[order[i]];
    series.x.push_back(100.0 * (static_cast<double>(g) + 0.5) / static_cast<double>(groups));
    series.y.push_back(sum / static_cast<double>(end - first));
  }
  return series;
}

// a line for each input of a design that is a number
Figure design_figure(const StoredResult& r, const Json& definition) {
  constexpr std::size_t most   = 6;
  const Json&           output = definition.at("outputs").at(0);
  const auto&           y      = r.column("map", key_of(output));
  figures::LineFigure   l;
  l.title       = label_of(output) + " by each input";
  l.description = r.answer.headline;
  l.x_label     = "place in the range of the input, %";
  l.y_label     = label_of(output);
  l.from_zero   = false;
  for (const Json& input : definition.at("inputs")) {
    if (is_of_words(input) || l.series.size() == most) continue;
    const auto& x = r.column("map", key_of(input));
    check_size(r, y.size(), x.size());
    l.series.push_back(grouped_by(input.at("path").get<std::string>(), x, y));
  }
  if (l.series.empty() || l.series.front().x.size() < 2) return {};
  Figure f = drawn(
      "sweep", l.title,
      "Rows in groups by one input at a time, those with its least values left: the mean of each group, whatever all other inputs are in it. The steeper a line, the more that input matters.",
      l);
  f.tables.push_back(r.needed("spread"));
  return f;
}

// a grid of many inputs: the best over all others, along the first
Figure best_figure(const StoredResult& r, const Json& definition) {
  const Json &        axis = definition.at("axes").at(0), &output = definition.at("outputs").at(0);
  figures::LineFigure l;
  l.title       = "Best " + label_of(output) + " against " + label_of(axis);
  l.description = r.answer.headline;
  l.x_label     = label_of(axis);
  l.y_label     = label_of(output);
  l.from_zero   = false;
  l.series.push_back({.name   = label_of(output),
                      .x      = r.column("optima", key_of(axis)),
                      .y      = r.column("optima", key_of(output)),
                      .points = axis.at("count").get<std::size_t>() <= 40});
  if (l.series[0].x.size() < 2) return {};
  Figure f = drawn("sweep", l.title, "Each point has the best values of all other inputs.", l);
  f.tables.push_back(r.needed("optima"));
  return f;
}

// the figure that suits what the sweep was over, with the tables that belong to it. Without a picture where there are too many
// axes, or too few values, to be drawn.
Figure sweep_figure(const StoredResult& r, const Json& definition) {
  const Json&       axes    = definition.at("axes");
  const std::string output  = key_of(definition.at("outputs").at(0));
  const bool        numbers = std::none_of(axes.begin(), axes.end(), is_of_words);
  if (definition.contains("inputs")) return design_figure(r, definition);
  if (axes.size() > 2) return is_of_words(axes.at(0)) ? Figure{} : best_figure(r, definition);
  if (axes.size() == 2 && r.grids.count("map/" + output) > 0) {
    if (numbers) return map_figure(r, definition);
    if (is_of_words(axes.at(0)) != is_of_words(axes.at(1))) return panels_figure(r, definition);
  }
  if (axes.size() == 1 && r.has_column("map", output))
    return numbers ? curve_figure(r, definition) : choices_figure(r, definition);
  return {};
}

void add_swept(const StoredResult& r, Section& s, const Json& definition) {
  s.heading                  = heading_of(definition.value("question", "")).value_or(s.heading);
  Figure                   f = sweep_figure(r, definition);
  std::vector<std::string> shown;
  for (const AnswerTable& table : f.tables) shown.push_back(table.name);
  if (f.draw) s.figures.push_back(std::move(f));
  add_rest(r, s, shown);
  s.certainty.emplace_back(
      "A sweep is worked out for the configuration as it stands: how far its parameters are uncertain is not in it. Take the order more seriously than the numbers.");
  s.next.push_back(fmt::format(
      "Put the best value into the configuration and look at every step: arris simulate {} --edge {}{}",
      shell_word(configuration_file(r)), shell_word(definition.at("edge").get<std::string>()),
      fit_option(r)));
}

}  // namespace

void add_sweep(const StoredResult& r, Section& s) {
  try {
    add_swept(r, s, Json::parse(r.texts.count("definition") > 0 ? r.texts.at("definition") : ""));
  } catch (const Json::exception& fault) {
    r.refuse(
        fmt::format("the definition of the sweep in the result cannot be read: {}", printable(fault.what())));
  }
}

}  // namespace arris::report
