// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numeric>

#include <fmt/format.h>

#include "sim/figures/lines.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {
namespace {

// what the routine is at a point of the trade-off: "strop every 40, hone every 800"
std::string routine_at(const StoredResult& r, std::size_t row) {
  const auto at = [&](const char* name) {
    return r.has_column("trade_off", name) ? r.column("trade_off", name)[row] : not_given;
  };
  const double strop = at("strop_every_passes"), hone = at("hone_every_passes");
  std::string  says;
  if (std::isfinite(strop)) says += fmt::format("strop every {}", figures::figure_number(strop));
  if (std::isfinite(hone))
    says += fmt::format("{}hone every {}", says.empty() ? "" : ", ", figures::figure_number(hone));
  return says;
}

Figure trade_off_figure(const StoredResult& r) {
  const auto&         limits = r.column("trade_off", "limit_gf");
  figures::LineFigure l;
  l.title       = "What a sharper edge costs";
  l.description = r.answer.headline;
  l.x_label     = "limit of the reading, gf";
  l.y_label     = "minutes of upkeep per 1000 passes";
  l.y_log       = true;
  figures::LineSeries minutes{
      .name = "minutes", .x = limits, .y = r.column("trade_off", "minutes"), .points = true};
  for (std::size_t i = 0; i < limits.size(); ++i) minutes.says.push_back(routine_at(r, i));
  l.series.push_back(std::move(minutes));
  l.mark      = setting(r, "limit_gf");
  l.mark_says = "as asked";
  Figure f    = drawn(
         "trade-off", "What a sharper edge costs",
         "Each point is the cheapest routine that keeps its limit; numbers beside it are passes. Equal steps upwards are equal ratios.",
         l);
  f.tables.push_back(r.needed("trade_off"));
  f.tables.push_back(r.needed("routines"));
  return f;
}

// rows of "caution" from few passes at a stretch to many, whatever the table has; those that are no number last
std::vector<std::size_t> by_passes(const std::vector<double>& passes) {
  std::vector<std::size_t> order(passes.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return passes[a] < passes[b] || (std::isnan(passes[b]) && !std::isnan(passes[a]));
  });
  return order;
}

Figure caution_figure(const StoredResult& r, const std::vector<std::size_t>& order) {
  const auto &passes = r.column("caution", "passes"), &keeping = r.column("caution", "keeping_pct"),
             &minutes = r.column("caution", "minutes");
  figures::LineFigure l;
  l.title       = "How surely the limit is kept";
  l.description = "Share of the versions of the model that keep the limit, against passes at a stretch.";
  l.x_label     = "passes at a stretch";
  l.y_label     = "versions of the model that keep the limit, %";
  l.most        = 100.0;
  l.x_from_zero = true;
  figures::LineSeries kept{.name = "kept", .points = true};
  for (const std::size_t i : order) {
    kept.x.push_back(passes[i]);
    kept.y.push_back(keeping[i]);
    kept.says.push_back(fmt::format("{} min", figures::figure_number(minutes[i], 2)));
  }
  l.series.push_back(std::move(kept));
  Figure f = drawn(
      "caution", "How surely the limit is kept",
      "Further left is more careful: fewer passes before the strop, and more minutes of upkeep per 1000 passes, which stand beside each point.",
      l);
  f.tables.push_back(r.needed("caution"));
  return f;
}

// the most passes that would be safe, from the same numbers; empty where none are
std::string safe_passes(const StoredResult& r, const std::vector<std::size_t>& order) {
  const auto& keeping = r.column("caution", "keeping_pct");
  const auto  safe =
      std::find_if(order.rbegin(), order.rend(), [&](std::size_t row) { return !(keeping[row] < 90.0); });
  if (safe == order.rend()) return {};
  return fmt::format(
      "To be nearly sure of the limit work no more than {} passes at a stretch: {} % of the versions of the model keep it then, for {} minutes per 1000 passes.",
      figures::figure_number(r.column("caution", "passes")[*safe]), figures::figure_number(keeping[*safe], 2),
      figures::figure_number(r.column("caution", "minutes")[*safe], 2));
}

}  // namespace

void add_upkeep(const StoredResult& r, Section& s) {
  const std::string file = shell_word(configuration_file(r));
  if (r.table("trade_off") != nullptr && r.needed("trade_off").rows() > 1)
    s.figures.push_back(trade_off_figure(r));
  if (r.table("caution") != nullptr && r.needed("caution").rows() > 1) {
    const auto order = by_passes(r.column("caution", "passes"));
    s.figures.push_back(caution_figure(r, order));
    if (const std::string advice = safe_passes(r, order); !advice.empty()) s.next.push_back(advice);
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
