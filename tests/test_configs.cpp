// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/input/catalogue.hpp"
#include "sim/input/files.hpp"
#include "sim/input/loader.hpp"
#include "sim/laws/calibrated.hpp"
#include "sim/simulate/simulate.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace fs = std::filesystem;

namespace {

const fs::path configs = fs::path(ARRIS_SOURCE_DIR) / "configs";

std::vector<fs::path> scenario_files() {
  std::vector<fs::path> out;
  for (const auto& file : fs::recursive_directory_iterator(configs)) {
    const fs::path inside = fs::relative(file.path(), configs);
    if (file.path().extension() == ".toml" && *inside.begin() != "materials") out.push_back(file.path());
  }
  std::sort(out.begin(), out.end());
  return out;
}

// The route of an edge is dissolved into its steps, and only a remark is left of it.
std::string without_remarks(const std::string& text) {
  std::string out;
  for (const std::string& line : lines(text)) {
    if (line.empty() || line.front() != '#') out += line + "\n";
  }
  return out;
}

bool same_point(const TrackPoint& a, const TrackPoint& b) {
  return a.step == b.step && same_bits(a.count, b.count) && same_bits(a.strokes, b.strokes) &&
         same_bits(a.passes, b.passes) && same_bits(a.path_m, b.path_m) &&
         same_bits(a.apex_radius_um, b.apex_radius_um) && same_bits(a.scratch_um, b.scratch_um) &&
         same_bits(a.burr_um, b.burr_um) && same_bits(a.land_mm, b.land_mm) &&
         same_bits(a.blade_loss_um, b.blade_loss_um) && same_bits(a.tip_setback_um, b.tip_setback_um) &&
         same_bits(a.reading_N, b.reading_N);
}

void check_round_trip(const Loaded& first) {
  for (const bool origins : {false, true}) {
    const std::string text   = resolved_toml(first, origins);
    const Loaded      second = load_scenario("resolved.toml", text);
    CHECK(same_text(without_remarks(resolved_toml(second, false)),
                    without_remarks(resolved_toml(first, false))));

    const SimulationResult a = simulate(first.scenario), b = simulate(second.scenario);
    REQUIRE(a.edges.size() == b.edges.size());
    for (std::size_t e = 0; e < a.edges.size(); ++e) {
      INFO(a.edges[e].name);
      CHECK(second.scenario.edges[e].route == first.scenario.edges[e].route);
      CHECK(second.scenario.edges[e].route_steps == first.scenario.edges[e].route_steps);
      CHECK(a.edges[e].name == b.edges[e].name);
      CHECK(same_bits(a.edges[e].life.passes, b.edges[e].life.passes));
      REQUIRE(a.edges[e].track.size() == b.edges[e].track.size());
      CHECK(
          std::equal(a.edges[e].track.begin(), a.edges[e].track.end(), b.edges[e].track.begin(), same_point));
      REQUIRE(a.edges[e].steps.size() == b.edges[e].steps.size());
      for (std::size_t s = 0; s < a.edges[e].steps.size(); ++s) {
        CHECK(a.edges[e].steps[s].subject == b.edges[e].steps[s].subject);
        CHECK(same_bits(a.edges[e].steps[s].steel_removed_mg, b.edges[e].steps[s].steel_removed_mg));
        CHECK(same_bits(a.edges[e].steps[s].strokes_to_burr, b.edges[e].steps[s].strokes_to_burr));
      }
    }
  }
}

template <class S>
std::size_t read_all(const char* kind) {
  Findings  findings;
  Origins   origins;
  Catalogue catalogue;
  for (const Document& document : shipped_materials()) catalogue.add(document, findings);
  TableReader reader(findings, origins);
  for (const Entry& entry : catalogue.entries(kind)) {
    S item;
    for (const auto& [document, table] : entry.layers) {
      reader.read({document, table, std::string(kind) + "." + entry.name + ".", {"also"}}, item);
    }
  }
  CHECK_NOTHROW(findings.throw_if_any());
  return catalogue.entries(kind).size();
}

// "file:line" of the first line of a shipped table file that begins with `start` at or below the line `below`
std::string place(const std::string& file, const std::string& below, const std::string& start) {
  const auto all   = lines(contents(fs::path(ARRIS_SOURCE_DIR) / file));
  bool       there = false;
  for (std::size_t i = 0; i < all.size(); ++i) {
    there |= all[i].rfind(below, 0) == 0;
    if (there && all[i].rfind(start, 0) == 0) return fmt::format("{}:{}", file, i + 1);
  }
  return "nowhere";
}

// the only line of `text` below the line `table` that begins with `start`
std::string line_of(const std::string& text, const std::string& table, const std::string& start) {
  bool there = false;
  for (const std::string& line : lines(text)) {
    there |= line == table;
    if (there && line.rfind(start, 0) == 0) return line;
  }
  return "no such line";
}

}  // namespace

TEST_CASE("every configuration at hand loads, with its readings", "[configs]") {
  REQUIRE(scenario_files().size() >= 2);
  for (const fs::path& file : scenario_files()) {
    INFO(file.string());
    Campaign campaign;
    REQUIRE_NOTHROW(campaign = load_campaign_file(file));
    CHECK_FALSE(campaign.loaded.scenario.edges.empty());
    CHECK_FALSE(campaign.loaded.scenario.title.empty());
    CHECK(campaign.readings_path.empty() == campaign.readings.empty());
  }
}

TEST_CASE("every entry of every material table reads without a finding", "[configs][materials]") {
  CHECK(read_all<Steel<double>>("steel") > 0);
  CHECK(read_all<Family<double>>("family") > 0);
  CHECK(read_all<Backing<double>>("backing") > 0);
  CHECK(read_all<Compound<double>>("compound") > 0);
  CHECK(read_all<Wood<double>>("wood") > 0);
  CHECK(read_all<Filament<double>>("filament") > 0);
}

TEST_CASE("every shipped material can be named in a configuration", "[configs][materials]") {
  Findings  findings;
  Catalogue catalogue;
  for (const Document& document : shipped_materials()) catalogue.add(document, findings);
  std::string steps, tools;
  for (const std::string& family : catalogue.names("family")) {
    steps += "{ hone = \"" + family + ", 20 µm\", strokes = 1 },\n";
  }
  for (const std::string& backing : catalogue.names("backing")) {
    for (const std::string& compound : catalogue.names("compound")) {
      steps += "{ strop = \"" + backing + "\", compound = \"" + compound + "\", laps = 1 },\n";
    }
  }
  for (const std::string& wood : catalogue.names("wood")) {
    if (wood != "balsa")
      steps += "{ cut = \"" + wood + "\", passes = 1 },\n";  // the handbook has no hardness of balsa
  }
  for (const std::string& steel : catalogue.names("steel")) {
    tools += with(with(iron, "[tool.iron]", "[tool.\"of " + steel + "\"]"), "\"O1\"", "\"" + steel + "\"");
  }
  const auto usable = [](const std::string& text) { return simulate(load(text).scenario).usable(); };
  CHECK(usable(shop(steps) + tools));
  for (const std::string& filament : catalogue.names("filament")) {
    INFO(filament);
    CHECK(usable(shop("{ read = \"new\" },") + "[tester]\nfilament = \"" + filament + "\"\n"));
  }
}

TEST_CASE("a resolved configuration loads to the same scenario, to the last bit", "[configs][round-trip]") {
  for (const fs::path& file : scenario_files()) {
    INFO(file.string());
    check_round_trip(load_scenario_file(file));
  }
}

TEST_CASE("a resolved configuration keeps all that a user may state", "[configs][round-trip]") {
  const std::string odd    = R"toml(
title = "Q \" \\ \t \u0001 \u007f µ ½ 'x' # no remark"
[source.mine]
text = """two
lines # and more"""
[steel."my \\ steel"]
hardness_hrc = { value = 59.3, status = "verified", source = "mine" }
note = "a 'remark' with \"quotes\" and \u001b[31m"
[family."own bond"]
also = ["bond of my own"]
protrusion = 1.0000000000000002
[medium."own stone"]
family = "bond of my own"
grit = "JIS #1000"
glaze_strokes = 333.3333333333333
[tool.iron]
kind = "plane iron"
steel = "my \\ steel"
hardness_hrc = 60.1
width_in = 2
thickness_mm = 3
primary_bevel_rad = 0.4
back_bevel_deg = 4
land_mm = 0.1
note = "öäü"
[tool."knife 1"]
steel = "D2"
width_mm = 120
thickness_mm = 2.2
primary_bevel_deg = 30
micro_bevel_deg = 33
honed_sides = 2
[tester]
filament = "cotton thread 0.30 mm"
burr_share = 0.123456789012345678
[wear]
law = "settling"
settle_um = 1e-3
[scatter]
lot_cv = 0
[numerics]
relative_tolerance = 1e-7
max_steps = 123456
fidelity = "outline"
[output]
points_per_step = 3
reading_limit_gf = 333
[readings]
file = "no \"such\" file.csv"
[route.start]
steps = [
  { hone = "own stone", strokes = 3, after_burr = true, max_strokes = 900, note = "say \"when\"" },
  { dress = "own stone" },
  { back = "Lapping Film, 0.3 μm", strokes = 3 },
]
[edge."A 1.5"]
tool = "iron"
route = "start"
note = "edge"
steps = [
  { read = "new, \"sharp\"", replicates = 3 },
  { strop = "soft hide", laps = 7.5, angle_scatter_deg = 0 },
  { cut = "Oak, white", passes = 33.3, shaving_um = 20 },
]
[edge.B]
tool = "knife 1"
steps = [ { follow = "start2" } ]
[edge.C]
tool = "knife 1"
route = "START2"
[route.start2]
steps = [ { hone = "own stone", strokes = 3 }, { cut = "teak", passes = 0 } ]
)toml";
  const Loaded      loaded = load_scenario("odd.toml", odd);
  check_round_trip(loaded);
  const Loaded again = load_scenario("resolved.toml", resolved_toml(loaded, true));
  CHECK(again.scenario.title == loaded.scenario.title);
  CHECK(loaded.scenario.edges.back().route == "start2");
  CHECK(again.readings_files.at(0) == "no \"such\" file.csv");
  CHECK(again.scenario.model.steels.at(0).note == loaded.scenario.model.steels.at(0).note);
}

TEST_CASE("every value says where it comes from", "[configs][origins]") {
  const Loaded loaded = load(
      shop(
          "{ hone = \"soft waterstone, JIS #1000\", strokes = 20 },\n  { cut = \"white oak\", passes = 3 },") +
      "[source.mine]\ntext = \"my own board\"\n"
      "[wood.\"white oak\"]\nsilica_pct = { value = 0.5, status = \"verified\", source = \"mine\" }\n"
      "extractive_factor = 1.5\n");
  const std::string text  = resolved_toml(loaded, true);
  const std::string woods = "configs/materials/woods.toml", steels = "configs/materials/steels.toml",
                    media = "configs/materials/media.toml";
  const auto line         = [](const std::string& value, const std::string& origin) {
    return fmt::format("{:<43} # {}", value, origin);
  };
  // of the user
  CHECK(line_of(text, "[tool.\"iron\"]", "width_mm") == line("width_mm = 50", "shop.toml:3"));
  CHECK(line_of(text, "[wood.\"white oak\"]", "silica_pct") ==
        line("silica_pct = 0.5", "shop.toml:16, verified; my own board"));
  CHECK(line_of(text, "[wood.\"white oak\"]", "extractive_factor") ==
        line("extractive_factor = 1.5", "shop.toml:17"));
  // of the shipped tables
  CHECK(
      line_of(text, "[wood.\"white oak\"]", "side_hardness_N") ==
      line(
          "side_hardness_N = 6050",
          place(woods, "[wood.\"white oak\"]", "side_hardness_N") +
              ", verified; USDA Forest Service, Forest Products Laboratory, Wood Handbook: Wood as an Engineering Material, General Technical Report FPL-GTR-282, Table 5-3b (12 % moisture). Hardness in newton is 4.44822 times the pound-force printed there; shear in MPa is 0.00689476 times the psi."));
  CHECK(line_of(text, "[medium.\"soft waterstone, JIS #1000\"]", "loose_grit_divisor") ==
        line("loose_grit_divisor = 1.5", place(media, "[family.\"soft waterstone\"]", "loose_grit_divisor") +
                                             ", estimate; no source; a starting value of this project"));
  // worked out
  CHECK(
      line_of(text, "[medium.\"soft waterstone, JIS #1000\"]", "size_um") ==
      line(
          "size_um = 11.5",
          "shop.toml:10, verified; JIS R 6001 JIS #1000; JIS R 6001, abrasive grain sizes, precision grits: median d50 by the electrical-resistance method"));
  CHECK(line_of(text, "[steel.\"O1\"]", "hardness_GPa") ==
        line(fmt::format("hardness_GPa = {}", 9.80665e-3 * 720),
             place(steels, "[steel.\"O1\"]", "hardness_hrc") + ", estimate; from hardness_hrc by ASTM E140"));
  // defaults
  CHECK(line_of(text, "[coefficients]", "abrasion") ==
        line(fmt::format("abrasion = {}", calibrated::abrasion), "default, fitted to facts of the trade"));
  CHECK(line_of(text, "[numerics]", "max_steps") == line("max_steps = 100000", "default"));
}
