// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/laws/tester.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

double gf(double newton) { return laws::in_gram_force(newton); }

// a share of so many models; all of them make nothing certain
std::string certainty(double share) { return share > 0.99 ? "over 99 %" : percent(share); }

// in words, of a way against the reference
std::string verdict(const Way& way, const std::string& reference, double margin) {
  const double by = std::abs(way.ratio.middle - 1.0);
  if (way.equivalent >= 0.9)
    return fmt::format("no difference that matters: within {} of {} with {} certainty", percent(margin),
                       reference, certainty(way.equivalent));
  if (way.below_reference >= 0.95)
    return fmt::format("sharper: reads about {} less, with {} certainty", percent(by),
                       certainty(way.below_reference));
  if (way.below_reference <= 0.05)
    return fmt::format("less sharp: reads about {} more, with {} certainty", percent(by),
                       certainty(1.0 - way.below_reference));
  if (way.below_reference < 0.5)
    return fmt::format("not known: reads more with {} certainty", certainty(1.0 - way.below_reference));
  return fmt::format("not known: reads less with {} certainty", certainty(way.below_reference));
}

std::string measured_sentence(const MeasuredDifference& d, double margin) {
  const std::string what = fmt::format("Readings of {} ({}, {:.0f} gf) against {} ({}, {:.0f} gf): ", d.first,
                                       counted(d.edges_first, "edge"), d.mean_first_gf, d.second,
                                       counted(d.edges_second, "edge"), d.mean_second_gf);
  if (std::isnan(d.mixed.middle))
    return what + "two edges alone cannot tell a difference of routes from one of edges.";
  const std::string span = fmt::format("{:.2f} times, 9 in 10 between {:.2f} and {:.2f}", d.mixed.middle,
                                       d.mixed.low, d.mixed.high);
  std::string       said;
  if (d.equivalence_p < 0.05)
    said = fmt::format("no difference that matters ({}; less than {} apart).", span, percent(margin));
  else if (d.mixed_p < 0.05)
    said = fmt::format("the difference is real ({}; by chance once in {:.0f} times).", span,
                       1.0 / std::max(d.mixed_p, 1e-9));
  else
    said = fmt::format("no difference is shown ({}).", span);
  if (!std::isnan(d.detectable))
    said += fmt::format(" So many edges would show a difference of {} or more 9 times in 10.",
                        percent(d.detectable - 1.0));
  return what + said;
}

// measured lives of ways, beside what the model has of them
void add_lives(const Comparing& c, Answer& answer) {
  if (c.lives.empty()) return;
  const double                      limit     = gf(c.settings.life.limit_N);
  const WayLives*                   reference = nullptr;
  std::vector<const MeasuredLives*> measured;
  std::vector<std::string>          names, ratios;
  std::vector<double>               ratio, low, high, p, model;
  for (const WayLives& w : c.lives) {
    const MeasuredLives& m = w.lives;
    if (reference == nullptr && m.ended > 0) reference = &w;
    names.push_back(w.way);
    measured.push_back(&m);
    ratio.push_back(w.ratio);
    low.push_back(w.interval.low);
    high.push_back(std::isinf(w.interval.high) ? not_given : w.interval.high);
    p.push_back(w.p);
    const std::string upper = std::isinf(w.interval.high) ? "no end" : fmt::format("{:.2f}", w.interval.high);
    ratios.push_back(&w == reference ? "the reference"
                     : m.ended == 0  ? "none has crossed"
                     : std::isnan(w.ratio)
                         ? "too few lives"
                         : fmt::format("{:.2f} ({:.2f} … {})", w.ratio, w.interval.low, upper));
    const auto way =
        std::find_if(c.ways.begin(), c.ways.end(), [&](const Way& x) { return x.name == w.way; });
    model.push_back(std::isinf(way->passes.middle) ? not_given : way->passes.middle);
    if (std::isnan(w.ratio)) continue;
    const std::string span = fmt::format("9 in 10 between {:.2f} and {}", w.interval.low, upper);
    answer.remark(
        About::certainty,
        fmt::format(
            "Measured lives in {} to {:.0f} gf: edges of {} ({}, {} of which crossed it) lasted {:.2f} times as long as those of {} ({}, {} of which crossed it), {}: {}.",
            c.wood, limit, w.way, m.edges.size(), m.ended, w.ratio, reference->way,
            reference->lives.edges.size(), reference->lives.ended, span,
            w.p < 0.05 ? fmt::format("the difference is real (by chance once in {:.0f} times)",
                                     1.0 / std::max(w.p, 1e-9))
                       : "no difference is shown"));
  }
  AnswerTable table{.name = "measured_lives",
                    .says = fmt::format("Lives that were measured in {}, to {:.0f} gf", c.wood, limit),
                    .axis = "way"};
  table.text("way", "way", "route and strops", names);
  add_life_columns(table, measured);
  table.text("times", "times as long (90 %)", "life over that of the first way with an ended life", ratios);
  table.number("ratio", "1", "",
               "life over that of the first way with an ended life; missing where it cannot be told", ratio);
  table.number("ratio_low", "1", "", "lower end of 90 % of it, by the likelihood ratio", low);
  table.number("ratio_high", "1", "", "upper end of 90 % of it; missing where there is none", high);
  table.number("p", "1", "", "probability value of no difference, likelihood ratio", p);
  table.number("model_passes", "1", "model",
               "passes of the mean edge by the model; missing when it outlasts those simulated", model);
  answer.tables.push_back(std::move(table));
  answer.remarks.emplace_back(
      "Measured lives are taken from the readings alone, whatever the tool of the edge; ratios by Weibull distributions of one shape.");
}

}  // namespace

Answer compare_answer(const Comparing& c, const Workshop& workshop, const Ensemble& ensemble) {
  Answer       answer;
  const auto&  life  = c.settings.life;
  const double limit = gf(life.limit_N);
  const bool   money = !std::isnan(c.ways.front().money);
  const bool   many  = c.members > 1;
  const Way&   first = c.ways.front();
  answer.kind        = "compare";
  const auto best    = std::min_element(c.ways.begin(), c.ways.end(), [](const Way& a, const Way& b) {
    return a.reading_N.middle < b.reading_N.middle;
  });
  const auto longest = std::max_element(c.ways.begin(), c.ways.end(), [](const Way& a, const Way& b) {
    return a.passes.middle < b.passes.middle;
  });
  answer.headline = fmt::format("On the {}, {} gives the lowest reading, about {:.0f} gf", c.tool, best->name,
                                gf(best->reading_N.middle));
  if (&*best == &first) {
    answer.headline += ".";
  } else {
    answer.headline += fmt::format("; against {}, {}.", first.name,
                                   many ? verdict(*best, first.name, c.settings.margin)
                                        : fmt::format("{} less", percent(1.0 - best->ratio.middle)));
  }
  if (longest->passes.middle > 0.0) {
    // ways whose lives differ by no more than the margin last alike
    const double alike =
        std::isinf(longest->passes.middle) ? life.passes : longest->passes.middle / (1.0 + c.settings.margin);
    const auto equal = std::count_if(c.ways.begin(), c.ways.end(),
                                     [&](const Way& way) { return way.passes.middle >= alike; });
    const auto lives = passes_text(longest->passes.middle, life.passes);
    const auto least = std::min_element(c.ways.begin(), c.ways.end(), [](const Way& a, const Way& b) {
      return a.passes.middle < b.passes.middle;
    });
    if (equal == 1) {
      answer.headline += fmt::format(" In {} {} lasts longest: {} passes until {:.0f} gf.", c.wood,
                                     longest->name, lives, limit);
    } else if (equal == static_cast<std::ptrdiff_t>(c.ways.size())) {
      answer.headline +=
          fmt::format(" In {} all last alike, {} passes until {:.0f} gf.", c.wood, lives, limit);
    } else {
      answer.headline += fmt::format(
          " In {} {} of the {} ways last alike, up to {} passes until {:.0f} gf; {} lasts least, {}.", c.wood,
          equal, c.ways.size(), lives, limit, least->name, passes_text(least->passes.middle, life.passes));
    }
  } else {
    answer.headline +=
        fmt::format(" None of them stays below {:.0f} gf for a single pass in {}.", limit, c.wood);
  }
  // the sentence so far is the model's
  if (std::any_of(c.lives.begin(), c.lives.end(), [](const WayLives& w) { return w.p < 0.05; }))
    answer.headline += " That is the model; the lives that were measured differ by more than chance.";

  const auto column_of = [&](auto&& value) {
    std::vector<double> out;
    for (const Way& way : c.ways) out.push_back(value(way));
    return out;
  };
  const auto               finite = [](double x) { return std::isinf(x) ? not_given : x; };
  std::vector<std::string> names, edges, lives, verdicts;
  for (const Way& way : c.ways) {
    names.push_back(way.name);
    edges.push_back(fmt::format("{}", fmt::join(way.edges, ", ")));
    lives.push_back(passes_text(way.passes.middle, life.passes));
    verdicts.push_back(&way == &first ? "the reference"
                       : many         ? verdict(way, first.name, c.settings.margin)
                                      : fmt::format("{:.2f} times its reading", way.ratio.middle));
  }
  AnswerTable ways{.name = "ways",
                   .says = fmt::format("Each way of sharpening on the {}, then in {}", c.tool, c.wood),
                   .axis = "way"};
  ways.text("way", "way", "route and strops", names);
  ways.text("edges", "", "edges that follow it", edges);
  ways.number("reading_gf", "gf", "reads gf", "reading ready for work, of a typical edge",
              column_of([&](const Way& w) { return gf(w.reading_N.middle); }));
  ways.number("reading_low_gf", "gf", many ? "from" : "", "lower end of its band",
              column_of([&](const Way& w) { return gf(w.reading_N.low); }));
  ways.number("reading_high_gf", "gf", many ? "to" : "", "upper end of its band",
              column_of([&](const Way& w) { return gf(w.reading_N.high); }));
  ways.text("life", fmt::format("passes to {:.0f} gf", limit), "passes of the mean edge", lives);
  ways.number("passes", "1", "", "passes of the mean edge; missing when it outlasts those simulated",
              column_of([&](const Way& w) { return finite(w.passes.middle); }));
  ways.number("next_passes_low", "1", "", "lower end of the band of next edges",
              column_of([&](const Way& w) { return finite(w.next_passes.low); }));
  ways.number("next_passes_high", "1", "", "upper end of the band of next edges",
              column_of([&](const Way& w) { return finite(w.next_passes.high); }));
  ways.number("strokes", "1", "strokes", "strokes and laps of one sharpening",
              column_of([](const Way& w) { return w.strokes; }));
  ways.columns.back().places = 0;
  ways.number("minutes", "min", "minutes", "of one sharpening, taking up media and flattening included",
              column_of([](const Way& w) { return w.minutes; }), 3);
  const std::string currency = workshop.pace.currency.empty() ? "money" : workshop.pace.currency;
  ways.number("money", "1", money ? currency : "",
              "cost of one sharpening, wage included, in the configuration's currency",
              column_of([](const Way& w) { return w.money; }));
  const auto per_thousand = [&](double value, const Way& w) {
    return w.passes.middle > 0.0 && std::isfinite(w.passes.middle) ? 1000.0 * value / w.passes.middle
                                                                   : not_given;
  };
  ways.number("minutes_per_1000_passes", "min", "min/1000 passes", "minutes of sharpening per 1000 passes",
              column_of([&](const Way& w) { return per_thousand(w.minutes, w); }));
  ways.number("money_per_1000_passes", "1", money ? currency + "/1000 passes" : "", "cost per 1000 passes",
              column_of([&](const Way& w) { return per_thousand(w.money, w); }));
  ways.number("steel_removed_mg", "mg", "steel mg", "steel removed by one sharpening",
              column_of([](const Way& w) { return w.steel_mg; }));
  ways.number("blade_loss_um", "um", "blade µm", "blade length honed away by one sharpening",
              column_of([](const Way& w) { return w.blade_loss_um; }));
  ways.number("sharpenings", "1", "sharpenings", "that the usable blade is good for, grinding left out",
              column_of([](const Way& w) { return w.sharpenings; }), 2);
  ways.number("below_reference", "1", "", "probability that it reads less than the first way",
              column_of([](const Way& w) { return w.below_reference; }));
  ways.number("outlasts", "1", "", "probability that it lasts longer than the first way",
              column_of([](const Way& w) { return w.outlasts; }));
  ways.number("ratio", "1", "", "its reading over that of the first way",
              column_of([](const Way& w) { return w.ratio.middle; }));
  ways.number("ratio_low", "1", "", "lower end of the band of the ratio",
              column_of([](const Way& w) { return w.ratio.low; }));
  ways.number("ratio_high", "1", "", "upper end of the band of the ratio",
              column_of([](const Way& w) { return w.ratio.high; }));
  ways.number("equivalent", "1", "", "probability that the two are within the margin",
              column_of([](const Way& w) { return w.equivalent; }));
  answer.tables.push_back(std::move(ways));

  AnswerTable against{.name = "against", .says = fmt::format("Against {}", first.name), .axis = "way"};
  against.text("way", "way", "route and strops", names);
  against.text("verdict", "reading", "what is known of the difference of readings", verdicts);
  std::vector<std::string> longer;
  for (const Way& way : c.ways) longer.push_back(&way == &first || !many ? "" : percent(way.outlasts));
  against.text("lasts_longer", many ? "lasts longer with certainty" : "", "probability that it lasts longer",
               longer);
  answer.tables.push_back(std::move(against));

  AnswerTable              steps{.name        = "steps",
                                 .says        = "Step by step, as the model has it",
                                 .axis        = "step",
                                 .on_terminal = c.ways.size() <= 3};
  std::vector<std::string> way_of, what;
  std::vector<double>      count, radius, reading;
  for (const Way& way : c.ways) {
    for (const StepSummary& s : way.steps) {
      way_of.push_back(way.name);
      what.push_back(s.verb + " " + s.subject);
      count.push_back(s.count);
      radius.push_back(s.after.apex_radius_um);
      reading.push_back(gf(s.after.reading_N));
    }
  }
  steps.text("way", "way", "route and strops", way_of);
  steps.text("step", "step", "what is done", what);
  steps.number("count", "1", "strokes", "strokes or laps", count);
  steps.columns.back().places = 0;
  steps.number("apex_radius_um", "um", "radius µm", "apex radius after it", radius);
  steps.number("reading_gf", "gf", "reads gf", "reading after it", reading);
  answer.tables.push_back(std::move(steps));

  if (!c.measured.empty()) {
    AnswerTable              measured{.name        = "measured",
                                      .says        = "Routes by their readings, before any strop",
                                      .axis        = "pair",
                                      .on_terminal = false};
    std::vector<std::string> one, other;
    for (const auto& d : c.measured) {
      one.push_back(d.first);
      other.push_back(d.second);
      answer.remark(About::certainty, measured_sentence(d, c.settings.margin));
    }
    const auto of = [&](auto&& value) {
      std::vector<double> out;
      for (const auto& d : c.measured) out.push_back(value(d));
      return out;
    };
    using D = MeasuredDifference;
    measured.text("first", "first", "first route", one);
    measured.text("second", "second", "second route", other);
    measured.number("edges_first", "1", "edges", "edges of the first",
                    of([](const D& d) { return 1.0 * d.edges_first; }));
    measured.number("edges_second", "1", "edges", "edges of the second",
                    of([](const D& d) { return 1.0 * d.edges_second; }));
    measured.number("mean_first_gf", "gf", "gf", "geometric mean of the first",
                    of([](const D& d) { return d.mean_first_gf; }));
    measured.number("mean_second_gf", "gf", "gf", "geometric mean of the second",
                    of([](const D& d) { return d.mean_second_gf; }));
    measured.number("ratio", "1", "ratio", "by the mixed model",
                    of([](const D& d) { return d.mixed.middle; }));
    measured.number("ratio_low", "1", "from", "lower end of 90 %",
                    of([](const D& d) { return d.mixed.low; }));
    measured.number("ratio_high", "1", "to", "upper end of 90 %",
                    of([](const D& d) { return d.mixed.high; }));
    measured.number("p", "1", "p", "probability value of no difference, mixed model",
                    of([](const D& d) { return d.mixed_p; }));
    measured.number("welch_ratio", "1", "", "by the means of edges",
                    of([](const D& d) { return d.welch.middle; }));
    measured.number("welch_low", "1", "", "lower end of 90 %, Welch",
                    of([](const D& d) { return d.welch.low; }));
    measured.number("welch_high", "1", "", "upper end of 90 %, Welch",
                    of([](const D& d) { return d.welch.high; }));
    measured.number("welch_p", "1", "", "probability value of no difference, Welch",
                    of([](const D& d) { return d.welch_p; }));
    measured.number("equivalence_p", "1", "", "probability value of a difference of the margin or more",
                    of([](const D& d) { return d.equivalence_p; }));
    measured.number("detectable_ratio", "1", "", "ratio that would be shown 9 times in 10",
                    of([](const D& d) { return d.detectable; }));
    answer.tables.push_back(std::move(measured));
  }
  add_lives(c, answer);
  for (const std::string& route : c.too_few)
    answer.remark(
        About::certainty,
        fmt::format("Only one edge was read off {}: how edges of that route differ is not known.", route));
  if (!c.unpriced.empty() && money)
    answer.remark(About::next, fmt::format("No price is stated for {}; [price.\"…\"] adds it.",
                                           fmt::join(c.unpriced, ", ")));
  if (!money)
    answer.remarks.emplace_back(
        "No price and no wage is stated, so money is left out: [workshop] and [price.\"…\"] state them.");
  if (c.failed > 0)
    answer.remark(About::certainty,
                  fmt::format("Up to {} of {} members could not be run and are left out: {}", c.failed,
                              c.members, c.failure));
  answer.remarks.push_back(fmt::format(
      "Every way is run on the same tool and in the same wood. With \"certainty\" is meant the share of {} models, each as likely as any other; a difference of up to {} counts as none that matters (--margin).",
      c.members, percent(c.settings.margin)));
  answer.rests_on = ensemble.rests_on;
  answer.cautions = {usual_caution()};
  answer.settings = {{"limit_gf", limit},
                     {"passes", life.passes},
                     {"margin", c.settings.margin},
                     {"members", static_cast<double>(c.members)}};
  return answer;
}

}  // namespace arris
