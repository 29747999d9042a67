// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <vector>

/// What the columns of a readings file mean, in one place: for the sheet beside readings in a workbook, and for messages.
namespace arris {

struct ReadingsColumn {
  std::string_view name;
  std::string_view units;  ///< empty where it is text
  std::string_view says;
  bool             is_number = false;
};

/// In the order in which a readings file has them.
[[nodiscard]] const std::vector<ReadingsColumn>& readings_column_list();

/// "gram-force"; in words, so that no row of a sheet that explains columns can be taken for heads of readings.
[[nodiscard]] std::string unit_in_words(const ReadingsColumn& column);

}  // namespace arris
