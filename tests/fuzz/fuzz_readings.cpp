// SPDX-License-Identifier: MIT
// Readings of a campaign, and the same bytes as readings of a gauge study alone: refused with a place, or finite numbers.
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>

#include "sim/input/gauge_csv.hpp"
#include "sim/input/loader.hpp"
#include "sim/input/readings_csv.hpp"

namespace {

const arris::Scenario& scenario() {
  static const arris::Scenario made = arris::load_scenario("shop.toml", R"(
[tool.iron]
steel = "O1"
width_mm = 50
thickness_mm = 3
primary_bevel_deg = 25
[edge.A1]
tool = "iron"
code = "X7"
steps = [ { hone = "soft waterstone, JIS #1000", strokes = 60 }, { read = "new" }, { cut = "teak", passes = 60 }, { read = "worn" } ]
[edge.B]
tool = "iron"
steps = [ { read = "new" }, { cut = "teak", passes = 60 } ]
)")
                                          .scenario;
  return made;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace arris;
  const std::string text(reinterpret_cast<const char*>(data), size);
  try {
    for (const Reading& r : parse_readings("r.csv", text, scenario())) {
      if (r.edge < 0 || std::isinf(r.reading_N) || r.reading_N <= 0.0) std::abort();
    }
  } catch (const Error& error) {
    for (const Diagnostic& d : error.diagnostics()) (void)d.text();
  }
  try {
    (void)parse_gauge_readings("g.csv", text);
  } catch (const Error& error) {
    for (const Diagnostic& d : error.diagnostics()) (void)d.text();
  }
  return 0;
}
