// SPDX-License-Identifier: MIT
#include <algorithm>

#include "sim/input/scenario_loader.hpp"
#include "sim/laws/gram_force.hpp"
#include "sim/numbers.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr const char* specimen_kind = "specimen";

/// `[tool.NAME]` of a specimen.
struct SpecimenTool {
  std::string kind, note;
  static void fields(auto&& v, auto&... s) {
    // clang-format off
    v(field("kind").says("specimen"), s.kind...);
    v(field("note").optional().says("remark"), s.note...);
    // clang-format on
  }
};

// what stands for a blade where there is none: nothing of it has a part in the wear of a specimen
Tool<double> stand_in_tool(const std::string& name) {
  Tool<double> tool;
  tool.name              = name;
  tool.kind              = specimen_kind;
  tool.width_mm          = 1.0;
  tool.thickness_mm      = 1e9;  // no wear is more than a blade is thick
  tool.primary_bevel_deg = tool.micro_bevel_deg = 45.0;
  tool.apex_radius_um                           = 0.0;
  return tool;
}

Steel<double> stand_in_steel() {
  Steel<double> steel;
  steel.name         = "none";
  steel.hardness_GPa = 1.0;
  return steel;
}

// a reading "in newtons" is wear in micrometres
void show_wear(Tester<double>& tester) {
  tester.cut_resistance_N = 0.0;
  tester.slope_N_per_um   = 1.0;
  tester.saturation_N     = infinity;
  tester.burr_share = tester.wedge_share = 0.0;
}

}  // namespace

bool ScenarioLoader::has_specimens() {
  const auto& tools = catalogue_.entries("tool");
  return std::any_of(tools.begin(), tools.end(), [](const Entry& entry) {
    return stated(entry, "kind").second->value_or(std::string{}) == specimen_kind;
  });
}

void ScenarioLoader::read_specimens() {
  Specimen<double>& specimen = model().specimen;
  specimen.in_use            = has_specimens();
  if (!specimen.in_use) {
    each_layer("specimen", [&](const Document& d, const toml::table& t) {
      findings_.add(d, t,
                    {.code = "no-specimen",
                     .what = "[specimen] says how specimens wear, and no tool is one",
                     .next = "Write kind = \"specimen\" in its [tool.NAME], or leave [specimen] out.",
                     .key  = "specimen"});
    });
    return;
  }
  const auto choice = [&](const Document& d, const toml::table& t, const char* key, std::string& value,
                          const std::vector<std::string>& known) {
    if (std::find(known.begin(), known.end(), value) != known.end()) return;
    findings_.add(d, node_or(t, key),
                  {.code    = "unknown-choice",
                   .what    = fmt::format("{} = \"{}\" of specimens is not known", key, printable(value)),
                   .allowed = or_list(known),
                   .next    = did_you_mean(value, known),
                   .key     = fmt::format("specimen.{}", key)});
    value = known.front();
  };
  each_layer("specimen", [&](const Document& d, const toml::table& t) {
    reader_.read({&d, &t, "specimen.", {}}, specimen);
    choice(d, t, "unit", specimen.unit, {"um", "mm"});
    choice(d, t, "per", specimen.per, {"metre", "minute", "pass"});
    choice(d, t, "noise", specimen.noise, {"log", "additive"});
  });
  refuse_tables_of_blades();
  show_wear(model().tester);
  model().steels = {stand_in_steel()};
  settle_scatter_of_specimens();
  auto& fit       = loaded_.fit;
  fit.wood_effect = false;  // counterfaces have factors of their own
  fit.edge_effect = fit.lot_effect = fit.way_effect = fit.way_wear_effect = fit.rules_of_thumb = false;
  auto& c                 = model().coefficients;
  c.collapse_load_N_per_m = c.chip_load_N_per_m = c.nicks_um_per_km = 0.0;
}

// what is luck of an apex, of how it was sharpened, or of a filament, is none of a specimen's
void ScenarioLoader::settle_scatter_of_specimens() {
  auto&      scatter  = model().scatter;
  bool       has_rate = false;
  const auto refuse   = [&](const Document& d, const toml::table& t, const char* table, const char* key) {
    const toml::node* node = t.get(key);
    if (node == nullptr || (node->is_number() && node->value_or(0.0) == 0.0)) return;
    findings_.add(d, *node,
                    {.code = "not-of-specimens",
                     .what = fmt::format("{} is of blades, and the tools here are specimens", key),
                     .next = fmt::format("Leave it out; {} says how specimens differ.",
                                       std::string_view(table) == "fit" ? "rate_effect" : "rate_cv"),
                     .key  = fmt::format("{}.{}", table, key)});
  };
  each_layer("scatter", [&](const Document& d, const toml::table& t) {
    has_rate |= t.contains("rate_cv");
    for (const char* key : {"edge_cv", "lot_cv", "way_cv", "way_wear_cv"}) refuse(d, t, "scatter", key);
  });
  each_layer("fit", [&](const Document& d, const toml::table& t) {
    for (const char* key : {"edge_effect", "lot_effect", "way_effect", "way_wear_effect", "rules_of_thumb"}) {
      if (t.get(key) != nullptr && t.get(key)->value_or(false)) refuse(d, t, "fit", key);
    }
  });
  scatter.edge_cv = scatter.lot_cv = scatter.way_cv = scatter.way_wear_cv = 0.0;
  constexpr double estimate                                               = 0.1;  // specimens made alike
  if (!has_rate) scatter.rate_cv = estimate;
}

void ScenarioLoader::refuse_tables_of_blades() {
  for (const char* key : {"coefficients", "tester", "workshop", "price", "limit"}) {
    for (const Document& document : documents_) {
      const toml::node* node = document.root.get(key);
      if (node == nullptr) continue;
      findings_.add(
          document, *node,
          {.code  = "not-of-specimens",
           .what  = fmt::format("[{}] is of blades, and the tools here are specimens", key),
           .cause = "Nothing in it has a part in the wear of a specimen.",
           .next  = "Leave it out; [specimen], [counterface.NAME] and [wear] say how specimens wear.",
           .key   = key});
    }
  }
}

void ScenarioLoader::add_specimen(const Entry& entry) {
  SpecimenTool table;
  const auto [document, node] = stated(entry, "kind");
  if (node->value_or(std::string{}) != specimen_kind) {
    findings_.add(*document, *node,
                  {.code  = "mixed",
                   .what  = fmt::format("\"{}\" is a blade, and other tools are specimens", entry.name),
                   .cause = "Their wear counts in other units, so that they cannot share a wear law.",
                   .next  = "Put them into two configurations, or write kind = \"specimen\".",
                   .key   = "tool." + entry.name});
  } else {
    for (const auto& [d, t] : entry.layers) reader_.read({d, t, "tool." + entry.name + ".", {}}, table);
  }
  model().tools.push_back(stand_in_tool(entry.name));
  model().tools.back().note = table.note;
  model().steel_of_tool.push_back(0);
}

void ScenarioLoader::add_wear_step(const StepPlace& at, EdgeDraft& edge) {
  const Specimen<double>& specimen = model().specimen;
  WearStep                step;
  const Place             place{&at.document, &at.table, "step.", {}};
  reader_.read(place, step);
  reader_.require(place, step);
  const std::string wanted = wear_units(specimen).way;
  for (const char* way : {"metres", "minutes", "passes"}) {
    const bool there = at.table.contains(way);
    if (there == (way == wanted)) continue;
    findings_.add(
        at.document, there ? *at.table.get(way) : at.what,
        {.code = there ? "wrong-way" : "missing-key",
         .what = there ? fmt::format("{} are given, and specimens here wear per {}", way, specimen.per)
                       : fmt::format("the step does not say for how many {} the specimen wears", way),
         .next = there ? fmt::format("Give {}, or state per under [specimen].", wanted)
                       : fmt::format("Add {} = …", way),
         .key  = fmt::format("step.{}", way)});
  }
  if (!std::isnan(step.load_N) && std::isnan(specimen.reference_load_N))
    findings_.add(at.document, node_or(at.table, "load_N"),
                  {.code = "missing-key",
                   .what = "a load is stated, and no load at which the wear law is",
                   .next = "Add reference_load_N under [specimen], best in the middle of the loads.",
                   .key  = "specimen.reference_load_N"});
  if (std::isnan(step.load_N)) step.load_N = specimen.reference_load_N;
  CutStep cut = as_cut(step, specimen.per);
  cut.wood    = material("counterface", model().counterfaces, step.wear, at.document, at.what);
  edge.plan.steps.emplace_back(std::move(cut));
}

bool ScenarioLoader::is_step_of(const StepPlace& at, const std::string& verb) {
  const bool specimens = model().specimen.in_use;
  const bool both      = verb == "read" || verb == "follow";
  if (both || (verb == WearStep::verb) == specimens) return true;
  findings_.add(
      at.document, at.what,
      {.code = "not-of-specimens",
       .what = specimens ? fmt::format("a specimen is not {}", verb == "cut"     ? "said to cut wood"
                                                               : verb == "back"  ? "honed"
                                                               : verb == "strop" ? "stropped"
                                                                                 : verb + "d")
                         : "only specimens wear on a counterface; a blade cuts wood",
       .next = specimens ? "Write { wear = \"COUNTERFACE\", metres = 1000, load_N = 20 }."
                         : "Write { cut = \"white oak\", passes = 100 }, or kind = \"specimen\" in its tool.",
       .key  = "step." + verb});
  return false;
}

void ScenarioLoader::settle_output_of_specimens() {
  Output& output = scenario().output;
  for (const Document& document : documents_) {
    const toml::node*  node  = document.root.get("output");
    const toml::table* table = node != nullptr ? node->as_table() : nullptr;
    if (table == nullptr) continue;
    for (const auto& [key, value] : *table) {
      const std::string name(key.str());
      const bool of_wear = name.rfind("wear_limit", 0) == 0, of_reading = name.rfind("reading_limit", 0) == 0;
      if (!(model().specimen.in_use ? of_reading : of_wear)) continue;
      findings_.add(
          document, key,
          {.code = "not-of-specimens",
           .what = of_reading ? "specimens are not read on a tester" : "a blade has no limit of wear",
           .next = of_reading ? "Write wear_limit_um = 300." : "Write reading_limit_gf = 180.",
           .key  = "output." + name});
    }
  }
  if (!model().specimen.in_use) return;
  // what counts lives knows one limit
  output.reading_limit_gf = laws::in_gram_force(output.wear_limit_um);
  if (scenario().numerics.follows_outline()) {
    each_layer("numerics", [&](const Document& d, const toml::table& t) {
      if (!t.contains("fidelity")) return;
      findings_.add(d, *t.get("fidelity"),
                    {.code = "not-of-specimens",
                     .what = "a specimen has no outline of an edge to follow",
                     .next = "Leave fidelity out.",
                     .key  = "numerics.fidelity"});
    });
  }
}

}  // namespace arris
