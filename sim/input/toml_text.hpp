// SPDX-License-Identifier: MIT
#pragma once

#include <algorithm>
#include <string>
#include <string_view>
#include <type_traits>

#include <fmt/format.h>

/// Values as a configuration writes them.
namespace arris {

/// A basic string in its quotes.
[[nodiscard]] inline std::string toml_string(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    if (c == '"' || c == '\\') out += '\\';
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) {
      out += fmt::format("\\u{:04x}", static_cast<unsigned char>(c));
    } else {
      out += c;
    }
  }
  return out + "\"";
}

/// A key, in quotes where it needs them.
[[nodiscard]] inline std::string toml_key(std::string_view key) {
  const bool bare = !key.empty() && std::all_of(key.begin(), key.end(), [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '_' || c == '-';
  });
  return bare ? std::string(key) : toml_string(key);
}

/// The shortest decimal that reads back to the same double, always recognisable as a number.
[[nodiscard]] inline std::string toml_number(double value) { return fmt::format("{}", value); }

/// A member of a table or a step.
template <class M>
[[nodiscard]] std::string toml_value(const M& member) {
  if constexpr (std::is_same_v<M, std::string>) {
    return toml_string(member);
  } else if constexpr (std::is_same_v<M, bool>) {
    return member ? "true" : "false";
  } else if constexpr (std::is_same_v<M, int>) {
    return std::to_string(member);
  } else {
    return toml_number(member);
  }
}

}  // namespace arris
