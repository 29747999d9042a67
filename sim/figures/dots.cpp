// SPDX-License-Identifier: MIT
#include "sim/figures/dots.hpp"

#include <algorithm>
#include <cmath>

#include "sim/figures/plot.hpp"

namespace arris::figures {
namespace {

constexpr double row_height = 17.0, heading_height = 30.0, foot = 40.0;

Axis axis_of_dots(const DotFigure& f) {
  std::vector<double> all;
  for (const DotGroup& g : f.groups) {
    for (const DotRow& row : g.rows) {
      all.insert(all.end(), row.values.begin(), row.values.end());
      if (std::isfinite(row.model)) all.push_back(row.model);
    }
  }
  if (f.limit > 0.0) all.push_back(f.limit);
  return axis_over(f.x_label, all, true);
}

bool has_model(const DotFigure& f) {
  return std::any_of(f.groups.begin(), f.groups.end(), [](const DotGroup& g) {
    return std::any_of(g.rows.begin(), g.rows.end(), [](const DotRow& r) { return std::isfinite(r.model); });
  });
}

// the name of a row, on as many lines as it takes
std::vector<std::string> name_lines(const DotRow& row, double names, bool narrow) {
  return lines_of(narrow || row.more.empty() ? row.name : row.name + "  " + row.more, names - 14.0, 11.0);
}

constexpr double name_line = 12.0;

double height_of_row(const DotRow& row, double names, bool narrow) {
  return row_height + name_line * static_cast<double>(name_lines(row, names, narrow).size() - 1);
}

// a narrow picture has no room for the limit beside the key
double key_height_of(const DotFigure& f, bool narrow) { return narrow && f.limit > 0.0 ? 38.0 : 22.0; }

double height_of_dots(const DotFigure& f, double key_height, double names, bool narrow) {
  double height = key_height + foot;
  for (const DotGroup& g : f.groups) {
    height += heading_height;
    for (const DotRow& row : g.rows) height += height_of_row(row, names, narrow);
  }
  return height;
}

void draw_dots_key(Svg& svg, bool with_model) {
  svg.circle(14.0, 10.0, 3.2, "point-ink");
  svg.text(22.0, 14.0, "a reading", Svg::Anchor::start, "small");
  svg.line(92.0, 4.0, 92.0, 16.0, "bar-ink");
  svg.text(99.0, 14.0, "their mean", Svg::Anchor::start, "small");
  if (!with_model) return;
  svg.circle(180.0, 10.0, 4.4, "point-plum");
  svg.text(189.0, 14.0, "the model", Svg::Anchor::start, "small");
}

}  // namespace

std::string dots_svg(const DotFigure& f, double width, const std::string& id) {
  const bool   narrow     = width < 520.0;
  const double names      = narrow ? 46.0 : std::min(0.4 * width, 290.0);
  const double key_height = key_height_of(f, narrow);
  const double right = width - 14.0, height = height_of_dots(f, key_height, names, narrow),
               bottom = height - foot;
  const Axis axis     = axis_of_dots(f);
  const auto place    = [&](double v) {
    return names + (right - names) * std::log(v / axis.low) / std::log(axis.high / axis.low);
  };
  Svg svg(width, height, id, f.title, f.description);
  draw_dots_key(svg, has_model(f));
  for (const double t : ticks_of(axis, narrow ? 5 : 9)) {
    svg.line(place(t), key_height, place(t), bottom, "grid");
    svg.text(place(t), bottom + 15.0, figure_number(t), Svg::Anchor::middle, "small soft");
  }
  svg.line(names, bottom, right, bottom, "axis");
  svg.text(0.5 * (names + right), bottom + 32.0, f.x_label, Svg::Anchor::middle, "small");
  if (f.limit > 0.0) {
    svg.line(place(f.limit), key_height, place(f.limit), bottom, "limit");
    svg.text(place(f.limit), key_height - 6.0, f.limit_says, Svg::Anchor::middle, "small halo");
  }
  double y = key_height;
  for (const DotGroup& g : f.groups) {
    svg.text(8.0, y + 20.0, g.heading, Svg::Anchor::start, "strong halo");
    y += heading_height;
    for (const DotRow& row : g.rows) {
      const double tall   = height_of_row(row, names, narrow);
      const double middle = y + 0.5 * tall;
      double       text_y = y + 0.5 * row_height + 4.0;
      for (const std::string& line : name_lines(row, names, narrow)) {
        svg.text(8.0, text_y, line, Svg::Anchor::start, "small halo");
        text_y += name_line;
      }
      if (std::isfinite(row.mean))
        svg.line(place(row.mean), middle - 6.0, place(row.mean), middle + 6.0, "bar-ink");
      if (std::isfinite(row.model))
        svg.circle(place(row.model), middle, 4.4, "point-plum", "the model: " + figure_number(row.model));
      for (std::size_t i = 0; i < row.values.size(); ++i)
        svg.circle(place(row.values[i]), middle, 3.2, "point-ink",
                   i < row.says.size() ? row.says[i] : figure_number(row.values[i]));
      y += tall;
    }
  }
  return svg.text_of();
}

}  // namespace arris::figures
