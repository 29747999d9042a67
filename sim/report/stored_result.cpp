// SPDX-License-Identifier: MIT
#include "sim/report/stored_result.hpp"

#include <algorithm>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/output/provenance.hpp"
#include "sim/text.hpp"

namespace arris {
namespace {

std::vector<std::string> lines_in(const std::string& text) {
  std::vector<std::string> lines;
  if (text.empty()) return lines;
  for (std::size_t at = 0;;) {
    const std::size_t end = std::min(text.find('\n', at), text.size());
    lines.push_back(text.substr(at, end - at));
    if (end == text.size()) return lines;
    at = end + 1;
  }
}

// those that are not named in the order, such as the axis, fall away
std::vector<AnswerColumn> in_order(std::vector<AnswerColumn> columns, const std::vector<std::string>& order,
                                   const std::vector<std::string>& heads) {
  std::vector<AnswerColumn> ordered;
  for (std::size_t i = 0; i < order.size(); ++i) {
    const auto found = std::find_if(columns.begin(), columns.end(),
                                    [&](const AnswerColumn& c) { return c.name == order[i]; });
    if (found == columns.end()) continue;
    found->head = i < heads.size() ? heads[i] : "";
    ordered.push_back(std::move(*found));
  }
  return ordered;
}

void take_group(StoredGroup group, StoredResult& into) {
  const std::string&             key   = group.path;
  const std::vector<std::string> order = key.empty() ? std::vector<std::string>{} : lines_in(group.columns);
  AnswerTable                    table;
  table.name    = key;
  table.says    = group.says;
  table.columns = std::move(group.along_one);
  for (AnswerColumn& grid : group.along_two) {
    const std::string name = key + "/" + grid.name;
    into.grids.emplace(name, std::move(grid));
  }
  if (!order.empty()) table.columns = in_order(std::move(table.columns), order, lines_in(group.heads));
  // groups with data along two axes have columns along each
  const bool is_one_table = key != "map" && key != "draws" && key != "parameters" &&
                            key.rfind("laws/", 0) != 0 && key.rfind("posterior/", 0) != 0;
  if (is_one_table || !order.empty()) {
    for (const AnswerColumn& c : table.columns) {
      if (c.size() != table.rows())
        into.refuse(fmt::format("columns of /{} are not of one length", printable(key)));
    }
  }
  if (!table.columns.empty()) into.tables.emplace(key, std::move(table));
}

}  // namespace

const AnswerTable* StoredResult::table(const std::string& path) const {
  const auto found = tables.find(path);
  return found == tables.end() ? nullptr : &found->second;
}

void StoredResult::refuse(const std::string& what) const {
  throw Error(Exit::data, {.code  = "not-a-result",
                           .what  = what,
                           .cause = "Another program may have written it, or another version of this one.",
                           .next  = "Make the result anew.",
                           .file  = file});
}

const AnswerTable& StoredResult::needed(const std::string& path, std::size_t rows) const {
  const AnswerTable* found = table(path);
  if (found == nullptr || found->rows() < rows)
    refuse(fmt::format("the result has {} /{}", found == nullptr ? "no group" : "too few rows in",
                       printable(path)));
  return *found;
}

const std::vector<double>& StoredResult::column(const std::string& path, const std::string& name) const {
  for (const AnswerColumn& c : needed(path).columns) {
    if (c.name == name && !c.is_text()) return c.numbers;
  }
  refuse(fmt::format("the result has no numbers /{}/{}", printable(path), printable(name)));
}

const std::vector<std::string>& StoredResult::words(const std::string& path, const std::string& name) const {
  for (const AnswerColumn& c : needed(path).columns) {
    if (c.name == name && c.is_text()) return c.texts;
  }
  refuse(fmt::format("the result has no texts /{}/{}", printable(path), printable(name)));
}

bool StoredResult::has_column(const std::string& path, const std::string& name) const {
  const AnswerTable* found = table(path);
  return found != nullptr && std::any_of(found->columns.begin(), found->columns.end(),
                                         [&](const AnswerColumn& c) { return c.name == name; });
}

std::string StoredResult::origin(const std::string& name) const {
  for (const auto& [key, text] : provenance) {
    if (key == name) return text;
  }
  return {};
}

StoredResult stored_result(const std::string& file, std::map<std::string, std::string> texts,
                           const std::map<std::string, double>& numbers, std::vector<StoredGroup> groups) {
  StoredResult result;
  result.file    = file;
  result.numbers = numbers;
  if (texts.count("kind") == 0 || texts["Conventions"].rfind("arris-", 0) != 0)
    throw Error(Exit::data, {.code = "not-a-result",
                             .what = "this is no result of arris",
                             .next = "Write one: arris simulate FILE --out result.h5",
                             .file = result.file});
  const auto taken = [&](const std::string& name) {
    const auto  found = texts.find(name);
    std::string text  = found == texts.end() ? std::string{} : found->second;
    texts.erase(name);
    return text;
  };
  result.kind            = taken("kind");
  result.title           = taken("title");
  result.answer.kind     = result.kind;
  result.answer.headline = taken("headline");
  result.answer.remarks  = lines_in(taken("remarks"));
  result.answer.cautions = lines_in(taken("cautions"));
  for (const std::string& about : lines_in(taken("remarks_about")))
    result.answer.about.push_back(about == "certainty" ? About::certainty
                                  : about == "next"    ? About::next
                                                       : About::more);
  for (const auto& [name, text] : entries_of(Provenance{})) result.provenance.emplace_back(name, taken(name));
  result.answer.rests_on = result.origin("rests_on");
  for (const char* of_file : {"Conventions", "history"}) texts.erase(of_file);
  result.numbers.erase("schema_version");
  result.texts = std::move(texts);
  for (const auto& [name, value] : result.numbers) result.answer.settings.emplace_back(name, value);
  for (StoredGroup& group : groups) take_group(std::move(group), result);
  for (const auto& [key, table] : result.tables) {
    if (key.find('/') == std::string::npos) result.answer.tables.push_back(table);
  }
  return result;
}

}  // namespace arris
