// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>

#include <fmt/format.h>

#include "sim/studies/sweep/sweep.hpp"
#include "sim/studies/sweep/sweep_answer_parts.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"

namespace arris {

using namespace sweep_parts;

namespace {

/// Readings apart by less than this share are alike: a tester repeats no better than a few per cent (common practice, no
/// source).
constexpr double alike = 0.02;

std::string change_text(double ratio) {
  const double pct = 100.0 * (ratio - 1.0);
  if (std::abs(pct) < 0.5) return "the same";
  return fmt::format("{} % {}", short_number(std::abs(pct)), pct > 0.0 ? "more" : "less");
}

// ---- one input: its curve ----

void curve(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
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

// ---- two inputs: what is best in each row, and the long table ----

void map(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
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

// ---- questions ----

struct Strop {
  double start = not_given;  ///< reading before the first lap
  double best  = not_given;  ///< laps
  double least = not_given;  ///< reading after them
  double rounding =
      not_given;  ///< laps from which the reading rises; NaN where it does not, to what a tester can tell
  double after     = not_given;  ///< highest reading from there to `as_far_as`
  double as_far_as = not_given;  ///< twice as many laps, or those of the configuration if they are more
  double own       = not_given;  ///< reading after the laps of the configuration
  double last      = not_given;  ///< reading after the most laps that were looked at
  double dub_best  = not_given,
         dub_own   = not_given;  ///< depth to flat after the best laps, and after those, µm

  [[nodiscard]] double harm_pct() const { return 100.0 * std::max(0.0, after / least - 1.0); }
};

Strop strop_row(const SweepDefinition& d, const Row& r) {
  const auto& laps    = d.axes[1];
  const int   reading = d.output("reading_gf");
  Strop       s;
  const auto  least = r.best(reading);
  if (!least) return s;
  std::size_t best = 0;
  while (!(r.value(reading, best) <= (1.0 + alike) * r.value(reading, *least))) ++best;
  s.start     = r.value(reading, 0);
  s.best      = laps.values[best];
  s.least     = r.value(reading, best);
  s.own       = r.at(reading, laps.values, laps.own);
  s.last      = r.value(reading, r.columns() - 1);
  s.as_far_as = std::max(2.0 * s.best, laps.own);
  s.after     = s.least;
  for (std::size_t c = best; c < r.columns() && laps.values[c] <= s.as_far_as; ++c)
    s.after = std::max(s.after, r.value(reading, c));
  const int depth = d.output("dub_depth_um");
  s.dub_best      = r.value(depth, best);
  s.dub_own       = r.at(depth, laps.values, laps.own);
  for (std::size_t c = *least; c < r.columns() && std::isnan(s.rounding); ++c) {
    if (r.value(reading, c) > (1.0 + alike) * r.value(reading, *least)) s.rounding = laps.values[*least];
  }
  return s;
}

// which of the pads round an edge over within the laps looked at
void add_rounding_pads(Answer& answer, const SweepAxis& pads, const std::vector<Strop>& rows) {
  const auto rounds = [](const Strop& s) { return !std::isnan(s.rounding); };
  const auto first  = std::find_if(rows.begin(), rows.end(), rounds);
  if (first == rows.end()) {
    answer.remarks.emplace_back("No stiffness looked at rounds the edge over within these laps.");
    return;
  }
  const auto  last = std::find_if(rows.rbegin(), rows.rend(), rounds).base() - 1;
  const auto  at   = [&](auto row) { return pads.values[static_cast<std::size_t>(row - rows.begin())]; };
  std::string text = fmt::format(
      "Pads of {} to {} MPa round the edge over: their reading rises again from lap {} and {} on.",
      plain(at(first)), plain(at(last)), plain(first->rounding), plain(last->rounding));
  if (first == last)
    text = fmt::format("A pad of {} MPa rounds the edge over: its reading rises again from lap {} on.",
                       plain(at(first)), plain(first->rounding));
  if (last + 1 != rows.end())
    text += fmt::format(" Harder ones, from {} MPa on, do not.", plain(at(last + 1)));
  answer.remarks.push_back(std::move(text));
}

// best laps, what they bring and what more of them do, for each stiffness
AnswerTable optima_table(const SweepDefinition& d, const SweepGrid& grid, const std::vector<Strop>& rows) {
  const auto all = [&](auto&& pick) {
    std::vector<double> out;
    for (const Strop& s : rows) out.push_back(pick(s));
    return out;
  };
  AnswerTable table;
  table.name = "optima";
  table.says = fmt::format("Best number of laps on {} of each stiffness, {}", d.about, d.moment.text());
  table.axis = "pad";
  add_axis(table, d.axes[0], everything(grid.rows));
  table.number("best_laps", "1", "best laps", "fewest laps whose reading is no more than 2 % above the least",
               all([](const Strop& s) { return s.best; }), 1);
  table.number("reading_start_gf", "gf", "gf before", "reading before the first lap",
               all([](const Strop& s) { return s.start; }));
  table.number("reading_best_gf", "gf", "gf then", "reading after the best number of laps",
               all([](const Strop& s) { return s.least; }));
  table.number("rounding_from_laps", "1", "rounds from",
               "laps from which the reading rises; missing where it rises by no more than 2 %",
               all([](const Strop& s) { return s.rounding; }), 1);
  table.number(
      "reading_after_gf", "gf", "worst after",
      "highest reading from there to twice the best number of laps, or to the laps of the configuration if they are more",
      all([](const Strop& s) { return s.after; }));
  table.number("harm_pct", "percent", "harm %", "how much higher that is",
               all([](const Strop& s) { return s.harm_pct(); }), 2);
  table.number("reading_last_gf", "gf", "gf at the end", "reading after the most laps that were looked at",
               all([](const Strop& s) { return s.last; }));
  table.number(
      "dub_depth_um", "um", "to flat µm",
      "what flat honing takes off the bevel, after the best number of laps, before it meets the edge again",
      all([](const Strop& s) { return s.dub_best; }), 2);
  return table;
}

// what the pad and the laps of the configuration come to
void on_own_pad(Answer& answer, const SweepDefinition& d, const Strop& s) {
  const SweepAxis &pads = d.axes[0], &laps = d.axes[1];
  const double     last = laps.values.back();
  const auto       pad  = fmt::format("{} ({} MPa)", d.about, plain(pads.own));
  if (std::isnan(s.least)) {
    answer.headline = fmt::format("On {} nothing could be worked out.", pad);
  } else if (s.best == 0.0) {
    answer.headline =
        fmt::format("On {} no lap helps: the edge comes to it at {} gf, and {} laps make that {} gf.", pad,
                    plain(s.start), plain(laps.own), plain(s.own));
  } else {
    answer.headline =
        fmt::format("On {} the best number of laps is {}: the tester then reads {} gf, against {} gf before.",
                    pad, plain(s.best), plain(s.least), plain(s.start));
    if (s.harm_pct() > 100.0 * alike) {
      answer.headline += fmt::format(" Going on, to {} laps, does harm: it then reads up to {} % more.",
                                     plain(s.as_far_as), short_number(s.harm_pct()));
    } else if (std::isnan(s.rounding)) {
      answer.headline += fmt::format(
          " Going on, to {} laps, does no harm and no good that a tester could tell.", plain(last));
    } else {
      answer.headline += fmt::format(" Twice as many, {}, do no harm yet;", plain(2.0 * s.best));
      answer.headline +=
          s.last > (1.0 + alike) * s.least
              ? fmt::format(" {} round it over: it then reads {} gf.", plain(last), plain(s.last))
              : fmt::format(" from lap {} on the reading rises.", plain(s.rounding));
    }
  }
  if (!std::isnan(s.rounding) && s.rounding > 0.0)
    answer.remarks.push_back(
        fmt::format("Rounding begins at lap {}: from there on the reading rises.", plain(s.rounding)));
  if (s.dub_own > 0.0)
    answer.remarks.push_back(fmt::format(
        "After {} laps the edge is dubbed: flat honing must take {} µm off the bevel before it meets the edge again. Each stropping adds to that, on a hard pad too.",
        plain(laps.own), short_number(s.dub_own)));
  if (s.own > (1.0 + alike) * s.least && s.best > 0.0)
    answer.remarks.push_back(fmt::format(
        "The configuration has {} laps, which reads {} % higher than the best: too {}.", plain(laps.own),
        short_number(100.0 * (s.own / s.least - 1.0)), laps.own > s.best ? "many" : "few"));
}

void soft_strop(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepAxis&   pads = d.axes[0];
  std::vector<Strop> rows;
  for_each_row(grid, get, [&](std::size_t, const Row& r) { rows.push_back(strop_row(d, r)); });
  const auto place = std::find(pads.values.begin(), pads.values.end(), pads.own);
  if (place != pads.values.end())
    on_own_pad(answer, d, rows[static_cast<std::size_t>(place - pads.values.begin())]);
  add_rounding_pads(answer, pads, rows);
  if (answer.headline.empty())
    answer.headline =
        fmt::format("Best number of laps on {} for {} stiffnesses of the pad.", d.about, grid.rows);
  add_table(answer, optima_table(d, grid, rows));
  answer.remarks.emplace_back(
      "Best: the fewest laps whose reading is no more than 2 % above the least, which a tester can hardly tell. Harm: the highest reading after that, to twice as many laps or to those of the configuration.");
  answer.remark(
      About::certainty,
      "How a pad dubs an apex has no published measurement. Its shape is computed, as that of an elastic pad on a steel edge; where on it a tester meets the edge, how fast a compound cuts and how stiff a hide is are estimates: take the order from soft to hard more seriously than the numbers of laps.");
}

struct Worn {
  std::size_t row   = 0;
  double      fresh = not_given, own = not_given, limit = not_given, radius = not_given;
  double      chip =
      not_given;  ///< depth of chips after the passes of the configuration; NaN where it was not asked for
};

std::vector<Worn> worn_rows(const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepAxis& passes = d.axes[1];
  const int reading = d.output("reading_gf"), radius = d.output("apex_radius_um"), chip = d.output("chip_um");
  std::vector<Worn> rows;
  for_each_row(grid, get, [&](std::size_t row, const Row& r) {
    Worn w;
    w.row    = row;
    w.fresh  = r.value(reading, 0);
    w.own    = r.at(reading, passes.values, passes.own);
    w.radius = r.at(radius, passes.values, passes.own);
    w.limit  = r.crossing(reading, passes.values, d.limit_gf);
    if (chip >= 0) w.chip = r.at(chip, passes.values, passes.own);
    rows.push_back(w);
  });
  return rows;
}

// longest first: those that never get dull by how sharp they still are
bool lasts_longer(const Worn& a, const Worn& b) {
  const bool a_dull = !std::isnan(a.limit), b_dull = !std::isnan(b.limit);
  if (std::isnan(a.own) != std::isnan(b.own)) return std::isnan(b.own);
  if (a_dull && b_dull && a.limit != b.limit) return a.limit > b.limit;
  if (a_dull != b_dull) return b_dull;
  return a.own < b.own;
}

AnswerTable worn_table(const SweepDefinition& d, const std::vector<Worn>& rows) {
  std::vector<std::size_t> at;
  std::vector<double>      fresh, own, limit, radius, chip;
  for (const Worn& w : rows) {
    at.push_back(w.row);
    fresh.push_back(w.fresh);
    own.push_back(w.own);
    limit.push_back(w.limit);
    radius.push_back(w.radius);
    chip.push_back(w.chip);
  }
  AnswerTable table;
  table.name = "optima";
  table.axis = d.axes[0].says;
  add_axis(table, d.axes[0], at);
  table.number("reading_fresh_gf", "gf", "gf fresh", "reading before the first pass", std::move(fresh));
  const std::string after = plain(d.axes[1].own);
  table.number("reading_after_gf", "gf", "gf after " + after, "reading after the passes of the configuration",
               std::move(own));
  table.number("apex_radius_after_um", "um", "µm then", "apex radius then", std::move(radius));
  if (!chip.empty() && !std::isnan(chip.front()))
    table.number("chip_after_um", "um", "chips µm", "depth of chips then", std::move(chip), 2);
  if (!std::isnan(d.limit_gf))
    table.number("passes_to_limit", "1", fmt::format("passes to {} gf", plain(d.limit_gf)),
                 "passes of this step until the limit is crossed; missing where it is not", std::move(limit),
                 1);
  return table;
}

void beyond_remark(Answer& answer, const SweepDefinition& d, const std::vector<Worn>& rows) {
  if (std::isnan(d.limit_gf)) {
    answer.remark(
        About::next,
        "No reading is given at which the edge counts as dull, so no life is given: state --limit, or reading_limit_gf in [output].");
    return;
  }
  if (std::any_of(rows.begin(), rows.end(),
                  [](const Worn& w) { return std::isnan(w.limit) && !std::isnan(w.own); }))
    answer.remarks.push_back(
        fmt::format("Where no number of passes stands the edge stays below {} gf for {} passes.",
                    plain(d.limit_gf), plain(d.axes[1].values.back())));
}

std::string life_text(const SweepDefinition& d, const Worn& w) {
  if (std::isnan(d.limit_gf)) return fmt::format("{} gf after {} passes", plain(w.own), plain(d.axes[1].own));
  if (std::isnan(w.limit)) return fmt::format("more than {} passes", plain(d.axes[1].values.back()));
  if (w.limit == 0.0) return "no pass at all";
  return fmt::format("{} passes", plain(w.limit));
}

// below which angle the edge chips, and whether that or wear decides
void weigh_chips(Answer& answer, const SweepDefinition& d, const std::vector<Worn>& rows, std::size_t best) {
  constexpr double worth_saying_um = 0.2;
  const SweepAxis& angles          = d.axes[0];
  const auto       chips           = [&](const Worn& w) { return w.chip > worth_saying_um; };
  const auto       whole           = std::find_if_not(rows.begin(), rows.end(), chips);
  if (whole == rows.begin()) {
    answer.remarks.emplace_back("No angle looked at chips: keenness and wear decide.");
  } else if (whole == rows.end()) {
    answer.remarks.push_back(fmt::format(
        "Every angle looked at chips in this wood, {}° by {} µm after {} passes: look at a steeper bevel or a tougher steel.",
        plain(angles.values[rows.back().row]), short_number(rows.back().chip), plain(d.axes[1].own)));
  } else {
    answer.remarks.push_back(fmt::format(
        "Below {}° the edge chips, at {}° by {} µm after {} passes: there chips decide, from {}° on keenness and wear do.",
        plain(angles.values[whole->row]), plain(angles.values[rows.front().row]),
        short_number(rows.front().chip), plain(d.axes[1].own), plain(angles.values[whole->row])));
    if (best < whole->row)
      answer.remarks.emplace_back(
          "The angle that lasts longest by the tester chips: lines on the planed surface may be what ends its use.");
  }
  answer.remark(
      About::certainty,
      "Chips follow from the strength of a thin wedge, carbide size and the hardness of the wood; their size is an estimate, not a measurement.");
}

void bevel_angle(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const auto       rows   = worn_rows(d, grid, get);
  const SweepAxis& angles = d.axes[0];
  const auto       best   = std::min_element(rows.begin(), rows.end(), lasts_longer);
  // those that outlast the passes looked at: which of them lasts longest was not seen
  std::vector<std::string> outlast;
  std::vector<std::size_t> where;
  bool                     own_outlasts = false;
  for (const Worn& w : rows) {
    if (std::isnan(d.limit_gf) || std::isnan(w.own) || !std::isnan(w.limit)) continue;
    outlast.push_back(plain(angles.values[w.row]) + "°");
    where.push_back(w.row);
    own_outlasts |= angles.values[w.row] == angles.own;
  }
  if (outlast.size() > 1) {
    answer.headline = fmt::format(
        "{} of {} honed bevels keep the edge of {} below {} gf for more than {} passes: {}. After {} passes {}° reads least, {} gf.",
        outlast.size() == rows.size() ? "All" : std::to_string(outlast.size()), rows.size(), d.edge,
        plain(d.limit_gf), plain(d.axes[1].values.back()),
        where.back() - where.front() + 1 == where.size() ? outlast.front() + " to " + outlast.back()
                                                         : or_list(outlast),
        plain(d.axes[1].own), plain(angles.values[best->row]), plain(best->own));
  } else if (best->limit == 0.0) {
    answer.headline = fmt::format(
        "No honed bevel brings the edge of {} below {} gf. After {} passes {}° reads least, {} gf.", d.edge,
        plain(d.limit_gf), plain(d.axes[1].own), plain(angles.values[best->row]), plain(best->own));
  } else {
    answer.headline = fmt::format("A honed bevel of {}° keeps the edge of {} longest: {}{}.",
                                  plain(angles.values[best->row]), d.edge, life_text(d, *best),
                                  std::isnan(d.limit_gf) ? "" : fmt::format(" to {} gf", plain(d.limit_gf)));
  }
  for (const Worn& w : rows) {
    if (angles.values[w.row] == angles.own && w.row != best->row && !own_outlasts && best->limit != 0.0)
      answer.headline += fmt::format(" With its own {}° it is {}.", plain(angles.own), life_text(d, w));
  }
  double least = not_given;
  for (const Worn& w : rows) {
    if (!(w.fresh >= least)) least = std::isnan(w.fresh) ? least : w.fresh;
  }
  const auto fine =
      std::find_if(rows.begin(), rows.end(), [&](const Worn& w) { return w.fresh <= (1.0 + alike) * least; });
  if (fine != rows.end())
    answer.remarks.push_back(
        fmt::format("Fresh from honing the least reading is {} gf, and {}° comes within 2 % of it.",
                    plain(least), plain(angles.values[fine->row])));
  weigh_chips(answer, d, rows, best->row);
  AnswerTable table = worn_table(d, rows);
  table.says = fmt::format("Each bevel honed and stropped by the same steps, then used: {}", d.axes[1].says);
  beyond_remark(answer, d, rows);
  add_table(answer, std::move(table));
}

void wood(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  auto rows = worn_rows(d, grid, get);
  std::stable_sort(rows.begin(), rows.end(), lasts_longer);
  const SweepAxis& woods = d.axes[0];
  const bool       is_never_sharp =
      !std::isnan(d.limit_gf) &&
      std::all_of(rows.begin(), rows.end(), [](const Worn& w) { return w.limit == 0.0; });
  answer.headline =
      is_never_sharp
          ? fmt::format(
                "Edge {} lasts no pass in any of these woods: fresh it reads {} gf, and the limit is {} gf. After {} passes it reads least in {}, {} gf, and most in {}, {} gf.",
                d.edge, plain(rows.front().fresh), plain(d.limit_gf), plain(d.axes[1].own),
                woods.labels[rows.front().row], plain(rows.front().own), woods.labels[rows.back().row],
                plain(rows.back().own))
          : fmt::format("Edge {} lasts longest in {}: {}; least in {}: {}.", d.edge,
                        woods.labels[rows.front().row], life_text(d, rows.front()),
                        woods.labels[rows.back().row], life_text(d, rows.back()));
  for (const Worn& w : rows) {
    if (static_cast<double>(w.row) == woods.own && w.row != rows.front().row && w.row != rows.back().row &&
        !is_never_sharp)
      answer.headline += fmt::format(" In {}, as the configuration has it: {}.", d.about, life_text(d, w));
  }
  AnswerTable table = worn_table(d, rows);
  table.says        = fmt::format("Woods, the kindest first: {}", d.axes[1].says);
  beyond_remark(answer, d, rows);
  answer.remark(
      About::certainty,
      "Wear by hand in wood has no published curve: take the order more seriously than the numbers.");
  answer.tables.push_back(std::move(table));  // whole, so that everyone finds the wood at hand
}

// what the strokes of a step, or of steps together, do to the reading
struct StrokesOfSteps {
  std::size_t row    = 0;
  double      now    = not_given;                              // reading with all of them
  double      none   = not_given;                              // with none
  double      enough = not_given, enough_reading = not_given;  // least factor that reads alike
  double      best = not_given, best_reading = not_given;

  [[nodiscard]] bool too_many() const { return enough <= 0.75; }
};

StrokesOfSteps strokes_row(const SweepDefinition& d, std::size_t row, const Row& r) {
  const int        reading = d.output("reading_gf");
  const SweepAxis& times   = d.axes[1];
  StrokesOfSteps   out{.row = row, .now = r.at(reading, times.values, 1.0), .none = r.value(reading, 0)};
  for (std::size_t c = 0; c < r.columns() && std::isnan(out.enough); ++c) {
    if (r.value(reading, c) <= (1.0 + alike) * out.now)
      out.enough = times.values[c], out.enough_reading = r.value(reading, c);
  }
  if (const auto least = r.best(reading)) {
    out.best         = times.values[*least];
    out.best_reading = r.value(reading, *least);
  }
  return out;
}

// whole strokes for a share of them
double strokes_for(double share, double all) { return std::max(0.0, std::ceil(share * all - 1e-9)); }

double saved_strokes(const SweepAxis& steps, const StrokesOfSteps& s) {
  return s.too_many() ? steps.amounts[s.row] - strokes_for(s.enough, steps.amounts[s.row]) : 0.0;
}

// the step, or steps together, with the most strokes that can be saved; of equals the fewer steps. Null where there is none.
const StrokesOfSteps* most_to_save(const SweepAxis& steps, const std::vector<StrokesOfSteps>& rows) {
  const StrokesOfSteps* most = nullptr;
  for (const StrokesOfSteps& s : rows) {
    if (saved_strokes(steps, s) > (most == nullptr ? 0.0 : saved_strokes(steps, *most))) most = &s;
  }
  return most;
}

// what to do with fewer strokes, of all steps at once
std::string fewer_strokes_sentence(const SweepDefinition& d, const StrokesOfSteps& s) {
  const SweepAxis&         steps = d.axes[0];
  std::vector<std::string> counts;
  double                   kept = 0.0;
  for (const int step : steps.sets[s.row]) {
    const auto one =
        std::find(steps.sets.begin(), steps.sets.end(), std::vector<int>{step}) - steps.sets.begin();
    const double all = steps.amounts[static_cast<std::size_t>(one)], few = strokes_for(s.enough, all);
    kept += few;
    counts.push_back(fmt::format("{} in place of {} for {}", few == 0.0 ? "none" : plain(few), plain(all),
                                 steps.labels[static_cast<std::size_t>(one)]));
  }
  return fmt::format(
      "Edge {} can do with {} strokes fewer{}: {}. It then reads {} gf {}, against {} gf with all of them.",
      d.edge, plain(steps.amounts[s.row] - kept), counts.size() > 1 ? ", all at once" : "", and_list(counts),
      plain(s.enough_reading), d.moment.text(), plain(s.now));
}

// steps that could each be shortened alone, and what comes of it together
std::string not_together_sentence(const SweepDefinition& d, const std::vector<StrokesOfSteps>& rows) {
  const SweepAxis& steps = d.axes[0];
  std::vector<int> alone;
  for (const StrokesOfSteps& s : rows) {
    if (steps.sets[s.row].size() == 1 && s.too_many()) alone.push_back(steps.sets[s.row].front());
  }
  if (alone.size() < 2) return {};
  const auto all = std::find_if(rows.begin(), rows.end(),
                                [&](const StrokesOfSteps& s) { return steps.sets[s.row] == alone; });
  if (all == rows.end() || all->too_many() || !(all->none > (1.0 + alike) * all->now)) return {};
  return fmt::format(
      "Of {} each alone could have fewer strokes, but not all of them at once: with none of theirs the edge would read {} gf.",
      steps.labels[all->row], plain(all->none));
}

AnswerTable strokes_table(const SweepDefinition& d, const std::vector<StrokesOfSteps>& rows, bool together) {
  const SweepAxis&            steps = d.axes[0];
  std::vector<std::size_t>    at;
  std::vector<StrokesOfSteps> these;
  for (const StrokesOfSteps& s : rows) {
    if ((steps.sets[s.row].size() > 1) != together) continue;
    at.push_back(s.row);
    these.push_back(s);
  }
  const auto of_each = [&](auto&& pick) {
    std::vector<double> out;
    for (const StrokesOfSteps& s : these) out.push_back(pick(s));
    return out;
  };
  AnswerTable table;
  table.name = together ? "together" : "optima";
  table.says =
      fmt::format("{}, from none to three times {} strokes; reading of edge {} {}",
                  together ? "Steps changed together, all by the same factor" : "One step changed at a time",
                  together ? "their" : "its", d.edge, d.moment.text());
  table.axis = together ? "steps" : "step";
  add_axis(table, steps, at);
  table.number("strokes", "1", "now", "strokes or laps of the configuration",
               of_each([&](const StrokesOfSteps& s) { return steps.amounts[s.row]; }), 1);
  table.number("reading_gf", "gf", "gf", "reading with them",
               of_each([](const StrokesOfSteps& s) { return s.now; }));
  table.number("enough_strokes", "1", "enough", "fewest strokes whose reading is no more than 2 % higher",
               of_each([&](const StrokesOfSteps& s) { return strokes_for(s.enough, steps.amounts[s.row]); }),
               1);
  table.number("reading_enough_gf", "gf", "gf", "reading with those",
               of_each([](const StrokesOfSteps& s) { return s.enough_reading; }));
  if (together) {
    table.number("reading_none_gf", "gf", "gf with none", "reading with none of their strokes",
                 of_each([](const StrokesOfSteps& s) { return s.none; }));
    return table;
  }
  table.number("best_strokes", "1", "best", "strokes with the least reading, up to three times as many",
               of_each([&](const StrokesOfSteps& s) { return strokes_for(s.best, steps.amounts[s.row]); }),
               1);
  table.number("reading_best_gf", "gf", "gf", "reading with those",
               of_each([](const StrokesOfSteps& s) { return s.best_reading; }));
  return table;
}

void strokes(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepAxis&            steps = d.axes[0];
  std::vector<StrokesOfSteps> rows;
  for_each_row(grid, get, [&](std::size_t row, const Row& r) { rows.push_back(strokes_row(d, row, r)); });
  std::vector<std::string> too_few;
  for (const StrokesOfSteps& s : rows) {
    const double gain = 1.0 - s.best_reading / s.now;
    if (steps.sets[s.row].size() == 1 && s.best > 1.0 && gain > alike)
      too_few.push_back(fmt::format("{}: {} instead of {} read {} less", steps.labels[s.row],
                                    plain(strokes_for(s.best, steps.amounts[s.row])),
                                    plain(steps.amounts[s.row]), percent(gain)));
  }
  const StrokesOfSteps* most = most_to_save(steps, rows);
  answer.headline            = most == nullptr ? fmt::format(
                                                     "No step of edge {}, alone or together with others, has many "
                                                                "more strokes than it needs.",
                                                     d.edge)
                                               : fewer_strokes_sentence(d, *most);
  if (!too_few.empty())
    answer.headline += fmt::format(" Worth more, one at a time: {}.", fmt::join(too_few, "; "));
  if (std::string not_together = not_together_sentence(d, rows); !not_together.empty())
    answer.remarks.push_back(std::move(not_together));
  answer.remarks.emplace_back(
      "Enough: no more than 2 % above the reading with all strokes, which a tester can hardly tell. "
      "Where strokes are counted from the burr on, those that raise it come on top, also where none is said. That a step can do with none does not say that it can be left out: --question skip-grits does.");
  add_table(answer, strokes_table(d, rows, false));
  if (rows.size() > 1) add_table(answer, strokes_table(d, rows, true));
}

void skip_grits(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepAxis& sets    = d.axes[0];
  const int        reading = d.output("reading_gf"), scratch = d.output("scratch_um"),
            radius = d.output("apex_radius_um"), strokes_at = d.output("strokes");
  std::vector<double> read, scratches, radii, counts, change, saved;
  for_each_row(grid, get, [&](std::size_t, const Row& r) {
    read.push_back(r.value(reading, 0));
    scratches.push_back(r.value(scratch, 0));
    radii.push_back(r.value(radius, 0));
    counts.push_back(r.value(strokes_at, 0));
  });
  std::optional<std::size_t> cheap, dear, slow;  // slow: as sharp, for more strokes
  for (std::size_t i = 0; i < read.size(); ++i) {
    change.push_back(100.0 * (read[i] / read[0] - 1.0));
    saved.push_back(counts[0] - counts[i]);
    if (i == 0 || std::isnan(change[i])) continue;
    if (change[i] <= 100.0 * alike && saved[i] > 0.0 && (!cheap || saved[i] > saved[*cheap])) cheap = i;
    if (change[i] <= 100.0 * alike && saved[i] <= 0.0 && (!slow || saved[i] > saved[*slow])) slow = i;
    if (!dear || change[i] > change[*dear]) dear = i;
  }
  if (std::isnan(read[0])) {
    answer.headline = fmt::format("Edge {} cannot be honed as the configuration has it.", d.edge);
  } else if (cheap) {
    answer.headline =
        fmt::format("{} can be left out: it saves {} strokes, and the reading {} is {}, {} gf against {} gf.",
                    sets.labels[*cheap], plain(std::round(saved[*cheap])), d.moment.text(),
                    change_text(read[*cheap] / read[0]), plain(read[*cheap]), plain(read[0]));
  } else {
    answer.headline =
        fmt::format("No grit can be left out without a price: the reading {} is {} gf with all of them, and ",
                    d.moment.text(), plain(read[0]));
    answer.headline +=
        slow
            ? fmt::format(
                  "{} without {}, which takes {} strokes more; whatever else is left out, it rises by more than {} % or takes more still.",
                  change_text(read[*slow] / read[0]), sets.labels[*slow], plain(std::round(-saved[*slow])),
                  plain(100.0 * alike))
            : fmt::format("rises by more than {} % without any one of them.", plain(100.0 * alike));
  }
  if (dear && change[*dear] > 100.0 * alike && !std::isnan(read[0]))
    answer.remarks.push_back(fmt::format(
        "Dearest of all is to leave out {}: {} gf, {}, with an apex radius of {} µm instead of {} µm.",
        sets.labels[*dear], plain(read[*dear]), change_text(read[*dear] / read[0]), plain(radii[*dear]),
        plain(radii[0])));
  answer.remarks.emplace_back(
      "The strokes of the other steps stay as they are; those that are counted from the burr on take as many as that needs. A blank row cannot be done.");
  AnswerTable table;
  table.name = "curve";
  table.says = fmt::format("Edge {} {}, with grits left out", d.edge, d.moment.text());
  table.axis = "what is left out";
  add_axis(table, sets, everything(grid.rows));
  table.number("reading_gf", "gf", "gf", "reading", read);
  table.number("change_pct", "percent", "change %", "against leaving nothing out", change, 2);
  table.number("scratch_um", "um", "scratch µm", "depth of the scratches on the bevel", scratches, 2);
  table.number("apex_radius_um", "um", "radius µm", "apex radius", radii);
  table.number("strokes", "1", "strokes", "strokes and laps in all", counts, 1);
  table.number("saved_strokes", "1", "saved", "strokes saved", saved, 1);
  add_table(answer, std::move(table));
}

// "nothing changes along": an input that no output depends on is seldom meant
void idle_inputs(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  if (grid.members() < 2) return;
  std::vector<std::vector<double>> first_row(d.outputs.size());
  std::vector<bool>                idle;
  for (const SweepAxis& axis : d.axes) idle.push_back(axis.size() > 1);
  const auto same = [](double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); };
  for_each_row(grid, get, [&](std::size_t row, const Row& r) {
    for (std::size_t o = 0; o < d.outputs.size(); ++o) {
      for (std::size_t c = 0; c < r.columns(); ++c) {
        const double v = r.value(static_cast<int>(o), c);
        if (row == 0) first_row[o].push_back(v);
        for (std::size_t a = 0; a < d.axes.size(); ++a) {
          if (!idle[a]) continue;
          const std::size_t stride = grid.strides[a];
          // beside the member with the first value of this axis and the same of all others
          idle[a] = stride == 0 ? same(v, first_row[o][c])
                                : same(v, r.value(static_cast<int>(o),
                                                  c - grid.index_on(a, d.axes[a].size(), row, c) * stride));
        }
      }
    }
  });
  for (std::size_t a = 0; a < d.axes.size(); ++a) {
    if (!idle[a]) continue;
    answer.remarks.push_back(fmt::format("Nothing changes with {}: edge {} does not depend on it {}.",
                                         d.axes[a].path, d.edge, d.moment.text()));
  }
}

void failures_told(Answer& answer, const SweepFailures& failures) {
  if (failures.count == 0) return;
  answer.remark(About::certainty,
                fmt::format("{} of {} combinations gave no result and are blank; the first: {}",
                            failures.count, failures.members, failures.cause));
  if (answer.remarks.back().back() != '.') answer.remarks.back() += ".";
}

}  // namespace

Answer sweep_answer(const SweepDefinition& d, const SweepFailures& failures, const Get& get) {
  const SweepGrid grid(d);
  Answer          answer;
  answer.kind     = "sweep";
  answer.rests_on = d.rests_on;
  if (d.question == "soft-strop") {
    soft_strop(answer, d, grid, get);
  } else if (d.question == "bevel-angle") {
    bevel_angle(answer, d, grid, get);
  } else if (d.question == "wood") {
    wood(answer, d, grid, get);
  } else if (d.question == "strokes") {
    strokes(answer, d, grid, get);
  } else if (d.question == "skip-grits") {
    skip_grits(answer, d, grid, get);
  } else if (!d.inputs.empty()) {
    design_rows(answer, d, grid, get);
  } else if (d.axes.size() == 1) {
    curve(answer, d, grid, get);
  } else if (d.axes.size() > 2) {
    many_inputs(answer, d, grid, get);
  } else {
    map(answer, d, grid, get);
  }
  if (d.question.empty() && d.inputs.empty()) idle_inputs(answer, d, grid, get);
  failures_told(answer, failures);
  answer.settings.emplace_back("members", static_cast<double>(grid.members()));
  answer.settings.emplace_back("failed", static_cast<double>(failures.count));
  if (!std::isnan(d.limit_gf)) answer.settings.emplace_back("limit_gf", d.limit_gf);
  if (!d.question.empty()) answer.cautions.push_back(usual_caution());
  return answer;
}

Answer shard_answer(const SweepDefinition& d, const SweepShard& shard, const SweepFailures& failures) {
  Answer answer;
  answer.kind     = "sweep";
  answer.rests_on = d.rests_on;
  answer.headline = fmt::format(
      "Share {} of {} of the sweep of edge {} is done: {} of {} combinations. `arris merge` puts all shares together.",
      shard.index, shard.count, d.edge, failures.members, SweepGrid(d).members());
  failures_told(answer, failures);
  answer.settings.emplace_back("members", static_cast<double>(failures.members));
  answer.settings.emplace_back("failed", static_cast<double>(failures.count));
  return answer;
}

}  // namespace arris
