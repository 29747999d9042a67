// SPDX-License-Identifier: MIT
#include "sim/ask/arguments.hpp"

#include <algorithm>
#include <cctype>
#include <charconv>
#include <string_view>

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/read_number.hpp"
#include "sim/text.hpp"
#include "sim/utf8.hpp"

namespace arris {

std::optional<std::string> Arguments::text(const std::string& name) const {
  const auto found = values.find(name);
  return found == values.end() ? std::nullopt : std::optional<std::string>(found->second);
}

std::vector<std::string> Arguments::texts(const std::string& name) const {
  const auto found = lists.find(name);
  return found == lists.end() ? std::vector<std::string>{} : found->second;
}

long long Arguments::integer(const std::string& name, long long otherwise, long long low,
                             long long high) const {
  const auto given = text(name);
  if (!given) return otherwise;
  long long value         = 0;
  const auto [end, error] = std::from_chars(given->data(), given->data() + given->size(), value);
  if (error != std::errc{} || end != given->data() + given->size() || value < low || value > high) {
    throw Error(Exit::usage,
                {.code    = "bad-option",
                 .what    = fmt::format("{} {} must be a whole number", shown(name), printable(*given)),
                 .allowed = fmt::format("{} … {}", low, high)});
  }
  return value;
}

double Arguments::number(const std::string& name, double otherwise, double low, double high) const {
  const auto given = text(name);
  if (!given) return otherwise;
  double value            = 0.0;
  const auto [end, error] = read_number(given->data(), given->data() + given->size(), value);
  if (error != std::errc{} || end != given->data() + given->size() || !(value >= low && value <= high)) {
    throw Error(Exit::usage, {.code = "bad-option",
                              .what = fmt::format("{} {} must be a number", shown(name), printable(*given)),
                              .allowed = fmt::format("{:g} … {:g}", low, high)});
  }
  return value;
}

std::string Arguments::shown(const std::string& name) const {
  if (is_command_line) return "--" + name;
  std::string keyword = name;
  std::replace(keyword.begin(), keyword.end(), '-', '_');
  return keyword;
}

std::string shell_word(const std::string& word) {
  const auto plain = [](char c) {
    return std::isalnum(static_cast<unsigned char>(c)) != 0 || (c & 0x80) != 0 ||
           std::string_view("-_./,:=@%+").find(c) != std::string_view::npos;
  };
  const bool is_shown = printable(word) == word;
  if (!word.empty() && is_shown && std::all_of(word.begin(), word.end(), plain)) return word;
  // bytes that a terminal or a page cannot show are written as numbers, in the quotes that take them
  if (!is_shown) {
    std::string safe = "$'";
    for (std::string_view rest = word; !rest.empty();) {
      const std::string_view character = rest.substr(0, std::max<std::size_t>(1, utf8_length(rest)));
      if (character == "'" || character == "\\") {
        safe += "\\";
        safe += character;
      } else if (printable(character) == character) {
        safe += character;
      } else {
        for (const char c : character) safe += fmt::format("\\x{:02x}", static_cast<unsigned char>(c));
      }
      rest.remove_prefix(character.size());
    }
    return safe + "'";
  }
  std::string safe = "'";
  for (const char c : word) safe += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return safe + "'";
}

std::vector<std::string> names_in(const std::string& list) {
  std::vector<std::string> names = parts_of_list(list, ',');
  std::erase(names, std::string{});
  return names;
}

}  // namespace arris
