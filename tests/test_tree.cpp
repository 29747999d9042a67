// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "tests/desk.hpp"

using namespace arris::desk;
namespace fs = std::filesystem;

TEST_CASE("includes go only upwards in the list of folders in DEVELOPERS.md", "[tree]") {
  const fs::path           root = ARRIS_SOURCE_DIR;
  std::vector<std::string> order;
  for (const std::string& line : lines(contents(root / "DEVELOPERS.md"))) {
    std::smatch row;
    if (std::regex_search(line, row, std::regex("^\\| `sim/([a-z]+)` \\|"))) order.push_back(row[1]);
  }
  const auto place = [&](const std::string& folder) {
    return std::find(order.begin(), order.end(), folder) - order.begin();
  };
  std::set<std::string> folders;
  int                   includes = 0;
  for (const auto& entry : fs::recursive_directory_iterator(root / "sim")) {
    const fs::path within = fs::relative(entry.path(), root / "sim");
    if (!entry.is_regular_file() || within.begin() == --within.end())
      continue;  // beside the folders: for all
    const std::string folder = within.begin()->string();
    folders.insert(folder);
    if (entry.path().extension() != ".hpp" && entry.path().extension() != ".cpp") continue;
    for (const std::string& line : lines(contents(entry.path()))) {
      std::smatch include;
      if (!std::regex_search(line, include, std::regex("^#include \"sim/([a-z]+)/"))) continue;
      ++includes;
      INFO(within.string() << ": " << line);
      CHECK(place(include[1]) <= place(folder));
    }
  }
  CHECK(includes > 100);
  CHECK(folders == std::set<std::string>(order.begin(), order.end()));
}
