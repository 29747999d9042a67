// SPDX-License-Identifier: MIT
#include <algorithm>
#include <deque>
#include <variant>

#include "sim/history/tool_geometry.hpp"
#include "sim/input/scenario_loader.hpp"
#include "sim/stop.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

/// `[edge.NAME]`, beside its steps
struct EdgeTable {
  std::string tool, route, code, note;
  static void fields(auto&& v, auto&... s) {
    // clang-format off
    v(field("tool").says("tool it is the edge of"), s.tool...);
    v(field("route").optional().says("route it follows first"), s.route...);
    v(field("code").optional().says("what stands for its name on a run sheet, so that the reader does not know it"),
      s.code...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

/// `[route.NAME]`, beside its steps
struct RouteTable {
  std::string note;
  static void fields(auto&& v, auto&... s) { v(field("note").optional().says("remark"), s.note...); }
};

// in the order of the files and of what stands in them; a parsed table is sorted by name
std::vector<const Entry*> as_written(const std::deque<Entry>& entries) {
  std::vector<const Entry*> out;
  for (const Entry& entry : entries) out.push_back(&entry);
  const auto line = [](const Entry* entry) { return entry->layers.front().second->source().begin; };
  for (auto first = out.begin(); first != out.end();) {
    const auto* from = (*first)->layers.front().first;
    const auto  last = std::find_if(first, out.end(),
                                    [&](const Entry* entry) { return entry->layers.front().first != from; });
    std::sort(first, last, [&](const Entry* a, const Entry* b) { return line(a) < line(b); });
    first = last;
  }
  return out;
}

// what a step does; empty after a fault
std::string verb_of(const Document& d, const toml::table& table, Findings& findings) {
  static const std::vector<std::string> verbs = {"hone", "back", "strop", "cut",
                                                 "wear", "read", "dress", "follow"};
  std::vector<std::string>              found;
  for (const std::string& verb : verbs) {
    if (table.contains(verb)) found.push_back(verb);
  }
  if (found.size() == 1) return found.front();
  std::string hint;
  for (const auto& [key, value] : table) {
    if (found.empty() && hint.empty()) hint = did_you_mean(key.str(), verbs);
  }
  findings.add(d, table,
               {.code    = "not-a-step",
                .what    = found.empty() ? "this step does not say what is done"
                                         : "this step says two things at once: " + or_list(found),
                .allowed = or_list(verbs),
                .next    = hint});
  return {};
}

}  // namespace

void ScenarioLoader::add_tool(const Entry& entry) {
  if (model().specimen.in_use) return add_specimen(entry);
  Tool<double> tool;
  read_entry("tool", entry, tool);
  const std::string path = "tool." + tool.name + ".";
  if (std::isnan(tool.micro_bevel_deg))
    derive(path + "micro_bevel_deg", tool.micro_bevel_deg, tool.primary_bevel_deg,
           path + "primary_bevel_deg");

  // what has a fault of its own is left out, so that nothing else is blamed for it
  Tool<double> readable = tool;
  Tool<double>::fields(
      [&]<class M>(const Field& field, M& member) {
        if constexpr (std::is_same_v<M, double>) {
          if (findings_.has_fault_at(path + std::string(field.key)) ||
              findings_.has_fault_at(path + TableReader::without_unit(field.key)))
            member = not_given;
        }
      },
      readable);
  for (Diagnostic& fault : geometry_faults(readable)) {
    const auto [document, node] = stated(entry, fault.key.c_str());
    fault.key                   = path + fault.key;
    findings_.add(*document, *node, std::move(fault));
  }
  model().tools.push_back(tool);
  const auto [document, node] = stated(entry, "steel");
  model().steel_of_tool.push_back(tool.steel.empty() ? -1 : steel(tool, *document, *node));
}

// the last table that states `key`, or else the last table of the entry itself, with its document
std::pair<const Document*, const toml::node*> ScenarioLoader::stated(const Entry& entry, const char* key) {
  for (auto layer = entry.layers.rbegin(); layer != entry.layers.rend(); ++layer) {
    if (const toml::node* node = layer->second->get(key); node != nullptr) return {layer->first, node};
  }
  return {entry.layers.back().first, entry.layers.back().second};
}

void ScenarioLoader::add_edges(const std::string& file) {
  const auto& edges = catalogue_.entries("edge");
  if (edges.size() > static_cast<std::size_t>(loaded_.computer.max_edges)) {
    throw Error(Exit::usage, {.code    = "too-many",
                              .what    = fmt::format("{} edges", edges.size()),
                              .allowed = fmt::format("up to {}", loaded_.computer.max_edges),
                              .next    = "[computer] max_edges allows more.",
                              .file    = file});
  }
  for (const Entry* entry : as_written(edges)) {
    stop_if_wished();
    add_edge(*entry);
  }
}

void ScenarioLoader::add_edge(const Entry& entry) {
  EdgeTable table;
  read_layers("edge", entry, "steps", table);
  require_all("edge", entry, table);

  EdgeDraft edge;
  EdgePlan& plan = edge.plan;
  plan.name      = entry.name;
  plan.route     = table.route;
  // as it is written where it stands, so that edges which name it in other letters follow the same
  if (const Entry* route = catalogue_.find("route", table.route)) plan.route = route->name;
  take_tool(entry, table.tool, plan);
  if (const auto [where, node] = stated(entry, "route");
      !table.route.empty() && table.route != TableReader::unreadable)
    follow(table.route, *where, *node, edge, {});
  plan.route_steps = static_cast<int>(plan.steps.size());
  if (const auto [where, steps] = stated(entry, "steps"); steps != entry.layers.back().second)
    add_steps(*where, *steps, edge, {});
  if (plan.steps.empty() && !findings_.any()) {
    const auto& [document, t] = entry.layers.back();
    findings_.add(*document, *t,
                  {.code = "no-steps",
                   .what = fmt::format("the edge \"{}\" has no steps", plan.name),
                   .next = "Give it a route or steps.",
                   .key  = "edge." + entry.name});
  }
  take_code(entry, table.code, plan);
  if (plan.tool < 0) return;  // its steps were read all the same, so that their faults are reported too
  scenario().edges.push_back(std::move(plan));
}

void ScenarioLoader::take_tool(const Entry& entry, const std::string& tool, EdgePlan& plan) {
  const auto& tools = model().tools;
  for (std::size_t i = 0; i < tools.size(); ++i) {
    if (folded(tools[i].name) == folded(tool)) plan.tool = static_cast<int>(i);
  }
  if (plan.tool >= 0) {
    plan.tool_name = tools[static_cast<std::size_t>(plan.tool)].name;
  } else if (!tool.empty() && tool != TableReader::unreadable) {
    const auto [where, node] = stated(entry, "tool");
    findings_.add(*where, *node, unknown("tool", tool));
  }
}

void ScenarioLoader::take_code(const Entry& entry, const std::string& code, EdgePlan& plan) {
  if (code.empty() || code == TableReader::unreadable) return;
  const auto [document, node] = stated(entry, "code");
  if (!is_printable_name(code)) {
    findings_.add(*document, *node,
                  {.code    = "bad-name",
                   .what    = fmt::format("\"{}\" cannot be a code", printable(code)),
                   .allowed = printable_names,
                   .cause   = "The rows of a run sheet are matched by it.",
                   .key     = "edge." + entry.name + ".code"});
  }
  for (const EdgePlan& other : scenario().edges) {
    if (other.code != code) continue;
    findings_.add(*document, *node,
                  {.code = "given-twice",
                   .what = fmt::format("the edges \"{}\" and \"{}\" have the same code \"{}\"", other.name,
                                       plan.name, printable(code)),
                   .next = "Give each edge a code of its own.",
                   .key  = "edge." + entry.name + ".code"});
  }
  plan.code = code;
}

const toml::node& ScenarioLoader::node_or(const toml::table& table, const char* key) {
  const toml::node* node = table.get(key);
  return node != nullptr ? *node : static_cast<const toml::node&>(table);
}

void ScenarioLoader::follow(const std::string& route, const Document& d, const toml::node& node,
                            EdgeDraft& edge, std::vector<std::string> inside) {
  const Entry* entry = catalogue_.find("route", route);
  if (entry == nullptr) {
    findings_.add(d, node, unknown("route", route));
    return;
  }
  if (std::find(inside.begin(), inside.end(), entry->name) != inside.end()) {
    findings_.add(d, node,
                  {.code = "route-cycle",
                   .what = fmt::format("the route \"{}\" follows itself, in the end", entry->name)});
    return;
  }
  inside.push_back(entry->name);
  used_routes_.insert(entry->name);
  if (++followed_ > loaded_.computer.max_steps) {
    throw Error(Exit::usage, {.code = "too-many",
                              .what = fmt::format("routes that follow routes are followed more than {} times",
                                                  loaded_.computer.max_steps),
                              .next = "[computer] max_steps allows more.",
                              .file = d.file});
  }
  RouteTable own;
  if (checked_routes_.insert(entry->name).second) read_layers("route", *entry, "steps", own);
  if (const auto [document, steps] = stated(*entry, "steps"); steps != entry->layers.back().second) {
    add_steps(*document, *steps, edge, inside);
  } else {
    findings_.add(*document, *steps,
                  {.code = "missing-key",
                   .what = fmt::format("the route \"{}\" has no steps", entry->name),
                   .next = "Add steps = [ { hone = …, strokes = … } ]"});
  }
}

void ScenarioLoader::check_unused_routes() {
  for (const Entry& entry : catalogue_.entries("route")) {
    if (used_routes_.count(entry.name) > 0) continue;
    // read it all the same, so that its faults are reported
    EdgeDraft alone;
    alone.plan.route = entry.name;
    follow(entry.name, *entry.layers.back().first, *entry.layers.back().second, alone, {});
    alone.plan.route_steps = static_cast<int>(alone.plan.steps.size());
    loaded_.unused_routes.push_back(std::move(alone.plan));
    findings_.warn(
        *entry.layers.back().first, *entry.layers.back().second,
        {.code = "unused-route", .what = fmt::format("no edge follows the route \"{}\"", entry.name)});
  }
}

void ScenarioLoader::add_steps(const Document& d, const toml::node& node, EdgeDraft& edge,
                               const std::vector<std::string>& inside) {
  const toml::array* steps = node.as_array();
  if (steps == nullptr) {
    findings_.add(d, node,
                  {.code = "not-a-list",
                   .what = "steps must be a list",
                   .next = "Write steps = [ { hone = \"…\", strokes = 20 }, … ]"});
    return;
  }
  for (const toml::node& item : *steps) {
    const toml::table* table = item.as_table();
    if (table == nullptr || !table->contains("follow")) ++steps_;  // what is followed counts by its own steps
    if (steps_ > loaded_.computer.max_steps) {
      throw Error(Exit::usage, {.code = "too-many",
                                .what = fmt::format("with the edge \"{}\" there are more than {} steps",
                                                    printable(edge.plan.name), loaded_.computer.max_steps),
                                .next = "[computer] max_steps allows more.",
                                .file = d.file});
    }
    if (steps_ % 1000 == 0) stop_if_wished();
    if (table == nullptr) {
      findings_.add(d, item,
                    {.code = "not-a-step",
                     .what = "a step must be a table in braces",
                     .next = "Write { hone = \"…\", strokes = 20 }"});
      continue;
    }
    add_step(d, *table, edge, inside);
  }
}

void ScenarioLoader::add_step(const Document& d, const toml::table& table, EdgeDraft& edge,
                              const std::vector<std::string>& inside) {
  const std::string verb = verb_of(d, table, findings_);
  if (verb.empty()) return;
  const StepPlace at{d, table, *table.get(verb)};
  if (!is_step_of(at, verb)) return;
  if (verb == "follow") return follow_step(at, edge, inside);
  if (verb == WearStep::verb) return add_wear_step(at, edge);
  [&]<class... S>(std::variant<S...>*) {
    ((S::verb == verb ? read_step<S>(at, edge) : void()), ...);
  }(static_cast<Step*>(nullptr));
}

void ScenarioLoader::follow_step(const StepPlace& at, EdgeDraft& edge,
                                 const std::vector<std::string>& inside) {
  for (const auto& [key, value] : at.table) {
    if (key.str() != "follow")
      findings_.add(at.document, key,
                    {.code = "unknown-key",
                     .what = fmt::format("a follow step has no key \"{}\"", printable(key.str()))});
  }
  if (!at.what.is_string()) {
    findings_.add(at.document, at.what, {.code = "not-text", .what = "follow must name a route"});
    return;
  }
  follow(at.what.value_or(std::string{}), at.document, at.what, edge, inside);
}

template <class S>
void ScenarioLoader::read_step(const StepPlace& at, EdgeDraft& edge) {
  S           step;
  const Place place{&at.document, &at.table, "step.", {}};
  reader_.read(place, step);
  reader_.require(place, step);
  complete(step, at, edge);
  edge.plan.steps.emplace_back(std::move(step));
}

void ScenarioLoader::complete(HoneStep& step, const StepPlace& at, EdgeDraft& edge) {
  step.medium = medium(step.hone, at.document, at.what);
  if (step.after_burr && step.strokes < 1.0) {
    findings_.add(at.document, node_or(at.table, "strokes"),
                  {.code    = "out-of-range",
                   .what    = fmt::format("strokes is {:g} with after_burr", step.strokes),
                   .allowed = "1 … 1e6",
                   .cause   = "Strokes are counted by the share of the edge that has a burr.",
                   .next    = "Write strokes = 1 to stop as soon as a burr is felt."});
  }
  warn_if_coarser(step, at, edge.plan);
}

void ScenarioLoader::complete(BackStep& step, const StepPlace& at, EdgeDraft& edge) {
  const EdgePlan& plan = edge.plan;
  step.medium          = medium(step.back, at.document, at.what);
  if (plan.tool >= 0 && model().tools[static_cast<std::size_t>(plan.tool)].honed_sides == 2) {
    findings_.add(at.document, at.what,
                  {.code = "impossible",
                   .what = fmt::format("\"{}\" is honed on both sides and has no back", plan.tool_name),
                   .next = "Hone both sides with hone, or set honed_sides = 1 in its tool."});
  }
}

void ScenarioLoader::complete(StropStep& step, const StepPlace& at, EdgeDraft&) {
  step.backing = material("backing", model().backings, step.strop, at.document, at.what);
  step.compound_index =
      material("compound", model().compounds, step.compound, at.document, node_or(at.table, "compound"));
}

void ScenarioLoader::complete(CutStep& step, const StepPlace& at, EdgeDraft&) {
  step.wood = material("wood", model().woods, step.cut, at.document, at.what);
}

void ScenarioLoader::complete(ReadStep& step, const StepPlace& at, EdgeDraft& edge) {
  if (step.read != TableReader::unreadable && !is_printable_name(step.read)) {
    findings_.add(at.document, at.what,
                  {.code    = "bad-name",
                   .what    = fmt::format("\"{}\" cannot name a reading", printable(step.read)),
                   .allowed = printable_names,
                   .cause   = "The readings file matches its rows by this name."});
  }
  if (!edge.moments.insert(step.read).second) {
    findings_.add(
        at.document, at.what,
        {.code = "given-twice",
         .what = fmt::format("the edge \"{}\" is read twice at \"{}\"", edge.plan.name, printable(step.read)),
         .cause = "Readings are matched by this name, so it must be unique within an edge.",
         .next  = "Give the second one a name of its own."});
  }
}

void ScenarioLoader::complete(DressStep& step, const StepPlace& at, EdgeDraft& edge) {
  step.medium = medium(step.dress, at.document, at.what);
  if (step.medium >= 0 && !used_before(edge.plan, step.medium)) {
    findings_.add(
        at.document, at.what,
        {.code  = "step-order",
         .what  = fmt::format("\"{}\" is dressed before this edge has touched it", printable(step.dress)),
         .cause = "Every history begins with freshly dressed media, so this step can do nothing here.",
         .next  = "Move it behind a hone or back step on that medium, or leave it out."});
  }
}

bool ScenarioLoader::used_before(const EdgePlan& plan, int medium) {
  return std::any_of(plan.steps.begin(), plan.steps.end(), [&](const Step& step) {
    const auto* hone = std::get_if<HoneStep>(&step);
    const auto* back = std::get_if<BackStep>(&step);
    return (hone != nullptr && hone->medium == medium) || (back != nullptr && back->medium == medium);
  });
}

// going back to a coarse medium without wood in between is allowed, and seldom meant
void ScenarioLoader::warn_if_coarser(const HoneStep& step, const StepPlace& at, const EdgePlan& plan) {
  if (step.medium < 0) return;
  for (auto before = plan.steps.rbegin(); before != plan.steps.rend(); ++before) {
    if (std::holds_alternative<CutStep>(*before)) return;
    const auto* hone = std::get_if<HoneStep>(&*before);
    if (hone == nullptr || hone->medium < 0) continue;
    const double last = model().media[static_cast<std::size_t>(hone->medium)].size_um;
    const double now  = model().media[static_cast<std::size_t>(step.medium)].size_um;
    if (now > 1.05 * last) {
      findings_.warn(
          at.document, at.what,
          {.code = "coarser-after-finer",
           .what = fmt::format("{:g} µm after {:g} µm, with no wood cut in between, blunts the edge again",
                               now, last)});
    }
    return;
  }
}

}  // namespace arris
