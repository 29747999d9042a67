// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <optional>
#include <set>

#include <fmt/format.h>

#include "sim/studies/sweep/sweep_answer_parts.hpp"
#include "sim/studies/sweep/sweep_questions.hpp"
#include "sim/wording.hpp"

/// What of the honing can be spared: the questions strokes and skip-grits.
namespace arris::sweep_parts {
namespace {

std::string change_text(double ratio) {
  const double pct = 100.0 * (ratio - 1.0);
  if (std::abs(pct) < 0.5) return "the same";
  return fmt::format("{} % {}", short_number(std::abs(pct)), pct > 0.0 ? "more" : "less");
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

// whether more strokes than it has make the edge read less, by more than a tester can hardly tell
bool is_worth_more(const StrokesOfSteps& s) { return s.best > 1.0 && 1.0 - s.best_reading / s.now > alike; }

// the steps of which that is true one at a time
std::set<int> steps_worth_more(const SweepAxis& steps, const std::vector<StrokesOfSteps>& rows) {
  std::set<int> out;
  for (const StrokesOfSteps& s : rows) {
    if (steps.sets[s.row].size() == 1 && is_worth_more(s)) out.insert(steps.sets[s.row].front());
  }
  return out;
}

// The step, or steps together, with the most strokes that can be saved; of equals the fewer steps. Null where there is none. A step that is worth
// more is not among them: to shorten it beside others and to be told to lengthen it would be two opposite counsels.
const StrokesOfSteps* most_to_save(const SweepAxis& steps, const std::vector<StrokesOfSteps>& rows) {
  const std::set<int>   more = steps_worth_more(steps, rows);
  const StrokesOfSteps* most = nullptr;
  for (const StrokesOfSteps& s : rows) {
    const auto& set = steps.sets[s.row];
    if (std::any_of(set.begin(), set.end(), [&](int step) { return more.count(step) > 0; })) continue;
    if (saved_strokes(steps, s) > (most == nullptr ? 0.0 : saved_strokes(steps, *most))) most = &s;
  }
  return most;
}

// "7 in place of 10 for step 4, back on ..."; strokes that are counted from the burr on are said to be
std::string shorter_text(const std::string& label, double few, double all) {
  const std::string fewer = few == 0.0 ? "none" : plain(few);
  const auto        at    = label.rfind(from_the_burr);
  if (at == std::string::npos || at + from_the_burr.size() != label.size())
    return fmt::format("{} in place of {} for {}", fewer, plain(all), label);
  return fmt::format("{} in place of {} once the burr is there for {}", fewer, plain(all),
                     label.substr(0, at));
}

// what follows from leaving work out is for the next edge to show
constexpr const char* read_both =
    " This is by the model: hone an edge each way and read both before you rely on it.";

// what to do with fewer strokes, of all steps at once
std::string fewer_strokes_sentence(const SweepDefinition& d, const StrokesOfSteps& s) {
  const SweepAxis&         steps = d.axes[0];
  std::vector<std::string> counts;
  double                   kept = 0.0;
  bool                     none = false;
  for (const int step : steps.sets[s.row]) {
    const auto one =
        std::find(steps.sets.begin(), steps.sets.end(), std::vector<int>{step}) - steps.sets.begin();
    const double all = steps.amounts[static_cast<std::size_t>(one)], few = strokes_for(s.enough, all);
    kept += few;
    none = none || few == 0.0;
    counts.push_back(shorter_text(steps.labels[static_cast<std::size_t>(one)], few, all));
  }
  return fmt::format(
      "Edge {} can do with {} strokes fewer{}: {}. It then reads {} gf {}, against {} gf with all of them.{}",
      d.edge, plain(steps.amounts[s.row] - kept), counts.size() > 1 ? ", all at once" : "", and_list(counts),
      plain(s.enough_reading), d.moment.text(), plain(s.now), none ? read_both : "");
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

}  // namespace

void strokes_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
  const SweepAxis&            steps = d.axes[0];
  std::vector<StrokesOfSteps> rows;
  for_each_row(grid, get, [&](std::size_t row, const Row& r) { rows.push_back(strokes_row(d, row, r)); });
  std::vector<std::string> too_few;
  for (const StrokesOfSteps& s : rows) {
    const double gain = 1.0 - s.best_reading / s.now;
    if (steps.sets[s.row].size() == 1 && is_worth_more(s))
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

void skip_grits_answer(Answer& answer, const SweepDefinition& d, const SweepGrid& grid, const Get& get) {
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
    answer.headline = fmt::format(
        "{} can be left out: it saves {} strokes, and the reading {} is {}, {} gf against {} gf.{}",
        sets.labels[*cheap], plain(std::round(saved[*cheap])), d.moment.text(),
        change_text(read[*cheap] / read[0]), plain(read[*cheap]), plain(read[0]), read_both);
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

}  // namespace arris::sweep_parts
