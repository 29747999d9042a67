// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>
#include <tuple>

#include <fmt/format.h>

#include "sim/figures/intervals.hpp"
#include "sim/figures/svg.hpp"
#include "sim/laws/field.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {

namespace {

// what a year of each way costs, the cheapest first, and for what; nothing where no year or no price is known
std::optional<Figure> year_figure(const StoredResult& r) {
  if (r.table("costs") == nullptr || !r.has_column("costs", "money_per_year")) return std::nullopt;
  const auto&  ways  = r.words("costs", "way");
  const double years = setting(r, "sharpenings_per_year");
  const auto&  money = r.column("costs", "money_per_year");
  if (std::any_of(money.begin(), money.end(), [](double m) { return std::isnan(m); })) return std::nullopt;
  std::vector<std::size_t> order(ways.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](std::size_t a, std::size_t b) { return money[a] < money[b]; });
  figures::BarFigure f;
  f.title = fmt::format("What a year of {} sharpenings costs", figures::figure_number(years));
  f.description =
      fmt::format("From {} ({}) to {} ({}).", figures::figure_number(money[order.front()]),
                  ways[order.front()], figures::figure_number(money[order.back()]), ways[order.back()]);
  f.x_label = column(r.needed("costs"), "money_per_year").head;
  for (const std::size_t i : order) f.rows.push_back(ways[i]);
  for (const auto& [name, tone, says] : {std::tuple{"time", "soft", "time"},
                                         {"media", "ink", "media"},
                                         {"strops", "ochre", "strops and compounds"},
                                         {"flatten", "plum", "flattening, beside its time"}}) {
    figures::BarPart part{says, tone, {}};
    for (const std::size_t i : order) part.value.push_back(years * r.column("costs", name)[i]);
    f.parts.push_back(std::move(part));
  }
  Figure out = drawn("year", f.title,
                     "Each bar is one way, the cheapest first; its parts are what it is paid for.", f);
  out.tables.push_back(r.needed("costs"));
  return out;
}

}  // namespace

void add_comparison(const StoredResult& r, Section& s) {
  figures::IntervalFigure v;
  v.title            = "Ways of sharpening side by side";
  v.description      = r.answer.headline;
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
  const bool was_read = r.has_column("ways", "read_gf") &&
                        std::any_of(r.column("ways", "read_gf").begin(), r.column("ways", "read_gf").end(),
                                    [](double read) { return !std::isnan(read); });
  if (was_read) v.columns.back().beside = r.column("ways", "read_gf");
  v.columns.back().level      = limit;
  v.columns.back().level_says = "limit";
  v.columns.push_back(column("passes to the limit (next edges, 9 in 10)", "passes", "next_passes_low",
                             "next_passes_high", true));
  v.columns.push_back(column("minutes of one sharpening", "minutes", nullptr, nullptr, false));
  Figure f = drawn(
      "routes", "Ways side by side",
      std::string(
          "Further left is sharper, or quicker; further right in the middle lasts longer. The first way, in plum, is the one that the others are compared with. All on one tool and in one wood.") +
          (was_read ? " The dot in ochre is what was read of such edges; the others are the model's." : ""),
      v);
  f.tables.push_back(r.needed("ways"));
  f.tables.push_back(r.needed("against"));
  s.figures.push_back(std::move(f));
  std::vector<std::string> shown{"ways", "against", "steps"};
  if (auto year = year_figure(r)) {
    s.figures.push_back(std::move(*year));
    shown.emplace_back("costs");
  }

  if (r.table("steps") != nullptr) {
    AnswerTable steps = r.needed("steps");
    for (AnswerColumn& c : steps.columns) c.head = c.head.empty() ? c.says : c.head;
    s.tables.push_back(std::move(steps));
  }
  add_rest(r, s, shown);
  // the verdicts on the ways that the top does not give
  const auto &          ways = r.words("against", "way"), &verdict = r.words("against", "verdict");
  constexpr std::size_t most = 4;
  for (std::size_t i = 1; i < ways.size() && ways.size() <= most; ++i)
    s.certainty.push_back(ways[i] + ": " + verdict[i] + ".");
  if (ways.size() > most)
    s.certainty.push_back("The verdict on every way, with its certainty, stands in the table \"" +
                          r.needed("against").says + "\".");
  const std::string file = shell_word(configuration_file(r));
  s.next.push_back(
      fmt::format("Plan the experiment that would tell them apart: arris plan {} --difference 10{}", file,
                  fit_option(r)));
}

}  // namespace arris::report
