// SPDX-License-Identifier: MIT
#include <cstddef>
#include <type_traits>

#include "build_facts.hpp"  // generated
#include "page.hpp"
#include "sim/figures/palette.hpp"
#include "sim/input/catalogue.hpp"
#include "sim/input/table_types.hpp"

namespace arris::page {
namespace {

Json tables() {
  Json out = Json::object();
  for_each_table_type([&]<class S>(const char* name, const char* kind, const char* says, const S& defaults) {
    Json fields = Json::array();
    for_each_default(defaults, [&](const Field& f, const char* type, const auto& value) {
      const Unit* unit  = unit_of(f.key);
      Json        alike = Json::array();  // keys that may stand for this one, in other units
      if (unit != nullptr && !unit->kind.empty()) {
        const std::string_view stem = f.key.substr(0, f.key.size() - unit->suffix.size());
        for (const Unit& other : known_units) {
          if (other.kind == unit->kind && other.suffix != unit->suffix)
            alike.push_back(std::string(stem) + std::string(other.suffix));
        }
      }
      fields.push_back({{"key", f.key},
                        {"unit", f.unit_symbol()},
                        {"low", number(f.low)},
                        {"high", number(f.high)},
                        {"status", f.status},
                        {"says", f.doc},
                        {"derived", f.is_derived},
                        {"optional", f.is_optional},
                        {"type", type},
                        {"default", value},
                        {"alike", alike}});
    });
    // steps by their verb, tables by their name in a configuration
    out[std::string_view(kind) == "step" ? name : kind] = {{"says", says}, {"fields", fields}};
  });
  return out;
}

Json entries(const Catalogue& catalogue, const char* kind) {
  Json out = Json::array();
  for (const Entry& entry : catalogue.entries(kind)) {
    const toml::table& table = *entry.layers.back().second;
    Json               item{{"name", entry.name}, {"note", table["note"].value_or(std::string{})}};
    for (const auto& [key, node] : table) {
      // a value bare, or with its status
      const toml::node* value = node.is_table() ? node.as_table()->get("value") : &node;
      if (value != nullptr && value->is_number())
        item[std::string(key.str())] = number(value->value_or(not_given));
    }
    out.push_back(std::move(item));
  }
  return out;
}

Json grits() {
  Json out = Json::array();
  for (const Document& document : shipped_materials()) {
    const toml::table* standards = document.root["grit"].as_table();
    if (standards == nullptr) continue;
    for (const auto& [name, node] : *standards) {
      const toml::table& table  = *node.as_table();
      Json               grades = Json::array();
      for (const toml::node& item : *table["grades"].as_array()) {
        const toml::table& grade = *item.as_table();
        grades.push_back(
            {{"number", grade["number"].value_or(0.0)}, {"size_um", grade["size_um"].value_or(0.0)}});
      }
      out.push_back({{"standard", name.str()},
                     {"mark", table["mark"].value_or(std::string{})},
                     {"describes", table["describes"].value_or(std::string{})},
                     {"grades", std::move(grades)}});
    }
  }
  return out;
}

}  // namespace

Json describe() {
  const Catalogue& catalogue = shipped_catalogue();
  Json             materials = Json::object();
  for (const char* kind : {"steel", "family", "backing", "compound", "wood", "filament", "limit"})
    materials[kind] = entries(catalogue, kind);
  return {{"version", build::version}, {"commit", build::commit()}, {"tables", tables()},
          {"materials", materials},    {"grits", grits()},          {"caution", usual_caution()}};
}

std::string style() { return figures::palette_style() + figures::figure_style(); }

}  // namespace arris::page
