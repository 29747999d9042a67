// SPDX-License-Identifier: MIT
#include <utility>

#include <fmt/format.h>

#include "sim/figures/intervals.hpp"
#include "sim/report/parts.hpp"

namespace arris::report {
namespace {

figures::IntervalColumn shares_in(const StoredResult& r, const std::string& name, std::string label) {
  figures::IntervalColumn column;
  column.label      = std::move(label);
  const auto as_pct = [&](const std::string& of) {
    std::vector<double> values = r.column("indices", of);
    for (double& value : values) value *= 100.0;
    return values;
  };
  column.value = as_pct(name);
  column.low   = as_pct(name + "_low");
  column.high  = as_pct(name + "_high");
  return column;
}

}  // namespace

void add_sensitivity(const StoredResult& r, Section& s) {
  figures::IntervalFigure i;
  i.title       = "What matters how much";
  i.description = r.answer.headline;
  i.rows        = r.words("indices", "input");
  i.columns     = {shares_in(r, "first", "alone, % of the variance"),
                   shares_in(r, "total", "with others, % of the variance")};
  Figure f      = drawn(
           "sensitivity", i.title,
           "Left: by how much the variance of the answer would shrink if that input alone were known (Sobol index of the first order). Right: how much would be left if all others were known (total index). Bars are 90 % intervals.",
           i);
  f.tables.push_back(r.needed("indices"));
  s.figures.push_back(std::move(f));
  add_rest(r, s, {"indices"});
}

}  // namespace arris::report
