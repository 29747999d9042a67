// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <string>
#include <variant>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/catalogue.hpp"
#include "sim/input/loader.hpp"
#include "sim/laws/geometry.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "sim/wording.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

// what one entry of a loaded configuration was read as
template <class S>
const S& entry(const std::vector<S>& table, const std::string& name) {
  const auto found = std::find_if(table.begin(), table.end(), [&](const S& s) { return s.name == name; });
  if (found == table.end()) throw std::logic_error("there is no \"" + name + "\"");
  return *found;
}

template <class S>
const S& step(const Loaded& loaded, std::size_t i) {
  return std::get<S>(loaded.scenario.edges.at(0).steps.at(i));
}

}  // namespace

TEST_CASE("a value that no source gives is asked for in the user's own table", "[config]") {
  const Error error = load_error(shop("{ cut = \"balsa\", passes = 5 },"));
  REQUIRE(codes(error) == std::vector<std::string>{"missing-key"});
  const Diagnostic& d = error.diagnostics().front();
  CHECK(d.file == "configs/materials/woods.toml");
  CHECK(d.line_text == "[wood.\"balsa\"]");
  CHECK(d.what == "[wood.balsa] has no side_hardness_N: Janka side hardness at 12 % moisture");
  CHECK(d.next == "No source gives it. State your own: [wood.balsa] with side_hardness_N = …");
  // and once it is stated, the rest of the table holds
  const Loaded loaded =
      load(shop("{ cut = \"balsa\", passes = 5 },") + "[wood.balsa]\nside_hardness_N = 400\n");
  CHECK(loaded.scenario.model.woods.at(0).side_hardness_N == 400.0);
  CHECK(loaded.scenario.model.woods.at(0).shear_MPa == 2.07);
}

TEST_CASE("the caret stands under what is wrong, behind letters of several bytes too", "[config]") {
  const Error error =
      load_error(shop("{ strop = \"MDF\", compound = \"alumina 1 µm\", note = \"für Ömer\", lapps = 5 },"));
  REQUIRE(codes(error) == std::vector<std::string>{"missing-key", "unknown-key"});
  CHECK(underlined(error.diagnostics()[1]) == "lapps");
  // a tab is one character and is shown as one blank
  const Error tabs = load_error(shop("{\thone\t=\t\"oilstone, 9 µm\",\tstrokes\t=\t-5 },"));
  REQUIRE(codes(tabs) == std::vector<std::string>{"out-of-range"});
  CHECK(underlined(tabs.diagnostics()[0]) == "-5");
  CHECK(tabs.diagnostics()[0].line_text.find('\t') == std::string::npos);
  // lines of a file from another system
  std::string crlf;
  for (const std::string& line : lines(shop("{ hone = \"oilstone, 9 µm\", strokes = -5 },")))
    crlf += line + "\r\n";
  const Error windows = load_error(crlf);
  REQUIRE(codes(windows) == std::vector<std::string>{"out-of-range"});
  CHECK(underlined(windows.diagnostics()[0]) == "-5");
  CHECK(windows.diagnostics()[0].line == 10);
  CHECK(windows.diagnostics()[0].line_text.find("\\x0d") == std::string::npos);
}

TEST_CASE("of a very long line the part around the fault is shown", "[config][text]") {
  const std::string long_note = "note = \"" + std::string(100000, 'x') + "\", ";
  const Error       error =
      load_error(shop("{ " + long_note + "hone = \"oilstone, 9 µm\", strokes = 5, forc_N = 3, " +
                      long_note.substr(0, long_note.size() - 2) + " },"));
  // the note stands there twice, so this is a fault of form at the second one
  REQUIRE(codes(error) == std::vector<std::string>{"syntax"});
  const Error key =
      load_error(shop("{ " + long_note + "hone = \"oilstone, 9 µm\", strokes = 5, forc_N = 3 },"));
  REQUIRE(codes(key) == std::vector<std::string>{"unknown-key"});
  const Diagnostic& d = key.diagnostics()[0];
  CHECK(d.column == 100054);
  CHECK(underlined(d) == "forc_N");
  CHECK(d.text() ==
        "shop.toml:10:100054: [step] has no key \"forc_N\" [unknown-key]\n"
        "  10 | …xxxxxxxxxxxxxxxxxxx\", hone = \"oilstone, 9 µm\", strokes = 5, forc_N = 3 },\n"
        "     |                                                              ^^^^^^\n"
        "  Did you mean \"force_N\"?\n");
  // at the front of the line, and a name that is the line
  const Error front = load_error(std::string(100000, 'x') + " = 1\n" + shop(one_hone));
  REQUIRE(codes(front) == std::vector<std::string>{"unknown-key"});
  CHECK(characters(front.diagnostics()[0].line_text) == 161);
  CHECK(underlined(front.diagnostics()[0]) == std::string(160, 'x'));
  CHECK(front.diagnostics()[0].text().size() < 2000);
  CHECK(load_error("[tool." + std::string(100000, 'y') + "]\n" + shop(one_hone))
            .diagnostics()[0]
            .text()
            .size() < 2000);
  // no longer than a screen: whole
  const Error whole = load_error(shop("{ hone = \"oilstone, 9 µm\", strokes = 5, note = \"" +
                                      std::string(90, 'x') + "\", forc_N = 3 },"));
  CHECK(whole.diagnostics()[0].line_text.find("  { hone = ") == 0);
}

TEST_CASE("no more faults are told than can be read", "[config]") {
  std::string keys;
  for (int i = 0; i < 1000; ++i) keys += "colour" + std::to_string(i) + " = 1\n";
  const Error error = load_error(shop(one_hone) + "[scatter]\n" + keys);
  REQUIRE(error.diagnostics().size() == Findings::most_told + 1);
  CHECK(error.diagnostics().back().code == "more-faults");
  CHECK(error.diagnostics().back().text() ==
        "there may be more faults than these [more-faults]\n  Mend the first ones and try again.\n");
}

TEST_CASE("every fault is told in one go, in the order of its place", "[config]") {
  const std::string text =
      shop(
          "{ hone = \"soft waterstone, 800\", strokes = -1, forc_N = 3 },\n  { cut = \"oakk\", passes = inf },",
          with(with(iron, "\"O1\"", "\"O9\""), "= 50", "= 5000")) +
      "[scatter]\nreading_cv = 3\n[coefficents]\n";
  const Error error = load_error(text);
  CHECK(error.exit() == Exit::usage);
  std::vector<std::pair<int, std::string>> told;
  for (const Diagnostic& d : error.diagnostics()) told.emplace_back(d.line, d.code);
  CHECK(told == std::vector<std::pair<int, std::string>>{{2, "unknown-steel"},
                                                         {3, "out-of-range"},
                                                         {10, "grit-without-standard"},
                                                         {10, "out-of-range"},
                                                         {10, "unknown-key"},
                                                         {11, "unknown-wood"},
                                                         {11, "not-finite"},
                                                         {14, "out-of-range"},
                                                         {15, "unknown-key"}});
  int column = 0;
  for (const Diagnostic& d : error.diagnostics()) {
    if (d.line != 10) continue;
    CHECK(d.column > column);
    column = d.column;
  }
}

TEST_CASE("faults of several files stand file by file", "[config]") {
  const Error error = load_error(
      "include = [\"b.toml\", \"a.toml\"]\n[outpt]\n" + shop("{ hone = \"oilstone, 9 µm\", strokes = -1 },"),
      {{"a.toml", "[scatter]\nlot_cv = 2\nreading_cv = 2\n"},
       {"b.toml", "[scatter]\nedge_cv = 2\n[nonsense]\n"}});
  std::map<std::string, std::vector<int>> places;
  std::vector<std::string>                order;
  for (const Diagnostic& d : error.diagnostics()) {
    if (order.empty() || order.back() != d.file) order.push_back(d.file);
    places[d.file].push_back(d.line);
  }
  CHECK(order.size() == 3);  // no file comes twice
  CHECK(places.at("a.toml") == std::vector<int>{2, 3});
  CHECK(places.at("b.toml") == std::vector<int>{2, 3});
  CHECK(places.at("shop.toml") == std::vector<int>{2, 12});
}

TEST_CASE("a fault is told once, however many edges come across it", "[config]") {
  const std::string more =
      "[route.r]\nsteps = [ { hone = \"mine, 9 µm\", strokes = 5, forc_N = 3 } ]\n"
      "[family.mine]\ncutting_rate = 900\ncolour = \"red\"\n"
      "[edge.B]\ntool = \"iron\"\nroute = \"r\"\n[edge.C]\ntool = \"iron\"\nroute = \"r\"\n";
  CHECK(codes(load_error(shop("{ follow = \"r\" },\n  { hone = \"mine, 3 µm\", strokes = 1 },") + more)) ==
        std::vector<std::string>{"unknown-key", "out-of-range", "unknown-key"});
}

TEST_CASE("a fault brings no second one after it", "[config]") {
  // the thickness would make the land wider than the bevel, the saturation would lie below the resistance
  CHECK(codes(load_error(shop(one_hone, with(iron, "= 3\n", "= 30\n")))) ==
        std::vector<std::string>{"out-of-range"});
  CHECK(codes(load_error(shop(one_hone) + "[tester]\nsaturation_N = 1e6\n")) ==
        std::vector<std::string>{"out-of-range"});
  CHECK(codes(load_error(
            shop("{ hone = \"my stone\", strokes = 1 },\n  { hone = \"my stone\", strokes = 2 },") +
            "[medium.\"my stone\"]\nfamily = \"oilstone\"\ngrit = true\n")) ==
        std::vector<std::string>{"not-text"});
}

TEST_CASE("a fault hides no other", "[config]") {
  // a key that is wrong, and angles that no blade can have; a tool that is not there, and its steps
  CHECK(codes(load_error(shop(one_hone, with(with(iron, "= 30", "= 20"), "= 50", "= 5000")))) ==
        std::vector<std::string>{"out-of-range", "impossible-geometry"});
  CHECK(
      codes(load_error(with(
          shop(
              "{ strop = \"felt\", compound = \"diamond 1 µm\", laps = -2 },\n  { cut = \"oakk\", passes = 5 },"),
          "tool = \"iron\"", "tool = \"irn\""))) ==
      std::vector<std::string>{"unknown-tool", "out-of-range", "unknown-wood"});
}

TEST_CASE("faults of a route are told though no edge follows it", "[config]") {
  CHECK(codes(load_error(shop(one_hone) +
                         "[route.r]\nsteps = [ { hone = \"oilstone, 9 µm\", stroks = 3 } ]\n")) ==
        std::vector<std::string>{"missing-key", "unknown-key"});
  const Loaded loaded = load(shop(one_hone) + "[route.r]\nsteps = [ " + one_hone + " ]\n");
  REQUIRE(loaded.warnings.size() == 1);
  CHECK(loaded.warnings[0].text() ==
        "shop.toml:12:1: no edge follows the route \"r\" [unused-route]\n"
        "  12 | [route.r]\n"
        "     | ^^^^^^^^^\n");
  CHECK(loaded.scenario.edges.at(0).steps.size() == 1);
}

TEST_CASE("a coarser medium after a finer one is allowed, and noticed", "[config]") {
  const Loaded loaded = load(shop(
      "{ hone = \"lapping film, 1 µm\", strokes = 5 },\n  { hone = \"lapping film, 9 µm\", strokes = 5 },\n"
      "  { cut = \"white oak\", passes = 5 },\n  { hone = \"lapping film, 15 µm\", strokes = 5 },"));
  REQUIRE(loaded.warnings.size() == 1);
  CHECK(
      loaded.warnings[0].text() ==
      "shop.toml:11:12: 9 µm after 1 µm, with no wood cut in between, blunts the edge again [coarser-after-finer]\n"
      "  11 |   { hone = \"lapping film, 9 µm\", strokes = 5 },\n"
      "     |            ^^^^^^^^^^^^^^^^^^^^\n");
}

TEST_CASE("routes that double each other end with an error, not with the memory", "[config]") {
  std::string text = shop("{ follow = \"r39\" },") + "[route.r0]\nsteps = []\n";
  for (int i = 1; i < 40; ++i) {
    const std::string before = "{ follow = \"r" + std::to_string(i - 1) + "\" }";
    text += "[route.r" + std::to_string(i) + "]\nsteps = [ " + before + ", " + before + " ]\n";
  }
  CHECK(
      load_error(text).what() ==
      std::string(
          "shop.toml: routes that follow routes are followed more than 2000000 times [too-many]\n  [computer] max_steps allows more.\n"));
}

TEST_CASE("depth of nesting is limited", "[config]") {
  const auto times = [](const std::string& what, int n) {
    std::string out;
    for (int i = 0; i < n; ++i) out += what;
    return out;
  };
  CHECK(codes(load_error("x = " + times("[", 100000))) == std::vector<std::string>{"syntax"});
  CHECK(codes(load_error("x = " + times("{a=", 100000))) == std::vector<std::string>{"syntax"});
  const Error dotted = load_error("title = \"t\"\n" + times("a.", 100000) + "a = 1\n");
  REQUIRE(codes(dotted) == std::vector<std::string>{"syntax"});
  CHECK(dotted.diagnostics()[0].what == "a key of more than 100 parts");
  CHECK(dotted.diagnostics()[0].line == 2);
  CHECK(dotted.diagnostics()[0].column == 202);  // the 101st point: 100 pairs "a.", then "a"
  CHECK(codes(load_error("[" + times("a.", 100000) + "a]\n")) == std::vector<std::string>{"syntax"});
  // points in text, remarks and numbers are no key
  const std::string points = times(".", 500);
  const Loaded      loaded =
      load("title = \"" + points + "\"  # " + points + "\nnote = \"\"\"\n" + points + "\\\"\"\" " + points +
           "\n\"\"\"\"\n" + shop(one_hone, with(iron, "= 50", "= 5.0e1")) + "[tool.\"" + times(".", 80) +
           "\"]\n" + iron.substr(iron.find('\n') + 1) + "note = '" + points + "\\'\n");
  CHECK(loaded.scenario.title == points);
}

TEST_CASE("included files", "[config]") {
  SECTION("the readings of one lie beside it") {
    const auto from = [](const std::string& name) {
      return load("include = [\"" + name + "\"]\n" + shop(one_hone),
                  {{name, "[readings]\nfile = \"r.csv\"\n"}})
          .readings_files.at(0);
    };
    CHECK(from("yard.toml") == "r.csv");
    CHECK(from("yard/yard.toml") == "yard/r.csv");
    CHECK(from("../yard.toml") == "../r.csv");
    CHECK(from("/yard/yard.toml") == "/yard/r.csv");
    CHECK(load("include = [\"yard/yard.toml\"]\n[readings]\nfile = \"own.csv\"\n" + shop(one_hone),
               {{"yard/yard.toml", "[readings]\nfile = \"r.csv\"\n"}})
              .readings_files == std::vector<std::string>{"own.csv"});
  }
  SECTION("one that is not there") {
    CHECK(load_error("include = [\"no.toml\"]\n" + shop(one_hone)).what() ==
          std::string("shop.toml:1:12: the included file \"no.toml\" cannot be read [no-such-file]\n"
                      "  1 | include = [\"no.toml\"]\n"
                      "    |            ^^^^^^^^^\n"
                      "  Paths are relative to the file that includes them.\n"));
  }
  SECTION("one that includes itself by way of another") {
    CHECK(load_error("include = [\"a.toml\"]\n" + shop(one_hone),
                     {{"a.toml", "include = [\"b.toml\"]\n"}, {"b.toml", "\n\ninclude = [\"a.toml\"]\n"}})
              .what() == std::string("b.toml:3:12: \"a.toml\" includes itself, in the end [include-cycle]\n"
                                     "  3 | include = [\"a.toml\"]\n"
                                     "    |            ^^^^^^^^\n"
                                     "  a.toml includes b.toml, which includes a.toml.\n"));
    CHECK(load_error("include = [\"shop.toml\"]\n" + shop(one_hone),
                     {{"shop.toml", "include = [\"shop.toml\"]\n"}})
              .what() ==
          std::string("shop.toml:1:12: \"shop.toml\" includes itself, in the end [include-cycle]\n"
                      "  1 | include = [\"shop.toml\"]\n"
                      "    |            ^^^^^^^^^^^\n"
                      "  shop.toml includes shop.toml.\n"));
    // a circle of ten: the first eight and where it closes
    std::map<std::string, std::string> files;
    for (int i = 0; i < 10; ++i)
      files[std::to_string(i) + ".toml"] = "include = [\"" + std::to_string((i + 1) % 10) + ".toml\"]\n";
    const std::string told = load_error("include = [\"0.toml\"]\n" + shop(one_hone), files).what();
    CHECK(told.find("0.toml includes 1.toml, which includes 2.toml,") != std::string::npos);
    CHECK(told.find("which includes 7.toml, and so on to 0.toml.\n") != std::string::npos);
  }
  SECTION("no list of names") {
    CHECK(codes(load_error("include = \"a.toml\"\n" + shop(one_hone))) ==
          std::vector<std::string>{"not-text"});
    CHECK(codes(load_error("include = [1]\n" + shop(one_hone))) == std::vector<std::string>{"not-text"});
  }
  SECTION("too many") {
    std::map<std::string, std::string> files;
    std::string                        list;
    for (int i = 0; i < 65; ++i) {
      files["f" + std::to_string(i)] = "";
      list += "\"f" + std::to_string(i) + "\", ";
    }
    CHECK(codes(load_error("include = [ " + list + "]\n" + shop(one_hone), files)) ==
          std::vector<std::string>{"too-many"});
  }
  SECTION("the file that includes has the last word, and a file is read once") {
    const Loaded loaded = load(
        "include = [\"a.toml\", \"b.toml\"]\ntitle = \"last\"\n" + shop(one_hone) +
            "[scatter]\nlot_cv = 0.5\n",
        {{"a.toml", "include = [\"b.toml\"]\ntitle = \"first\"\n[scatter]\nlot_cv = 0.1\nedge_cv = 0.2\n"},
         {"b.toml", "[scatter]\nedge_cv = 0.3\nreading_cv = 0.4\n"}});
    CHECK(loaded.scenario.title == "last");
    CHECK(loaded.scenario.model.scatter.lot_cv == 0.5);
    CHECK(loaded.scenario.model.scatter.edge_cv == 0.2);
    CHECK(loaded.scenario.model.scatter.reading_cv == 0.4);
    CHECK(loaded.texts.size() == 3);
  }
  SECTION("an edge keeps the steps that another file gives it") {
    const std::string tool   = with(iron, "[tool.iron]", "[tool.second]");
    const Loaded      loaded = load(
             "include = [\"a.toml\"]\n" + tool + "[edge.A]\ntool = \"second\"\n[route.r]\nnote = \"as it was\"\n",
             {{"a.toml",
               shop("{ read = \"new\" },\n  { follow = \"r\" },") + "[route.r]\nsteps = [ " + one_hone + " ]\n"}});
    const EdgePlan& edge = loaded.scenario.edges.at(0);
    CHECK(edge.tool_name == "second");
    REQUIRE(edge.steps.size() == 2);
    CHECK(std::holds_alternative<ReadStep>(edge.steps[0]));
    CHECK(std::holds_alternative<HoneStep>(edge.steps[1]));
  }
}

// A value in another unit is converted by one division of scales and one multiplication, each rounded once (2^−53); the
// scale of the degree is itself rounded. Together less than 4·2^−53 = 4.5e-16.
constexpr double conversion = 5e-16;

TEST_CASE("quantities may be given in other units of their kind", "[config]") {
  const Loaded loaded = load(
      shop("{ hone = \"oilstone, 9 µm\", strokes = 5, force_kgf = 2, stroke_in = 4 },\n"
           "  { strop = \"MDF\", laps = 3, force_gf = 1500, stroke_cm = 20, angle_offset_rad = 0.01 },\n"
           "  { cut = \"white oak\", passes = 2, pass_mm = 600, shaving_mm = 0.05 },",
           with(with(with(iron, "width_mm = 50", "width_cm = 5"), "thickness_mm = 3", "thickness_um = 3000"),
                "primary_bevel_deg = 25", "primary_bevel_rad = 0.4")) +
      "[tester]\nsaturation_gf = 900\ncut_resistance_lbf = 0.1\n");
  const auto& tool = loaded.scenario.model.tools.at(0);
  CHECK(tool.width_mm == Approx(50.0).epsilon(conversion));
  CHECK(tool.thickness_mm == Approx(3.0).epsilon(conversion));
  CHECK(tool.primary_bevel_deg == Approx(0.4 * 180.0 / laws::pi).epsilon(conversion));
  const auto& hone = step<HoneStep>(loaded, 0);
  CHECK(hone.force_N == Approx(2 * 9.80665).epsilon(conversion));
  CHECK(hone.stroke_mm == Approx(101.6).epsilon(conversion));
  const auto& strop = step<StropStep>(loaded, 1);
  CHECK(strop.force_N == Approx(1.5 * 9.80665).epsilon(conversion));
  CHECK(strop.stroke_mm == Approx(200.0).epsilon(conversion));
  CHECK(strop.angle_offset_deg == Approx(1.8 / laws::pi).epsilon(conversion));
  const auto& cut = step<CutStep>(loaded, 2);
  CHECK(cut.pass_m == Approx(0.6).epsilon(conversion));
  CHECK(cut.shaving_um == Approx(50.0).epsilon(conversion));
  CHECK(loaded.scenario.model.tester.saturation_N == Approx(0.9 * 9.80665).epsilon(conversion));
  CHECK(loaded.scenario.model.tester.cut_resistance_N == Approx(0.44482216152605).epsilon(conversion));
}

TEST_CASE("a quantity that only its unit tells from another keeps that unit", "[config]") {
  const std::string settling = shop(one_hone) + "[wear]\nlaw = \"settling\"\n";
  const Loaded      loaded   = load(settling + "settle_um = 0.2\nsettle_m = 30\n");
  const auto&       law      = std::get<laws::Settling<double>>(loaded.scenario.model.wear->law);
  CHECK(law.settle_um == 0.2);
  CHECK(law.settle_m == 30.0);
  CHECK(std::get<laws::Settling<double>>(load(settling + "settle_um = 0.2\n").scenario.model.wear->law)
            .settle_m == 20.0);
  CHECK(codes(load_error(settling + "settle_mm = 3\n")) == std::vector<std::string>{"unknown-key"});
  const Error bare = load_error(settling + "settle = 3\n");
  REQUIRE(codes(bare) == std::vector<std::string>{"missing-unit"});
  CHECK(bare.diagnostics()[0].allowed == "settle_um or settle_m");
}

TEST_CASE("a whole number will do for a number, and a number for a whole one", "[config]") {
  const Loaded whole =
      load(shop("{ hone = \"oilstone, 9 µm\", strokes = 5, force_N = 20 },", iron + "honed_sides = 1\n"));
  const Loaded point = load(
      shop("{ hone = \"oilstone, 9 µm\", strokes = 5.0, force_N = 2e1 },", iron + "honed_sides = 1.0\n"));
  CHECK(resolved_toml(whole, false) == resolved_toml(point, false));
}

TEST_CASE("a shipped material of which some values are stated anew keeps the others", "[config]") {
  const Loaded loaded =
      load(shop("{ cut = \"white oak\", passes = 5 },") + "[wood.\"white oak\"]\nsilica_pct = 0.5\n");
  const auto& oak = loaded.scenario.model.woods.at(0);
  CHECK(oak.silica_pct == 0.5);
  CHECK(oak.side_hardness_N == 6050.0);
  CHECK(oak.shear_MPa == 13.79);
  const Origin& hardness = loaded.origins.at("wood.white oak.side_hardness_N");
  CHECK(hardness.file == "configs/materials/woods.toml");
  CHECK(hardness.status == "verified");
  CHECK(hardness.source.find("Wood Handbook") != std::string::npos);
  const Origin& silica = loaded.origins.at("wood.white oak.silica_pct");
  CHECK(silica.file == "shop.toml");
  CHECK(silica.line == 13);
  CHECK(silica.status.empty());
}

TEST_CASE("a configuration may bring materials of every kind", "[config]") {
  const Loaded loaded = load(
      shop(
          "{ hone = \"yard stone\", strokes = 5 },\n  { hone = \"yard bond, Y5\", strokes = 5 },\n"
          "  { strop = \"bench hide\", compound = \"red paste\", laps = 3 },\n  { cut = \"driftwood\", passes = 2 },",
          with(iron, "\"O1\"", "\"old saw\"")) +
      "[source.mine]\ntext = \"measured in the yard, May\"\n"
      "[steel.\"old saw\"]\nhardness_GPa = 6.5\nwear_ratio = { value = 1.3, status = \"verified\", source = \"mine\" }\n"
      "[family.\"yard bond\"]\nalso = [\"our bond\"]\ncutting_rate = 0.7\n"
      "[medium.\"yard stone\"]\nfamily = \"our bond\"\ngrit = \"Y7\"\nprotrusion = 1.4\n"
      "[grit.yard]\nalso = [\"the yard's\"]\nmark = \"Y{}\"\ngrades = [ { number = 5, size_um = 40 }, { number = 7, size_um = 20 } ]\n"
      "[backing.\"bench hide\"]\nmodulus_MPa = 12\nthickness_mm = 2\n"
      "[compound.\"red paste\"]\nsize_um = 2\n"
      "[wood.driftwood]\nside_hardness_N = 2500\n"
      "[filament.line]\ndiameter_mm = 0.4\nshear_strength_MPa = 100\n"
      "[tester]\nfilament = \"line\"\n");
  const auto& model = loaded.scenario.model;
  CHECK(entry(model.steels, "old saw").hardness_GPa == 6.5);
  CHECK(entry(model.steels, "old saw").wear_ratio == 1.3);
  CHECK(loaded.origins.at("steel.old saw.wear_ratio").source == "measured in the yard, May");
  CHECK(entry(model.media, "yard stone").size_um == 20.0);
  CHECK(entry(model.media, "yard stone").cutting_rate == 0.7);  // of its family
  CHECK(entry(model.media, "yard stone").protrusion == 1.4);    // its own
  CHECK(entry(model.media, "yard stone").family == "yard bond");
  CHECK(entry(model.media, "yard bond, Y5").size_um == 40.0);
  CHECK(entry(model.media, "yard bond, Y5").protrusion == 1.0);
  CHECK(entry(model.backings, "bench hide").modulus_MPa == 12.0);
  CHECK(entry(model.compounds, "red paste").size_um == 2.0);
  CHECK(entry(model.woods, "driftwood").side_hardness_N == 2500.0);
  // τ·π·d²/4, three products and a division rounded: 4·2^−53
  CHECK(model.tester.saturation_N == Approx(100.0 * laws::pi * 0.4 * 0.4 / 4.0).epsilon(1e-15));
}

TEST_CASE("numbers of a family may be stated anew in a medium, and in the family", "[config]") {
  const Loaded loaded = load(
      shop("{ hone = \"worn plate\", strokes = 5 },\n  { hone = \"plated diamond, 25 µm\", strokes = 5 },") +
      "[medium.\"worn plate\"]\nfamily = \"plated diamond\"\nsize_um = 45\nprotrusion = 1.1\n"
      "[family.\"plated diamond\"]\nglaze_strokes = 999\n");
  const auto& worn  = entry(loaded.scenario.model.media, "worn plate");
  const auto& other = entry(loaded.scenario.model.media, "plated diamond, 25 µm");
  CHECK(worn.protrusion == 1.1);
  CHECK(other.protrusion == 1.8);
  CHECK(worn.cutting_rate == other.cutting_rate);
  CHECK(worn.glaze_strokes == 999.0);
  CHECK(other.glaze_strokes == 999.0);
}

TEST_CASE("materials are found by their other names, in any case, with either micro sign", "[config]") {
  const Loaded loaded = load(shop(
      "{ hone = \"DIAMOND PLATE, 9 μm\", strokes = 5 },\n  { hone = \"lapping film, 9 um\", strokes = 5 },\n"
      "  { hone = \"Soft Waterstone,jis1000\", strokes = 5 },\n"
      "  { strop = \"hard felt\", compound = \"Chromium Oxide 0.5 μm\", laps = 3 },\n"
      "  { strop = \"mdf\", compound = \"bare\", laps = 3 },\n"
      "  { cut = \"Oak, White\", passes = 2 },\n  { cut = \"WHITE OAK\", passes = 2 },",
      with(iron, "\"O1\"", "\"o1\"")));
  const auto&  model  = loaded.scenario.model;
  CHECK(model.steels.at(0).name == "O1");
  CHECK(model.media.at(0).family == "plated diamond");
  CHECK(model.media.at(0).size_um == 9.0);
  CHECK(model.media.at(1).size_um == 9.0);
  CHECK(model.media.at(2).family == "soft waterstone");
  CHECK(model.media.at(2).size_um == 11.5);
  CHECK(model.backings.at(0).name == "felt");
  CHECK(model.compounds.at(0).name == "chromium oxide 0.5 µm");
  CHECK(model.compounds.at(1).name == "none");
  REQUIRE(model.woods.size() == 1);
  CHECK(model.woods.at(0).name == "white oak");
  CHECK(folded("Δ μM") == folded("Δ µm"));
}

TEST_CASE("a blade's own hardness comes before its steel's", "[config]") {
  const auto hardness = [](const std::string& hrc) {
    return load(shop(one_hone, iron + "hardness_hrc = " + hrc + "\n")).scenario.model.steels.at(0);
  };
  // ASTM E140: HRC 40, 59, 60, 61 and 68 are HV 392, 674, 697, 720 and 940; a Vickers number is 9.80665 MPa
  CHECK(hardness("40").hardness_GPa == 9.80665e-3 * 392);
  CHECK(hardness("59").hardness_GPa == 9.80665e-3 * 674);
  CHECK(hardness("61").hardness_GPa == 9.80665e-3 * 720);
  CHECK(hardness("68").hardness_GPa == 9.80665e-3 * 940);
  // half way between two entries: their mean, exact in binary
  CHECK(hardness("60.5").hardness_GPa == 9.80665e-3 * 708.5);
  CHECK(hardness("67.5").hardness_GPa == 9.80665e-3 * 920);
  CHECK(hardness("60.5").name == "O1 at 60.5 HRC");
  CHECK(hardness("60.5").carbide_um == 0.8);
  // two blades of one steel, one softer: two steels; a third like the first: none more
  const std::string second = with(iron, "[tool.iron]", "[tool.second]") + "hardness_hrc = 58\n";
  const std::string third  = with(iron, "[tool.iron]", "[tool.third]");
  const Loaded      loaded = load(shop(one_hone) + second + third);
  CHECK(loaded.scenario.model.steels.size() == 2);
  CHECK(loaded.scenario.model.steel_of_tool == std::vector<int>{0, 1, 0});
  CHECK(loaded.origins.at("steel.O1 at 58 HRC.hardness_GPa").source == "from hardness_hrc by ASTM E140");
}

TEST_CASE("an edge follows its route first, then its own steps, routes among them", "[config]") {
  const Loaded    loaded = load(with(shop("{ read = \"ready\" },\n  { follow = \"touch-up\" },"), "steps",
                                     "route = \"stones\"\nsteps") +
                                "[route.stones]\nsteps = [ " + one_hone + " { follow = \"touch-up\" } ]\n" +
                                "[route.touch-up]\nsteps = [ { strop = \"MDF\", laps = 7 } ]\n");
  const EdgePlan& edge   = loaded.scenario.edges.at(0);
  CHECK(edge.route == "stones");
  std::vector<std::string> verbs;
  for (const Step& s : edge.steps) verbs.emplace_back(verb_of(s));
  CHECK(verbs == std::vector<std::string>{"hone", "strop", "read", "strop"});
}

TEST_CASE("edges come in the order of the file, not of the alphabet", "[config]") {
  const auto edge = [](const std::string& name) {
    return "[edge." + name + "]\ntool = \"iron\"\nsteps = [ " + one_hone + " ]\n";
  };
  const auto loaded = load_scenario("shop.toml", edge("zeta") + iron + edge("alpha") + edge("mu"));
  REQUIRE(loaded.scenario.edges.size() == 3);
  CHECK(loaded.scenario.edges[0].name == "zeta");
  CHECK(loaded.scenario.edges[1].name == "alpha");
  CHECK(loaded.scenario.edges[2].name == "mu");
}

TEST_CASE("the micro-bevel is the primary bevel where none is stated", "[config]") {
  const Loaded loaded = load(shop(one_hone, with(iron, "micro_bevel_deg = 30\n", "")));
  CHECK(loaded.scenario.model.tools.at(0).micro_bevel_deg == 25.0);
  CHECK(loaded.origins.at("tool.iron.micro_bevel_deg").source == "from tool.iron.primary_bevel_deg");
  CHECK(loaded.origins.at("tool.iron.micro_bevel_deg").line == 5);
}

TEST_CASE("a wear law brings its own parameters", "[config]") {
  const Loaded loaded = load(shop(one_hone) + "[wear]\nlaw = \"power\"\nexponent = 0.5\n");
  REQUIRE(std::holds_alternative<laws::Power<double>>(loaded.scenario.model.wear->law));
  CHECK(std::get<laws::Power<double>>(loaded.scenario.model.wear->law).exponent == 0.5);
  // and none of another law
  CHECK(codes(load_error(shop(one_hone) + "[wear]\nlaw = \"square-root\"\nexponent = 0.5\n")) ==
        std::vector<std::string>{"unknown-key"});
}

TEST_CASE("text for a terminal has nothing that moves the cursor", "[config][text]") {
  CHECK(printable("a\x1b[31mb\n\r\t\x7f") == "a\\x1b[31mb\\x0a\\x0d \\x7f");
  CHECK(printable("\xC2\x9B"
                  "2J") == "\\x9b2J");  // the one-byte form of ESC [
  CHECK(printable("\xC2\xA0\xC2\xB5m Ömer ½") == "\xC2\xA0\xC2\xB5m Ömer ½");
  CHECK(printable("gf.exe\u202Etxt\u200B\u2066\uFEFF") == "gf.exe\\u202etxt\\u200b\\u2066\\ufeff");
  CHECK(printable("… “—” 木 ア") == "… “—” 木 ア");
  CHECK(characters("µm ½ Öl") == 7);
}

TEST_CASE("the name that was meant", "[config][text]") {
  const std::vector<std::string> known{"force_N", "stroke_mm", "strokes", "note", "A1", "white oak"};
  CHECK(nearest("forc_N", known) == "force_N");
  CHECK(nearest("FORCE_n", known) == "force_N");
  CHECK(nearest("storkes", known) == "strokes");  // two letters changed places: one mistake
  CHECK(nearest("oak", known) == "white oak");    // part of a name
  CHECK(nearest("a2", known) == "A1");
  CHECK(nearest("Z", known).empty());  // every name of one letter would be as near
  CHECK(nearest("zz", known).empty());
  CHECK(nearest("temperature", known).empty());
  CHECK(nearest(std::string(1000000, 'x'), known).empty());
  CHECK(or_list({"a"}) == "a");
  CHECK(or_list({"a", "b"}) == "a or b");
  CHECK(or_list({"a", "b", "c"}) == "a, b or c");
  CHECK(or_list({"a", "b", "c", "d"}, 2) == "a, b … and 2 more");
}
