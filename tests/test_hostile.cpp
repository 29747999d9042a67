// SPDX-License-Identifier: MIT
#include <cmath>
#include <limits>
#include <regex>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/loader.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/output/columns.hpp"
#include "sim/simulate/simulate.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

// one of every kind of step, so that every table of a configuration plays its part
const std::string shop_of_all = shop(
    "{ hone = \"soft waterstone, JIS #1000\", strokes = 30, after_burr = true },\n"
    "  { back = \"hard waterstone, JIS #8000\", strokes = 5 },\n"
    "  { strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 10 },\n"
    "  { dress = \"soft waterstone, JIS #1000\" },\n"
    "  { read = \"new\", replicates = 2 },\n"
    "  { cut = \"teak\", passes = 30 },");

// the lines of a resolved configuration that state a number, as "table.key" would be no help to change them
std::vector<std::size_t> lines_with_numbers(const std::vector<std::string>& all) {
  std::vector<std::size_t> found;
  const std::regex         number("^[A-Za-z_0-9]+ = -?[0-9].*");
  for (std::size_t i = 0; i < all.size(); ++i) {
    if (std::regex_match(all[i], number)) found.push_back(i);
  }
  return found;
}

std::string joined(const std::vector<std::string>& all) {
  std::string out;
  for (const std::string& line : all) out += line + "\n";
  return out;
}

// every number of a result is one, or the run says that it failed
void check_sound(const Loaded& loaded) {
  const SimulationResult result = simulate(loaded.scenario, 1);
  for (const EdgeResult& edge : result.edges) {
    if (edge.status.code != RunStatus::Code::done) {
      CHECK_FALSE(edge.message.empty());
      continue;
    }
    for (const TrackPoint& p : edge.track) {
      const bool finite = std::isfinite(p.apex_radius_um) && std::isfinite(p.scratch_um) &&
                          std::isfinite(p.burr_um) && std::isfinite(p.land_mm) && std::isfinite(p.reading_N);
      CHECK(finite);
      CHECK(p.apex_radius_um > 0.0);
      CHECK(p.reading_N > 0.0);
    }
  }
}

}  // namespace

TEST_CASE("every number of a configuration may be the most hostile one", "[hostile]") {
  const auto  whole   = lines(resolved_toml(load(shop_of_all), false));
  std::size_t refused = 0, taken = 0;
  for (const std::size_t i : lines_with_numbers(whole)) {
    const std::string key = whole[i].substr(0, whole[i].find(" = "));
    for (const char* value : {"1e308", "-1e308", "5e-324", "-5e-324", "0", "-0.0", "9223372036854775807",
                              "-9223372036854775808", "nan", "inf", "-inf"}) {
      INFO(key << " = " << value << " instead of " << whole[i]);
      auto changed = whole;
      changed[i]   = key + " = " + value;
      try {
        const Loaded loaded = load(joined(changed));
        ++taken;
        check_sound(loaded);
      } catch (const Error& error) {
        ++refused;
        CHECK(error.exit() == Exit::usage);
        for (const Diagnostic& d : error.diagnostics()) CHECK_FALSE(d.what.empty());
      }
    }
  }
  CHECK(refused > 500);
  CHECK(taken > 50);  // zero and the least number are in some ranges
}

TEST_CASE("numbers of steps may be hostile too", "[hostile]") {
  for (const char* key : {"strokes", "force_N", "stroke_mm", "laps", "passes", "replicates", "max_strokes"}) {
    for (const char* value : {"1e308", "-1e308", "5e-324", "0", "9223372036854775807", "nan", "inf", "1e6"}) {
      INFO(key << " = " << value);
      const std::string text =
          std::regex_replace(shop_of_all, std::regex(std::string(key) + " = [0-9]+"),
                             std::string(key) + " = " + value, std::regex_constants::format_first_only);
      try {
        check_sound(load(text));
      } catch (const Error& error) {
        CHECK(error.exit() == Exit::usage);
      }
    }
  }
}

TEST_CASE("numbers of readings may be hostile", "[hostile][readings]") {
  const Loaded loaded = load(shop_of_all);
  for (const char* column : {"reading_gf", "reading_N", "apex_radius_um", "recession_um", "mass_loss_mg"}) {
    for (const char* value : {"1e308", "-1e308", "5e-324", "-0", "1e309", "1e-400", "nan", "inf", "0x10",
                              "1,5", "99999999999999999999999999999999999999999"}) {
      INFO(column << " = " << value);
      const std::string with_sd =
          std::string(column).find("um") != std::string::npos
              ? std::string(",") + std::string(column).substr(0, std::string(column).size() - 3) + "_sd_um"
              : "";
      const std::string text = "edge,step," + std::string(column) + with_sd + "\nA,new," + value +
                               (with_sd.empty() ? "" : ",0.1") + "\n";
      try {
        for (const Reading& r : parse_readings("r.csv", text, loaded.scenario)) {
          for (const double v : {r.reading_N, r.apex_radius_um, r.recession_um, r.mass_loss_mg})
            CHECK((std::isnan(v) || (std::isfinite(v) && v >= 0.0)));
        }
      } catch (const Error& error) {
        CHECK(error.exit() == Exit::data);
      }
    }
  }
}

TEST_CASE("what a run may take of the computer is limited, and the limits can be raised",
          "[hostile][config]") {
  std::string edges;
  for (int i = 0; i < 30; ++i)
    edges += "[edge.E" + std::to_string(i) +
             "]\ntool = \"iron\"\nsteps = [ { read = \"a\" }, { read = \"b\" } ]\n";
  CHECK(load(iron + edges).computer.max_edges == 100000);
  CHECK(load_error(iron + "[computer]\nmax_edges = 29\n" + edges).what() ==
        std::string(
            "shop.toml: 30 edges (allowed: up to 29) [too-many]\n  [computer] max_edges allows more.\n"));
  CHECK_NOTHROW(load(iron + "[computer]\nmax_edges = 30\nmax_steps = 60\n" + edges));
  CHECK(
      load_error(iron + "[computer]\nmax_steps = 59\n" + edges).what() ==
      std::string(
          "shop.toml: with the edge \"E29\" there are more than 59 steps [too-many]\n  [computer] max_steps allows more.\n"));
  CHECK(codes(load_error(iron + "[computer]\nmax_time_h = 0\n" + edges)) ==
        std::vector<std::string>{"out-of-range"});
  // told by check, and by no result: it decides nothing
  const Loaded raised = load(iron + "[computer]\nmax_memory_MB = 123\n" + edges);
  CHECK(resolved_toml(raised, true).find("max_memory_MB = 123") != std::string::npos);
  CHECK(resolved_toml(raised, false).find("computer") == std::string::npos);
}
