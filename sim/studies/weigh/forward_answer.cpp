// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/fit/law_fits.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/studies/weigh/forward.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

/// What edges say of bands that are to hold a share.
enum class Verdict { holds, too_few, too_narrow, too_wide };

Verdict verdict_of(const ForwardScore& all) {
  // a share that may be 55 or 95 % tells nobody whether to trust a band (an estimate)
  constexpr double widest = 0.4;
  if (all.most.high < forward_most) return Verdict::too_narrow;
  if (all.most.low > forward_most) return Verdict::too_wide;
  return all.most.high - all.most.low > widest ? Verdict::too_few : Verdict::holds;
}

std::string from_to(const ClusteredShare& share) {
  return fmt::format("{:.0f} to {:.0f} %", 100.0 * share.low, 100.0 * share.high);
}

std::string verdict_text(const ForwardScore& all) {
  const std::string by = fmt::format("{} by {}", from_to(all.most), counted(all.edges, "edge"));
  switch (verdict_of(all)) {
    case Verdict::too_narrow:
      return fmt::format("fewer than should ({}): such forecasts claim more than they know", by);
    case Verdict::too_wide:
      return fmt::format("more than should ({}): such forecasts know more than they claim", by);
    case Verdict::too_few:
      return fmt::format("so few edges cannot tell whether such forecasts hold ({})", by);
    case Verdict::holds:
      break;
  }
  return fmt::format("as many as should, as far as the edges tell ({})", by);
}

// where the 50 % bands, which fewer readings put to the test, hold more or less than half for certain
std::string half_text(const ForwardScore& all) {
  if (all.half.low <= forward_half && all.half.high >= forward_half) return {};
  return fmt::format(" The 50 % bands hold {:.0f} % ({}): {}.", 100.0 * all.half.share, from_to(all.half),
                     all.half.low > forward_half ? "such forecasts know more than they claim"
                                                 : "readings lie farther from the middle than foretold");
}

// on which side of their bands most of those outside lie; empty where they are few or lie on both
std::string side_text(const ForwardScore& all) {
  constexpr int    fewest = 5;
  constexpr double mostly = 0.75;
  const int        out = all.above + all.below, more = std::max(all.above, all.below);
  if (out < fewest || more < mostly * out) return {};
  const bool above = all.above > all.below;
  return fmt::format(" Of the {} outside, {} read {} than their band: these edges wore {} than was foretold.",
                     out, more, above ? "more" : "less", above ? "faster" : "less");
}

std::string forward_headline(const ForwardResult& result, const std::vector<ForwardScore>& scores) {
  const ForwardScore& all = scores.front();
  if (all.readings == 0) return "No edge could be forecast.";
  std::string out =
      fmt::format("Of {} held back, {} ({:.0f} %) lay in their 90 % bands: {}.",
                  counted(all.readings, "reading"), all.in_most, 100.0 * all.most.share, verdict_text(all));
  out +=
      fmt::format(" Half of the bands are no wider than a factor of {} from end to end.", plain(all.width));
  out += half_text(all) + side_text(all);
  for (const ForwardScore& score : scores) {
    if (&score == &all || score.says.rfind("beyond", 0) != 0 || score.readings == all.readings) continue;
    out += fmt::format(" Beyond the passes after which other edges were read it was {} of {} ({}).",
                       score.in_most, score.readings, from_to(score.most));
  }
  const auto failed = std::count_if(result.units.begin(), result.units.end(),
                                    [](const ForwardUnit& unit) { return !unit.failure.empty(); });
  if (failed > 0) out += fmt::format(" {} could not be forecast: see below.", counted(failed, "edge"));
  return out;
}

AnswerTable scores_table(const std::vector<ForwardScore>& scores) {
  AnswerTable table{
      .name = "scores", .says = "Readings that were held back, by how far ahead", .axis = "readings"};
  ItemColumns<ForwardScore> columns(table, scores);
  const auto share = [&](const char* key, const char* head, const char* says, const auto& value) {
    columns.number(key, "%", head, says, [value](const ForwardScore& s) { return 100.0 * value(s); }).places =
        0;
  };
  using S = ForwardScore;
  columns.text("which", "which", "readings that the row is of", &S::says);
  columns
      .number("readings", "1", "readings", "readings held back",
              [](const S& s) { return static_cast<double>(s.readings); })
      .places = 0;
  columns
      .number("edges", "1", "edges", "edges that they are of",
              [](const S& s) { return static_cast<double>(s.edges); })
      .places = 0;
  columns
      .number("inside_90", "1", "", "of them in their 90 % bands",
              [](const S& s) { return static_cast<double>(s.in_most); })
      .places = 0;
  share("share_90_pct", "in 90 % bands, %", "the same in per cent", [](const S& s) { return s.most.share; });
  share("share_90_low_pct", "from", "lower end of its 90 % interval, edges taken as independent",
        [](const S& s) { return s.most.low; });
  share("share_90_high_pct", "to", "upper end of that", [](const S& s) { return s.most.high; });
  columns
      .number("inside_50", "1", "", "readings in their 50 % bands",
              [](const S& s) { return static_cast<double>(s.in_half); })
      .places = 0;
  share("share_50_pct", "in 50 %", "the same in per cent", [](const S& s) { return s.half.share; });
  share("share_50_low_pct", "from ", "lower end of its 90 % interval", [](const S& s) { return s.half.low; });
  share("share_50_high_pct", "to ", "upper end of that", [](const S& s) { return s.half.high; });
  columns
      .number("above", "1", "", "readings above their 90 % bands",
              [](const S& s) { return static_cast<double>(s.above); })
      .places = 0;
  columns
      .number("below", "1", "", "readings below them",
              [](const S& s) { return static_cast<double>(s.below); })
      .places = 0;
  columns
      .number("width", "1", "width, times", "upper over lower end of the 90 % bands, median",
              [](const S& s) { return s.width; })
      .places = 2;
  columns
      .number("log_score", "1", "log score", "mean log density of the logs of the readings; larger is better",
              [](const S& s) { return s.log_score; })
      .places = 2;
  return table;
}

/// A reading with the edge that it is of.
struct HeldRow {
  const ForwardUnit* unit;
  HeldReading        of;
};

AnswerTable held_table(const ForwardResult& result) {
  std::vector<HeldRow> rows;
  for (const ForwardUnit& unit : result.units) {
    for (const HeldReading& h : unit.held) rows.push_back({&unit, h});
  }
  AnswerTable table{
      .name = "held_back", .says = "Readings that were held back", .axis = "reading", .on_terminal = false};
  ItemColumns<HeldRow> columns(table, rows);
  const auto           gf = [&](const char* key, const char* says, const auto& newton) {
    columns.number(key, "gf", "", says,
                             [newton](const HeldRow& r) { return laws::in_gram_force(newton(r.of)); });
  };
  const auto flag = [&](const char* key, const char* says, const auto& is) {
    columns.number(key, "1", "", says, [is](const HeldRow& r) {
      return r.unit->failure.empty() ? (is(r.of) ? 1.0 : 0.0) : not_given;
    });
  };
  using H = HeldReading;
  columns.text("edge", "", "name of the edge", [](const HeldRow& r) { return r.unit->name; });
  columns.text("moment", "", "when it was read", [](const HeldRow& r) { return r.of.moment; });
  columns.text("operator", "", "who read", [](const HeldRow& r) { return r.of.operator_name; });
  columns.number("passes", "1", "", "passes since the edge was sharpened",
                 [](const HeldRow& r) { return r.of.passes; });
  columns.number("passes_now", "1", "", "passes at the last reading of the edge that was not held back",
                 [](const HeldRow& r) { return r.unit->now; });
  columns.number("moments_ahead", "1", "", "moments beyond that reading, this one counted",
                 [](const HeldRow& r) { return static_cast<double>(r.of.moments_ahead); });
  gf("reading_gf", "what the tester showed", [](const H& h) { return h.reading_N; });
  gf("foretold_gf", "what was foretold, median", [](const H& h) { return h.most.middle; });
  gf("low_90_gf", "lower end of its 90 % band", [](const H& h) { return h.most.low; });
  gf("high_90_gf", "upper end of it", [](const H& h) { return h.most.high; });
  gf("low_50_gf", "lower end of its 50 % band", [](const H& h) { return h.half.low; });
  gf("high_50_gf", "upper end of it", [](const H& h) { return h.half.high; });
  flag("inside_90", "1 where it lies in its 90 % band", [](const H& h) { return h.in_most(); });
  flag("inside_50", "1 where it lies in its 50 % band", [](const H& h) { return h.in_half(); });
  flag("beyond", "1 where no other edge was read after so many passes", [](const H& h) { return h.beyond; });
  columns.number("log_score", "1", "", "log density of the log of the reading",
                 [](const HeldRow& r) { return r.of.log_score; });
  return table;
}

AnswerTable units_table(const ForwardResult& result) {
  constexpr std::size_t most_shown = 24;
  using U                          = ForwardUnit;
  AnswerTable    table{.name        = "units",
                       .says        = "Edge by edge",
                       .axis        = "edge",
                       .on_terminal = result.units.size() <= most_shown};
  ItemColumns<U> columns(table, result.units);
  const auto     sum = [](const auto& value) {
    return [value](const U& u) {
      double out = u.failure.empty() ? 0.0 : not_given;
      for (const HeldReading& h : u.held) out += value(h);
      return out;
    };
  };
  columns.text("edge", "edge", "name of the edge", &U::name);
  columns.number("passes_now", "1", "passes then", "passes at its last reading that was not held back",
                 &U::now);
  columns
      .number("kept", "1", "readings kept", "readings since it was sharpened that were not held back",
              [](const U& u) { return static_cast<double>(u.kept.size()); })
      .places = 0;
  columns
      .number("held", "1", "held back", "readings that were held back",
              [](const U& u) { return static_cast<double>(u.held.size()); })
      .places = 0;
  columns
      .number("inside_90", "1", "in 90 % bands", "of these, in their 90 % bands",
              sum([](const HeldReading& h) { return h.in_most() ? 1.0 : 0.0; }))
      .places = 0;
  columns
      .number("inside_50", "1", "in 50 %", "in their 50 % bands",
              sum([](const HeldReading& h) { return h.in_half() ? 1.0 : 0.0; }))
      .places = 0;
  columns
      .number("log_score", "1", "log score", "sum of the log densities of the readings held back",
              sum([](const HeldReading& h) { return h.log_score; }))
      .places = 1;
  columns.text("failure", "", "why it could not be forecast", &U::failure);
  return table;
}

AnswerTable kept_table(const ForwardResult& result) {
  std::vector<std::string> edge;
  std::vector<double>      passes, reading;
  for (const ForwardUnit& unit : result.units) {
    for (const KeptReading& k : unit.kept) {
      edge.push_back(unit.name);
      passes.push_back(k.passes);
      reading.push_back(laws::in_gram_force(k.reading_N));
    }
  }
  AnswerTable table{.name        = "kept",
                    .says        = "Readings since the sharpening that were not held back",
                    .axis        = "reading",
                    .on_terminal = false};
  table.text("edge", "", "name of the edge", std::move(edge));
  table.number("passes", "1", "", "passes since the edge was sharpened", std::move(passes));
  table.number("reading_gf", "gf", "", "what the tester showed", std::move(reading));
  return table;
}

std::string how_it_was_done(const ForwardResult& result) {
  const int         kept = result.settings.moments;
  const std::string in_turn =
      result.groups < result.units.size()
          ? fmt::format("The edges are taken in {} groups, one after another", result.groups)
          : "Each edge is taken in turn";
  return fmt::format(
      "{} as if it had been read at {} since it was sharpened and not later. All other readings are fitted anew, and the later ones foretold as arris forecast --from-now does. A band allows for the scatter of a single reading, by another operator, with another lot and on another day.",
      in_turn, kept == 1 ? "one moment" : counted(kept, "moment"));
}

constexpr const char* how_shares_are_told =
    "Readings of one edge go together, so that edges count and not readings: the intervals of shares, 9 in 10, are those of Clopper and Pearson for as many readings as would tell as much if each stood alone (Korn and Graubard 1998). All edges share the fits, which the intervals do not allow for. The log score has no scale of its own: it compares forecasts of the same readings, under other laws or from other numbers of moments.";

void add_next(const std::vector<ForwardScore>& scores, Answer& answer) {
  switch (verdict_of(scores.front())) {
    case Verdict::too_narrow:
      answer.remark(
          About::next,
          "See in arris fit what the model misses, and in the table of edges whether a few of them make most of the misses. Until that is mended take the bands of forecasts as too narrow.");
      return;
    case Verdict::too_few:
      answer.remark(About::next, "Read more edges to the end of their lives: each tells once.");
      return;
    case Verdict::holds:
    case Verdict::too_wide:
      return;
  }
}

}  // namespace

Answer forward_answer(const ForwardResult& result, const std::string& readings) {
  const auto scores = scores_of(result);
  Answer     answer;
  answer.kind     = "forward";
  answer.headline = forward_headline(result, scores);
  answer.tables   = {held_table(result), scores_table(scores), units_table(result), kept_table(result)};
  answer.remark(About::certainty, how_it_was_done(result));
  if (scores.front().readings > 0) {
    answer.remark(About::certainty, how_shares_are_told);
    add_next(scores, answer);
  }
  for (const ForwardUnit& unit : result.units) {
    if (!unit.failure.empty())
      answer.remark(About::more, fmt::format("{} could not be forecast: {}.", unit.name, unit.failure));
  }
  if (result.later > 0)
    answer.remark(
        About::more,
        fmt::format("{} taken after a later sharpening of the edge, neither fitted with it nor scored.",
                    result.later == 1 ? "1 reading was" : fmt::format("{} readings were", result.later)));
  if (result.lengths > 0)
    answer.remark(About::more,
                  fmt::format("{} of radius, recession or mass held back with readings, and not scored.",
                              result.lengths == 1 ? "1 measurement was"
                                                  : fmt::format("{} measurements were", result.lengths)));
  answer.rests_on =
      fmt::format("Rests on: {} and the priors of the parameters; {} under {}.", readings,
                  counted(static_cast<long long>(result.groups), "fit"),
                  result.settings.laws.empty() ? std::string("the wear law of the configuration")
                  : result.settings.laws.size() == 1
                      ? "the wear law " + result.settings.laws.front()
                      : fmt::format("{} wear laws, each by its weight", result.settings.laws.size()));
  answer.settings = {{"forward", static_cast<double>(result.settings.moments)},
                     {"members", static_cast<double>(result.settings.members)}};
  return answer;
}

}  // namespace arris
