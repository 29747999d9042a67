// SPDX-License-Identifier: MIT
#include "sim/diagnostic.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/report/stored_result.hpp"
#include "sim/stop.hpp"

namespace arris {
namespace {

constexpr std::size_t most_of_a_grid = 1'000'000;

// a group of a file and all below it
void read_groups(const Hdf5Reader& reader, const std::string& path, std::vector<StoredGroup>& into) {
  const std::string here = path.empty() ? "/" : path;
  StoredGroup       group;
  group.path = path.empty() ? "" : path.substr(1);
  for (const auto& a : reader.attributes(here)) {
    if (a.name == "long_name") group.says = a.text;
    if (a.name == "columns") group.columns = a.text;
    if (a.name == "heads") group.heads = a.text;
  }
  for (const auto& set : reader.data_sets(here)) {
    stop_if_wished();
    AnswerColumn column;
    column.name  = set.name;
    column.units = set.is_text ? "" : (set.units.empty() ? "1" : set.units);
    column.says  = set.long_name;
    column.head  = set.name;
    if (set.rank == 1) {
      if (set.is_text) {
        column.texts = reader.texts(path + "/" + set.name);
      } else {
        column.numbers = reader.numbers(path + "/" + set.name);
      }
      group.along_one.push_back(std::move(column));
    } else if (set.rank == 2 && !set.is_text) {
      column.numbers = reader.numbers(path + "/" + set.name);
      if (column.numbers.size() <= most_of_a_grid) group.along_two.push_back(std::move(column));
    }
  }
  into.push_back(std::move(group));
  for (const std::string& child : reader.groups(here)) read_groups(reader, path + "/" + child, into);
}

}  // namespace

StoredResult read_result(const std::filesystem::path& path) {
  if (!std::filesystem::is_regular_file(path))
    throw Error(Exit::data,
                {.code = "no-such-file", .what = "the result cannot be read", .file = path.string()});
  const Hdf5Reader                   reader(path);
  std::map<std::string, std::string> texts;
  std::map<std::string, double>      numbers;
  for (const auto& a : reader.attributes("/")) {
    if (a.is_text) {
      texts[a.name] = a.text;
    } else {
      numbers[a.name] = a.number;
    }
  }
  std::vector<StoredGroup> groups;
  read_groups(reader, "", groups);
  return stored_result(path.string(), std::move(texts), numbers, std::move(groups));
}

}  // namespace arris
