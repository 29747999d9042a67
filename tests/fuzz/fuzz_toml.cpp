// SPDX-License-Identifier: MIT
// A configuration: it is refused with a place, or it loads, and then what `arris check` would print loads to the same.
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <sstream>
#include <string>
#include <utility>

#include "sim/input/loader.hpp"

namespace {

// a remark says which route an edge followed, and is not read again
std::string without_remarks(const std::string& text) {
  std::istringstream stream(text);
  std::string        out;
  for (std::string line; std::getline(stream, line);) {
    if (line.rfind('#', 0) != 0) out += line + "\n";
  }
  return out;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace arris;
  const std::string text(reinterpret_cast<const char*>(data), size);
  Loaded            loaded;
  try {
    // one file that may be included, itself by name, so that cycles can be found
    loaded =
        load_scenario("f.toml", text,
                      [&](const std::string&,
                          const std::string& name) -> std::optional<std::pair<std::string, std::string>> {
                        if (name != "f.toml" && name != "g.toml") return std::nullopt;
                        return std::make_pair(name, name == "f.toml" ? text : "include = [\"f.toml\"]\n");
                      });
  } catch (const Error& error) {
    for (const Diagnostic& d : error.diagnostics()) (void)d.text();
    return 0;
  }
  const std::string resolved = without_remarks(resolved_toml(loaded, false));
  try {
    const std::string again = without_remarks(resolved_toml(load_scenario("resolved.toml", resolved), false));
    if (again == resolved) return 0;
    std::fprintf(stderr, "--- resolved\n%s\n--- and again\n%s\n", resolved.c_str(), again.c_str());
  } catch (const Error& error) {
    std::fprintf(stderr, "--- resolved\n%s\n--- %s\n", resolved.c_str(), error.what());
  }
  std::abort();
}
