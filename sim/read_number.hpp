// SPDX-License-Identifier: MIT
#pragma once

#include <charconv>

#ifndef __cpp_lib_to_chars
#include <cstdlib>
#include <string>
#endif

namespace arris {

/// std::from_chars of a decimal number: no blanks before it, no sign +, a decimal point whatever the locale. Browser modules are
/// built with a library that has it for whole numbers only; there the same grammar is checked here and strtod reads the digits,
/// which has no locale there.
inline std::from_chars_result read_number(const char* first, const char* last, double& value) {
#ifdef __cpp_lib_to_chars
  return std::from_chars(first, last, value);
#else
  const auto is_digit = [&](const char* p) { return p != last && *p >= '0' && *p <= '9'; };
  const auto digits   = [&](const char* p) {
    while (is_digit(p)) ++p;
    return p;
  };
  const char* const start = first != last && *first == '-' ? first + 1 : first;
  const char*       p     = digits(start);
  bool              any   = p != start;
  if (p != last && *p == '.') {
    const char* const behind = digits(p + 1);
    any                      = any || behind != p + 1;
    p                        = behind;
  }
  if (!any) return {first, std::errc::invalid_argument};
  if (p != last && (*p == 'e' || *p == 'E')) {
    const char* exponent = p + 1;
    if (exponent != last && (*exponent == '-' || *exponent == '+')) ++exponent;
    if (is_digit(exponent)) p = digits(exponent);
  }
  const double read = std::strtod(std::string(first, p).c_str(), nullptr);
  if (read > 1.7976931348623157e308 || read < -1.7976931348623157e308)
    return {p, std::errc::result_out_of_range};
  value = read;
  return {p, std::errc{}};
#endif
}

}  // namespace arris
