// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include "sim/figures/intervals.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {

void add_weighing(const StoredResult& r, Section& s) {
  const AnswerTable* laws = r.answer.tables.empty() ? nullptr : r.table("laws");
  const auto         some = [&](const char* name) {  // with one edge there is none
    if (!r.has_column("laws", name)) return false;
    const auto& values = r.column("laws", name);
    return std::any_of(values.begin(), values.end(), [](double value) { return std::isfinite(value); });
  };
  if (laws != nullptr && some("difference") && some("difference_se")) {
    figures::IntervalFigure v;
    v.title       = "How well each law foretells edges that were left out";
    v.description = s.answer;
    v.rows        = r.words("laws", "law");
    figures::IntervalColumn c{.label = "elpd less than the best, ± 2 standard errors",
                              .value = r.column("laws", "difference")};
    const auto&             se = r.column("laws", "difference_se");
    for (std::size_t i = 0; i < se.size(); ++i) {
      c.low.push_back(c.value[i] - 2.0 * se[i]);
      c.high.push_back(c.value[i] + 2.0 * se[i]);
    }
    v.columns.push_back(std::move(c));
    Figure f = drawn("laws", "How well each law foretells edges that were left out",
                     "An interval that reaches zero is no evidence against its law.", v);
    f.tables.push_back(*laws);
    s.figures.push_back(std::move(f));
    add_rest(r, s, {"laws"});
    return;
  }
  add_rest(r, s, {});
}

}  // namespace arris::report
