// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "sim/output/columns.hpp"
#include "sim/report/parts.hpp"
#include "sim/text.hpp"

/// Simulations and forecasts of specimens: wear against their way, in their own units.
namespace arris::report {
namespace {

// the first of these columns that a table has, under the name that people read: "wear_um" as "µm"
struct OwnColumn {
  std::string name, unit;
};

OwnColumn own_column(const StoredResult& r, const std::string& table,
                     const std::vector<std::pair<const char*, const char*>>& known) {
  for (const auto& [name, unit] : known) {
    if (r.has_column(table, name)) return {name, unit};
  }
  r.refuse(fmt::format("/{} has no column of wear or way", printable(table)));
}

OwnColumn way_column(const StoredResult& r, const std::string& table) {
  return own_column(r, table, {{"metres", "metres"}, {"minutes", "minutes"}, {"passes", "passes"}});
}

OwnColumn wear_column(const StoredResult& r, const std::string& table) {
  return own_column(r, table, {{"wear_um", "µm"}, {"wear_mm", "mm"}});
}

// what was read of a specimen, where it counts and could be seen
void add_points(const StoredResult& r, const std::string& name, figures::CurvePanel& panel) {
  if (r.table("readings") == nullptr) return;
  const auto &way   = r.column("readings", way_column(r, "readings").name),
             &wear  = r.column("readings", wear_column(r, "readings").name),
             &below = r.column("readings", "below");
  const auto &edge = r.words("readings", "edge"), &out = r.words("readings", "excluded"),
             &moment = r.words("readings", "moment");
  for (std::size_t i = 0; i < edge.size(); ++i) {
    if (edge[i] != name || !out[i].empty() || below[i] > 0.0 || !std::isfinite(way[i]) ||
        !std::isfinite(wear[i]))
      continue;
    panel.points.push_back({way[i], wear[i], wear[i], wear[i], fmt::format("{}, {}", name, moment[i])});
  }
}

// of specimens that wear alike by the model one panel, with what was read of all of them; up to `most`
std::vector<figures::CurvePanel> panels_of(const StoredResult& r, const std::vector<std::string>& names,
                                           std::size_t most) {
  std::vector<figures::CurvePanel> panels;
  for (const std::string& name : names) {
    const std::string track = "edge/" + name + "/track";
    if (r.table(track) == nullptr) continue;
    const OwnColumn     way = way_column(r, track);
    figures::CurvePanel panel;
    panel.x    = r.column(track, way.name);
    panel.y    = r.column(track, wear_column(r, track).name);
    auto alike = std::find_if(panels.begin(), panels.end(),
                              [&](const figures::CurvePanel& p) { return p.x == panel.x && p.y == panel.y; });
    if (alike == panels.end()) {
      if (panels.size() == most) continue;
      panel.title   = name;
      panel.x_label = way.unit;
      panels.push_back(std::move(panel));
      alike = panels.end() - 1;
    } else {
      alike->title += "; " + name;
    }
    add_points(r, name, *alike);
  }
  return panels;
}

Figure drawn_curves(const std::string& name, const std::string& title, const std::string& caption,
                    figures::CurveFigure curves) {
  return {name, title, caption, [curves = std::move(curves)](double width, const std::string& id) {
            return figures::curves_svg(curves, width, id);
          }};
}

}  // namespace

bool is_of_specimens(const StoredResult& r) {
  return r.has_column("edges", "quantity") || r.has_column("lives", "specimen");
}

void add_specimens(const StoredResult& r, Section& s) {
  const auto& names = r.words("edges", "name");
  if (names.empty()) return;
  constexpr std::size_t most = 8;  // panels on one page
  figures::CurveFigure  figure;
  figure.panels = panels_of(r, names, most);
  if (figure.panels.empty()) return;
  const std::string quantity = r.words("edges", "quantity").front();
  figure.y_label   = fmt::format("{}, {}", quantity, wear_column(r, "edge/" + names.front() + "/track").unit);
  figure.line_says = "the model";
  if (r.table("readings") != nullptr) figure.points_say = "readings";
  figure.title       = fmt::format("{} of specimens", quantity);
  figure.description = fmt::format("{} against {}, a panel for those that wear alike by the model.", quantity,
                                   figure.panels.front().x_label);
  s.heading          = "How the specimens wear";
  s.figures.push_back(drawn_curves(
      "wear", "How the specimens wear",
      fmt::format(
          "Specimens that wear alike by the model share a panel; up to {} are shown, all stand in the file.",
          most),
      std::move(figure)));
  s.next.push_back(fmt::format("Tune the model to the readings: arris fit {} --draws 2000 --out fit.h5",
                               shell_word(configuration_file(r))));
}

void add_specimen_forecast(const StoredResult& r, Section& s) {
  const auto&       names = r.words("curves", "specimen");
  const OwnColumn   way = way_column(r, "curves"), wear = wear_column(r, "curves");
  const std::string unit = wear.name.substr(5);  // behind "wear_"
  const auto        at   = [&](const std::string& name, const Run& run) {
    return part(r.column("curves", name + unit), run);
  };
  constexpr std::size_t most = 8;
  figures::CurveFigure  figure;
  for (const Run& run : runs_of(names)) {
    figures::CurvePanel panel;
    panel.x    = part(r.column("curves", way.name), run);
    panel.y    = at("wear_", run);
    auto alike = std::find_if(figure.panels.begin(), figure.panels.end(),
                              [&](const figures::CurvePanel& p) { return p.y == panel.y; });
    if (alike != figure.panels.end()) {
      alike->title += "; " + run.name;
      continue;
    }
    if (figure.panels.size() == most) continue;
    panel.title   = run.name;
    panel.x_label = way.unit;
    if (setting(r, "members") > 1.0)
      panel.bands = {{at("next_wear_low_", run), at("next_wear_high_", run), "ink"},
                     {at("wear_low_", run), at("wear_high_", run), "ink"}};
    figure.panels.push_back(std::move(panel));
  }
  const double limit_um = setting(r, "limit_um");
  figure.limit          = std::isnan(limit_um) ? 0.0 : limit_um * (unit == "mm" ? 1e-3 : 1.0);
  figure.limit_says     = "limit";
  figure.y_label        = fmt::format("wear, {}", wear.unit);
  figure.line_says      = "mean specimen";
  if (setting(r, "members") > 1.0)
    figure.band_says = {{"ink-twice", "where it lies, 9 in 10"}, {"ink", "the next specimens, 9 in 10"}};
  figure.title       = "Wear to come";
  figure.description = fmt::format("Wear against {}, with the limit.", way.unit);
  s.heading          = "How long each specimen lasts";
  s.figures.push_back(drawn_curves("wear-to-come", "Wear to come",
                                   "Specimens that are foretold alike share a panel.", std::move(figure)));
  add_rest(r, s, {"curves"});
}

}  // namespace arris::report
