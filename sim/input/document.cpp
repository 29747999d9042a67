// SPDX-License-Identifier: MIT
#include "sim/input/document.hpp"

#include <algorithm>
#include <cctype>
#include <sstream>
#include <tuple>

#include <fmt/format.h>

namespace arris {
namespace {

Diagnostic placed(const Document& document, const toml::source_region& where, int width, Diagnostic d) {
  d.file   = document.file;
  d.line   = static_cast<int>(where.begin.line);
  d.column = static_cast<int>(where.begin.column);
  if (d.line >= 1 && d.line <= static_cast<int>(document.lines.size())) {
    d.line_text     = printable(document.lines[static_cast<std::size_t>(d.line - 1)]);
    const int room  = characters(d.line_text) - d.column + 1;
    const int ended = where.end.line == where.begin.line && where.end.column > where.begin.column
                          ? static_cast<int>(where.end.column - where.begin.column)
                          : 1;
    d.width         = std::clamp(width > 0 ? width : ended, 1, std::max(room, 1));
  }
  return d;
}

// optimal string alignment distance on lower-cased bytes
std::size_t distance(std::string_view a, std::string_view b) {
  std::vector<std::vector<std::size_t>> d(a.size() + 1, std::vector<std::size_t>(b.size() + 1));
  for (std::size_t i = 0; i <= a.size(); ++i) d[i][0] = i;
  for (std::size_t j = 0; j <= b.size(); ++j) d[0][j] = j;
  const auto lower = [](char c) { return std::tolower(static_cast<unsigned char>(c)); };
  for (std::size_t i = 1; i <= a.size(); ++i) {
    for (std::size_t j = 1; j <= b.size(); ++j) {
      const bool same = lower(a[i - 1]) == lower(b[j - 1]);
      d[i][j]         = std::min({d[i - 1][j] + 1, d[i][j - 1] + 1, d[i - 1][j - 1] + (same ? 0 : 1)});
      if (i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) && lower(a[i - 2]) == lower(b[j - 1])) {
        d[i][j] = std::min(d[i][j], d[i - 2][j - 2] + 1);
      }
    }
  }
  return d[a.size()][b.size()];
}

}  // namespace

int characters(std::string_view text) {
  return static_cast<int>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

std::string printable(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto u = static_cast<unsigned char>(c);
    if (c == '\t') {
      out += ' ';
    } else if (u < 0x20 || u == 0x7f) {
      out += fmt::format("\\x{:02x}", u);
    } else {
      out += c;
    }
  }
  return out;
}

std::string nearest(std::string_view word, const std::vector<std::string>& known) {
  std::string best;
  std::size_t least = std::max<std::size_t>(2, word.size() / 3) + 1;
  for (const std::string& candidate : known) {
    const std::size_t d = distance(word, candidate);
    if (d < least) {
      least = d;
      best  = candidate;
    }
  }
  if (best.empty() && word.size() >= 3) {  // part of a name: "oak" for "white oak"
    std::string lower(word);
    std::transform(lower.begin(), lower.end(), lower.begin(), [](unsigned char c) { return std::tolower(c); });
    for (const std::string& candidate : known) {
      if (candidate.find(lower) != std::string::npos) return candidate;
    }
  }
  return best;
}

std::string listed(const std::vector<std::string>& items, std::size_t most) {
  std::string out;
  for (std::size_t i = 0; i < items.size() && i < most; ++i) {
    if (i > 0) out += i + 1 == items.size() ? " or " : ", ";
    out += items[i];
  }
  if (items.size() > most) out += fmt::format(" … and {} more", items.size() - most);
  return out;
}

Document parse_document(std::string file, std::string_view text) {
  Document document;
  document.file = std::move(file);
  std::istringstream stream{std::string(text)};
  for (std::string line; std::getline(stream, line);) {
    if (!line.empty() && line.back() == '\r') line.pop_back();
    document.lines.push_back(line);
  }
  try {
    document.root = toml::parse(text, document.file);
  } catch (const toml::parse_error& e) {
    throw Error(Exit::usage,
                placed(document, e.source(), 1,
                       {.code = "syntax",
                        .what = fmt::format("this is not valid TOML: {}", printable(e.description())),
                        .next = "Text stands in \"quotes\", numbers have a decimal point and no unit, and each key "
                                "appears once."}));
  }
  return document;
}

void Findings::add(const Document& document, const toml::source_region& where, int width, Diagnostic diagnostic) {
  errors_.push_back(placed(document, where, width, std::move(diagnostic)));
}
void Findings::add(const Document& document, const toml::node& node, Diagnostic diagnostic) {
  add(document, node.source(), 0, std::move(diagnostic));
}
void Findings::add(const Document& document, const toml::key& key, Diagnostic diagnostic) {
  add(document, key.source(), characters(key.str()), std::move(diagnostic));
}
void Findings::warn(const Document& document, const toml::node& node, Diagnostic diagnostic) {
  warnings_.push_back(placed(document, node.source(), 0, std::move(diagnostic)));
}

void Findings::throw_if_any() {
  if (errors_.empty()) return;
  std::stable_sort(errors_.begin(), errors_.end(), [](const Diagnostic& a, const Diagnostic& b) {
    return a.file == b.file && std::tie(a.line, a.column) < std::tie(b.line, b.column);
  });
  throw Error(Exit::usage, std::move(errors_));
}

}  // namespace arris
