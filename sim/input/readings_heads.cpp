// SPDX-License-Identifier: MIT
#include "sim/input/readings_heads.hpp"

#include <algorithm>
#include <array>
#include <utility>

#include "sim/input/document.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/text.hpp"

namespace arris {
namespace {

// other words for columns; "day" is not among them, as it may be a date or any name of a day
constexpr std::array<std::pair<std::string_view, std::string_view>, 33> other_heads = {{
    {"part", "part"},
    {"edge name", "edge"},
    {"blade", "edge"},
    {"label", "code"},
    {"moment", "step"},
    {"when", "step"},
    {"pass count", "passes"},
    {"number of passes", "passes"},
    {"reading", "reading"},
    {"readings", "reading"},
    {"tester reading", "reading"},
    {"force", "reading"},
    {"gf", "reading_gf"},
    {"repeat", "replicate"},
    {"rep", "replicate"},
    {"reader", "operator"},
    {"read by", "operator"},
    {"taken by", "operator"},
    {"by", "operator"},
    {"who", "operator"},
    {"who read", "operator"},
    {"initials", "operator"},
    {"lot", "filament_lot"},
    {"filament", "filament_lot"},
    {"read on", "date"},
    {"taken on", "date"},
    {"session", "test_day"},
    {"notes", "note"},
    {"remark", "note"},
    {"remarks", "note"},
    {"comment", "note"},
    {"comments", "note"},
    {"left out", "excluded"},
}};

// lower case, one blank between words, brackets as blanks, µ as u
std::string plain_head(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    // the micro sign and the Greek letter
    if (text.substr(i, 2) == "\xC2\xB5" || text.substr(i, 2) == "\xCE\xBC") {
      out += 'u';
      ++i;
      continue;
    }
    const char c        = text[i];
    const bool is_blank = std::string_view(" \t_-()[]{}/,.:").find(c) != std::string_view::npos;
    if (is_blank) {
      if (!out.empty() && out.back() != ' ') out += ' ';
    } else {
      out += c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    }
  }
  return trimmed(out);
}

// the word of a unit at the end of a head, in small letters
std::string unit_at_end(std::string_view plain) {
  const std::size_t at   = plain.rfind(' ');
  std::string       last = std::string(at == std::string_view::npos ? plain : plain.substr(at + 1));
  if (last == "gf" || last == "g") return last;
  if (last == "n") return "N";
  return {};
}

std::string known_column(const std::string& plain) {
  for (const std::string& column : readings_columns()) {
    if (plain_head(column) == plain) return column;
  }
  for (const auto& [head, column] : other_heads) {
    if (head == plain) return std::string(column);
  }
  return {};
}

}  // namespace

Head head_of(std::string_view text) {
  const std::string plain = plain_head(text);
  Head              head{known_column(plain), unit_at_end(plain), plain, {}};
  if (!head.unit.empty()) {
    head.name = trimmed(std::string_view(plain).substr(0, plain.size() - head.unit.size()));
    if (head.name.size() > 3 && head.name.substr(head.name.size() - 3) == " in")
      head.name = trimmed(std::string_view(head.name).substr(0, head.name.size() - 3));
    const std::string without = head.name.empty() ? "reading" : known_column(head.name);
    if (without == "reading") head.column = head.unit == "N" ? "reading_N" : "reading_gf";
  }
  if (!head.column.empty() || plain.size() < 6) return head;
  std::vector<std::string> known;
  for (const std::string& column : readings_columns()) known.push_back(plain_head(column));
  known.emplace_back("reading");
  const std::string near = nearest(plain, known);
  if (!near.empty()) head.near = known_column(near);
  return head;
}

int recognised(const std::vector<std::string>& heads) {
  return static_cast<int>(std::count_if(
      heads.begin(), heads.end(), [](const std::string& head) { return !head_of(head).column.empty(); }));
}

}  // namespace arris
