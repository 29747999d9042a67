// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>
#include <string>

#include <fmt/format.h>

#include "sim/studies/laws_said.hpp"
#include "sim/studies/plan/plan.hpp"
#include "sim/wording.hpp"

/// The sentences and tables of a plan.
namespace arris {
namespace {

// AnswerColumn::significant of whole numbers, which are printed in full
constexpr int whole = 1;

void add_size_columns(AnswerTable& t, const std::vector<PlanSize>& rows) {
  const auto numbers = [&](auto member) {
    std::vector<double> out;
    out.reserve(rows.size());
    for (const PlanSize& r : rows) out.push_back(static_cast<double>(r.*member));
    return out;
  };
  t.number("readings_per_edge", "1", "readings each", "readings of each edge at each moment",
           numbers(&PlanSize::readings), whole);
  t.number("edges_per_group", "1", "edges per group", "edges of each group", numbers(&PlanSize::edges),
           whole);
  t.number("power", "1", "power", "chance to find the difference that was asked for",
           numbers(&PlanSize::power), 3);
  t.number("readings", "1", "readings in all", "readings of all edges at all moments",
           numbers(&PlanSize::taken), whole);
  t.number("filaments", "1", "filaments", "the same with spare ones", numbers(&PlanSize::filaments), whole);
  t.number("hours", "h", "hours", "honing, stropping, cutting and reading", numbers(&PlanSize::hours), 2);
}

AnswerTable size_table(const Plan& plan) {
  AnswerTable t;
  t.name                     = "sizes";
  t.axis                     = "size";
  t.says                     = plan.reaches ? fmt::format("Ways to find {:g} % with a power of {:g}",
                                                          plan.settings.difference_pct, plan.settings.power)
                                            : fmt::format("So many edges do not reach a power of {:g}; what was asked for",
                                                          plan.settings.power);
  std::vector<PlanSize> rows = plan.sizes;
  if (rows.empty()) rows.push_back(plan.size);
  add_size_columns(t, rows);
  const auto best = [&](auto member) {
    return std::min_element(rows.begin(), rows.end(),
                            [&](const PlanSize& a, const PlanSize& b) { return a.*member < b.*member; }) -
           rows.begin();
  };
  std::vector<std::string> marks(rows.size());
  const auto               mark = [&](std::ptrdiff_t at, const char* what) {
    std::string& text = marks[static_cast<std::size_t>(at)];
    text += (text.empty() ? "" : ", ") + std::string(what);
  };
  if (rows.size() > 1) {
    mark(best(&PlanSize::edges), "fewest edges");
    mark(best(&PlanSize::filaments), "fewest filaments");
    mark(best(&PlanSize::hours), "least time: recommended");
  }
  t.text("best", rows.size() > 1 ? "what speaks for it" : "", "what it is best at", marks);
  return t;
}

// a difference of readings in words that can be pictured
std::string difference_text(double percent) {
  return percent < 200.0 ? plain(percent, 2) + " %" : "a factor of " + plain(1.0 + percent / 100.0, 2);
}

// what less effort finds, with the same power
AnswerTable smaller_table(const Plan& plan) {
  std::vector<PlanSize> rows;
  std::vector<double>   smallest;
  const auto            add = [&](int edges) {
    rows.push_back(size_of(plan, edges, plan.size.readings));
    smallest.push_back(smallest_difference_pct(plan, edges, plan.size.readings));
  };
  for (const double share : {0.1, 0.2, 0.35, 0.5, 0.75, 1.0}) {
    const int edges = std::max(2, static_cast<int>(std::lround(share * plan.size.edges)));
    if (rows.empty() || rows.back().edges < edges) add(edges);
  }
  AnswerTable t;
  t.name = "smaller";
  t.axis = "size";
  t.says = fmt::format("What smaller experiments find with a power of {:g}", plan.settings.power);
  add_size_columns(t, rows);
  t.number("smallest_difference_pct", "%", "",
           "smallest difference of readings that it finds with that power", smallest, 2);
  std::vector<std::string> finds;
  for (const double percent : smallest) finds.push_back(difference_text(percent));
  t.text("finds", "finds no less than", "the same in words", finds);
  // the power for the difference that was asked for stands in the other table
  for (AnswerColumn& c : t.columns) {
    if (c.name == "power") c.head.clear();
  }
  return t;
}

AnswerTable power_table(const Plan& plan) {
  std::set<int> readings{1, 2, 3, 4, 6, 10}, edges{2, 3, 4, 6, 8, 10, 15, 20, 30, 40, 60, 80, 100, 150, 200};
  readings.insert(plan.size.readings);
  edges.insert(plan.size.edges);
  int most = plan.size.edges;
  for (const PlanSize& s : plan.sizes) most = std::max(most, s.edges);
  edges.erase(edges.upper_bound(most), edges.end());
  AnswerTable t;
  t.name = "power";
  t.axis = "edges per group";
  t.says = fmt::format(
      "Of a hundred experiments so many find a difference of {:g} %, by edges per group and readings of each",
      plan.settings.difference_pct);
  t.number("edges_per_group", "1", "edges", "edges of each group", {edges.begin(), edges.end()}, whole);
  for (const int r : readings) {
    std::vector<double> power;
    power.reserve(edges.size());
    for (const int e : edges) power.push_back(100.0 * size_of(plan, e, r).power);
    t.number(fmt::format("power_{}_pct", r), "%", counted(r, "reading"),
             "power with so many readings of each edge", power, 2);
  }
  return t;
}

AnswerTable moment_table(const Plan& plan) {
  AnswerTable t;
  t.name = "moments";
  t.axis = "moment";
  t.says = "When to read; without that reading what a fit tunes would be known so much less closely";
  std::vector<std::string> group, stage, when, why;
  std::vector<double>      reading, worth;
  for (const PlannedGroup& g : plan.groups) {
    for (std::size_t i = 0; i < g.moments.size(); ++i) {
      const PlannedMoment& m = g.moments[i];
      group.push_back(g.name);
      stage.push_back(fmt::format("stage {}", i + 1));
      when.push_back(m.when);
      reading.push_back(laws::in_gram_force(m.reading_N));
      worth.push_back(100.0 * m.worth);
      why.emplace_back(m.comparison ? "here" : "");
    }
  }
  t.text("group", "group", "route or edge", group);
  t.text("stage", "stage", "name of the reading on the sheet", stage);
  t.text("when", "when", "moment of the history", when);
  t.number("reading_gf", "gf", "reads gf",
           "what a typical edge is foretold to read there, as simulate has it from the same fit", reading, 3);
  t.number("worth_pct", "%", "less closely by %",
           "how much wider the standard deviations of the parameters would be without it, geometric mean",
           worth, 2);
  t.text("compared", "groups are compared", "\"here\" where the groups are compared", why);
  return t;
}

AnswerTable parameter_table(const Plan& plan) {
  AnswerTable t;
  t.name = "parameters";
  t.axis = "parameter";
  t.says = "How closely a fit knows its parameters: uncertainty, % of that before any reading";
  std::vector<std::string> paths, says;
  std::vector<double>      before, after;
  for (std::size_t i = 0; i < plan.parameters.size(); ++i) {
    paths.push_back(plan.parameters[i].path);
    says.push_back(plan.parameters[i].doc);
    before.push_back(100.0 * plan.share_before[i]);
    after.push_back(100.0 * plan.share_after[i]);
  }
  t.text("parameter", "parameter", "path", paths);
  t.number("now_pct", "%", "now", "standard deviation over that of the prior, before the experiment", before,
           2);
  t.number("then_pct", "%", "then", "the same after it", after, 2);
  t.text("meaning", "meaning", "what it is", says);
  return t;
}

AnswerTable key_table(const Plan& plan) {
  AnswerTable t;
  t.name        = "key";
  t.axis        = "edge";
  t.says        = "Which edge a code stands for";
  t.on_terminal = false;
  std::vector<std::string> code, edge, group, tool;
  std::vector<double>      block;
  const auto               per_group = static_cast<std::size_t>(plan.size.edges);
  for (std::size_t i = static_cast<std::size_t>(plan.first_edge); i < plan.scenario.edges.size(); ++i) {
    const EdgePlan& e = plan.scenario.edges[i];
    const auto      n = i - static_cast<std::size_t>(plan.first_edge);
    code.push_back(e.code);
    edge.push_back(e.name);
    group.push_back(plan.groups[n / per_group].name);
    tool.push_back(e.tool_name);
    block.push_back(block_of(static_cast<int>(n % per_group), plan.blocks) + 1);
  }
  t.text("code", "", "on the run sheet", code);
  t.text("edge", "", "in the configuration of the plan", edge);
  t.text("group", "", "route or edge", group);
  t.text("tool", "", "blade", tool);
  t.number("block", "1", "", "operator and filament lot it is read by, from 1", block, whole);
  return t;
}

// what is known least, as a sentence
std::string open_direction(const Plan& plan, const Identifiability& found, const std::string& subject) {
  const UndeterminedDirection& worst =
      found.undetermined.back();  // they stand in order of information, least last
  std::vector<std::string> names;
  for (const int i : worst.parameters)
    names.push_back(plan.parameters[static_cast<std::size_t>(i)].short_name());
  std::string out;
  if (names.size() == 1) {
    out = fmt::format("{} next to nothing about {} ({}).", subject, names.front(),
                      plan.parameters[static_cast<std::size_t>(worst.parameters.front())].doc);
  } else if (names.size() == 2) {
    out = fmt::format("{} of {} and {} no more than {}: neither is known alone.", subject, names[0], names[1],
                      worst.combination);
  } else {
    out = fmt::format(
        "{} nothing about one combination of {}: changed together, they leave every reading as it is.",
        subject, and_list(names));
  }
  if (!worst.settled_by.empty()) out += " " + worst.settled_by;
  return out;
}

// the measurement that would settle what the plan leaves open
std::string settled_by_edges(const Plan& plan) {
  if (!plan.settling) {
    return plan.after.undetermined.back().settled_by.empty()
               ? " Nothing that was tried would settle it: any edge of this configuration at any moment, the radius under a microscope at the planned ones, edges of known radius on the tester, weights on a pad, recession in wood."
               : "";
  }
  return fmt::format(
      " Of edges of this configuration those with the history of {}, read at \"{}\", would narrow it most: "
      "{} of them, read as often, take its variance from {:.0f} % of that of the prior to {:.0f} %, on average over what is known.",
      plan.settling->edge, plan.settling->when, plan.size.edges, 100.0 * plan.settling->variance_before,
      100.0 * plan.settling->variance_after);
}

std::vector<std::string> undetermined_remarks(const Plan& plan) {
  std::vector<std::string> out;
  if (plan.before && !plan.before->undetermined.empty())
    out.push_back(open_direction(plan, *plan.before, "The readings so far tell"));
  if (!plan.after.undetermined.empty()) {
    out.push_back(open_direction(plan, plan.after, "Even with the planned readings a fit would learn") +
                  settled_by_edges(plan));
  } else if (!plan.parameters.empty()) {
    const auto least = static_cast<std::size_t>(
        std::max_element(plan.share_after.begin(), plan.share_after.end()) - plan.share_after.begin());
    out.push_back(fmt::format(
        "{} Least known would be {} ({}).",
        plan.before && plan.before->undetermined.empty()
            ? "The readings so far determine every combination of the parameters that a fit tunes, and the planned ones narrow them."
            : "The planned readings would determine every combination of the parameters that a fit tunes.",
        plan.parameters[least].short_name(), plan.parameters[least].doc));
  }
  return out;
}

std::string headline(const Plan& plan) {
  const PlanSettings&      s = plan.settings;
  std::vector<std::string> names;
  std::size_t              most_read = 0, least_read = std::numeric_limits<std::size_t>::max();
  for (const PlannedGroup& g : plan.groups) {
    names.push_back(g.name);
    most_read  = std::max(most_read, g.moments.size());
    least_read = std::min(least_read, g.moments.size());
  }
  const std::string how =
      fmt::format("hone {} for each group and read each edge {} at {}{}", counted(plan.size.edges, "edge"),
                  plan.size.readings == 1   ? "once"
                  : plan.size.readings == 2 ? "twice"
                                            : fmt::format("{} times", plan.size.readings),
                  most_read == 1 ? "one moment" : fmt::format("each of {} moments", most_read),
                  least_read < most_read ? ", or fewer where its history has fewer" : "");
  const std::string cost =
      fmt::format("That is {} and, with {:g} % to spare, {}; about {} at the bench.",
                  counted(plan.size.taken, "reading"), s.spare_pct, counted(plan.size.filaments, "filament"),
                  counted(std::max(1L, std::lround(plan.size.hours)), "hour"));
  if (plan.reaches) {
    return fmt::format(
        "To find a difference of {:g} % between the readings of {}, should there be one, in {:.3g} of a hundred experiments: "
        "{}. {}",
        s.difference_pct, and_list(names), 100.0 * plan.settings.power, how, cost);
  }
  return fmt::format(
      "With {} per group only {:.0f} of a hundred experiments find a difference of {:g} % between the readings of {}, however often each edge is read; {:.3g} of a hundred find one of {}. The plan: {}. {}",
      counted(plan.size.edges, "edge"), 100.0 * plan.size.power, s.difference_pct, and_list(names),
      100.0 * s.power, difference_text(plan.smallest_pct), how, cost);
}

// how much the power hangs on the wear law; empty where there is one
std::string power_by_law_sentence(const Plan& plan) {
  double                   low = 1.0, high = 0.0;
  std::size_t              left = 0;
  std::vector<std::string> ruled_out;
  for (const PowerUnderLaw& law : plan.power_by_law) {
    if (law.ruled_out) ruled_out.push_back(law.law);
    if (law.ruled_out || std::isnan(law.power)) continue;
    low  = std::min(low, law.power);
    high = std::max(high, law.power);
    ++left;
  }
  if (left == 0) return {};
  const auto        hundred = [](double power) { return fmt::format("{:.0f}", 100.0 * power); };
  const std::string found =
      hundred(low) == hundred(high)
          ? fmt::format("{} of a hundred under every wear law", hundred(low))
          : fmt::format("{} to {} of a hundred depending on the wear law", hundred(low), hundred(high));
  return fmt::format(" Such experiments find it in {}; {}.", found, laws_said(left, ruled_out));
}

// how sure it is that a difference of this size will be seen
void add_certainty(const Plan& plan, Answer& a) {
  std::string checked = fmt::format(
      "Power is the share of experiments that find a difference which is there. {} simulated experiments of this size found it in {:.1f} % (standard error {:.1f}), where the formula says {:.1f} %.",
      plan.checked.campaigns, 100.0 * plan.checked.power, 100.0 * plan.checked.standard_error,
      100.0 * plan.size.power);
  if (plan.power_high - plan.power_low > 0.005)
    checked += fmt::format(
        " How far edges and readings scatter is itself uncertain: over what is known of it, 8 in 10 versions put the power between {:.0f} and {:.0f} %.",
        100.0 * plan.power_low, 100.0 * plan.power_high);
  a.remark(About::certainty, checked);
  a.remark(
      About::certainty,
      fmt::format(
          "Where the groups are compared, repeated readings of one edge scatter by {:.1f} %, and edges that were treated alike by {:.1f} %. More readings of the same edge average out only the first; the second needs more edges. Of a hundred experiments without any true difference {:.2g} will seem to show one{}.",
          100.0 * plan.scatter.reading_sd, 100.0 * plan.scatter.edge_sd, 100.0 * plan.settings.false_alarm,
          plan.groups.size() > 2 ? fmt::format(", all {} pairs of groups taken together",
                                               plan.groups.size() * (plan.groups.size() - 1) / 2)
                                 : ""));
  if (plan.readings_behind > 0 && (plan.readings_behind < 10 || plan.edges_behind < 3))
    a.remark(
        About::certainty,
        fmt::format(
            "Only {} of {} {} behind this scatter, so that it is mostly an estimate of the program: more readings of more edges would tell it.",
            counted(plan.readings_behind, "measurement"), counted(plan.edges_behind, "edge"),
            plan.readings_behind == 1 ? "stands" : "stand"));
}

// what an edge of the plan is, and how edges are dealt to blocks
void add_layout(const Plan& plan, Answer& a) {
  std::vector<std::string> patterns;
  for (const PlannedGroup& g : plan.groups) {
    const EdgePlan& e = plan.scenario.edges[static_cast<std::size_t>(g.pattern)];
    patterns.push_back(fmt::format("{} for {}", e.name, g.name));
  }
  const auto& tool = plan.scenario.edges[static_cast<std::size_t>(plan.groups.front().pattern)].tool_name;
  a.remarks.push_back(fmt::format(
      "An edge here is one honing from dull: one blade serves several times, if it is dulled in between. Every edge has the history of one in the configuration: {}{}.",
      and_list(patterns), plan.same_tool ? fmt::format("; all of the tool {}", tool) : ""));
  if (plan.blocks > 1) {
    std::map<std::string, long> by_lot;
    for (const Reading& r : plan.sheet) ++by_lot[r.filament_lot];
    std::vector<std::string> lots;
    lots.reserve(by_lot.size());
    for (const auto& [lot, count] : by_lot)
      lots.push_back(fmt::format("{} with {}", counted(count, "reading"), lot));
    a.remarks.push_back(fmt::format(
        "The edges are dealt to {} blocks, each read by one operator with one filament lot and holding as many edges of every group: what differs between operators, lots or days falls out of the comparison. By lot: {}.",
        plan.blocks, and_list(lots)));
  }
}

void add_cautions(const Plan& plan, Answer& a) {
  if (!plan.same_tool)
    a.cautions.emplace_back(
        "The groups are honed on different blades: a difference between blades would pass for one between groups. Put the same tool on each of them in the configuration.");
  std::vector<std::string> fewer;
  for (const PlannedGroup& g : plan.groups) {
    if (static_cast<int>(g.moments.size()) < plan.settings.moments) fewer.push_back(g.name);
  }
  if (!fewer.empty())
    a.cautions.push_back(fmt::format("The history of {} has fewer than {} moments to choose among.",
                                     and_list(fewer), plan.settings.moments));
  if (plan.failed_members > 0)
    a.cautions.push_back(fmt::format(
        "Moments were chosen over {} versions of the model; in {} of them a history failed, and they were left out.",
        plan.members, plan.failed_members));
  a.cautions.insert(a.cautions.end(), plan.cautions.begin(), plan.cautions.end());
  a.cautions.push_back(usual_caution());
}

}  // namespace

Answer plan_answer(const Plan& plan) {
  const PlanSettings& s = plan.settings;
  Answer              a;
  a.kind     = "plan";
  a.headline = headline(plan) + power_by_law_sentence(plan);
  a.tables   = {size_table(plan),   smaller_table(plan),   power_table(plan),
                moment_table(plan), parameter_table(plan), key_table(plan)};

  add_certainty(plan, a);
  add_layout(plan, a);
  for (std::string& remark : undetermined_remarks(plan)) a.remark(About::certainty, std::move(remark));
  if (!plan.narrowed_under.empty())
    a.remark(
        About::certainty,
        fmt::format("Size and moments rest on all wear laws by their weights; which parameters the readings "
                    "narrow is told under {} alone, the heaviest of them.",
                    plan.narrowed_under));
  a.rests_on = plan.rests_on;
  add_cautions(plan, a);
  a.settings = {{"difference_pct", s.difference_pct},
                {"power_wanted", s.power},
                {"false_alarm", s.false_alarm},
                {"groups", static_cast<double>(plan.groups.size())},
                {"edges_per_group", plan.size.edges},
                {"readings_per_edge_and_moment", plan.size.readings},
                {"blocks", plan.blocks},
                {"power_by_formula", plan.size.power},
                {"power_simulated", plan.checked.power},
                {"power_simulated_se", plan.checked.standard_error},
                {"smallest_difference_pct", plan.smallest_pct},
                {"edge_sd_log_reading", plan.scatter.edge_sd},
                {"reading_sd_log_reading", plan.scatter.reading_sd},
                {"readings", plan.size.taken},
                {"filaments", plan.size.filaments}};

  return a;
}

}  // namespace arris
