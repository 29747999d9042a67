// SPDX-License-Identifier: MIT
#pragma once

#include "sim/input/readings_csv.hpp"
#include "tests/desk.hpp"

/// A small yard and readings of it, for the tests of readings.
namespace arris::desk {

/// An edge that is read, used and read again, and one that is only read; the filament saturates at 8.00 N, 815.9 gf
[[nodiscard]] inline const Loaded& yard() {
  static const Loaded loaded = load(
      shop(
          "{ read = \"new\" },\n  { cut = \"white oak\", passes = 100 },\n  { read = \"worn\" },\n  { cut = \"white oak\", passes = 50 },") +
      "[edge.B]\ntool = \"iron\"\nsteps = [ { read = \"new\" } ]\n");
  return loaded;
}

[[nodiscard]] inline std::vector<Reading> parse(const std::string& text) {
  return parse_readings("r.csv", text, yard().scenario);
}

}  // namespace arris::desk
