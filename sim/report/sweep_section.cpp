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
          "The line is the fewest laps whose reading is no more than 2 % above the least: left of it there is more to gain, right of it there is nothing to gain, and on a soft pad the edge is only rounded.";
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
    Figure f = drawn("sweep", i.title, "Everything else stays as the configuration has it.", i);
    s.figures.push_back(std::move(f));
  }
  add_rest(r, s, shown);
  s.certainty.emplace_back(
      "A sweep is worked out for the configuration as it stands: how far its parameters are uncertain is not in it. Take the order more seriously than the numbers.");
  s.next.push_back(fmt::format(
      "Put the best value into the configuration and look at every step: arris simulate {} --edge {}",
      shell_word(configuration_file(r)), shell_word(definition.at("edge").get<std::string>())));
}

}  // namespace

void add_sweep(const StoredResult& r, Section& s) {
  try {
    add_map(r, s);
  } catch (const nlohmann::json::exception& fault) {
    r.refuse(
        fmt::format("the definition of the sweep in the result cannot be read: {}", printable(fault.what())));
  }
}

}  // namespace arris::report
