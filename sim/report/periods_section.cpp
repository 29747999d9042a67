// SPDX-License-Identifier: MIT
#include <cmath>

#include "sim/figures/intervals.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {
namespace {

Figure changes_figure(const StoredResult& r) {
  figures::IntervalFigure f;
  f.title       = "Readings of each period, over those of the first";
  f.description = r.answer.headline;
  f.reference   = 0;
  figures::IntervalColumn column{.label      = "times the first period",
                                 .value      = r.column("periods", "ratio"),
                                 .low        = r.column("periods", "ratio_low"),
                                 .high       = r.column("periods", "ratio_high"),
                                 .log        = true,
                                 .level      = 1.0,
                                 .level_says = "no change"};
  column.value.front() = column.low.front() = column.high.front() = 1.0;
  f.rows                                                          = r.words("periods", "period");
  f.columns.push_back(std::move(column));
  Figure figure = drawn(
      "periods", f.title,
      "A bar holds the change in 9 of 10 cases; a period without one cannot be told from the first. Of several periods one lies clear of the line by chance now and then: the sentences say which of them have changed.",
      f);
  figure.tables.push_back(r.needed("periods"));
  return figure;
}

}  // namespace

void add_periods(const StoredResult& r, Section& s) {
  s.figures.push_back(changes_figure(r));
  add_rest(r, s, {"periods"});
}

}  // namespace arris::report
