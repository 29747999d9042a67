// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/certainty.hpp"
#include "sim/studies/item_columns.hpp"
#include "sim/studies/periods/periods.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

bool is_estimated(const ReadPeriod& p) { return !std::isnan(p.ratio.middle); }

// of several periods one differs by chance more easily than one alone
double needed_p(const PeriodComparison& c) { return 0.05 / static_cast<double>(c.periods.size() - 1); }

std::string change_sentence(const PeriodComparison& c, const ReadPeriod& p, double margin) {
  const std::string& first = c.periods.front().name;
  if (!p.confounded.empty())
    return fmt::format("Of {} against {} no change is claimed. {}", p.name, first, p.confounded);
  if (!is_estimated(p))
    return fmt::format(
        "Of {} against {} nothing can be told: too little was read twice to know how readings and edges scatter.",
        p.name, first);
  const std::string span =
      fmt::format("{:.2f} times those of {} where all was done alike (9 in 10 between {:.2f} and {:.2f})",
                  p.ratio.middle, first, p.ratio.low, p.ratio.high);
  const bool matters_not = p.ratio.low > 1.0 / (1.0 + margin) && p.ratio.high < 1.0 + margin;
  if (matters_not)
    return fmt::format("Readings of {} are {}: no change that matters, less than {}.", p.name, span,
                       percent(margin));
  if (p.p < needed_p(c))
    return fmt::format("Readings of {} are {}: the change is real, {}.", p.name, span, by_chance(p.p));
  return fmt::format("Readings of {} are {}: no change is shown.", p.name, span);
}

// the last against the first, and how many between them differ
std::string periods_headline(const PeriodComparison& c, double margin) {
  std::string out = change_sentence(c, c.periods.back(), margin);
  if (c.periods.size() == 2) return out;
  std::vector<std::string> others;
  for (std::size_t k = 1; k + 1 < c.periods.size(); ++k) {
    const ReadPeriod& p = c.periods[k];
    if (is_estimated(p) && p.p < needed_p(c))
      others.push_back(fmt::format("{} ({:.2f} times)", p.name, p.ratio.middle));
  }
  if (others.empty()) return out;
  return out + fmt::format(" {} differ{} from {} by more than chance.", and_list(others),
                           others.size() == 1 ? "s" : "", c.periods.front().name);
}

AnswerTable periods_table(const PeriodComparison& c) {
  AnswerTable table{
      .name = "periods",
      .says = fmt::format("Readings by {}, against those of {}", name_of(c.length), c.periods.front().name),
      .axis = "period"};
  ItemColumns<ReadPeriod> columns(table, c.periods);
  columns.text("period", "period", "year, month or test day", &ReadPeriod::name);
  const auto count = [&](const char* column, const char* head, const char* meaning, int ReadPeriod::*of) {
    columns
        .number(column, "1", head, meaning, [of](const ReadPeriod& p) { return static_cast<double>(p.*of); })
        .places = 0;
  };
  count("readings", "readings", "readings that count", &ReadPeriod::readings);
  count("edges", "edges", "edges that were read then", &ReadPeriod::edges);
  count("kinds", "read in both", "ways at a moment that were read in this period and in the first",
        &ReadPeriod::kinds);
  columns.number("ratio", "1", "times the first",
                 "readings over those of the same in the first period, mixed model",
                 [](const ReadPeriod& p) { return p.ratio.middle; });
  columns.number("ratio_low", "1", "from", "lower end of 90 %",
                 [](const ReadPeriod& p) { return p.ratio.low; });
  columns.number("ratio_high", "1", "to", "upper end of 90 %",
                 [](const ReadPeriod& p) { return p.ratio.high; });
  columns.number("p", "1", "", "probability value of no change", [](const ReadPeriod& p) { return p.p; });
  columns.text("confounded", "", "why a change cannot be told; empty where it can", &ReadPeriod::confounded);
  return table;
}

}  // namespace

Answer periods_answer(const PeriodComparison& c, double margin) {
  Answer answer;
  answer.kind              = "periods";
  answer.headline          = periods_headline(c, margin);
  const std::string others = c.allowed_for.empty()
                                 ? std::string()
                                 : fmt::format(", and different {} are allowed for", and_list(c.allowed_for));
  answer.remark(About::certainty,
                fmt::format("A way of sharpening is held against itself, at the same moment{}. {}", others,
                            std::isnan(c.edge_sd)
                                ? std::string("How edges scatter is not known.")
                                : fmt::format("Edges of one way scatter by {}, single readings by {}.",
                                              percent(c.edge_sd), percent(c.reading_sd))));
  if (c.periods.size() > 2)
    answer.remark(
        About::certainty,
        fmt::format(
            "Of {} {} one seems to differ by chance now and then: a change is called real where chance does as much less than once in {:.0f} times.",
            c.periods.size(), name_of(c.length), 1.0 / needed_p(c)));
  answer.remark(
      About::next,
      "A change may be one of the tester, of its filaments, of the hand or of the steel, and these readings do not say which. "
      "Read a check edge or a reference filament on every test day: arris log check tells whether the tester has changed.");
  if (c.undated > 0)
    answer.remark(About::more, fmt::format("{} without a date {} left out.", counted(c.undated, "reading"),
                                           c.undated == 1 ? "is" : "are"));
  int readings = 0;
  for (const ReadPeriod& p : c.periods) readings += p.readings;
  answer.rests_on = fmt::format("Rests on {} in {} {}, and on no model of edges.",
                                counted(readings, "reading"), c.periods.size(), name_of(c.length));
  answer.tables.push_back(periods_table(c));
  answer.settings = {{"margin", margin}};
  return answer;
}

}  // namespace arris
