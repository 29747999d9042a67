// SPDX-License-Identifier: MIT
#include <algorithm>

#include "sim/input/scenario_loader.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

constexpr double coarsest_um = 3000.0;  // as in the range of a medium's size_um

}  // namespace

// `where` stands in the message when the table or node that names it is not at hand
const Entry* ScenarioLoader::find(const std::string& kind, const std::string& name,
                                  const std::string& single) {
  if (const Entry* entry = catalogue_.find(kind, name)) return entry;
  if (name == TableReader::unreadable) return nullptr;
  each_layer(single, [&](const Document& d, const toml::table& t) {
    const toml::node* node = t.get(kind);
    findings_.add(d, node != nullptr ? *node : static_cast<const toml::node&>(t), unknown(kind, name));
  });
  return nullptr;
}

Diagnostic ScenarioLoader::unknown(const std::string& kind, const std::string& name) {
  const auto  known = catalogue_.names(kind);
  std::string close = nearest(name, known);
  // a part of a name, "oak", may be of several
  if (folded(close).find(folded(name)) != std::string::npos) close.clear();
  const auto related = close.empty() ? catalogue_.with_a_word_of(kind, name) : std::vector<std::string>{};
  // a configuration's own tables are in no listing
  const bool        shipped = kind != "tool" && kind != "route" && kind != "medium";
  const std::string add =
      (shipped ? fmt::format("`arris materials {}` lists all; a", kind) : std::string("A")) +
      fmt::format(" table [{}.\"{}\"] adds it.", kind, printable(name));
  return {.code    = "unknown-" + kind,
          .what    = fmt::format("there is no {} \"{}\"", kind, printable(name)),
          .allowed = close.empty() && related.empty() ? or_list(known, 20) : std::string{},
          .next    = related.empty() ? did_you_mean(name, known, add)
                                     : fmt::format("Did you mean {}? {}", or_list(related, 6), add),
          .key     = kind};
}

void ScenarioLoader::derive(const std::string& path, double& target, double value, const std::string& from) {
  target = value;
  Origin origin;
  if (const auto found = loaded_.origins.find(from); found != loaded_.origins.end()) origin = found->second;
  origin.source         = origin.source.empty() ? "from " + from : "from " + from + "; " + origin.source;
  loaded_.origins[path] = origin;
}

int ScenarioLoader::steel(const Tool<double>& tool, const Document& d, const toml::node& node) {
  const Entry* entry = catalogue_.find("steel", tool.steel);
  if (entry == nullptr) {
    if (tool.steel != TableReader::unreadable) findings_.add(d, node, unknown("steel", tool.steel));
    return -1;
  }
  const bool        own  = !std::isnan(tool.hardness_hrc);
  const std::string name = own ? fmt::format("{} at {:g} HRC", entry->name, tool.hardness_hrc) : entry->name;
  auto&             list = model().steels;
  for (std::size_t i = 0; i < list.size(); ++i) {
    if (list[i].name == name) return static_cast<int>(i);
  }
  Steel<double> target;
  read_entry("steel", *entry, target);
  const std::string from = "steel." + entry->name + ".";
  target.name            = name;
  if (own) {
    for (const char* key :
         {"carbide_um", "wear_ratio", "youngs_modulus_GPa", "carbide_pct", "carbide_type", "composition"}) {
      if (const auto o = loaded_.origins.find(from + key); o != loaded_.origins.end())
        loaded_.origins["steel." + name + "." + key] = o->second;
    }
    target.hardness_hrc = tool.hardness_hrc;
    target.hardness_GPa = not_given;
    loaded_.origins["steel." + name + ".hardness_hrc"] =
        loaded_.origins["tool." + tool.name + ".hardness_hrc"];
  }
  if (std::isnan(target.hardness_GPa)) {
    if (std::isnan(target.hardness_hrc)) {
      findings_.add(
          d, node,
          {.code = "missing-key",
           .what = fmt::format("the steel \"{}\" has no hardness", name),
           .next = fmt::format("Give hardness_hrc in [steel.\"{}\"] or in the tool.", entry->name)});
      return -1;
    }
    derive("steel." + name + ".hardness_GPa", target.hardness_GPa, hardness_GPa(target.hardness_hrc),
           "steel." + name + ".hardness_hrc");
    loaded_.origins["steel." + name + ".hardness_GPa"].source = "from hardness_hrc by ASTM E140";
  }
  list.push_back(std::move(target));
  return static_cast<int>(list.size()) - 1;
}

// a medium is an entry [medium.NAME], or "FAMILY, GRIT" said on the spot
int ScenarioLoader::medium(const std::string& name, const Document& d, const toml::node& node) {
  if (name == TableReader::unreadable) return -1;
  auto&        list  = model().media;
  const Entry* entry = catalogue_.find("medium", name);
  const auto   same  = [&](const Medium<double>& m) {
    return folded(m.name) == folded(entry != nullptr ? entry->name : name);
  };
  if (const auto found = std::find_if(list.begin(), list.end(), same); found != list.end())
    return static_cast<int>(found - list.begin());

  auto m = entry != nullptr ? medium_of_entry(*entry) : medium_on_the_spot(name, d, node);
  if (!m) return -1;
  if (std::isnan(m->size_um)) {
    if (m->grit.empty()) {
      findings_.add(d, node,
                    {.code = "missing-key",
                     .what = fmt::format("the medium \"{}\" has no grit", printable(name)),
                     .next = "Give grit = \"JIS #1000\" or size_um = 14."});
      return -1;
    }
    const auto size_um = size_by_grit(*m, entry, d, node);
    if (!size_um) return -1;
    m->size_um = *size_um;
  }
  list.push_back(std::move(*m));
  return static_cast<int>(list.size()) - 1;
}

std::optional<Medium<double>> ScenarioLoader::medium_of_entry(const Entry& entry) {
  // `grit = 1000` without quotes is the commonest way to leave the standard out
  for (const auto& [document, table] : entry.layers) {
    if (const toml::node* grit = table->get("grit"); grit != nullptr && grit->is_integer()) {
      check_grit_node(*document, *grit);
      return std::nullopt;
    }
  }
  // the family first, so that the entry's own numbers have the last word
  Medium<double> m;
  std::string    family;
  for (const auto& [document, table] : entry.layers)
    family = (*table)["family"].value<std::string>().value_or(family);
  if (!family.empty() && !take_family(family, "medium." + entry.name + ".", m, *entry.layers.back().first,
                                      *entry.layers.back().second))
    return std::nullopt;
  const auto before = findings_.count();
  read_entry("medium", entry, m);
  if (findings_.count() > before) return std::nullopt;
  if (const Entry* own = catalogue_.find("family", m.family)) m.family = own->name;
  return m;
}

std::optional<Medium<double>> ScenarioLoader::medium_on_the_spot(const std::string& name, const Document& d,
                                                                 const toml::node& node) {
  const auto comma = name.rfind(',');
  if (comma == std::string::npos) {
    auto diagnostic = unknown("medium", name);
    diagnostic.allowed.clear();
    diagnostic.next = did_you_mean(
        name, catalogue_.names("medium"),
        "Add [medium.\"" + printable(name) +
            "\"] with family and grit, or say both on the spot: \"soft waterstone, JIS #1000\". Families: " +
            or_list(catalogue_.names("family")) + ".");
    findings_.add(d, node, diagnostic);
    return std::nullopt;
  }
  Medium<double> m;
  m.name = name;
  m.grit = trimmed(name.substr(comma + 1));
  if (!take_family(trimmed(name.substr(0, comma)), "medium." + name + ".", m, d, node)) return std::nullopt;
  return m;
}

// in micrometres, by the standard of its grit; `entry` is nullptr for a medium said on the spot
std::optional<double> ScenarioLoader::size_by_grit(const Medium<double>& m, const Entry* entry,
                                                   const Document& d, const toml::node& node) {
  try {
    const GritSize grit   = parse_grit(catalogue_, m.grit);
    const auto     source = grit.standard.empty() ? std::string{} : grit.standard + "; " + grit.source;
    loaded_.origins["medium." + m.name + ".size_um"] = {d.file, static_cast<int>(node.source().begin.line),
                                                        grit.status, source};
    if (grit.size_um > coarsest_um) {
      throw Error(Exit::usage, {.code    = "out-of-range",
                                .what    = fmt::format("{} is {:g} µm, coarser than any medium here",
                                                       printable(m.grit), grit.size_um),
                                .allowed = fmt::format("up to {:g} µm", coarsest_um)});
    }
    return grit.size_um;
  } catch (const Error& error) {
    const auto [document, grit] =
        entry != nullptr ? stated(*entry, "grit") : std::pair<const Document*, const toml::node*>(&d, &node);
    findings_.add(*document, *grit, error.diagnostics().front());
    return std::nullopt;
  }
}

void ScenarioLoader::check_grit_node(const Document& d, const toml::node& grit) {
  try {
    (void)parse_grit(catalogue_, std::to_string(grit.value<int64_t>().value()));
  } catch (const Error& error) {
    findings_.add(d, grit, error.diagnostics().front());
  }
}

bool ScenarioLoader::take_family(const std::string& family, const std::string& path, Medium<double>& m,
                                 const Document& d, const toml::node& node) {
  const Entry* entry = catalogue_.find("family", family);
  if (entry == nullptr) {
    findings_.add(d, node, unknown("family", family));
    return false;
  }
  const std::string name = m.name;
  read_entry("family", *entry, static_cast<Family<double>&>(m));
  m.name   = name;
  m.family = entry->name;
  m.note.clear();
  Family<double>::fields(
      [&](const Field& f, auto&) {
        if (const auto o = loaded_.origins.find("family." + entry->name + "." + std::string(f.key));
            o != loaded_.origins.end())
          loaded_.origins[path + std::string(f.key)] = o->second;
      },
      static_cast<Family<double>&>(m));
  return true;
}

void ScenarioLoader::add_materials(const std::vector<NamedMaterial>& also) {
  for (NamedMaterial wanted : also) {
    // a document of its own: a fault has no place in any file
    Document document;
    document.file = "--over";
    document.root.insert(wanted.kind, wanted.name);
    const toml::node& node = *document.root.get(wanted.kind);
    if (!wanted.name.empty()) {
      wanted.index = add_material(wanted.kind, wanted.name, document, node);
    } else {
      for (const Entry& entry : catalogue_.entries(wanted.kind)) {
        // an entry that lacks what no source gives is no material yet
        const bool whole = wanted.kind == "wood"       ? states_all<Wood<double>>(entry)
                           : wanted.kind == "backing"  ? states_all<Backing<double>>(entry)
                           : wanted.kind == "compound" ? states_all<Compound<double>>(entry)
                                                       : states_all<Medium<double>>(entry);
        if (whole) (void)add_material(wanted.kind, entry.name, document, node);
      }
    }
    loaded_.also.push_back(std::move(wanted));
  }
}

int ScenarioLoader::add_material(const std::string& kind, const std::string& name, const Document& d,
                                 const toml::node& node) {
  if (kind == "medium") return medium(name, d, node);
  if (kind == "backing") return material(kind, model().backings, name, d, node);
  if (kind == "compound") return material(kind, model().compounds, name, d, node);
  return material(kind, model().woods, name, d, node);
}

}  // namespace arris
