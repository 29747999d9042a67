// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

#include <fmt/format.h>

#include "sim/statistics/quantiles.hpp"
#include "sim/studies/sensitivity/sensitivity.hpp"
#include "sim/studies/sweep/sweep_answer_parts.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double hardly = 0.01;  ///< shares below it are not worth a word

// the largest total first
std::vector<std::size_t> by_total(const Sensitivity& found) {
  std::vector<std::size_t> order(found.indices.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return found.indices[a].total > found.indices[b].total;
  });
  return order;
}

// "62 % (90 %: 55 to 70 %)"; an estimate may lie beyond what a share can be
std::string share_text(double value, double low, double high) {
  const auto pct = [](double share) { return 100.0 * std::clamp(share, 0.0, 1.0); };
  return fmt::format("{:.0f} % (90 %: {:.0f} to {:.0f} %)", pct(value), pct(low), pct(high));
}

std::string matter_of(const Sensitivity& found, const SensitivitySettings& s) {
  if (s.is_life())
    return fmt::format("how long edge {} lasts (passes to {} gf)", found.edge, plain(s.limit_gf));
  return fmt::format("the {} of edge {} {}", sweep_parts::subject(s.output), found.edge, s.moment.text());
}

std::string first_sentence(const Sensitivity& found, const SensitivitySettings& s,
                           const std::vector<std::size_t>& order) {
  const SobolIndex& best = found.indices[order.front()];
  return fmt::format(
      "What matters most for {} over these ranges is {}: it alone accounts for {} of the variance, and together with others for {}.",
      matter_of(found, s), found.inputs[order.front()].path,
      share_text(best.first, best.first_low, best.first_high),
      share_text(best.total, best.total_low, best.total_high));
}

void tell_others(Answer& answer, const Sensitivity& found, const std::vector<std::size_t>& order) {
  std::vector<std::string> as_much, little;
  for (std::size_t i = 1; i < order.size(); ++i) {
    const SobolIndex& index = found.indices[order[i]];
    if (index.total_high > found.indices[order[0]].total_low) as_much.push_back(found.inputs[order[i]].path);
    if (index.total_high < hardly) little.push_back(found.inputs[order[i]].path);
  }
  if (!as_much.empty())
    answer.remark(About::certainty,
                  fmt::format("{} may matter as much: the intervals overlap.", and_list(as_much)));
  if (!little.empty())
    answer.remarks.push_back(fmt::format("{} hardly {}: less than {} of the variance.", and_list(little),
                                         little.size() == 1 ? "matters" : "matter", percent(hardly)));
  double alone = 0.0;
  for (const SobolIndex& index : found.indices) alone += std::max(0.0, index.first);
  if (order.size() > 1 && alone < 0.95)
    answer.remarks.push_back(fmt::format("Some {:.0f} % of the variance come from inputs that work together.",
                                         100.0 * (1.0 - alone)));
}

void tell_histories(Answer& answer, const Sensitivity& found, const SensitivitySettings& s) {
  answer.remark(
      About::certainty,
      "These shares say how the model behaves over the ranges that were asked for, where each value is as likely as any other and inputs do not depend on each other. A wider range matters more.");
  if (found.beyond > 0)
    answer.remark(
        About::certainty,
        fmt::format(
            "{} of {} histories last longer than the {} passes that were looked at, and count as that.",
            found.beyond, found.histories, plain(s.passes)));
  if (found.failed > 0)
    answer.remark(
        About::certainty,
        fmt::format("{} of {} histories failed; {} of {} points of the design are left. The first: {}",
                    found.failed, found.histories, found.points, s.base, found.cause));
}

AnswerTable indices_table(const Sensitivity& found, const SensitivitySettings& s,
                          const std::vector<std::size_t>& order) {
  AnswerTable table{
      .name = "indices", .says = "Shares of the variance of " + matter_of(found, s), .axis = "input"};
  std::vector<std::string> paths, says;
  std::vector<double>      first, first_low, first_high, total, total_low, total_high;
  for (const std::size_t i : order) {
    const SobolIndex& index = found.indices[i];
    paths.push_back(found.inputs[i].path);
    says.push_back(found.inputs[i].says);
    first.push_back(index.first);
    first_low.push_back(index.first_low);
    first_high.push_back(index.first_high);
    total.push_back(index.total);
    total_low.push_back(index.total_low);
    total_high.push_back(index.total_high);
  }
  table.text("input", "input", "what is varied", std::move(paths));
  table.text("says", "", "what that is", std::move(says));
  const auto add = [&](const char* name, const char* head, const char* meaning, std::vector<double> values) {
    table.number(name, "1", head, meaning, std::move(values));
    table.columns.back().places = 2;
  };
  add("first", "first order", "Sobol index of the first order: share that goes when it alone is known",
      std::move(first));
  add("first_low", "low", "lower end of its 90 % interval", std::move(first_low));
  add("first_high", "high", "upper end of its 90 % interval", std::move(first_high));
  add("total", "total", "total Sobol index: share that is left when all others are known", std::move(total));
  add("total_low", "low", "lower end of its 90 % interval", std::move(total_low));
  add("total_high", "high", "upper end of its 90 % interval", std::move(total_high));
  return table;
}

AnswerTable spread_of_answers(const Sensitivity& found, const SensitivitySettings& s) {
  AnswerTable table{.name = "spread", .says = "How the answer spreads over the ranges", .axis = "output"};
  table.text("output", "output", "what was asked for", {s.output.name});
  table.text("unit", "", "unit of the numbers beside it", {s.output.units});
  const auto add = [&](const char* name, const char* says, double value) {
    table.number(name, "1", name, says, {value});
  };
  add("mean", "mean", found.mean);
  add("sd", "standard deviation", found.sd);
  add("low", "5 % of histories are below", quantile_of_sorted(found.answers, 0.05));
  add("median", "half of the histories are below", quantile_of_sorted(found.answers, 0.5));
  add("high", "95 % of histories are below", quantile_of_sorted(found.answers, 0.95));
  return table;
}

AnswerTable ranges_table(const Sensitivity& found) {
  AnswerTable              table{.name = "ranges", .says = "Ranges of the inputs", .axis = "input"};
  std::vector<std::string> paths, units;
  std::vector<double>      least, most, own;
  table.on_terminal = false;
  for (const SweepAxis& input : found.inputs) {
    const auto [low, high] = std::minmax_element(input.values.begin(), input.values.end());
    paths.push_back(input.path);
    units.push_back(input.units);
    least.push_back(input.is_text() ? not_given : *low);
    most.push_back(input.is_text() ? not_given : *high);
    own.push_back(input.is_text() ? not_given : input.own);
  }
  table.text("input", "input", "what is varied", std::move(paths));
  table.text("unit", "unit", "unit of the numbers beside it; empty for materials", std::move(units));
  table.number("least", "1", "least", "the least value that was tried", std::move(least));
  table.number("most", "1", "most", "the largest value that was tried", std::move(most));
  table.number("own", "1", "own", "that of the configuration", std::move(own));
  return table;
}

}  // namespace

Answer sensitivity_answer(const Sensitivity& found, const SensitivitySettings& s) {
  const auto order = by_total(found);
  Answer     answer;
  answer.kind     = "sensitivity";
  answer.headline = first_sentence(found, s, order);
  tell_others(answer, found, order);
  tell_histories(answer, found, s);
  answer.remark(About::next,
                fmt::format("Look at it by itself: arris sweep FILE --over \"{}={}\".",
                            found.inputs[order.front()].path,
                            found.inputs[order.front()].is_text() ? "ONE|OTHER" : "LOW:HIGH:POINTS"));
  answer.tables.push_back(indices_table(found, s, order));
  answer.tables.push_back(spread_of_answers(found, s));
  answer.tables.push_back(ranges_table(found));
  answer.settings.emplace_back("histories", static_cast<double>(found.histories));
  answer.settings.emplace_back("failed", static_cast<double>(found.failed));
  answer.settings.emplace_back("base", static_cast<double>(s.base));
  if (s.is_life()) {
    answer.settings.emplace_back("limit_gf", s.limit_gf);
    answer.settings.emplace_back("passes", s.passes);
  }
  return answer;
}

}  // namespace arris
