// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

namespace arris {
struct Arguments;
struct Loaded;
}  // namespace arris

/// What a command says on standard error of what it has read, unless --quiet is set.
namespace arris::cli {

/// What readings were taken for, a note each.
void tell_said(const Arguments& arguments, const std::vector<std::string>& said);

/// What in a configuration is allowed but seldom meant.
void tell_warnings(const Arguments& arguments, const Loaded& loaded);

}  // namespace arris::cli
