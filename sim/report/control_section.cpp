// SPDX-License-Identifier: MIT
#include <cmath>

#include "sim/figures/lines.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {
namespace {

// the band is what the limits allow
Figure individuals_figure(const StoredResult& r) {
  const auto&         order   = r.column("points", "order");
  const auto&         reading = r.column("points", "reading_gf");
  const auto&         names   = r.words("points", "point");
  const auto&         signals = r.words("points", "signal");
  figures::LineSeries s{.name = "reading", .x = order, .y = reading, .points = true};
  s.low.assign(order.size(), setting(r, "lower_gf"));
  s.high.assign(order.size(), setting(r, "upper_gf"));
  bool any = false;
  for (std::size_t i = 0; i < names.size(); ++i) {
    const bool beyond = signals[i].find("beyond limits") != std::string::npos;
    any               = any || beyond;
    s.says.push_back(beyond ? names[i] : std::string{});
  }
  if (!any) s.says.clear();
  figures::LineFigure l;
  l.title       = "What the tester read, in order";
  l.description = r.answer.headline;
  l.x_label     = "point, in order";
  l.y_label     = "reading, gf";
  l.from_zero   = false;
  l.level       = setting(r, "centre_gf");
  l.level_says  = "centre";
  l.series.push_back(std::move(s));
  Figure f = drawn("control", "What the tester read, in order",
                   "A tester that does not change stays within the band, on both sides of the centre.", l);
  f.tables.push_back(r.needed("points"));
  return f;
}

Figure ranges_figure(const StoredResult& r) {
  figures::LineFigure l;
  l.title       = "How far each point lies from the one before";
  l.description = "Moving ranges, with their limit.";
  l.x_label     = "point, in order";
  l.y_label     = "moving range, gf";
  l.level       = setting(r, "range_upper_gf");
  l.level_says  = "limit";
  l.series.push_back({.name   = "moving range",
                      .x      = r.column("points", "order"),
                      .y      = r.column("points", "moving_range_gf"),
                      .points = true});
  Figure f =
      drawn("ranges", "How far each point lies from the one before", "A range above the limit is a jump.", l);
  f.folded = true;
  return f;
}

}  // namespace

void add_control(const StoredResult& r, Section& s) {
  s.figures.push_back(individuals_figure(r));
  s.figures.push_back(ranges_figure(r));
  add_rest(r, s, {"points"});
}

}  // namespace arris::report
