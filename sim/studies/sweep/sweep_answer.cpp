// SPDX-License-Identifier: MIT
#include <cmath>
#include <map>
#include <string_view>

#include <fmt/format.h>

#include "sim/misses_said.hpp"
#include "sim/studies/sweep/sweep.hpp"
#include "sim/studies/sweep/sweep_answer_parts.hpp"

namespace arris {

using namespace sweep_parts;

namespace {

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

using AddAnswer = void (*)(Answer&, const SweepDefinition&, const SweepGrid&, const Get&);

// that of the question; without one, by how many inputs were varied
AddAnswer answer_of(const SweepDefinition& d) {
  static const std::map<std::string_view, AddAnswer> questions{{"soft-strop", soft_strop_answer},
                                                               {"bevel-angle", bevel_angle_answer},
                                                               {"wood", wood_answer},
                                                               {"strokes", strokes_answer},
                                                               {"skip-grits", skip_grits_answer}};
  if (const auto question = questions.find(d.question); question != questions.end()) return question->second;
  if (!d.inputs.empty()) return design_rows;
  return d.axes.size() == 1 ? one_input : d.axes.size() == 2 ? two_inputs : many_inputs;
}

// what one share of several can say
Answer shard_answer(const SweepDefinition& d, const SweepShard& shard, const SweepFailures& failures) {
  Answer answer;
  answer.kind     = "sweep";
  answer.rests_on = d.rests_on;
  answer.headline = fmt::format(
      "Share {} of {} of the sweep of edge {} is done: {} of {} combinations. `arris merge` puts all shares together.",
      shard.index, shard.count, d.edge, failures.members, SweepGrid(d).members());
  answer.headline = with_misses(std::move(answer.headline), d.misses);
  failures_told(answer, failures);
  answer.settings.emplace_back("members", static_cast<double>(failures.members));
  answer.settings.emplace_back("failed", static_cast<double>(failures.count));
  return answer;
}

}  // namespace

Answer sweep_answer(const SweepDefinition& d, const SweepShard& shard, const SweepFailures& failures,
                    const Get& get) {
  if (!shard.is_whole()) return shard_answer(d, shard, failures);
  const SweepGrid grid(d);
  Answer          answer;
  answer.kind     = "sweep";
  answer.rests_on = d.rests_on;
  answer_of(d)(answer, d, grid, get);
  if (d.question.empty() && d.inputs.empty()) idle_inputs(answer, d, grid, get);
  answer.headline = with_misses(std::move(answer.headline), d.misses);
  failures_told(answer, failures);
  answer.settings.emplace_back("members", static_cast<double>(grid.members()));
  answer.settings.emplace_back("failed", static_cast<double>(failures.count));
  if (!std::isnan(d.limit_gf)) answer.settings.emplace_back("limit_gf", d.limit_gf);
  if (!d.question.empty()) answer.cautions.push_back(usual_caution());
  return answer;
}

}  // namespace arris
