// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>

#include <fmt/format.h>

#include "sim/statistics/quantiles.hpp"
#include "sim/studies/sweep/sweep_answer_parts.hpp"
#include "sim/wording.hpp"

/// Answers of sweeps over many inputs: a grid of three or more, and designs.
namespace arris::sweep_parts {
namespace {

// where a member lies on each axis but the first
std::vector<std::size_t> places_in_row(const SweepDefinition& d, const SweepGrid& grid, std::size_t column) {
  std::vector<std::size_t> out;
  for (std::size_t a = 1; a < d.axes.size(); ++a)
    out.push_back(grid.index_on(a, d.axes[a].size(), 0, column));
  return out;
}

// a column for each axis behind the first: its values where the best of each row is
void add_best_places(AnswerTable& table, const SweepDefinition& d, const SweepGrid& grid,
                     const std::vector<std::optional<std::size_t>>& best) {
  for (std::size_t a = 1; a < d.axes.size(); ++a) {
    const SweepAxis&         axis = d.axes[a];
    std::vector<double>      values;
    std::vector<std::string> labels;
    for (const auto& column : best) {
      const std::size_t i = column ? grid.index_on(a, axis.size(), 0, *column) : 0;
      values.push_back(column ? axis.values[i] : not_given);
      if (axis.is_text()) labels.push_back(column ? axis.labels[i] : "");
    }
    const std::string says = "where the best of the row is: " + axis.says;
    if (axis.is_text()) {
      table.text("best_" + axis.name, "best " + axis.head, says, std::move(labels));
    } else {
      table.number("best_" + axis.name, axis.units, "best " + axis.head, says, std::move(values));
    }
  }
}

// all combinations, each with its value on every axis
AnswerTable members_table(const SweepDefinition& d, const SweepGrid& grid,
                          std::vector<std::vector<double>> values) {
  AnswerTable members{.name = "members", .says = "All combinations", .axis = "combination"};
  members.on_terminal = false;
  for (std::size_t a = 0; a < d.axes.size(); ++a) {
    std::vector<std::size_t> at;
    for (std::size_t r = 0; r < grid.rows; ++r) {
      for (std::size_t c = 0; c < grid.columns; ++c) at.push_back(grid.index_on(a, d.axes[a].size(), r, c));
    }
    add_axis(members, d.axes[a], at);
  }
  for (std::size_t o = 0; o < d.outputs.size(); ++o)
    members.number(d.outputs[o].name, d.outputs[o].units, "", d.outputs[o].says, std::move(values[o]));
  return members;
}

// how the rows of a design spread in one output
struct Spread {
  std::vector<double> sorted;  ///< without those that are missing
  double              mean = not_given, sd = not_given;
};

Spread spread_of(const std::vector<double>& values) {
  Spread s;
  for (const double v : values) {
    if (!std::isnan(v)) s.sorted.push_back(v);
  }
  std::sort(s.sorted.begin(), s.sorted.end());
  if (s.sorted.empty()) return s;
  const auto n  = static_cast<double>(s.sorted.size());
  s.mean        = std::accumulate(s.sorted.begin(), s.sorted.end(), 0.0) / n;
  double square = 0.0;
  for (const double v : s.sorted) square += (v - s.mean) * (v - s.mean);
  if (n > 1.0) s.sd = std::sqrt(square / (n - 1.0));
  return s;
}

AnswerTable spread_table(const SweepDefinition& d, const std::vector<Spread>& spreads) {
  AnswerTable                      table{.name = "spread",
                                         .says = fmt::format("Edge {} {}: how the rows spread", d.edge, d.moment.text()),
                                         .axis = "output"};
  std::vector<std::string>         names, units;
  std::vector<double>              rows, means, sds;
  std::vector<std::vector<double>> quantiles(5);
  const double                     at[] = {0.0, 0.05, 0.5, 0.95, 1.0};
  for (std::size_t o = 0; o < spreads.size(); ++o) {
    const Spread& s = spreads[o];
    names.push_back(d.outputs[o].name);
    units.push_back(d.outputs[o].units);
    rows.push_back(static_cast<double>(s.sorted.size()));
    means.push_back(s.mean);
    sds.push_back(s.sd);
    for (std::size_t q = 0; q < quantiles.size(); ++q)
      quantiles[q].push_back(quantile_of_sorted(s.sorted, at[q]));
  }
  table.text("output", "output", "what was recorded", std::move(names));
  table.text("unit", "", "unit of the numbers beside it", std::move(units));
  table.number("rows", "1", "rows", "rows that have a value", std::move(rows), 1);
  const char *const columns[] = {"least", "low", "median", "high", "most"},
                    *says[]   = {"the least", "5 % of rows are below", "half of the rows are below",
                                 "95 % of rows are below", "the largest"};
  for (std::size_t q = 0; q < quantiles.size(); ++q)
    table.number(columns[q], "1", columns[q], says[q], std::move(quantiles[q]));
  table.number("mean", "1", "mean", "mean of the rows", std::move(means));
  table.number("sd", "1", "sd", "standard deviation of the rows", std::move(sds));
  return table;
}

std::string name_of_design(const std::string& design) {
  if (design == "sobol") return "a Sobol sequence";
  return design == "latin-hypercube" ? "a Latin hypercube" : "the table";
}

}  // namespace

void many_inputs(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepOutput&                      first   = d.outputs.front();
  const bool                              largest = more_is_better(first);
  const bool                              listing = grid.members() <= most_listed;
  const std::size_t                       every   = (grid.rows + most_listed - 1) / most_listed;
  std::vector<std::size_t>                at;
  std::vector<double>                     best_value;
  std::vector<std::optional<std::size_t>> best_column;
  std::optional<std::size_t>              best_row;
  std::size_t                             column  = 0;
  double                                  overall = not_given;
  std::vector<std::vector<double>>        all(d.outputs.size());
  for_each_row(grid, get, [&](std::size_t row, const Row& r) {
    const auto   best  = r.best(0, largest);
    const double value = best ? r.value(0, *best) : not_given;
    if (best && (!best_row || (largest ? value > overall : value < overall)))
      best_row = row, column = *best, overall = value;
    if (row % every == 0) {
      at.push_back(row);
      best_value.push_back(value);
      best_column.push_back(best);
    }
    if (!listing) return;
    for (std::size_t c = 0; c < r.columns(); ++c) {
      for (std::size_t o = 0; o < d.outputs.size(); ++o) all[o].push_back(r.value(static_cast<int>(o), c));
    }
  });
  AnswerTable table{
      .name = "optima",
      .says = fmt::format("Edge {} {}: the {} {} for each value of the {}, over all others", d.edge,
                          d.moment.text(), largest ? "largest" : "least", subject(first), d.axes[0].says),
      .axis = d.axes[0].says};
  add_axis(table, d.axes[0], at);
  add_best_places(table, d, grid, best_column);
  table.number(first.name, first.units, head_of(first), first.says + " there", std::move(best_value));
  if (best_row) {
    std::vector<std::string> where{said_of(d.axes[0], *best_row)};
    const auto               places = places_in_row(d, grid, column);
    for (std::size_t a = 1; a < d.axes.size(); ++a) where.push_back(said_of(d.axes[a], places[a - 1]));
    answer.headline = fmt::format("Edge {} {}: of {} combinations the {} {} is {}, at {}.", d.edge,
                                  d.moment.text(), grid.members(), largest ? "largest" : "least",
                                  subject(first), amount(first, overall), and_list(where));
  } else {
    answer.headline = fmt::format("Edge {}: none of {} combinations gave a result.", d.edge, grid.members());
  }
  add_table(answer, std::move(table));
  if (listing) {
    answer.tables.push_back(members_table(d, grid, std::move(all)));
  } else {
    answer.remarks.emplace_back("The combinations are too many for a table; --out keeps all of them.");
  }
}

void design_rows(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  std::vector<std::vector<double>> values(d.outputs.size());
  for_each_row(grid, get, [&](std::size_t, const Row& r) {
    for (std::size_t o = 0; o < values.size(); ++o) values[o].push_back(r.value(static_cast<int>(o), 0));
  });
  std::vector<Spread> spreads;
  for (const auto& of : values) spreads.push_back(spread_of(of));
  const SweepOutput& output = d.outputs.front();
  const Spread&      spread = spreads.front();
  if (spread.sorted.empty()) {
    answer.headline = fmt::format("Edge {}: none of {} rows gave a result.", d.edge, grid.rows);
  } else {
    answer.headline = fmt::format(
        "Edge {} {}: over {} of {} the {} is {} in the middle; 90 % of rows have {} to {}.", d.edge,
        d.moment.text(), counted(static_cast<long long>(grid.rows), "row"), name_of_design(d.design),
        subject(output), amount(output, quantile_of_sorted(spread.sorted, 0.5)),
        plain(quantile_of_sorted(spread.sorted, 0.05)),
        amount(output, quantile_of_sorted(spread.sorted, 0.95)));
    const bool largest = more_is_better(output);
    const auto better  = [&](double a, double b) {
      return !std::isnan(a) && (std::isnan(b) || (largest ? a > b : a < b));
    };
    const auto best = static_cast<std::size_t>(std::min_element(values[0].begin(), values[0].end(), better) -
                                               values[0].begin());
    std::vector<std::string> where;
    for (const SweepAxis& input : d.inputs) where.push_back(said_of(input, best));
    answer.remarks.push_back(fmt::format("The {} is {}, in row {}, with {}.", largest ? "largest" : "least",
                                         amount(output, values[0][best]), best + 1, and_list(where)));
  }
  AnswerTable              rows{.name = "members", .says = "All rows", .axis = "row"};
  const std::size_t        kept = std::min(grid.rows, most_listed);
  std::vector<std::size_t> first(kept);
  std::iota(first.begin(), first.end(), std::size_t{0});
  rows.on_terminal = false;
  for (const SweepAxis& input : d.inputs) add_axis(rows, input, first);
  for (std::size_t o = 0; o < values.size(); ++o) {
    values[o].resize(kept);
    rows.number(d.outputs[o].name, d.outputs[o].units, "", d.outputs[o].says, std::move(values[o]));
  }
  if (kept < grid.rows)
    answer.remarks.push_back(
        fmt::format("Tables hold the first {} of {} rows; --out keeps all.", kept, grid.rows));
  // the table of rows is what goes into a CSV file
  answer.tables.push_back(std::move(rows));
  answer.tables.push_back(spread_table(d, spreads));
}

}  // namespace arris::sweep_parts
