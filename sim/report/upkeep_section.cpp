// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/figures/lines.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {

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
           "Each point is the cheapest routine that keeps its limit; numbers beside it are passes. Equal steps upwards are equal ratios.",
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
    Figure f = drawn(
        "caution", "How surely the limit is kept",
        "Further left is more careful: fewer passes before the strop, and more minutes of upkeep per 1000 passes, which stand beside each point.",
        l);
    f.tables.push_back(r.needed("caution"));
    s.figures.push_back(std::move(f));
    // what would be safe, from the same numbers
    for (std::size_t i = order.size(); i-- > 0;) {
      const std::size_t k = order[i];
      if (keeping[k] < 90.0) continue;
      s.next.push_back(fmt::format(
          "To be nearly sure of the limit work no more than {} passes at a stretch: {} % of the versions of the model keep it then, for {} minutes per 1000 passes.",
          figures::figure_number(passes[k]), figures::figure_number(keeping[k], 2),
          figures::figure_number(minutes[k], 2)));
      break;
    }
  }
  if (!has_fit(r))
    s.next.push_back(fmt::format(
        "Let it rest on readings of your own: arris fit {} --draws 2000 --out fit.h5, then this command with --fit fit.h5",
        file));
  // members and fronts are thousands of rows for a machine
  add_rest(r, s,
           {"trade_off", "routines", "caution", "members", "by_interval", "reading_front", "steel_front"});
}

}  // namespace arris::report
