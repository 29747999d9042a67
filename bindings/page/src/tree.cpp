// SPDX-License-Identifier: MIT
#include "tree.hpp"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <sstream>
#include <utility>
#include <vector>

#include <fmt/format.h>

#include "sim/input/document.hpp"
#include "sim/input/toml_text.hpp"

namespace arris::page {
namespace {

constexpr const char* literal = "toml literal";

Json value_of(const toml::node& node) {
  if (const toml::table* table = node.as_table()) {
    // toml++ sorts keys by name; the text has them in an order that its writer chose
    std::vector<std::pair<toml::source_position, std::pair<std::string, const toml::node*>>> items;
    for (const auto& [key, item] : *table)
      items.push_back({key.source().begin, {std::string(key.str()), &item}});
    std::stable_sort(items.begin(), items.end(), [](const auto& a, const auto& b) {
      return std::pair(a.first.line, a.first.column) < std::pair(b.first.line, b.first.column);
    });
    Json out = Json::object();
    for (const auto& [where, item] : items) out[item.first] = value_of(*item.second);
    return out;
  }
  if (const toml::array* array = node.as_array()) {
    Json out = Json::array();
    for (const toml::node& item : *array) out.push_back(value_of(item));
    return out;
  }
  if (node.is_string()) return node.value_or(std::string{});
  if (node.is_boolean()) return node.value_or(false);
  if (node.is_integer()) return node.value_or(std::int64_t{0});
  if (const auto* number = node.as_floating_point(); number != nullptr && std::isfinite(number->get()))
    return number->get();
  std::ostringstream text;
  node.visit([&](const auto& value) {
    if constexpr (toml::is_value<decltype(value)>) text << value;
  });
  Json out     = Json::object();
  out[literal] = text.str();
  return out;
}

bool is_literal(const Json& value) {
  return value.is_object() && value.size() == 1 && value.contains(literal) && value[literal].is_string();
}

// a table that is written in braces: a value with its source, a step, a parameter
bool is_inline(const Json& value) {
  return is_literal(value) || (value.is_object() && value.contains("value"));
}

bool holds_tables(const Json& value) {
  return value.is_array() && !value.empty() &&
         std::all_of(value.begin(), value.end(), [](const Json& item) { return item.is_object(); });
}

std::string inline_text(const Json& value) {
  if (is_literal(value)) {
    auto text = value[literal].get<std::string>();
    if (text.find_first_not_of("0123456789TZ:+-. infa") == std::string::npos) return text;
  }
  if (value.is_string()) return toml_string(value.get<std::string>());
  if (value.is_boolean()) return value.get<bool>() ? "true" : "false";
  if (value.is_number_integer()) return std::to_string(value.get<std::int64_t>());
  if (value.is_number()) return toml_number(value.get<double>());
  std::string out;
  if (value.is_array()) {
    for (const Json& item : value) out += (out.empty() ? "" : ", ") + inline_text(item);
    return "[" + out + "]";
  }
  if (value.is_object()) {
    for (const auto& [key, item] : value.items())
      out += (out.empty() ? "" : ", ") + toml_key(key) + " = " + inline_text(item);
    return out.empty() ? "{}" : "{ " + out + " }";
  }
  throw Error(Exit::usage,
              Diagnostic{.code = "bad-tree", .what = "a configuration has no place for an empty value"});
}

void write_table(std::string& out, const Json& table, const std::string& path) {
  for (const auto& [key, value] : table.items()) {
    if (value.is_object() && !is_inline(value)) continue;
    out += toml_key(key) + " = ";
    if (holds_tables(value)) {
      out += "[\n";
      for (const Json& item : value) out += "  " + inline_text(item) + ",\n";
      out += "]\n";
    } else {
      out += inline_text(value) + "\n";
    }
  }
  for (const auto& [key, value] : table.items()) {
    if (!value.is_object() || is_inline(value)) continue;
    const std::string name  = path.empty() ? toml_key(key) : path + "." + toml_key(key);
    const bool        plain = !value.empty() && std::all_of(value.begin(), value.end(), [](const Json& v) {
      return v.is_object() && !is_inline(v);
    });
    if (!plain) out += (out.empty() ? "[" : "\n[") + name + "]\n";
    write_table(out, value, name);
  }
}

}  // namespace

Json tree_of(const std::string& file, std::string_view text) {
  return value_of(parse_document(file, text).root);
}

std::string toml_of(const Json& tree) {
  std::string out;
  write_table(out, tree, {});
  return out;
}

}  // namespace arris::page
