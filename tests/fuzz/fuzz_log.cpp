// SPDX-License-Identifier: MIT
// A log, and a reading that is added to it: refused, or all its bytes stay, and what is read of it is one row more.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <map>
#include <string>

#include "sim/diagnostic.hpp"
#include "sim/input/readings_import.hpp"
#include "sim/input/readings_log.hpp"

namespace {

// what may be written down, by bits
std::map<std::string, std::string> row_of(std::uint8_t bits) {
  std::map<std::string, std::string> row{{"edge", bits & 1 ? "A" : "=b, \"c\""}};
  row[bits & 2 ? "reading_N" : "reading_gf"] = bits & 4 ? "1.5" : "176";
  if (bits & 8) row["date"] = "2025-06-03";
  if (bits & 16) row["step"] = "new";
  if (bits & 32) row["note"] = "two\nlines; \"and\" more";
  if (bits & 64) row["operator"] = "-K";
  if (bits & 128) row["replicate"] = "3";
  return row;
}

std::size_t rows_of(const std::string& text) {
  return arris::import_readings({{"log.csv", text}}, {.unit = "gf"}).table.rows.size();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const std::string text(reinterpret_cast<const char*>(data) + 1, size - 1);
  std::string       after;
  try {
    after = arris::with_row("log.csv", text.empty() ? arris::new_log("gf") : text, row_of(data[0]));
  } catch (const arris::Error& error) {
    for (const arris::Diagnostic& d : error.diagnostics()) (void)d.text();
    return 0;
  }
  if (after.compare(0, text.size(), text) != 0) std::abort();
  // what was taken once is a log again
  if (!text.empty() && rows_of(after) != rows_of(text) + 1) std::abort();
  const std::string twice = arris::with_row("log.csv", after, row_of(data[0]));
  if (twice.compare(0, after.size(), after) != 0 || rows_of(twice) != rows_of(after) + 1) std::abort();
  return 0;
}
