// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <optional>

#include <fmt/format.h>

#include "sim/studies/sweep/sweep_answer_parts.hpp"
#include "sim/wording.hpp"

/// Answers of sweeps over one input, its curve, and over two: what is best in each row, and the long table.
namespace arris::sweep_parts {

void one_input(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepAxis&                 axis    = d.axes.front();
  const std::size_t                members = grid.members();
  const std::size_t                kept    = std::min(members, most_listed);
  std::vector<std::size_t>         at;
  std::vector<std::vector<double>> values(d.outputs.size());
  std::optional<std::size_t>       best;
  double                           best_value = not_given, first = not_given, last = not_given;
  const bool                       largest = more_is_better(d.outputs.front());
  for_each_row(grid, get, [&](std::size_t row, const Row& r) {
    for (std::size_t c = 0; c < r.columns(); ++c) {
      const std::size_t i = row + c;  // one of the two is always 0
      const double      v = r.value(0, c);
      if (i == 0) first = v;
      if (i + 1 == members) last = v;
      if (!std::isnan(v) && (!best || (largest ? v > best_value : v < best_value))) best = i, best_value = v;
      if (at.size() < kept && i == at.size() * (members - 1) / std::max<std::size_t>(1, kept - 1)) {
        at.push_back(i);
        for (std::size_t o = 0; o < d.outputs.size(); ++o)
          values[o].push_back(r.value(static_cast<int>(o), c));
      }
    }
  });
  AnswerTable table;
  table.name = "curve";
  table.says = fmt::format("Edge {} {}, by {}", d.edge, d.moment.text(), axis.says);
  table.axis = axis.says;
  add_axis(table, axis, at);
  for (std::size_t o = 0; o < d.outputs.size(); ++o)
    table.number(d.outputs[o].name, d.outputs[o].units, head_of(d.outputs[o]), d.outputs[o].says,
                 std::move(values[o]));
  if (kept < members)
    answer.remarks.push_back(
        fmt::format("Tables hold {} of the {} values, evenly spaced; --out keeps all.", kept, members));
  const SweepOutput& output = d.outputs.front();
  if (!best) {
    answer.headline = fmt::format("Edge {}: no value of {} gave a result.", d.edge, axis.says);
  } else {
    answer.headline = fmt::format("Edge {} {}: the {} {} is {}, {} {}", d.edge, d.moment.text(),
                                  largest ? "largest" : "least", subject(output), amount(output, best_value),
                                  axis.is_text() ? "with" : "at", said_of(axis, *best));
    if (!axis.is_text() && !std::isnan(first) && !std::isnan(last))
      answer.headline += fmt::format("; it goes from {} at {} to {} at {}", plain(first),
                                     plain(axis.values.front()), plain(last), plain(axis.values.back()));
    answer.headline += ".";
  }
  add_table(answer, std::move(table));
}

void two_inputs(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepAxis &          rows = d.axes[0], &columns = d.axes[1];
  const bool                 largest = more_is_better(d.outputs.front());
  std::vector<std::size_t>   at;
  std::vector<double>        best_at, best_value;
  std::vector<std::string>   best_label;
  std::optional<std::size_t> best_row;
  std::size_t                best_column = 0;
  double                     overall     = not_given;
  const bool                 listing     = grid.members() <= most_listed;
  const std::size_t          every = std::max<std::size_t>(1, (grid.rows + most_listed - 1) / most_listed);
  std::vector<std::vector<double>> all(d.outputs.size());
  for_each_row(grid, get, [&](std::size_t row, const Row& r) {
    const auto best = r.best(0, largest);
    if (best && (!best_row || (largest ? r.value(0, *best) > overall : r.value(0, *best) < overall))) {
      best_row    = row;
      best_column = *best;
      overall     = r.value(0, *best);
    }
    if (row % every == 0) {
      at.push_back(row);
      best_value.push_back(best ? r.value(0, *best) : not_given);
      best_at.push_back(best ? columns.values[*best] : not_given);
      if (columns.is_text()) best_label.push_back(best ? columns.labels[*best] : "");
    }
    if (!listing) return;
    for (std::size_t c = 0; c < r.columns(); ++c) {
      for (std::size_t o = 0; o < d.outputs.size(); ++o) all[o].push_back(r.value(static_cast<int>(o), c));
    }
  });
  const SweepOutput& first = d.outputs.front();
  AnswerTable        table;
  table.name = "optima";
  table.says = fmt::format("Edge {} {}: the {} {} for each value of the {}", d.edge, d.moment.text(),
                           largest ? "largest" : "least", subject(first), rows.says);
  table.axis = rows.says;
  add_axis(table, rows, at);
  if (columns.is_text()) {
    table.text("best_" + columns.name, "best " + columns.head,
               "where the best of the row is: " + columns.says, std::move(best_label));
  } else {
    table.number("best_" + columns.name, columns.units, "best " + columns.head,
                 "where the best of the row is: " + columns.says, std::move(best_at));
  }
  table.number(first.name, first.units, head_of(first), first.says + " there", std::move(best_value));
  if (best_row) {
    answer.headline = fmt::format(
        "Edge {} {}: of {} combinations the {} {} is {}, at {} = {} and {} = {}.", d.edge, d.moment.text(),
        grid.members(), largest ? "largest" : "least", subject(first), amount(first, overall), rows.head,
        value_text(rows, *best_row), columns.head, value_text(columns, best_column));
  } else {
    answer.headline = fmt::format("Edge {}: none of {} combinations gave a result.", d.edge, grid.members());
  }
  add_table(answer, std::move(table));
  if (!listing) {
    answer.remarks.emplace_back("The map is too large for a table; --out keeps all of it.");
    return;
  }
  AnswerTable              members;
  std::vector<std::size_t> row_of, column_of;
  for (std::size_t r = 0; r < grid.rows; ++r) {
    for (std::size_t c = 0; c < grid.columns; ++c) {
      row_of.push_back(r);
      column_of.push_back(c);
    }
  }
  members.name        = "members";
  members.says        = "All combinations";
  members.axis        = "combination";
  members.on_terminal = false;
  add_axis(members, rows, row_of);
  add_axis(members, columns, column_of);
  for (std::size_t o = 0; o < d.outputs.size(); ++o)
    members.number(d.outputs[o].name, d.outputs[o].units, "", d.outputs[o].says, std::move(all[o]));
  answer.tables.push_back(std::move(members));
}

}  // namespace arris::sweep_parts
