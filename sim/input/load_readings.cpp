// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>

#include "sim/input/scenario_loader.hpp"
#include "sim/wording.hpp"

namespace arris {
namespace {

/// `[readings]` but for its lists and tables.
struct ReadingsTable : ReadingsForm {
  std::string note;
  static void fields(auto&& v, auto&... s) {
    ReadingsForm::fields(v, s...);
    v(field("note").optional().says("remark"), s.note...);
  }
};

}  // namespace

std::string near_first(const std::string& file, const Document& names, const Document& first) {
  if (&names == &first) return file;
  namespace fs        = std::filesystem;
  const fs::path full = (fs::path(names.file).parent_path() / file).lexically_normal();
  const fs::path near = full.lexically_relative(fs::path(first.file).parent_path());
  return near.empty() ? full.string() : near.string();
}

void ScenarioLoader::read_readings() {
  ReadingsTable table;
  each_layer("readings", [&](const Document& d, const toml::table& t) {
    reader_.read({&d, &t, "readings.", {"file", "columns", "moments"}}, table);
    ReadingsTable::fields(
        [&](const Field& field, const std::string& value) {
          const auto& known = choices_of(field.key);
          if (value.empty() || known.empty() || !t.contains(field.key) ||
              std::find(known.begin(), known.end(), value) != known.end())
            return;
          findings_.add(d, *t.get(field.key),
                        {.code    = "bad-form",
                         .what    = fmt::format("readings have no {} \"{}\"", field.key, printable(value)),
                         .allowed = or_list(known),
                         .next    = did_you_mean(value, known),
                         .key     = fmt::format("readings.{}", field.key)});
        },
        table);
    read_readings_files(d, t);
    read_pairs(d, t, "columns", "reading_gf", table.columns);
    read_pairs(d, t, "moments", "60 passes", table.moments);
  });
  loaded_.readings_form = table;
}

// one name, or a list of them
void ScenarioLoader::read_readings_files(const Document& d, const toml::table& t) {
  const toml::node* node = t.get("file");
  if (node == nullptr) return;
  std::vector<std::string> files;
  const auto               take = [&](const toml::node& item) {
    const auto name = item.value<std::string>();
    if (!name || !item.is_string()) {
      findings_.add(d, item,
                                  {.code = "not-text",
                                   .what = "file must be the name of a file in quotes, or a list of them",
                                   .next = "Write file = \"readings.csv\", or file = [\"2025.xlsx\", \"june.csv\"].",
                                   .key = "readings.file"});
      return;
    }
    const std::string near = near_first(*name, d, documents_.back());
    if (near.empty()) return;
    if (std::find(files.begin(), files.end(), near) != files.end()) {
      findings_.add(d, item,
                                  {.code = "given-twice",
                                   .what = fmt::format("the file \"{}\" is named twice", printable(*name)),
                                   .key  = "readings.file"});
      return;
    }
    files.push_back(near);
  };
  if (const toml::array* list = node->as_array()) {
    for (const toml::node& item : *list) take(item);
  } else {
    take(*node);
  }
  loaded_.readings_files = std::move(files);
}

// a table of texts by names; a later layer has the last word on a name
void ScenarioLoader::read_pairs(const Document& d, const toml::table& t, const char* key, const char* example,
                                std::vector<std::pair<std::string, std::string>>& pairs) {
  const toml::node* node = t.get(key);
  if (node == nullptr) return;
  const auto fault = [&](const toml::node& at) {
    findings_.add(d, at,
                  {.code = "not-text",
                   .what = fmt::format("{} must name columns, each with a text", key),
                   .next = fmt::format("Write {} = {{ \"name in the file\" = \"{}\" }}.", key, example),
                   .key  = fmt::format("readings.{}", key)});
  };
  const toml::table* table = node->as_table();
  if (table == nullptr) return fault(*node);
  for (const auto& [name, value] : *table) {
    const auto text = value.value<std::string>();
    if (!text || !value.is_string() || text->empty()) {
      fault(value);
      continue;
    }
    const std::string column(name.str());
    const auto        same =
        std::find_if(pairs.begin(), pairs.end(), [&](const auto& p) { return p.first == column; });
    if (same != pairs.end())
      same->second = *text;
    else
      pairs.emplace_back(column, *text);
  }
}

}  // namespace arris
