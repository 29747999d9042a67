// SPDX-License-Identifier: MIT
#include "sim/text.hpp"

#include <algorithm>
#include <cctype>

#include <fmt/format.h>

#include "sim/utf8.hpp"

namespace arris {
namespace {

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

// the character of three bytes at the beginning of `text`, where it is one that nobody sees and that turns what stands around it
// (U+200B … U+200F, U+2028 … U+202E, U+2060 … U+206F, U+FEFF); 0 otherwise
int shifter(std::string_view text) {
  if (text.size() < 3) return 0;
  const auto byte = [&](std::size_t i) { return static_cast<int>(static_cast<unsigned char>(text[i])); };
  if ((byte(0) & 0xF0) != 0xE0) return 0;
  const int  c      = (byte(0) & 0x0F) << 12 | (byte(1) & 0x3F) << 6 | (byte(2) & 0x3F);
  const bool shifts = (c >= 0x200B && c <= 0x200F) || (c >= 0x2028 && c <= 0x202E) ||
                      (c >= 0x2060 && c <= 0x206F) || c == 0xFEFF;
  return shifts ? c : 0;
}

}  // namespace

int characters(std::string_view text) {
  return static_cast<int>(std::count_if(
      text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}

std::string printable(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const std::size_t      length    = utf8_length(text);
    const std::string_view character = text.substr(0, std::max<std::size_t>(1, length));
    const auto             last      = static_cast<unsigned char>(character.back());
    const int              shifts    = shifter(character);
    if (character == "\t") {
      out += ' ';
    } else if (length == 0 || (length == 1 && (last < 0x20 || last == 0x7f)) ||
               (length == 2 && character.front() == '\xC2' && last < 0xA0)) {  // the last: U+0080 … U+009F
      out += fmt::format("\\x{:02x}", last);
    } else if (shifts > 0) {
      out += fmt::format("\\u{:04x}", shifts);
    } else {
      out += character;
    }
    text.remove_prefix(character.size());
  }
  return out;
}

std::vector<std::string> parts_of_list(std::string_view list, char separator) {
  std::vector<std::string> parts(1);
  std::size_t              kept    = 0;  // bytes of the part that are no blanks at its end
  bool                     quoted  = false;
  const auto               end_one = [&] {
    parts.back().resize(kept);
    kept = 0;
  };
  for (std::size_t i = 0; i < list.size(); ++i) {
    std::string& part = parts.back();
    const char   c    = list[i];
    if (c == '"' && quoted && i + 1 < list.size() && list[i + 1] == '"') {
      part += list[++i];
      kept = part.size();
    } else if (c == '"' && (quoted || part.empty())) {
      quoted = !quoted;
    } else if (c == separator && !quoted) {
      end_one();
      parts.emplace_back();
    } else if (quoted || (c != ' ' && c != '\t')) {
      part += c;
      kept = part.size();
    } else if (!part.empty()) {
      part += c;
    }
  }
  end_one();
  return parts;
}

std::string nearest(std::string_view word, const std::vector<std::string>& known) {
  if (word.size() > 200) return {};  // no name is that long, and comparing takes time and memory
  std::string best;
  std::size_t least = (word.size() < 4 ? word.size() / 2 : std::max<std::size_t>(2, word.size() / 3)) + 1;
  for (const std::string& candidate : known) {
    const std::size_t d = distance(word, candidate);
    if (d < least) {
      least = d;
      best  = candidate;
    }
  }
  if (best.empty() && word.size() >= 3) {  // part of a name: "oak" for "white oak"
    std::string lower(word);
    std::transform(lower.begin(), lower.end(), lower.begin(),
                   [](unsigned char c) { return std::tolower(c); });
    for (const std::string& candidate : known) {
      if (candidate.find(lower) != std::string::npos) return candidate;
    }
  }
  return best;
}

}  // namespace arris
