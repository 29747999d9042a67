// SPDX-License-Identifier: MIT
#include "sim/studies/sweep/sweep_questions.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

bool is_hone(const Step& step) { return std::holds_alternative<HoneStep>(step); }
bool is_strop(const Step& step) { return std::holds_alternative<StropStep>(step); }
bool is_cut(const Step& step) { return std::holds_alternative<CutStep>(step); }
bool is_honing(const Step& step) { return *count_key(step) != '\0' && !is_cut(step); }

std::vector<double> evenly(double low, double high, int points) {
  std::vector<double> out;
  for (int i = 0; i < points; ++i) out.push_back(low + (high - low) * i / (points - 1));
  out.back() = high;
  return out;
}

std::vector<double> in_ratio(double low, double high, int points) {
  std::vector<double> out;
  for (int i = 0; i < points; ++i)
    out.push_back(low * std::pow(high / low, static_cast<double>(i) / (points - 1)));
  out.back() = high;
  return out;
}

void insert(std::vector<double>& values, double own) {
  const auto at = std::lower_bound(values.begin(), values.end(), own);
  if (at == values.end() || *at != own) values.insert(at, own);
}

// index of the last honing or stropping before the first cut: the edge as it goes to work; −1 where there is none
int end_of_honing(const EdgePlan& plan) {
  int last = -1;
  for (std::size_t i = 0; i < plan.steps.size() && !is_cut(plan.steps[i]); ++i) {
    if (is_honing(plan.steps[i])) last = static_cast<int>(i);
  }
  return last;
}

// the first path of the model that ends in `key` of the table entry at `place`
SweepAxis number_axis(const std::string& kind, const std::string& entry, const char* key, std::string head,
                      std::string says, double own) {
  SweepAxis axis;
  axis.kind  = SweepInput::number;
  axis.path  = kind + "." + entry + "." + key;
  axis.name  = kind + "_" + key;
  axis.units = units_in_files(key);
  axis.head  = std::move(head);
  axis.says  = std::move(says);
  axis.own   = own;
  return axis;
}

SweepAxis count_axis(const EdgePlan& plan, int step) {
  SweepAxis   axis;
  const Step& s = plan.steps[static_cast<std::size_t>(step)];
  axis.kind     = SweepInput::step_number;
  axis.step     = step;
  axis.key      = count_key(s);
  axis.path     = fmt::format("step.{}.{}", step + 1, axis.key);
  axis.name     = fmt::format("step_{}_{}", step + 1, axis.key);
  axis.units    = "1";
  axis.head     = axis.key;
  axis.says     = fmt::format("{} of {}", axis.key, describe_step(plan, step));
  axis.own      = count_of(s);
  return axis;
}

SweepAxis names_axis(SweepInput kind, std::string path, std::string name, std::string head, std::string says,
                     std::vector<std::string> labels) {
  SweepAxis axis;
  axis.kind   = kind;
  axis.path   = std::move(path);
  axis.name   = std::move(name);
  axis.head   = std::move(head);
  axis.says   = std::move(says);
  axis.labels = std::move(labels);
  for (std::size_t i = 0; i < axis.labels.size(); ++i) axis.values.push_back(static_cast<double>(i));
  return axis;
}

// passes from none to twice those of the configuration, closer where an edge changes fastest
std::vector<double> passes_to(double own) {
  std::vector<double> out;
  const double        most = std::max(10.0, 2.0 * own);
  for (int i = 0; i <= 60; ++i) out.push_back(most * (i / 60.0) * (i / 60.0));
  insert(out, own);
  return out;
}

void soft_strop(SweepDefinition& d, const Scenario& scenario, const EdgePlan& plan, int step) {
  const auto& strop   = std::get<StropStep>(plan.steps[static_cast<std::size_t>(step)]);
  const auto& backing = scenario.model.backings[static_cast<std::size_t>(strop.backing)];
  d.about             = backing.name;
  d.axes              = {number_axis("backing", backing.name, "modulus_MPa", "pad MPa",
                                     "elastic modulus of " + backing.name, backing.modulus_MPa),
                         count_axis(plan, step)};
  d.axes[0].values    = in_ratio(1.0, 300.0, 16);
  insert(d.axes[0].values, backing.modulus_MPa);
  d.axes[1].values = evenly(0.0, std::max(200.0, std::ceil(4.0 * strop.laps)),
                            static_cast<int>(std::max(200.0, std::ceil(4.0 * strop.laps))) + 1);
  insert(d.axes[1].values, strop.laps);
  d.moment = {SweepMoment::Kind::after_step, step, 0.0};
}

void bevel_angle(SweepDefinition& d, const Scenario& scenario, const EdgePlan& plan, int step) {
  const auto& tool = scenario.model.tools[static_cast<std::size_t>(plan.tool)];
  d.about          = plan.tool_name;
  d.axes = {number_axis("tool", tool.name, "micro_bevel_deg", "bevel °", "honed bevel of " + tool.name,
                        tool.micro_bevel_deg),
            count_axis(plan, step)};
  const bool whole = !(tool.micro_bevel_deg > tool.primary_bevel_deg);
  auto&      at    = d.axes[0].values;
  // a bevel honed as a whole can be given a micro-bevel; one degree steeper is the least that a jig sets
  for (double angle = std::ceil(tool.primary_bevel_deg + 1.0);
       angle <= std::max(45.0, tool.micro_bevel_deg + 5.0) && angle + tool.back_bevel_deg < 89.0;
       angle += 1.0)
    at.push_back(angle);
  if (whole || tool.micro_bevel_deg + tool.back_bevel_deg < 90.0) insert(at, tool.micro_bevel_deg);
  d.axes[1].values = passes_to(d.axes[1].own);
  d.moment         = {SweepMoment::Kind::after_step, step, 0.0};
}

// behind the steps one by one all sets of them, fewest steps first; of many steps only all of them together
void add_steps_together(std::vector<std::string>& labels, std::vector<std::vector<int>>& steps,
                        std::vector<double>& amounts) {
  constexpr std::size_t most_for_all = 6;  // 2⁶ sets
  const std::size_t     singles      = steps.size();
  for (std::size_t n = 2; n <= singles; ++n) {
    if (singles > most_for_all) n = singles;
    for (std::size_t mask = 1; mask < (std::size_t{1} << std::min(singles, most_for_all + 1)); ++mask) {
      std::vector<int>         set;
      std::vector<std::string> numbers;
      double                   amount = 0.0;
      for (std::size_t i = 0; i < singles; ++i) {
        if (singles <= most_for_all && (mask >> i & 1U) == 0) continue;
        set.push_back(steps[i].front());
        numbers.push_back(std::to_string(steps[i].front() + 1));
        amount += amounts[i];
      }
      if (set.size() != n) continue;
      labels.push_back("steps " + and_list(numbers));
      steps.push_back(std::move(set));
      amounts.push_back(amount);
      if (singles > most_for_all) break;
    }
  }
}

void strokes(SweepDefinition& d, const EdgePlan& plan) {
  std::vector<std::string>      labels;
  std::vector<std::vector<int>> steps;
  std::vector<double>           amounts;
  for (int i = 0; i <= end_of_honing(plan); ++i) {
    const Step& s = plan.steps[static_cast<std::size_t>(i)];
    if (!is_honing(s) || !(count_of(s) > 0.0)) continue;
    const auto* hone = std::get_if<HoneStep>(&s);
    labels.push_back(describe_step(plan, i));
    if (hone != nullptr && hone->after_burr) labels.back() += from_the_burr;
    steps.push_back({i});
    amounts.push_back(count_of(s));
  }
  add_steps_together(labels, steps, amounts);
  SweepAxis which = names_axis(SweepInput::which_step, "step", "step", "step",
                               "the step, or steps together, whose strokes are changed", std::move(labels));
  which.sets      = std::move(steps);
  which.amounts   = std::move(amounts);
  SweepAxis times;
  times.kind   = SweepInput::times;
  times.path   = "times";
  times.name   = "times";
  times.units  = "1";
  times.head   = "times";
  times.says   = "factor on the strokes or laps of the configuration";
  times.values = evenly(0.0, 3.0, 31);
  times.own    = 1.0;
  d.axes       = {std::move(which), std::move(times)};
  d.moment     = {SweepMoment::Kind::after_step, end_of_honing(plan), 0.0};
}

void skip_grits(SweepDefinition& d, const Scenario& scenario, const EdgePlan& plan) {
  constexpr std::size_t most_for_all = 6;  // 2⁶ ways; beyond, one step at a time
  std::vector<int>      coarse;
  int                   last = -1;
  for (int i = 0; i <= end_of_honing(plan); ++i) {
    if (!is_hone(plan.steps[static_cast<std::size_t>(i)])) continue;
    if (last >= 0) coarse.push_back(last);
    last = i;
  }
  std::vector<std::vector<int>> sets{{}};
  if (coarse.size() <= most_for_all) {
    for (std::size_t n = 1; n <= coarse.size(); ++n) {  // fewest first
      for (std::size_t mask = 1; mask < (std::size_t{1} << coarse.size()); ++mask) {
        std::vector<int> set;
        for (std::size_t b = 0; b < coarse.size(); ++b) {
          if ((mask >> b & 1U) != 0) set.push_back(coarse[b]);
        }
        if (set.size() == n) sets.push_back(std::move(set));
      }
    }
  } else {
    for (const int i : coarse) sets.push_back({i});
  }
  std::vector<std::string> labels;
  for (const auto& set : sets) {
    std::vector<std::string> left_out;
    for (const int i : set) {
      const auto& hone = std::get<HoneStep>(plan.steps[static_cast<std::size_t>(i)]);
      left_out.push_back(fmt::format(
          "{} (step {})", scenario.model.media[static_cast<std::size_t>(hone.medium)].name, i + 1));
    }
    labels.push_back(left_out.empty() ? "nothing" : and_list(left_out));
  }
  d.axes         = {names_axis(SweepInput::left_out, "left_out", "left_out", "left out", "what is left out",
                               std::move(labels))};
  d.axes[0].sets = std::move(sets);
  d.axes[0].own  = 0.0;
  d.moment       = {SweepMoment::Kind::after_step, end_of_honing(plan), 0.0};
}

void wood(SweepDefinition& d, const Scenario& scenario, const EdgePlan& plan, int step) {
  const auto& cut = std::get<CutStep>(plan.steps[static_cast<std::size_t>(step)]);
  d.about         = scenario.model.woods[static_cast<std::size_t>(cut.wood)].name;
  std::vector<std::string> labels;
  std::vector<int>         choices;
  for (std::size_t i = 0; i < scenario.model.woods.size(); ++i) {
    labels.push_back(scenario.model.woods[i].name);
    choices.push_back(static_cast<int>(i));
  }
  SweepAxis axis =
      names_axis(SweepInput::material, fmt::format("step.{}.cut", step + 1),
                 fmt::format("step_{}_cut", step + 1), "wood", "wood that is cut", std::move(labels));
  axis.choices     = std::move(choices);
  axis.step        = step;
  axis.key         = "cut";
  axis.own         = static_cast<double>(cut.wood);
  d.axes           = {std::move(axis), count_axis(plan, step)};
  d.axes[1].values = passes_to(d.axes[1].own);
  d.moment         = {SweepMoment::Kind::after_step, step, 0.0};
}

}  // namespace

const std::vector<SweepQuestion>& sweep_questions() {
  static const std::vector<SweepQuestion> questions{
      {"soft-strop", "How many laps on a strop are best, softer or harder, and where does it begin to round?",
       "strop", is_strop},
      {"bevel-angle", "How does the honed bevel change how long the edge lasts?", "cut", is_cut},
      {"strokes", "Which step has too many strokes, which too few?", "hone, back or strop", is_honing},
      {"skip-grits", "Which grits could be left out, and at what price?", "hone", is_hone},
      {"wood", "How long does the edge last in each wood?", "cut", is_cut},
  };
  return questions;
}

const SweepQuestion& sweep_question(const std::string& name) {
  std::string names;
  for (const SweepQuestion& q : sweep_questions()) {
    if (q.name == name) return q;
    names += (names.empty() ? "" : ", ") + std::string(q.name);
  }
  throw Error(Exit::usage, {.code    = "unknown-question",
                            .what    = fmt::format("there is no question of that name: {}", name),
                            .allowed = names,
                            .next    = "Or ask your own: --over \"PATH=LOW:HIGH:POINTS\"."});
}

SweepDefinition define_question(const SweepQuestion& question, const Scenario& scenario, const EdgePlan& plan,
                                std::optional<int>                                    step,
                                const std::function<SweepOutput(const std::string&)>& output_of) {
  const std::string name   = question.name;
  const auto        refuse = [&](std::string what) {
    throw Error(Exit::usage,
                       {.code  = "question-does-not-apply",
                        .what  = std::move(what),
                        .cause = fmt::format("The question {} is about a {} step.", name, question.needs),
                        .next  = "Name another edge with --edge, or another step with --step."});
  };
  const bool whole_route = name == "strokes" || name == "skip-grits";
  if (whole_route && step) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("the question {} is about all steps at once", name),
                              .next = "Leave --step out."});
  }
  const auto first = std::find_if(plan.steps.begin(), plan.steps.end(), question.is_about);
  if (first == plan.steps.end())
    refuse(fmt::format("the edge \"{}\" has no {} step", plan.name, question.needs));
  const int about = step.value_or(static_cast<int>(first - plan.steps.begin()));
  if (about < 0 || about >= static_cast<int>(plan.steps.size()))
    refuse(fmt::format("the edge \"{}\" has {} steps, not {}", plan.name, plan.steps.size(), about + 1));
  if (!question.is_about(plan.steps[static_cast<std::size_t>(about)]))
    refuse(fmt::format("{} is no {} step", describe_step(plan, about), question.needs));
  if (whole_route && static_cast<int>(first - plan.steps.begin()) > end_of_honing(plan))
    refuse(fmt::format("the edge \"{}\" is not honed before its first cut", plan.name));

  SweepDefinition d;
  d.question = name;
  d.edge     = plan.name;
  d.limit_gf = scenario.output.reading_limit_gf;
  for (const char* output : {"reading_gf", "apex_radius_um"}) d.outputs.push_back(output_of(output));
  if (name == "soft-strop") {
    d.outputs.push_back(output_of("dub_depth_um"));
    soft_strop(d, scenario, plan, about);
  }
  if (name == "bevel-angle") {
    d.outputs.push_back(output_of("chip_um"));
    bevel_angle(d, scenario, plan, about);
  }
  if (name == "wood") wood(d, scenario, plan, about);
  if (name == "strokes") strokes(d, plan);
  if (name == "skip-grits") {
    skip_grits(d, scenario, plan);
    for (const char* output : {"scratch_um", "strokes"}) d.outputs.push_back(output_of(output));
    if (d.axes[0].size() < 2)
      refuse(fmt::format("the edge \"{}\" has only one grit, which cannot be left out", plan.name));
  }
  return d;
}

}  // namespace arris
