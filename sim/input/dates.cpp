// SPDX-License-Identifier: MIT
#include "sim/input/dates.hpp"

#include <array>
#include <charconv>
#include <chrono>
#include <cmath>

#include <fmt/format.h>

#include "sim/input/document.hpp"
#include "sim/read_number.hpp"

namespace arris {
namespace {

// whole numbers with the same mark between them
struct DateParts {
  std::array<int, 3> values{};
  std::array<int, 3> digits{};
  char               mark = 0;
};

std::optional<DateParts> parts_of_date(std::string_view text) {
  DateParts   parts;
  const char* at  = text.data();
  const char* end = at + text.size();
  for (std::size_t i = 0; i < 3; ++i) {
    if (i > 0) {
      if (at == end || (*at != '-' && *at != '.' && *at != '/')) return std::nullopt;
      if (parts.mark != 0 && *at != parts.mark) return std::nullopt;
      parts.mark = *at++;
    }
    if (at == end || *at < '0' || *at > '9') return std::nullopt;
    const auto [next, error] = std::from_chars(at, end, parts.values[i]);
    if (error != std::errc{} || next - at > 4) return std::nullopt;
    parts.digits[i] = static_cast<int>(next - at);
    at              = next;
  }
  if (at != end) return std::nullopt;
  return parts;
}

// a date without the time of day behind it
std::string_view without_time(std::string_view text) {
  const std::size_t at = text.find_first_of("T ");
  if (at == std::string_view::npos) return text;
  const std::string_view time    = text.substr(at + 1);
  const bool             is_time = time.size() >= 4 && time.find(':') != std::string_view::npos &&
                       time.find_first_not_of("0123456789:.Z+-") == std::string_view::npos;
  return is_time ? text.substr(0, at) : text;
}

}  // namespace

std::optional<WrittenDate> written_date(std::string_view text) {
  WrittenDate date;
  if (const auto parts = parts_of_date(without_time(text))) {
    date.year_first = parts->digits[0] == 4;
    if (date.year_first) {
      if (parts->digits[1] > 2 || parts->digits[2] > 2) return std::nullopt;
      date.year   = parts->values[0];
      date.first  = parts->values[1];
      date.second = parts->values[2];
      return date;
    }
    if (parts->digits[0] > 2 || parts->digits[1] > 2 || parts->digits[2] != 4) return std::nullopt;
    date.first      = parts->values[0];
    date.second     = parts->values[1];
    date.year       = parts->values[2];
    date.has_points = parts->mark == '.';
    return date;
  }
  const auto [end, error] = read_number(text.data(), text.data() + text.size(), date.days);
  if (text.empty() || error != std::errc{} || end != text.data() + text.size() || !std::isfinite(date.days))
    return std::nullopt;
  date.is_days = true;
  return date;
}

std::string iso_date(int year, int month, int day) {
  if (year < 1900 || year > 2199 || month < 1 || day < 1) return {};
  const std::chrono::year_month_day date{std::chrono::year(year),
                                         std::chrono::month(static_cast<unsigned>(month)),
                                         std::chrono::day(static_cast<unsigned>(day))};
  return date.ok() ? fmt::format("{:04}-{:02}-{:02}", year, month, day) : std::string{};
}

std::string date_of_days(double days, int zero_day) {
  constexpr double first = -25508, last = 84005;  // 1900-03-01 and 2199-12-31
  const double     since_1970 = std::floor(days) + zero_day;
  if (!(since_1970 >= first && since_1970 <= last)) return {};
  const std::chrono::sys_days       day{std::chrono::days(static_cast<int>(since_1970))};
  const std::chrono::year_month_day date(day);
  return iso_date(static_cast<int>(date.year()), static_cast<int>(static_cast<unsigned>(date.month())),
                  static_cast<int>(static_cast<unsigned>(date.day())));
}

std::string date_text(const WrittenDate& date, DateOrder order, std::optional<int> zero_day) {
  if (date.is_days) return zero_day ? date_of_days(date.days, *zero_day) : std::string{};
  if (date.year_first) return iso_date(date.year, date.first, date.second);
  if (order == DateOrder::month_first) return iso_date(date.year, date.first, date.second);
  return iso_date(date.year, date.second, date.first);
}

bool is_iso_date(std::string_view text) {
  const auto parts = parts_of_date(text);
  return parts && parts->mark == '-' && parts->digits == std::array<int, 3>{4, 2, 2} &&
         !iso_date(parts->values[0], parts->values[1], parts->values[2]).empty();
}

}  // namespace arris
