// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/studies/sweep/sweep_answer_parts.hpp"
#include "sim/wording.hpp"

/// How many laps, on a softer or harder pad: the question soft-strop.
namespace arris::sweep_parts {
namespace {

struct Strop {
  double start = not_given;  ///< reading before the first lap
  double best  = not_given;  ///< laps
  double least = not_given;  ///< reading after them
  double rounding =
      not_given;  ///< laps from which the reading rises; NaN where it does not, to what a tester can tell
  double after    = not_given;  ///< highest reading after the best laps
  double twice    = not_given;  ///< highest reading from the best laps to twice as many
  double own      = not_given;  ///< reading after the laps of the configuration
  double last     = not_given;  ///< reading after the most laps that were looked at
  double dub_best = not_given,
         dub_own  = not_given;  ///< depth to flat after the best laps, and after those, µm

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
  s.start = r.value(reading, 0);
  s.best  = laps.values[best];
  s.least = r.value(reading, best);
  s.own   = r.at(reading, laps.values, laps.own);
  s.last  = r.value(reading, r.columns() - 1);
  s.after = s.twice = s.least;
  for (std::size_t c = best; c < r.columns(); ++c) {
    s.after = std::max(s.after, r.value(reading, c));
    if (laps.values[c] <= 2.0 * s.best) s.twice = s.after;
  }
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
  table.number("reading_after_gf", "gf", "worst after",
               "highest reading from there to the most laps that were looked at",
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
    const bool more_at_twice = s.twice > (1.0 + alike) * s.least;
    if (std::isnan(s.rounding))
      answer.headline += fmt::format(
          " Going on, to {} laps, does no harm and no good that a tester could tell.", plain(last));
    else if (more_at_twice)
      answer.headline += fmt::format(
          " More round the edge over: twice as many, {}, read up to {} gf, and {} laps up to {} gf.",
          plain(2.0 * s.best), plain(s.twice), plain(last), plain(s.after));
    else
      answer.headline += fmt::format(
          " Twice as many, {}, do no harm yet; from lap {} on the reading rises, to {} gf within {} laps.",
          plain(2.0 * s.best), plain(s.rounding), plain(s.after), plain(last));
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

}  // namespace

void soft_strop_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
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
      "Best: the fewest laps whose reading is no more than 2 % above the least, which a tester can hardly tell. Harm: by how much the highest reading after that, up to the most laps that were looked at, is above it.");
  answer.remark(
      About::certainty,
      "How a pad dubs an apex has no published measurement. Its shape is computed, as that of an elastic pad on a steel edge; where on it a tester meets the edge, how fast a compound cuts and how stiff a hide is are estimates: take the order from soft to hard more seriously than the numbers of laps.");
}

}  // namespace arris::sweep_parts
