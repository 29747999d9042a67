// SPDX-License-Identifier: MIT
#include "sim/input/by_cause.hpp"

#include <cstddef>
#include <map>
#include <string>
#include <tuple>

#include <fmt/format.h>

#include "sim/wording.hpp"

namespace arris {

std::vector<Diagnostic> by_cause(const std::vector<Diagnostic>& faults) {
  std::vector<Diagnostic>                                                  out;
  std::map<std::tuple<std::string, std::string, std::string>, std::size_t> first;  // index into out
  std::map<std::size_t, std::vector<std::string>>                          lines;  // of the others
  for (const Diagnostic& d : faults) {
    const auto [place, is_new] = first.emplace(std::tuple(d.file, d.code, d.what), out.size());
    if (is_new || d.line == 0) {
      out.push_back(d);
    } else if (d.line == out[place->second].line) {
      continue;
    } else if (auto& others = lines[place->second];
               others.empty() || others.back() != std::to_string(d.line)) {
      others.push_back(std::to_string(d.line));
    }
  }
  constexpr std::size_t most = 8;  // lines that are listed
  for (const auto& [at, others] : lines) {
    std::string& cause = out[at].cause;
    std::string  said  = fmt::format("The same in line{} ", others.size() == 1 ? "" : "s");
    if (others.size() <= most) {
      said += and_list(others);
    } else {
      said += fmt::format("{} and {} more", fmt::join(others.begin(), others.begin() + most, ", "),
                          others.size() - most);
    }
    cause += (cause.empty() ? "" : " ") + said + ".";
  }
  return out;
}

}  // namespace arris
