// SPDX-License-Identifier: MIT
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// Dates as people and spreadsheets write them, turned into YYYY-MM-DD.
namespace arris {

/// How the dates of a column are written. Year first needs no statement: nobody writes year, day, month.
enum class DateOrder { unstated, day_first, month_first, days_since_1900, days_since_1904 };

/// A date as it is written, before its order is known.
struct WrittenDate {
  int    first = 0, second = 0;  ///< of day and month, in the order in which they stand
  int    year       = 0;
  bool   year_first = false;
  bool   has_points = false;  ///< 3.6.2025, which is written with the day first only
  double days       = 0.0;    ///< instead of all these: a number of days
  bool   is_days    = false;
};

/// Day 0 of the two ways in which spreadsheets count days, in days since 1970-01-01. Excel's first way counts a 29 February 1900 that
/// never was, so that its day 0 is 1899-12-30 for all days from 1 March 1900 on.
/// Source: ECMA-376 part 1, 18.17.4.1 (from memory).
inline constexpr int zero_day_1900 = -25569, zero_day_1904 = -24107;

/// Takes "2025-06-03", "3.6.2025", "3/6/2025", each with a time of day behind it or not, and numbers of days; nothing for anything else,
/// a year of two digits too.
[[nodiscard]] std::optional<WrittenDate> written_date(std::string_view text);

/// "2025-06-03"; empty where there is no such day, or the year is not in 1900 … 2199.
[[nodiscard]] std::string iso_date(int year, int month, int day);

/// So many days after the day 0 (in days since 1970-01-01), a fraction of a day left out; empty for days before March 1900 and after 2199.
[[nodiscard]] std::string date_of_days(double days, int zero_day);

/// A written date in that order; `zero_day` is that of numbers of days. Empty where it is no date in that order.
[[nodiscard]] std::string date_text(const WrittenDate& date, DateOrder order, std::optional<int> zero_day);

/// Whether a text is a date as this program writes it: YYYY-MM-DD, a day that there is.
[[nodiscard]] bool is_iso_date(std::string_view text);

}  // namespace arris
