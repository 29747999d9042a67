// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include <fmt/format.h>

#include "sim/certainty.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/misses_said.hpp"
#include "sim/studies/compare/by_readings.hpp"
#include "sim/studies/compare/compare.hpp"
#include "sim/studies/compare/worth.hpp"
#include "sim/studies/compare/worth_answer.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

double gf(double newton) { return laws::in_gram_force(newton); }

double finite(double x) { return std::isinf(x) ? not_given : x; }

double limit_gf(const Comparing& c) { return gf(c.settings.life.limit_N); }

// whether there is a spread of models to be sure or unsure by
bool has_spread(const Comparing& c) { return c.members > 1; }

bool has_money(const Comparing& c) { return !std::isnan(c.ways.front().money); }

bool is_reference(const Comparing& c, const Way& way) { return &way == &c.ways.front(); }

// ---- the headline ----

// whether anything was read of ways as they are compared, so that the model is not all there is
bool was_read(const Comparing& c) {
  return std::any_of(c.ways.begin(), c.ways.end(), [](const Way& w) { return !std::isnan(w.read_gf); });
}

// "about 12 % less", of a reading
std::string times_said(double ratio) {
  if (std::abs(ratio - 1.0) < 0.01) return "about the same";
  return fmt::format("about {} {}", percent(std::abs(ratio - 1.0)), ratio < 1.0 ? "less" : "more");
}

// in words, of a way against the reference
std::string verdict(const Comparing& c, const Way& way) {
  const Claim& claim = way.claim;
  if (const std::string why = why_not_known(claim); !why.empty())
    return fmt::format("{}; by the model alone it reads {}", why, times_said(way.ratio.middle));
  const std::string whose = was_read(c) && claim.evidence == Evidence::model ? "by the model alone, " : "";
  if (claim.within >= 0.9)
    return fmt::format("{}{} no difference that matters: within {} of {}", whose, likelihood(claim.within),
                       percent(c.settings.margin), c.ways.front().name);
  const bool apart = claim.evidence == Evidence::readings && claim.read_ratio > 0.0 &&
                     std::abs(std::log(claim.read_ratio / way.ratio.middle)) > std::log1p(c.settings.margin);
  std::string reads = "reads " + times_said(way.ratio.middle);
  if (apart) reads += fmt::format(" by the model, and was read as {}", times_said(claim.read_ratio));
  if (claim.below >= likely_from)
    return fmt::format("{}{} sharper: {}", whose, likelihood(claim.below), reads);
  if (claim.below <= 1.0 - likely_from)
    return fmt::format("{}{} less sharp: {}", whose, likelihood(1.0 - claim.below), reads);
  return fmt::format("{}not known which is sharper: that it reads less is {}", whose,
                     likelihood(claim.below));
}

// other ways whose typical readings are no more than the margin above the lowest
std::string as_sharp_clause(const Comparing& c, const Way& best) {
  std::vector<std::string> names;
  for (const Way& way : c.ways) {
    if (&way != &best && way.reading_N.middle <= (1.0 + c.settings.margin) * best.reading_N.middle)
      names.push_back(way.name);
  }
  if (names.empty()) return {};
  constexpr std::size_t most = 3;
  const std::string     who  = names.size() <= most
                                   ? and_list(names)
                                   : counted(static_cast<long long>(names.size()), "other way", "other ways");
  return fmt::format(" {} {} within {} of it by the model.", who, names.size() == 1 ? "comes" : "come",
                     percent(c.settings.margin));
}

// the way whose edges were read lowest; null where none was read
const Way* read_lowest(const Comparing& c) {
  const Way* lowest = nullptr;
  for (const Way& way : c.ways) {
    if (!std::isnan(way.read_gf) && (lowest == nullptr || way.read_gf < lowest->read_gf)) lowest = &way;
  }
  return lowest;
}

// what was read comes before what the model has: "On the iron, ready for work, A was read lowest, 110 gf; "
std::string where_and_read(const Comparing& c) {
  const Way* lowest = read_lowest(c);
  return (c.by_tool ? std::string("Ready for work, ") : fmt::format("On the {}, ready for work, ", c.tool)) +
         (lowest == nullptr ? std::string()
                            : fmt::format("{} was read lowest, {:.0f} gf; ", lowest->name, lowest->read_gf));
}

// which way the model has lowest, beside what was read
std::string modelled_lowest(const Comparing& c, const Way& best) {
  const Way*        lowest = read_lowest(c);
  const std::string about  = fmt::format("about {:.0f} gf", gf(best.reading_N.middle));
  if (lowest == nullptr) return fmt::format("{} reads lowest by the model, {}", best.name, about);
  if (lowest == &best) return fmt::format("by the model it reads lowest too, {}", about);
  const std::string read =
      std::isnan(best.read_gf) ? "" : fmt::format(" (it was read as {:.0f} gf)", best.read_gf);
  return fmt::format("by the model {} reads lowest, {}{}", best.name, about, read);
}

std::string sharpest_sentence(const Comparing& c) {
  const Way&        reference = c.ways.front();
  const auto        best = std::min_element(c.ways.begin(), c.ways.end(), [](const Way& a, const Way& b) {
    return a.reading_N.middle < b.reading_N.middle;
  });
  const std::string said = where_and_read(c) + modelled_lowest(c, *best);
  if (is_reference(c, *best)) return said + "." + as_sharp_clause(c, *best);
  if (has_spread(c) && !(best->claim.below >= likely_from) && !(best->claim.within >= 0.9))
    return where_and_read(c) +
           fmt::format(
               "it is not known which is sharpest: by the model {} reads about {:.0f} gf and {} about {:.0f} gf; {}.",
               best->name, gf(best->reading_N.middle), reference.name, gf(reference.reading_N.middle),
               verdict(c, *best));
  return said +
         fmt::format(
             "; compared with {}, {}.", reference.name,
             has_spread(c) ? verdict(c, *best) : fmt::format("{} less", percent(1.0 - best->ratio.middle))) +
         as_sharp_clause(c, *best);
}

// passes as the forecast says them
std::string passes_said(const Comparing& c, double passes) {
  return passes_text(rounded_passes(passes), c.settings.life.passes);
}

// what was measured of a way, where that is shorter than the model has it; empty where it is not
std::string crossed_before(const Comparing& c, const Way& way) {
  const auto found =
      std::find_if(c.lives.begin(), c.lives.end(), [&](const WayLives& w) { return w.way == way.name; });
  if (found == c.lives.end() || found->lives.ended == 0) return {};
  const double half = found->lives.median;
  if (!(half * (1.0 + c.settings.margin) < way.passes.middle)) return {};
  const std::size_t edges = found->lives.edges.size();
  const std::string after = passes_said(c, half);
  return edges == 1 ? fmt::format(" But the one edge of {} that was watched had crossed the limit after {}.",
                                  way.name, after)
                    : fmt::format(
                          " But of the {} edges of {} that were watched half had crossed the limit after {}.",
                          edges, way.name, after);
}

// How likely it is that this way, the longest by the model, outlasts those that it is held against: the reference, or all others where it is
// the reference itself. NaN where readings cannot tell.
double surely_longest(const Comparing& c, const Way& longest) {
  const auto over = [](const Way& way) {
    return way.claim.evidence == Evidence::confounded ? not_given : way.outlasts;
  };
  if (!is_reference(c, longest)) return over(longest);
  double sure = 1.0;
  for (const Way& way : c.ways) {
    if (is_reference(c, way)) continue;
    if (std::isnan(over(way))) return not_given;
    sure = std::min(sure, 1.0 - over(way));
  }
  return sure;
}

// where it may be another one that lasts longest
std::string not_known_sentence(const Comparing& c, const Way& longest, const Way& least, bool confounded) {
  const std::string span =
      fmt::format("{} for {} and {} for {}, until {:.0f} gf", passes_said(c, least.passes.middle), least.name,
                  passes_said(c, longest.passes.middle), longest.name, limit_gf(c));
  return confounded
             ? fmt::format(" Which lasts longest in {} the readings cannot tell; the model alone has {}.",
                           c.wood, span)
             : fmt::format(
                   " Which lasts longest in {} is not known: the model has {}, and is no surer of it.",
                   c.wood, span);
}

// ways whose lives differ by no more than the margin last alike
std::string longest_sentence(const Comparing& c) {
  const auto lasts_less = [](const Way& a, const Way& b) { return a.passes.middle < b.passes.middle; };
  const Way& longest    = *std::max_element(c.ways.begin(), c.ways.end(), lasts_less);
  const Way& least      = *std::min_element(c.ways.begin(), c.ways.end(), lasts_less);
  if (!(longest.passes.middle > 0.0))
    return fmt::format(" None of them stays below {:.0f} gf for a single pass in {}.", limit_gf(c), c.wood);

  const double horizon = c.settings.life.passes;
  const double alike =
      std::isinf(longest.passes.middle) ? horizon : longest.passes.middle / (1.0 + c.settings.margin);
  std::vector<std::string> equal;
  for (const Way& way : c.ways) {
    if (way.passes.middle >= alike) equal.push_back(way.name);
  }
  const auto        most  = passes_said(c, longest.passes.middle);
  const std::string until = fmt::format("until {:.0f} gf", limit_gf(c));
  if (equal.size() == c.ways.size())
    return fmt::format(" In {} all last alike by the model, {} passes {}.", c.wood, most, until);
  if (const double sure = surely_longest(c, longest); has_spread(c) && !(sure >= likely_from))
    return not_known_sentence(c, longest, least, std::isnan(sure)) + crossed_before(c, longest);
  if (equal.size() == 1)
    return fmt::format(" In {} {} lasts longest by the model: {} passes {}.{}", c.wood, longest.name, most,
                       until, crossed_before(c, longest));
  constexpr std::size_t named = 3;
  return fmt::format(
      " In {} {} last longest by the model, up to {} passes {}; {} lasts least, {}.{}", c.wood,
      equal.size() <= named ? and_list(equal) : fmt::format("{} of the {} ways", equal.size(), c.ways.size()),
      most, until, least.name, passes_said(c, least.passes.middle), crossed_before(c, longest));
}

// whether some measured difference cannot be told from one of operators, lots or days
bool is_confounded(const Comparing& c) {
  return std::any_of(c.measured.begin(), c.measured.end(),
                     [](const MeasuredDifference& d) { return !d.confounded.empty(); }) ||
         std::any_of(c.ways.begin(), c.ways.end(),
                     [](const Way& way) { return way.claim.evidence == Evidence::confounded; }) ||
         std::any_of(c.lives_confounded.begin(), c.lives_confounded.end(),
                     [](const std::string& why) { return !why.empty(); });
}

std::string headline(const Comparing& c) {
  bool measured_apart = false;
  for (std::size_t w = 0; w < c.lives.size(); ++w)
    measured_apart |= c.lives[w].p < 0.05 && c.lives_confounded[w].empty();
  std::string said = sharpest_sentence(c) + longest_sentence(c);
  // how far, for which ways, stands below
  if (!c.hangs_on_law.empty()) said += " How the lives of these ways compare hangs on the wear law too.";
  if (measured_apart) said += " That is the model; the lives that were measured differ by more than chance.";
  if (is_confounded(c))
    said +=
        " Some ways went together with who or what read them, so the readings cannot tell those apart; the notes say which.";
  return said;
}

// ---- the table of ways ----

using WayColumns = ItemColumns<Way>;

void add_readings(const Comparing& c, WayColumns& ways) {
  ways.number("reading_gf", "gf", "reads gf", "reading ready for work, of a typical edge",
              [](const Way& w) { return gf(w.reading_N.middle); });
  ways.number("reading_low_gf", "gf", has_spread(c) ? "from" : "", "lower end of its band",
              [](const Way& w) { return gf(w.reading_N.low); });
  ways.number("reading_high_gf", "gf", has_spread(c) ? "to" : "", "upper end of its band",
              [](const Way& w) { return gf(w.reading_N.high); });
  const bool read =
      std::any_of(c.ways.begin(), c.ways.end(), [](const Way& w) { return !std::isnan(w.read_gf); });
  ways.number("read_gf", "gf", read ? "was read" : "",
              "geometric mean of its edges as they were read ready for work", &Way::read_gf)
      .places = 0;
}

void add_passes(const Comparing& c, WayColumns& ways) {
  ways.text("life", fmt::format("passes to {:.0f} gf", limit_gf(c)), "passes of the mean edge",
            [&](const Way& w) { return passes_said(c, w.passes.middle); });
  ways.number("passes", "1", "", "passes of the mean edge; missing when it outlasts those simulated",
              [](const Way& w) { return finite(w.passes.middle); });
  ways.number("next_passes_low", "1", "", "lower end of the band of next edges",
              [](const Way& w) { return finite(w.next_passes.low); });
  ways.number("next_passes_high", "1", "", "upper end of the band of next edges",
              [](const Way& w) { return finite(w.next_passes.high); });
}

// what a sharpening takes, by itself and for the passes that it is good for
void add_what_it_takes(const Comparing& c, const Workshop& workshop, WayColumns& ways) {
  const std::string currency = workshop.pace.currency.empty() ? "money" : workshop.pace.currency;
  const auto        per_1000 = [](double value, const Way& w) {
    return w.passes.middle > 0.0 && std::isfinite(w.passes.middle) ? 1000.0 * value / w.passes.middle
                                                                          : not_given;
  };
  ways.number("strokes", "1", "strokes", "strokes and laps of one sharpening", &Way::strokes).places = 0;
  ways.number("minutes", "min", "minutes", "of one sharpening, taking up media and flattening included",
              &Way::minutes, 3);
  ways.number("money", "1", has_money(c) ? currency : "",
              "cost of one sharpening, wage included, in the configuration's currency", &Way::money);
  ways.number("minutes_per_1000_passes", "min", "min/1000 passes", "minutes of sharpening per 1000 passes",
              [&](const Way& w) { return per_1000(w.minutes, w); });
  ways.number("money_per_1000_passes", "1", has_money(c) ? currency + "/1000 passes" : "",
              "cost per 1000 passes", [&](const Way& w) { return per_1000(w.money, w); });
  ways.number("steel_removed_mg", "mg", "steel mg", "steel removed by one sharpening", &Way::steel_mg);
  ways.number("blade_loss_um", "um", "blade µm", "blade length honed away by one sharpening",
              &Way::blade_loss_um);
  ways.number("sharpenings", "1", "sharpenings", "that the usable blade is good for, grinding left out",
              &Way::sharpenings, 2);
}

std::string evidence_said(Evidence evidence) {
  switch (evidence) {
    case Evidence::model:
      return "model";
    case Evidence::readings:
      return "readings";
    case Evidence::confounded:
      return "confounded";
    case Evidence::contradicted:
      return "contradicted";
  }
  return {};
}

void add_against_first(WayColumns& ways) {
  ways.text("evidence", "", "what it rests on which of it and the first way reads less",
            [](const Way& w) { return evidence_said(w.claim.evidence); });
  ways.number("below_reference", "1", "",
              "probability that it reads less than the first way; missing where readings do not tell",
              [](const Way& w) { return w.claim.below; });
  ways.number("read_below", "1", "", "the same by readings alone; missing where not both were read",
              [](const Way& w) { return w.claim.read_below; });
  ways.number("outlasts", "1", "", "probability that it lasts longer than the first way", &Way::outlasts);
  ways.number("ratio", "1", "", "its reading over that of the first way",
              [](const Way& w) { return w.ratio.middle; });
  ways.number("ratio_low", "1", "", "lower end of the band of the ratio",
              [](const Way& w) { return w.ratio.low; });
  ways.number("ratio_high", "1", "", "upper end of the band of the ratio",
              [](const Way& w) { return w.ratio.high; });
  ways.number("equivalent", "1", "",
              "probability that the two are within the margin; missing where readings do not tell",
              [](const Way& w) { return w.claim.within; });
}

AnswerTable ways_table(const Comparing& c, const Workshop& workshop) {
  AnswerTable table{.name = "ways",
                    .says = c.by_tool
                                ? fmt::format("Each tool, sharpened alike, then in {}", c.wood)
                                : fmt::format("Each way of sharpening on the {}, then in {}", c.tool, c.wood),
                    .axis = "way"};
  WayColumns  ways(table, c.ways);
  ways.text("way", "way", "route and strops", &Way::name);
  ways.text("edges", "", "edges that follow it",
            [](const Way& w) { return fmt::format("{}", fmt::join(w.edges, ", ")); });
  ways.text("tool", "", "blade that it is compared on", [](const Way& w) { return w.plan.tool_name; });
  ways.text("wood", "", "wood that it is compared in", [&](const Way&) { return c.wood; });
  add_readings(c, ways);
  add_passes(c, ways);
  add_what_it_takes(c, workshop, ways);
  add_against_first(ways);
  return table;
}

// ---- the tables beside it ----

AnswerTable against_table(const Comparing& c) {
  const std::string& reference = c.ways.front().name;
  AnswerTable        table{.name = "against", .says = fmt::format("Against {}", reference), .axis = "way"};
  WayColumns         ways(table, c.ways);
  ways.text("way", "way", "route and strops", &Way::name);
  ways.text("verdict", "reading", "what is known of the difference of readings", [&](const Way& w) {
    return is_reference(c, w) ? "the reference"
           : has_spread(c)    ? verdict(c, w)
                              : fmt::format("{:.2f} times its reading", w.ratio.middle);
  });
  ways.text("lasts_longer", has_spread(c) ? "to last longer, by the model" : "",
            "probability that it lasts longer, by the model", [&](const Way& w) {
              if (is_reference(c, w) || !has_spread(c)) return std::string();
              return std::isnan(w.outlasts) ? std::string("the readings cannot tell")
                                            : likelihood(w.outlasts);
            });
  return table;
}

AnswerTable steps_table(const Comparing& c) {
  struct StepOfWay {
    std::string way;
    StepSummary step;
  };
  std::vector<StepOfWay> all;
  for (const Way& way : c.ways) {
    for (const StepSummary& step : way.steps) all.push_back({way.name, step});
  }
  AnswerTable            table{.name        = "steps",
                               .says        = "Step by step, as the model has it",
                               .axis        = "step",
                               .on_terminal = c.ways.size() <= 3};
  ItemColumns<StepOfWay> steps(table, all);
  steps.text("way", "way", "route and strops", &StepOfWay::way);
  steps.text("step", "step", "what is done",
             [](const StepOfWay& s) { return s.step.verb + " " + s.step.subject; });
  steps.number("count", "1", "strokes", "strokes or laps", [](const StepOfWay& s) { return s.step.count; })
      .places = 0;
  steps.number("apex_radius_um", "um", "radius µm", "apex radius after it",
               [](const StepOfWay& s) { return s.step.after.apex_radius_um; });
  steps.number("reading_gf", "gf", "reads gf", "reading after it",
               [](const StepOfWay& s) { return gf(s.step.after.reading_N); });
  return table;
}

// ---- routes by their readings ----

AnswerTable measured_table(const Comparing& c) {
  using D = MeasuredDifference;
  AnswerTable    table{.name        = "measured",
                       .says        = "Ways of honing by their readings, before any strop or wood",
                       .axis        = "pair",
                       .on_terminal = false};
  ItemColumns<D> pairs(table, c.measured);
  pairs.text("first", "first", "first way of honing", &D::first);
  pairs.text("second", "second", "second way of honing", &D::second);
  pairs.text("moment", "read", "what the readings are called", &D::moment);
  pairs.number("edges_first", "1", "edges", "edges of the first", &D::edges_first);
  pairs.number("edges_second", "1", "edges", "edges of the second", &D::edges_second);
  pairs.number("mean_first_gf", "gf", "gf", "geometric mean of the first", &D::mean_first_gf);
  pairs.number("mean_second_gf", "gf", "gf", "geometric mean of the second", &D::mean_second_gf);
  pairs.number("ratio", "1", "ratio", "by the mixed model", [](const D& d) { return d.mixed.middle; });
  pairs.number("ratio_low", "1", "from", "lower end of 90 %", [](const D& d) { return d.mixed.low; });
  pairs.number("ratio_high", "1", "to", "upper end of 90 %", [](const D& d) { return d.mixed.high; });
  pairs.number("p", "1", "p", "probability value of no difference, mixed model", &D::mixed_p);
  pairs.number("p_of_all", "1", c.measured.size() > 1 ? "p, all together" : "",
               "the same, corrected for the number of pairs (Holm)", &D::mixed_p_of_all);
  pairs.number("welch_ratio", "1", "", "by the means of edges", [](const D& d) { return d.welch.middle; });
  pairs.number("welch_low", "1", "", "lower end of 90 %, Welch", [](const D& d) { return d.welch.low; });
  pairs.number("welch_high", "1", "", "upper end of 90 %, Welch", [](const D& d) { return d.welch.high; });
  pairs.number("welch_p", "1", "", "probability value of no difference, Welch", &D::welch_p);
  pairs.number("equivalence_p", "1", "", "probability value of a difference of the margin or more",
               &D::equivalence_p);
  pairs.number("detectable_ratio", "1", "", "ratio that would be shown 9 times in 10", &D::detectable);
  pairs.text("confounded", "",
             "why the routes cannot be told from operators, lots or days; empty where they can",
             &D::confounded);
  return table;
}

std::string measured_sentence(const MeasuredDifference& d, double margin) {
  const auto behind = [](int edges, int readings) {
    return fmt::format("{}, {}", counted(edges, "edge"), counted(readings, "reading"));
  };
  const std::string what = fmt::format(
      "Read {}, before any strop or wood: {} ({}, {:.0f} gf) against {} ({}, {:.0f} gf): ", d.moment, d.first,
      behind(d.edges_first, d.readings_first), d.mean_first_gf, d.second,
      behind(d.edges_second, d.readings_second), d.mean_second_gf);
  if (!d.confounded.empty()) return what + "no difference is claimed. " + d.confounded;
  if (std::isnan(d.mixed.middle))
    return what + "two edges alone cannot tell a difference of ways from one of edges.";
  constexpr double useless = 2.0;  // a difference that no one needs readings for
  const bool       blind   = !std::isnan(d.detectable) && d.detectable > useless;
  // beside two means, a ratio that is not theirs must say why
  const std::string times = fmt::format(
      "the first reads {:.2f} times the second{}", d.mixed.middle,
      d.allowed_for.empty() ? ""
                            : fmt::format(" once different {} are allowed for", and_list(d.allowed_for)));
  // a span wider than that tells a reader nothing but that nothing is known
  const std::string span =
      blind ? times : fmt::format("{}, 9 in 10 between {:.2f} and {:.2f}", times, d.mixed.low, d.mixed.high);
  std::string said;
  if (d.equivalence_p < 0.05)
    said = fmt::format("no difference that matters ({}; less than {} apart).", span, percent(margin));
  else if (d.mixed_p_of_all < 0.05)
    said = fmt::format("the difference is real ({}; {}).", span, by_chance(d.mixed_p_of_all));
  else
    said = fmt::format("no difference is shown ({}).", span);
  if (blind)
    said +=
        " So few edges, as different as these are, could not show one even if one way read twice the other.";
  else if (!std::isnan(d.detectable))
    said += fmt::format(" So many edges would show a difference of {} or more 9 times in 10.",
                        percent(d.detectable - 1.0));
  return what + said;
}

// "1 of the 6 pairs"
std::string of_pairs(std::ptrdiff_t some, std::size_t all) {
  return fmt::format("{} of the {} pairs", some, all);
}

// Pairs of which something is claimed, a sentence each; of many others only how many there are, since their table has them.
void say_on_pairs(const std::vector<MeasuredDifference>& pairs, double margin, Answer& answer) {
  constexpr std::size_t few        = 3;
  const auto            is_claimed = [](const MeasuredDifference& d) {
    return d.confounded.empty() && (d.equivalence_p < 0.05 || d.mixed_p_of_all < 0.05);
  };
  for (const MeasuredDifference& d : pairs) {
    if (pairs.size() <= few || is_claimed(d)) answer.remark(About::certainty, measured_sentence(d, margin));
  }
  if (pairs.size() <= few) return;
  const auto  mixed = std::count_if(pairs.begin(), pairs.end(),
                                    [](const MeasuredDifference& d) { return !d.confounded.empty(); });
  const auto  open  = std::ssize(pairs) - mixed - std::count_if(pairs.begin(), pairs.end(), is_claimed);
  std::string said;
  if (open > 0) said = "no difference is shown for " + of_pairs(open, pairs.size());
  if (mixed > 0)
    said +=
        fmt::format("{}{} {} read by different operators, with different filament lots or on different days",
                    open > 0 ? "; " : "", open > 0 ? std::to_string(mixed) : of_pairs(mixed, pairs.size()),
                    mixed == 1 ? "was" : "were");
  if (!said.empty())
    answer.remark(
        About::certainty,
        fmt::format(
            "Off the medium, before any strop or wood, {}. Their table says how far apart they were read.",
            said));
}

// ---- measured lives of ways, beside what the model has of them ----

// the first with a life that has ended; null where none has
const WayLives* reference_of(const std::vector<WayLives>& lives) {
  const auto found =
      std::find_if(lives.begin(), lives.end(), [](const WayLives& w) { return w.lives.ended > 0; });
  return found == lives.end() ? nullptr : &*found;
}

std::string upper_end(const WayLives& w) {
  return std::isinf(w.interval.high) ? "any length" : fmt::format("{:.2f}", w.interval.high);
}

double modelled_life(const Comparing& c, const WayLives& w) {
  return std::find_if(c.ways.begin(), c.ways.end(), [&](const Way& x) { return x.name == w.way; })
      ->passes.middle;
}

AnswerTable lives_table(const Comparing& c) {
  const WayLives*                   reference = reference_of(c.lives);
  std::vector<const MeasuredLives*> measured;
  for (const WayLives& w : c.lives) measured.push_back(&w.lives);
  AnswerTable           table{.name = "measured_lives",
                              .says = fmt::format("Lives that were measured in {}, to {:.0f} gf", c.wood, limit_gf(c)),
                              .axis = "way"};
  ItemColumns<WayLives> ways(table, c.lives);
  ways.text("way", "way", "route and strops", &WayLives::way);
  add_life_columns(table, measured);
  ways.text("times", "times as long (90 %)", "life over that of the first way with an ended life",
            [&](const WayLives& w) {
              return &w == reference      ? "the reference"
                     : w.lives.ended == 0 ? "none has crossed"
                     : std::isnan(w.ratio)
                         ? "too few lives"
                         : fmt::format("{:.2f} ({:.2f} … {})", w.ratio, w.interval.low, upper_end(w));
            });
  ways.number("ratio", "1", "",
              "life over that of the first way with an ended life; missing where it cannot be determined",
              &WayLives::ratio);
  ways.number("ratio_low", "1", "", "lower end of 90 % of it, by the likelihood ratio",
              [](const WayLives& w) { return w.interval.low; });
  ways.number("ratio_high", "1", "", "upper end of 90 % of it; missing where there is none",
              [](const WayLives& w) { return finite(w.interval.high); });
  ways.number("p", "1", "", "probability value of no difference, likelihood ratio", &WayLives::p);
  ways.text("model_life", "model", "passes of the mean edge by the model",
            [&](const WayLives& w) { return passes_said(c, modelled_life(c, w)); });
  ways.number("model_passes", "1", "",
              "passes of the mean edge by the model; missing when it outlasts those simulated",
              [&](const WayLives& w) { return finite(modelled_life(c, w)); });
  return table;
}

// `w` has a ratio to the reference
std::string lives_sentence(const Comparing& c, const WayLives& w, const WayLives& reference) {
  const std::string difference =
      w.p < 0.05 ? fmt::format("the difference is real ({})", by_chance(w.p)) : "no difference is shown";
  return fmt::format(
      "Measured lives in {} to {:.0f} gf: edges of {} ({}, {} of which crossed it) lasted {:.2f} times as long as those of {} ({}, {} of which crossed it), 9 in 10 between {:.2f} and {}: {}.",
      c.wood, limit_gf(c), w.way, w.lives.edges.size(), w.lives.ended, w.ratio, reference.way,
      reference.lives.edges.size(), reference.lives.ended, w.interval.low, upper_end(w), difference);
}

// ---- remarks ----

// where the model's reading of a way is farther from what was read than matters, and who read it may be why
void say_who_read(const Comparing& c, Answer& answer) {
  const double wide = std::log1p(c.settings.margin);
  const bool   far  = std::any_of(c.ways.begin(), c.ways.end(), [&](const Way& w) {
    return std::abs(std::log(w.read_gf / gf(w.reading_N.middle))) > wide;  // false where it was not read
  });
  if (!far || c.readers.empty()) return;
  answer.remark(
      About::certainty,
      fmt::format(
          "\"Reads\" is for the mean of the {} of this campaign; \"was read\" is as it stands in the file.",
          and_list(c.readers)));
}

void say_what_was_measured(const Comparing& c, Answer& answer) {
  say_who_read(c, answer);
  say_on_pairs(c.measured, c.settings.margin, answer);
  const WayLives* reference = reference_of(c.lives);
  for (std::size_t w = 0; w < c.lives.size(); ++w) {
    if (std::isnan(c.lives[w].ratio)) continue;
    answer.remark(About::certainty,
                  c.lives_confounded[w].empty()
                      ? lives_sentence(c, c.lives[w], *reference)
                      : fmt::format("Of the measured lives of {} and {} nothing is claimed. {}",
                                    reference->way, c.lives[w].way, c.lives_confounded[w]));
  }
  if (!c.lives.empty())
    answer.remarks.emplace_back(
        c.by_tool
            ? "Measured lives are taken from the readings alone; ratios by Weibull distributions of one shape."
            : "Measured lives are taken from the readings alone, whatever the tool of the edge; ratios by Weibull distributions of one shape.");
}

// the ways by the force on their strops, where these differ: "6 N (C1, C2), 10 N (A1)"
std::string strop_forces(const Comparing& c) {
  std::map<double, std::vector<std::string>> edges;
  for (const Way& way : c.ways) {
    std::set<double> forces;
    for (const Step& step : way.plan.steps) {
      if (const auto* strop = std::get_if<StropStep>(&step)) forces.insert(strop->force_N);
    }
    for (const double force : forces)
      edges[force].insert(edges[force].end(), way.edges.begin(), way.edges.end());
  }
  if (edges.size() < 2) return {};
  std::vector<std::string> said;
  for (const auto& [force, names] : edges)
    said.push_back(fmt::format("{:g} N ({})", force, fmt::join(names, ", ")));
  return and_list(said);
}

// ways that differ by the force too, and those that come from wider or narrower blades
void say_on_forces(const Comparing& c, Answer& answer) {
  const std::string forces = strop_forces(c);
  if (forces.empty() || c.by_tool) return;
  answer.remark(
      About::certainty,
      fmt::format(
          "The ways differ by the force on the strop too, as their steps state it: {}. All of them stand here on the {}, {:g} mm wide, where the same force presses harder than on a wider blade.",
          forces, c.tool, c.tool_width_mm));
}

// how readings bound what is claimed
std::string bounds_sentence(const Comparing& c) {
  return fmt::format(
      "Where both ways were read ready for work{}, no more certainty is claimed than these readings allow, as edges of one way differ by {} among themselves; and none where the two were read differently, or where the model says the contrary. Of other pairs the model alone speaks, and no more certainty is claimed than reading one edge of each would allow if it came out as the model says.",
      c.by_tool ? std::string() : " on the " + c.tool, percent(std::expm1(c.edge_sd)));
}

void say_what_is_missing(const Comparing& c, Answer& answer) {
  for (const std::string& route : c.too_few)
    answer.remark(
        About::certainty,
        fmt::format("Only one edge of {} was read off the medium: how edges of that way differ is not known.",
                    route));
  if (!c.unpriced.empty() && has_money(c))
    answer.remark(About::next, fmt::format("No price is stated for {}; [price.\"…\"] adds it.",
                                           fmt::join(c.unpriced, ", ")));
  if (!has_money(c))
    answer.remarks.emplace_back(
        "No price and no wage is stated, so money is left out: [workshop] and [price.\"…\"] state them.");
  if (c.failed > 0)
    answer.remark(About::certainty,
                  fmt::format("Up to {} of {} members could not be run and are left out: {}", c.failed,
                              c.members, c.failure));
}

}  // namespace

Answer compare_answer(const Comparing& c, const Workshop& workshop, const Ensemble& ensemble) {
  Answer answer;
  answer.kind     = "compare";
  answer.headline = headline(c);
  // a fit says what looks wrong in the readings itself, in its misses
  if (!c.slips.empty()) {
    answer.headline = std::string(readings_first) + " " + answer.headline;
    for (const std::string& slip : c.slips) answer.headline += " " + slip;
  }
  answer.tables = {ways_table(c, workshop), against_table(c), steps_table(c)};
  if (!c.measured.empty()) answer.tables.push_back(measured_table(c));
  if (!c.lives.empty()) answer.tables.push_back(lives_table(c));
  if (!c.hangs_on_law.empty()) answer.remark(About::certainty, c.hangs_on_law);
  for (const std::string& sentence : c.by_law) answer.remark(About::certainty, sentence);
  add_worth(c, workshop, answer);
  say_what_was_measured(c, answer);
  say_what_is_missing(c, answer);
  answer.remarks.push_back(fmt::format(
      "{} A difference of up to {} counts as none that matters (--margin).",
      c.by_tool
          ? "All edges are sharpened alike, so that it is their tools that are compared, in the same wood."
          : "Every way is run on the same tool and in the same wood.",
      percent(c.settings.margin)));
  say_on_forces(c, answer);
  if (has_spread(c) && !std::isnan(c.edge_sd)) answer.remark(About::certainty, bounds_sentence(c));
  if (has_spread(c))
    answer.remark(
        About::certainty,
        fmt::format(
            "{} Here the number is the share of {} versions of the model, each as likely as any other{}.",
            likelihood_scale(), c.members,
            std::isnan(c.edge_sd) ? "" : ", or less where readings allow less"));
  answer.rests_on = ensemble.rests_on;
  answer.cautions = {usual_caution()};
  answer.settings = {{"limit_gf", limit_gf(c)},
                     {"passes", c.settings.life.passes},
                     {"margin", c.settings.margin},
                     {"members", static_cast<double>(c.members)}};
  if (!std::isnan(c.settings.sharpenings))
    answer.settings.emplace_back("sharpenings_per_year", c.settings.sharpenings);
  return answer;
}

}  // namespace arris
