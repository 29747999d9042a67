// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>

#include <nlohmann/json.hpp>

/// A configuration as a tree that the page edits, and back to TOML. The tree has the tables and keys of the text in the order of
/// the text; remarks (`#`) are not in it. What JSON cannot say (inf, nan, dates) is an object with the one key "toml literal".
namespace arris::page {

using Json = nlohmann::ordered_json;

/// Throws Error (Exit::usage, "syntax") with line and column.
[[nodiscard]] Json tree_of(const std::string& file, std::string_view text);

/// TOML that parses to the same tree. Throws Error (Exit::usage, "bad-tree") for what no configuration can hold, such as null.
[[nodiscard]] std::string toml_of(const Json& tree);

}  // namespace arris::page
