// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>

#include "sim/input/scenario_loader.hpp"
#include "sim/laws/tester.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr std::size_t most_includes = 64;

}  // namespace

void ScenarioLoader::read_numerics() {
  Numerics& numerics = scenario().numerics;
  each_layer("numerics", [&](const Document& d, const toml::table& t) {
    reader_.read({&d, &t, "numerics.", {}}, numerics);
    if (numerics.fidelity == "reduced" || numerics.fidelity == "outline") return;
    findings_.add(d, node_or(t, "fidelity"),
                  {.code    = "unknown-fidelity",
                   .what    = fmt::format("there is no fidelity \"{}\"", printable(numerics.fidelity)),
                   .allowed = "reduced or outline",
                   .key     = "numerics.fidelity"});
    numerics.fidelity = Numerics{}.fidelity;
  });
}

Loaded ScenarioLoader::load(const std::string& file, std::string_view text,
                            const std::vector<NamedMaterial>& also) {
  catalogue_ = shipped_catalogue();
  open(file, text, {});
  for (const Document& document : documents_) {
    check_top_level(document);
    catalogue_.add(document, findings_);
  }
  read_single("scatter", model().scatter);
  read_specimens();
  if (!model().specimen.in_use) read_single("coefficients", model().coefficients);
  const auto rate = read_wear();
  read_formulas();
  read_numerics();
  read_single("computer", loaded_.computer);
  read_single("output", scenario().output);
  settle_output_of_specimens();
  if (!model().specimen.in_use) read_tester();
  read_readings();
  read_workshop();
  read_title();
  for (const Entry& entry : catalogue_.entries("tool")) add_tool(entry);
  add_edges(file);
  check_unused_routes();
  add_materials(also);
  check_formulas(rate);
  check_prices();
  read_priors();
  read_fit();
  if (catalogue_.entries("edge").empty() && !findings_.any()) {
    findings_.add(documents_.back(), documents_.back().root,
                  {.code = "no-edge",
                   .what = "no edge is described, so there is nothing to simulate",
                   .next = "Add [edge.\"A1\"] with its tool and steps."});
  }
  findings_.throw_if_any();
  loaded_.warnings = findings_.warnings();
  return std::move(loaded_);
}

// ---- files ----

// included files come before the one that includes them, so that the latter has the last word
void ScenarioLoader::open(const std::string& file, std::string_view text, std::vector<std::string> inside) {
  if (loaded_.texts.size() >= most_includes) {
    throw Error(Exit::usage, {.code = "too-many",
                              .what = fmt::format("more than {} included files", most_includes),
                              .file = file});
  }
  loaded_.texts.emplace_back(file, text);
  Document document = parse_document(file, text);
  inside.push_back(file);
  if (const toml::node* list = document.root.get("include"); list != nullptr) {
    const toml::array* names = as_texts(*list);
    if (names == nullptr) {
      findings_.add(document, *list,
                    {.code = "not-text",
                     .what = "include must be a list of file names",
                     .next = "Write include = [\"my-materials.toml\"]",
                     .key  = "include"});
    } else {
      for (const toml::node& node : *names) include_one(document, node, inside);
    }
  }
  documents_.push_back(std::move(document));
}

void ScenarioLoader::include_one(const Document& document, const toml::node& node,
                                 const std::vector<std::string>& inside) {
  const std::string name = node.value_or(std::string{});
  const auto        got  = include_ ? include_(document.file, name) : std::nullopt;
  if (!got) {
    findings_.add(document, node,
                  {.code = "no-such-file",
                   .what = fmt::format("the included file \"{}\" cannot be read", printable(name)),
                   .next = "Paths are relative to the file that includes them.",
                   .key  = "include"});
    return;
  }
  if (const auto first = std::find(inside.begin(), inside.end(), got->first); first != inside.end()) {
    constexpr std::ptrdiff_t most  = 8;  // files that are named
    std::string              chain = printable(*first);
    for (auto file = first + 1; file != inside.end() && file - first < most; ++file)
      chain += (file == first + 1 ? " includes " : ", which includes ") + printable(*file);
    chain += inside.end() - first > most ? ", and so on to"
             : inside.end() - first > 1  ? ", which includes"
                                         : " includes";
    chain += " " + printable(got->first) + ".";
    findings_.add(document, node,
                  {.code  = "include-cycle",
                   .what  = fmt::format("\"{}\" includes itself, in the end", printable(name)),
                   .cause = chain,
                   .key   = "include"});
    return;
  }
  const bool known = std::any_of(loaded_.texts.begin(), loaded_.texts.end(),
                                 [&](const auto& t) { return t.first == got->first; });
  if (!known) open(got->first, got->second, inside);
}

void ScenarioLoader::check_top_level(const Document& document) {
  static const std::vector<std::string> singles = {
      "title",    "note",   "include",  "source",   "coefficients", "wear",  "formula",  "tester",  "scatter",
      "numerics", "output", "computer", "readings", "fit",          "prior", "workshop", "specimen"};
  std::vector<std::string> known = singles;
  known.insert(known.end(), Catalogue::kinds().begin(), Catalogue::kinds().end());
  for (const auto& [key, node] : document.root) {
    const std::string name(key.str());
    if (std::find(known.begin(), known.end(), name) != known.end()) continue;
    const std::string meant = did_you_mean(name, known);
    findings_.add(document, key,
                  {.code    = "unknown-key",
                   .what    = fmt::format("there is no table or key \"{}\"", printable(name)),
                   .allowed = meant.empty() ? or_list(known, 40) : std::string{},
                   .next    = meant,
                   .key     = name});
  }
}

// ---- tables that stand once ----

void ScenarioLoader::read_tester() {
  auto&      tester = model().tester;
  const auto before = findings_.count();
  read_single("tester", tester);
  const auto* entry = find("filament", tester.filament, "tester");
  if (entry == nullptr) return;
  Filament<double> filament;
  read_entry("filament", *entry, filament);
  if (std::isnan(tester.cut_resistance_N))
    derive("tester.cut_resistance_N", tester.cut_resistance_N, filament.cut_resistance_N,
           "filament." + filament.name + ".cut_resistance_N");
  if (std::isnan(tester.slope_N_per_um))
    derive("tester.slope_N_per_um", tester.slope_N_per_um, filament.slope_N_per_um,
           "filament." + filament.name + ".slope_N_per_um");
  if (std::isnan(tester.saturation_N))
    derive("tester.saturation_N", tester.saturation_N,
           laws::filament_saturation_N(filament.shear_strength_MPa, filament.diameter_mm),
           "filament." + filament.name + ".shear_strength_MPa");
  if (findings_.count() == before && !(tester.saturation_N > tester.cut_resistance_N)) {
    each_layer("tester", [&](const Document& d, const toml::table& t) {
      findings_.add(d, t,
                    {.code  = "impossible",
                     .what  = fmt::format("saturation_N = {:g} N is not above cut_resistance_N = {:g} N",
                                          tester.saturation_N, tester.cut_resistance_N),
                     .cause = "A blunt bar cannot part the filament with less force than a perfect edge.",
                     .key   = "tester.saturation_N"});
    });
  }
  loaded_.filaments.push_back(filament);
}

void ScenarioLoader::read_title() {
  for (const Document& document : documents_) {
    if (auto title = document.root["title"].value<std::string>()) scenario().title = *title;
    for (const char* key : {"title", "note"}) {
      const toml::node* node = document.root.get(key);
      if (node != nullptr && !node->is_string()) {
        findings_.add(document, *node,
                      {.code = "not-text",
                       .what = fmt::format("{} must be text in quotes", key),
                       .next = fmt::format("Write {} = \"…\"", key),
                       .key  = key});
      }
    }
  }
}

Loaded load_scenario(const std::string& file, std::string_view text, const Include& include,
                     const std::vector<NamedMaterial>&     also,
                     const std::vector<laws::ForeignRate>& functions) {
  return ScenarioLoader(include, functions).load(file, text, also);
}

}  // namespace arris
