// SPDX-License-Identifier: MIT
#pragma once

#include <bit>
#include <cstdint>
#include <filesystem>
#include <fstream>
#include <functional>
#include <map>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <unistd.h>

#include "sim/input/document.hpp"
#include "sim/input/loader.hpp"

/// What the tests of files and messages share: small configurations, the errors they bring, a folder to write in.
namespace arris::desk {

/// Lines 1 to 6 of a configuration: one plane iron.
inline const std::string iron =
    "[tool.iron]\n"
    "steel = \"O1\"\n"
    "width_mm = 50\n"
    "thickness_mm = 3\n"
    "primary_bevel_deg = 25\n"
    "micro_bevel_deg = 30\n";

inline const std::string one_hone = "{ hone = \"soft waterstone, JIS #1000\", strokes = 20 },";

/// `tool`, then an edge A of the tool "iron" whose steps stand on a line of their own: line 10, from column 3, when
/// `tool` has six lines.
[[nodiscard]] inline std::string shop(const std::string& steps, const std::string& tool = iron) {
  return tool + "[edge.A]\ntool = \"iron\"\nsteps = [\n  " + steps + "\n]\n";
}

/// `text` with the first `old` in it replaced.
[[nodiscard]] inline std::string with(std::string text, const std::string& old, const std::string& now) {
  const auto at = text.find(old);
  if (at == std::string::npos) throw std::logic_error("no \"" + old + "\" to replace");
  return text.replace(at, old.size(), now);
}

/// Files in memory, by name; names are not resolved against folders.
[[nodiscard]] inline Include shelf(std::map<std::string, std::string> files) {
  return
      [files = std::move(files)](
          const std::string&, const std::string& name) -> std::optional<std::pair<std::string, std::string>> {
        const auto found = files.find(name);
        if (found == files.end()) return std::nullopt;
        return std::make_pair(found->first, found->second);
      };
}

[[nodiscard]] inline Loaded load(const std::string&                        text,
                                 const std::map<std::string, std::string>& files = {}) {
  return load_scenario("shop.toml", text, shelf(files));
}

/// The error that `work` ends with; fails the test when it does not.
[[nodiscard]] inline Error error_of(const std::function<void()>& work) {
  try {
    work();
  } catch (const Error& error) {
    return error;
  }
  FAIL("no error came");
  throw std::logic_error("not reached");
}

[[nodiscard]] inline Error load_error(const std::string&                        text,
                                      const std::map<std::string, std::string>& files = {}) {
  return error_of([&] { (void)load(text, files); });
}

[[nodiscard]] inline std::vector<std::string> codes(const Error& error) {
  std::vector<std::string> out;
  for (const Diagnostic& d : error.diagnostics()) out.push_back(d.code);
  return out;
}

/// What the caret of a diagnostic stands under.
[[nodiscard]] inline std::string underlined(const Diagnostic& d) {
  std::string out;
  const int   first  = d.caret > 0 ? d.caret : d.column;
  int         column = 0;
  for (const char c : d.line_text) {
    if ((static_cast<unsigned char>(c) & 0xC0) != 0x80) ++column;
    if (column >= first && column < first + d.width) out += c;
  }
  return out;
}

/// A folder of its own, empty, that is gone at the end.
class Folder {
 public:
  Folder() {
    std::string pattern = (std::filesystem::temp_directory_path() / "arris-test-XXXXXX").string();
    if (::mkdtemp(pattern.data()) == nullptr) throw std::runtime_error("no folder to write in");
    path_ = pattern;
  }
  Folder(const Folder&)            = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code error;
    std::filesystem::permissions(path_, std::filesystem::perms::owner_all, error);
    std::filesystem::remove_all(path_, error);
  }
  [[nodiscard]] std::filesystem::path        operator/(const std::string& name) const { return path_ / name; }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }
  /// Names of what is in it, hidden files too, in order.
  [[nodiscard]] std::vector<std::string> names() const {
    std::vector<std::string> out;
    for (const auto& entry : std::filesystem::directory_iterator(path_))
      out.push_back(entry.path().filename());
    std::sort(out.begin(), out.end());
    return out;
  }

 private:
  std::filesystem::path path_;
};

inline void write(const std::filesystem::path& path, const std::string& text) {
  std::ofstream stream(path, std::ios::binary);
  stream << text;
  stream.close();
  if (!stream) throw std::runtime_error("cannot write " + path.string());
}

[[nodiscard]] inline std::string contents(const std::filesystem::path& path) {
  std::ifstream      stream(path, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  if (!stream) throw std::runtime_error("cannot read " + path.string());
  return text.str();
}

[[nodiscard]] inline std::vector<std::string> lines(const std::string& text) {
  std::istringstream       stream(text);
  std::vector<std::string> out;
  for (std::string line; std::getline(stream, line);) out.push_back(line);
  return out;
}

/// Equal to the last bit, NaN with NaN.
[[nodiscard]] inline bool same_bits(double a, double b) {
  return std::bit_cast<std::uint64_t>(a) == std::bit_cast<std::uint64_t>(b);
}

/// Whether two texts are the same; says where they part.
[[nodiscard]] inline bool same_text(const std::string& a, const std::string& b) {
  if (a == b) return true;
  const auto x = lines(a), y = lines(b);
  for (std::size_t i = 0; i < std::max(x.size(), y.size()); ++i) {
    const std::string left = i < x.size() ? x[i] : "(end)", right = i < y.size() ? y[i] : "(end)";
    if (left == right) continue;
    UNSCOPED_INFO("line " << i + 1 << "\n  " << left << "\n  " << right);
    break;
  }
  return false;
}

}  // namespace arris::desk
