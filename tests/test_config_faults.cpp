// SPDX-License-Identifier: MIT
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/studies/weigh/weigh.hpp"
#include "sim/wording.hpp"
#include "tests/desk.hpp"
#include "tests/fixture.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

struct Case {
  std::string text;      ///< the configuration shop.toml
  std::string expected;  ///< all that is said about it
};

void check_all(const std::vector<Case>& cases) {
  for (const Case& c : cases) {
    INFO(c.text);
    CHECK(load_error(c.text).what() == c.expected);
  }
}

const std::string knife = iron + "honed_sides = 2\n";

}  // namespace

namespace {

std::string known_laws() {
  std::vector<std::string> names = wear_law_names(bench::workshop());
  names.emplace_back("formula");
  return or_list(names);
}

}  // namespace

TEST_CASE("faults of form: where, what, and how it should be written", "[config]") {
  check_all({
      {shop(one_hone, with(iron, "\"O1\"", "O1")),
       R"(shop.toml:2:9: this is not valid TOML: Error while parsing value: could not determine value type [syntax]
  2 | steel = O1
    |         ^
  Text stands in "quotes", numbers have a decimal point and no unit, and each key appears once.
)"},
      {shop(one_hone, with(iron, "= 50", "= 50 mm")),
       R"(shop.toml:3:15: this is not valid TOML: Error while parsing key-value pair: expected a comment or whitespace, saw 'm' [syntax]
  3 | width_mm = 50 mm
    |               ^
  Text stands in "quotes", numbers have a decimal point and no unit, and each key appears once.
)"},
      {shop(one_hone, iron + "width_mm = 51\n"),
       R"(shop.toml:7:12: this is not valid TOML: Error while parsing key-value pair: cannot redefine existing integer 'width_mm' [syntax]
  7 | width_mm = 51
    |            ^
  Text stands in "quotes", numbers have a decimal point and no unit, and each key appears once.
)"},
      {"output = 3\n" + shop(one_hone), R"(shop.toml:1:10: "output" must be a table [not-a-table]
  1 | output = 3
    |          ^
  Write [output] and its keys below it.
)"},
      {"wood = \"oak\"\n" + shop(one_hone), R"(shop.toml:1:8: "wood" must hold named tables [not-a-table]
  1 | wood = "oak"
    |        ^^^^^
  Write [wood."a name"]
)"},
      {"wood.oak = 3\n" + shop(one_hone),
       R"(shop.toml:1:6: [wood] must hold named tables, and "oak" is none [not-a-table]
  1 | wood.oak = 3
    |      ^^^
  Write [wood."oak"]
)"},
      {"title = 5\n" + shop(one_hone), R"(shop.toml:1:9: title must be text in quotes [not-text]
  1 | title = 5
    |         ^
  Write title = "…"
)"},
      {shop(one_hone) + "[wood.x]\nalso = \"y\"\n",
       R"(shop.toml:13:8: also must be a list of other names [not-text]
  13 | also = "y"
     |        ^^^
  Write also = ["another name"]
)"},
      {iron + "[edge.A]\ntool = \"iron\"\nsteps = \"hone\"\n",
       R"(shop.toml:9:9: steps must be a list [not-a-list]
  9 | steps = "hone"
    |         ^^^^^^
  Write steps = [ { hone = "…", strokes = 20 }, … ]
)"},
      {shop("\"hone\","), R"(shop.toml:10:3: a step must be a table in braces [not-a-step]
  10 |   "hone",
     |   ^^^^^^
  Write { hone = "…", strokes = 20 }
)"},
      {shop("{ strokes = 5 },"),
       R"(shop.toml:10:3: this step does not say what is done (allowed: hone, back, strop, cut, wear, read, dress or follow) [not-a-step]
  10 |   { strokes = 5 },
     |   ^^^^^^^^^^^^^^^
)"},
      {shop("{ strope = \"MDF\", laps = 5 },"),
       R"(shop.toml:10:3: this step does not say what is done (allowed: hone, back, strop, cut, wear, read, dress or follow) [not-a-step]
  10 |   { strope = "MDF", laps = 5 },
     |   ^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  Did you mean "strop"?
)"},
      {shop("{ hone = \"oilstone, 9 µm\", cut = \"white oak\", strokes = 5 },"),
       R"(shop.toml:10:3: this step says two things at once: hone or cut (allowed: hone, back, strop, cut, wear, read, dress or follow) [not-a-step]
  10 |   { hone = "oilstone, 9 µm", cut = "white oak", strokes = 5 },
     |   ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
)"},
      {shop("{ follow = \"waterstones\", strokes = 5 },") + "[route.waterstones]\nsteps = [ " + one_hone +
           " ]\n",
       R"(shop.toml:10:29: a follow step has no key "strokes" [unknown-key]
  10 |   { follow = "waterstones", strokes = 5 },
     |                             ^^^^^^^
)"},
      {iron, R"(shop.toml:1:1: no edge is described, so there is nothing to simulate [no-edge]
  1 | [tool.iron]
    | ^
  Add [edge."A1"] with its tool and steps.
)"},
      {iron + "[edge.A]\ntool = \"iron\"\n", R"(shop.toml:7:1: the edge "A" has no steps [no-steps]
  7 | [edge.A]
    | ^^^^^^^^
  Give it a route or steps.
)"},
      {"", R"(shop.toml:1:1: no edge is described, so there is nothing to simulate [no-edge]
  Add [edge."A1"] with its tool and steps.
)"},
  });
}

TEST_CASE("faults of keys: the one that was meant, and its unit", "[config]") {
  check_all({
      {shop(one_hone) + "[tols.iron]\nsteel = \"O1\"\n",
       R"(shop.toml:12:2: there is no table or key "tols" [unknown-key]
  12 | [tols.iron]
     |  ^^^^
  Did you mean "tool"?
)"},
      {shop(one_hone, iron + "colour = \"red\"\n"),
       R"(shop.toml:7:1: [tool.iron] has no key "colour" (allowed: also, kind, steel, hardness_hrc, width_mm, thickness_mm, primary_bevel_deg, micro_bevel_deg, back_bevel_deg, back_contact_mm, bevel_contact_mm, honed_sides, apex_radius_um, scratch_um, burr_um, land_mm, chip_um or note) [unknown-key]
  7 | colour = "red"
    | ^^^^^^
)"},
      {shop(one_hone, iron + "notes = \"red\"\n"),
       R"(shop.toml:7:1: [tool.iron] has no key "notes" [unknown-key]
  7 | notes = "red"
    | ^^^^^
  Did you mean "note"?
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 20, forc_N = 18 },"),
       R"(shop.toml:10:56: [step] has no key "forc_N" [unknown-key]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = 20, forc_N = 18 },
     |                                                        ^^^^^^
  Did you mean "force_N"?
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 20, force = 18 },"),
       R"(shop.toml:10:56: "force" has no unit (allowed: force_N, force_gf, force_kgf or force_lbf) [missing-unit]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = 20, force = 18 },
     |                                                        ^^^^^
  Every quantity carries its unit in its name, so that nobody has to guess it.
  Write force_N = …
)"},
      {shop(one_hone, iron + "back_bevel = 2\n"),
       R"(shop.toml:7:1: "back_bevel" has no unit (allowed: back_bevel_deg or back_bevel_rad) [missing-unit]
  7 | back_bevel = 2
    | ^^^^^^^^^^
  Every quantity carries its unit in its name, so that nobody has to guess it.
  Write back_bevel_deg = …
)"},
      {shop(one_hone, iron + "width_cm = 5\n"),
       R"(shop.toml:7:1: width is given twice, as width_mm and as width_cm [given-twice]
  7 | width_cm = 5
    | ^^^^^^^^
  Keep one of them.
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\" },"),
       R"(shop.toml:10:3: [step] has no strokes: number of strokes (allowed: 0 … 1e+06) [missing-key]
  10 |   { hone = "soft waterstone, JIS #1000" },
     |   ^
  Add strokes = …
)"},
      {shop(one_hone, with(iron, "steel = \"O1\"\n", "")),
       R"(shop.toml:1:1: [tool.iron] has no steel: steel by its AISI grade or your own name [missing-key]
  1 | [tool.iron]
    | ^
  Add steel = …
)"},
      {shop("{ cut = \"x\", passes = 5 },") +
           "[wood.x]\nside_hardness_N = { value = 3000, stats = \"verified\" }\n",
       R"(shop.toml:13:35: a value with its source has no key "stats" (allowed: value, status, source) [unknown-key]
  13 | side_hardness_N = { value = 3000, stats = "verified" }
     |                                   ^^^^^
)"},
      {shop("{ cut = \"x\", passes = 5 },") + "[wood.x]\nside_hardness_N = { value = 3000, status = 1 }\n",
       R"(shop.toml:13:44: the status of a value must be text in quotes [not-text]
  13 | side_hardness_N = { value = 3000, status = 1 }
     |                                            ^
)"},
      {shop("{ follow = \"r\" },") + "[route.r]\nnote = \"nothing\"\n",
       R"(shop.toml:12:1: the route "r" has no steps [missing-key]
  12 | [route.r]
     | ^^^^^^^^^
  Add steps = [ { hone = …, strokes = … } ]
)"},
  });
}

TEST_CASE("faults of values: what was written, and what is allowed", "[config]") {
  check_all({
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 20, force_N = \"20 N\" },"),
       R"(shop.toml:10:66: force_N is text where a number is expected (allowed: 0.1 … 500 N) [not-a-number]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = 20, force_N = "20 N" },
     |                                                                  ^^^^^^
  Write it without quotes and without the unit: force_N = 1.5
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = [20] },"),
       R"(shop.toml:10:52: strokes must be a number (allowed: 0 … 1e+06) [not-a-number]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = [20] },
     |                                                    ^^^^
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = inf },"),
       R"(shop.toml:10:52: strokes must be a finite number (allowed: 0 … 1e+06) [not-finite]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = inf },
     |                                                    ^^^
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 20, force_N = nan },"),
       R"(shop.toml:10:66: force_N must be a finite number (allowed: 0.1 … 500 N) [not-finite]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = 20, force_N = nan },
     |                                                                  ^^^
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = -1 },"),
       R"(shop.toml:10:52: strokes = -1 is out of range (allowed: 0 … 1e+06) [out-of-range]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = -1 },
     |                                                    ^^
  strokes: number of strokes.
)"},
      {shop("{ cut = \"white oak\", passes = 9007199254740993 },"),
       R"(shop.toml:10:33: passes = 9.0072e+15 is out of range (allowed: 0 … 1e+07) [out-of-range]
  10 |   { cut = "white oak", passes = 9007199254740993 },
     |                                 ^^^^^^^^^^^^^^^^
  passes: number of passes.
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 1, force_kgf = 100 },"),
       R"(shop.toml:10:67: force_N = 980.665 N is out of range (allowed: 0.1 … 500 N) [out-of-range]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = 1, force_kgf = 100 },
     |                                                                   ^^^
  force_N: force on the blade.
)"},
      {shop(one_hone, with(iron, "= 50", "= 5000")),
       R"(shop.toml:3:12: width_mm = 5000 mm is out of range (allowed: 0.5 … 500 mm) [out-of-range]
  3 | width_mm = 5000
    |            ^^^^
  width_mm: width of the edge.
)"},
      {shop(one_hone, with(iron, "= 30", "= 90")),
       R"(shop.toml:6:19: micro_bevel_deg = 90° is out of range (allowed: 5 … 85°) [out-of-range]
  6 | micro_bevel_deg = 90
    |                   ^^
  micro_bevel_deg: honed bevel; equal to the primary when the whole bevel is honed.
)"},
      {shop(one_hone, iron + "honed_sides = 1.5\n"),
       R"(shop.toml:7:15: honed_sides = 1.5 must be a whole number (allowed: 1 … 2) [not-an-integer]
  7 | honed_sides = 1.5
    |               ^^^
)"},
      {shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 20, after_burr = \"yes\" },"),
       R"(shop.toml:10:69: after_burr must be true or false, without quotes (allowed: true or false) [not-a-switch]
  10 |   { hone = "soft waterstone, JIS #1000", strokes = 20, after_burr = "yes" },
     |                                                                     ^^^^^
)"},
      {shop(one_hone, with(iron, "\"O1\"", "1095")),
       R"(shop.toml:2:9: steel must be text in quotes: steel by its AISI grade or your own name [not-text]
  2 | steel = 1095
    |         ^^^^
  Write steel = "…"
)"},
      {shop("{ read = 3 },"),
       R"(shop.toml:10:12: read must be text in quotes: name of this moment, as the readings file calls it [not-text]
  10 |   { read = 3 },
     |            ^
  Write read = "…"
)"},
      {shop("{ follow = 3 },"), R"(shop.toml:10:14: follow must name a route [not-text]
  10 |   { follow = 3 },
     |              ^
)"},
  });
}

TEST_CASE("faults of names: what is there instead", "[config]") {
  check_all({
      {shop(one_hone, with(iron, "\"O1\"", "\"01\"")),
       R"(shop.toml:2:9: there is no steel "01" [unknown-steel]
  2 | steel = "01"
    |         ^^^^
  Did you mean "O1"? `arris materials steel` lists all; a table [steel."01"] adds it.
)"},
      {shop(one_hone, with(iron, "\"O1\"", "\"silver\"")),
       R"(shop.toml:2:9: there is no steel "silver" (allowed: 440C, 52100, A11, A2, D2, M2, M4, O1 or W1) [unknown-steel]
  2 | steel = "silver"
    |         ^^^^^^^^
  `arris materials steel` lists all; a table [steel."silver"] adds it.
)"},
      {shop("{ hone = \"soft watersone, JIS #1000\", strokes = 20 },"),
       R"(shop.toml:10:12: there is no family "soft watersone" [unknown-family]
  10 |   { hone = "soft watersone, JIS #1000", strokes = 20 },
     |            ^^^^^^^^^^^^^^^^^^^^^^^^^^^
  Did you mean "soft waterstone"? `arris materials family` lists all; a table [family."soft watersone"] adds it.
)"},
      {shop("{ hone = \"fine stone\", strokes = 20 },"),
       R"(shop.toml:10:12: there is no medium "fine stone" [unknown-medium]
  10 |   { hone = "fine stone", strokes = 20 },
     |            ^^^^^^^^^^^^
  Add [medium."fine stone"] with family and grit, or say both on the spot: "soft waterstone, JIS #1000". Families: coated paper on glass, hard waterstone, lapping film, oilstone, plated diamond, soft waterstone or vitrified ceramic.
)"},
      {shop("{ strop = \"soft hidd\", laps = 20 },"),
       R"(shop.toml:10:13: there is no backing "soft hidd" [unknown-backing]
  10 |   { strop = "soft hidd", laps = 20 },
     |             ^^^^^^^^^^^
  Did you mean "soft hide"? `arris materials backing` lists all; a table [backing."soft hidd"] adds it.
)"},
      {shop("{ strop = \"MDF\", compound = \"alumina 2 µm\", laps = 20 },"),
       R"(shop.toml:10:31: there is no compound "alumina 2 µm" [unknown-compound]
  10 |   { strop = "MDF", compound = "alumina 2 µm", laps = 20 },
     |                               ^^^^^^^^^^^^^^
  Did you mean "alumina 1 µm"? `arris materials compound` lists all; a table [compound."alumina 2 µm"] adds it.
)"},
      {shop("{ cut = \"whit oak\", passes = 20 },"),
       R"(shop.toml:10:11: there is no wood "whit oak" [unknown-wood]
  10 |   { cut = "whit oak", passes = 20 },
     |           ^^^^^^^^^^
  Did you mean "white oak"? `arris materials wood` lists all; a table [wood."whit oak"] adds it.
)"},
      {shop(one_hone) + "[tester]\nfilament = \"nylon 0.26 mm\"\n",
       R"(shop.toml:13:12: there is no filament "nylon 0.26 mm" [unknown-filament]
  13 | filament = "nylon 0.26 mm"
     |            ^^^^^^^^^^^^^^^
  Did you mean "nylon 0.20 mm"? `arris materials filament` lists all; a table [filament."nylon 0.26 mm"] adds it.
)"},
      {with(shop(one_hone), "tool = \"iron\"", "tool = \"irons\""),
       R"(shop.toml:8:8: there is no tool "irons" [unknown-tool]
  8 | tool = "irons"
    |        ^^^^^^^
  Did you mean "iron"? A table [tool."irons"] adds it.
)"},
      {shop("{ follow = \"waterstones\" },"),
       R"(shop.toml:10:14: there is no route "waterstones" [unknown-route]
  10 |   { follow = "waterstones" },
     |              ^^^^^^^^^^^^^
  A table [route."waterstones"] adds it.
)"},
      {with(shop(one_hone), "steps", "route = \"plate\"\nsteps") + "[route.plates]\nsteps = [ " + one_hone +
           " ]\n",
       R"(shop.toml:9:9: there is no route "plate" [unknown-route]
  9 | route = "plate"
    |         ^^^^^^^
  Did you mean "plates"? A table [route."plate"] adds it.
)"},
      {shop(one_hone) + "[wear]\nlaw = \"square root\"\n",
       R"(shop.toml:13:7: there is no such wear law (allowed: )" + known_laws() + R"() [unknown-law]
  13 | law = "square root"
     |       ^^^^^^^^^^^^^
  Did you mean "square-root"?
)"},
      {shop(one_hone) + "[tool.\"a/b\"]\n",
       R"(shop.toml:12:7: "a/b" cannot be a name (allowed: 1 … 80 printable characters, without / and ") [bad-name]
  12 | [tool."a/b"]
     |       ^^^
  Names become names of tables and of groups in result files.
)"},
      {shop(one_hone) + "[wood.\"a\\u001b[31mb\"]\n",
       R"(shop.toml:12:7: "a\x1b[31mb" cannot be a name (allowed: 1 … 80 printable characters, without / and ") [bad-name]
  12 | [wood."a\u001b[31mb"]
     |       ^^^^^^^
  Names become names of tables and of groups in result files.
)"},
      {shop(one_hone) + "[wood.\"a\\u009b31mb\"]\n",
       R"(shop.toml:12:7: "a\x9b31mb" cannot be a name (allowed: 1 … 80 printable characters, without / and ") [bad-name]
  12 | [wood."a\u009b31mb"]
     |       ^^^^^^
  Names become names of tables and of groups in result files.
)"},
      {shop(one_hone) + "[wood.'a\"b']\n",
       R"(shop.toml:12:7: "a"b" cannot be a name (allowed: 1 … 80 printable characters, without / and ") [bad-name]
  12 | [wood.'a"b']
     |       ^^^
  Names become names of tables and of groups in result files.
)"},
      {shop(one_hone) + "[wood.\"..\"]\n",
       R"(shop.toml:12:7: ".." cannot be a name (allowed: 1 … 80 printable characters, without / and ") [bad-name]
  12 | [wood.".."]
     |       ^^
  Names become names of tables and of groups in result files.
)"},
      {shop("{ read = \"a\\u001b[31m\\n\" },"),
       R"(shop.toml:10:12: "a\x1b[31m\x0a" cannot name a reading (allowed: 1 … 80 printable characters) [bad-name]
  10 |   { read = "a\u001b[31m\n" },
     |            ^^^^^^^^^^^^^^^
  The readings file matches its rows by this name.
)"},
      {shop(one_hone) + "[edge.a]\ntool = \"iron\"\nsteps = [ " + one_hone + " ]\n",
       R"(shop.toml:12:7: [edge."a"] names what "A" names already in this file [given-twice]
  12 | [edge.a]
     |       ^
  Names are the same whatever the case of their letters, and other names (also) count.
  Give one of them another name.
)"},
  });
}

TEST_CASE("faults of grits: a number alone says nothing", "[config][grit]") {
  check_all({
      {shop("{ hone = \"soft waterstone, 800\", strokes = 20 },"),
       R"(shop.toml:10:12: "800" is a grit number without its standard [grit-without-standard]
  10 |   { hone = "soft waterstone, 800", strokes = 20 },
     |            ^^^^^^^^^^^^^^^^^^^^^^
  It could mean: CAMI 800 (CAMI) is 12.6 µm, F800 (FEPA F) is 6.5 µm, P800 (FEPA P) is 21.8 µm or JIS #800 (JIS R 6001) is 14 µm.
  Write one of these, or the size in micrometres.
)"},
      {shop("{ hone = \"my stone\", strokes = 20 },") +
           "[medium.\"my stone\"]\nfamily = \"soft waterstone\"\ngrit = 800\n",
       R"(shop.toml:14:8: "800" is a grit number without its standard [grit-without-standard]
  14 | grit = 800
     |        ^^^
  It could mean: CAMI 800 (CAMI) is 12.6 µm, F800 (FEPA F) is 6.5 µm, P800 (FEPA P) is 21.8 µm or JIS #800 (JIS R 6001) is 14 µm.
  Write one of these, or the size in micrometres.
)"},
      {shop("{ hone = \"my stone\", strokes = 20 },") +
           "[medium.\"my stone\"]\nfamily = \"soft waterstone\"\ngrit = \"1001\"\n",
       R"(shop.toml:14:8: "1001" is a grit number without its standard (allowed: CAMI 1001, F1001, P1001, D1001 or JIS #1001, or micrometres such as "9 µm") [grit-without-standard]
  14 | grit = "1001"
     |        ^^^^^^
  No standard known here has that number; a maker's own number needs micrometres.
)"},
      {shop("{ hone = \"hard waterstone, JIS #30000\", strokes = 20 },"),
       R"(shop.toml:10:12: JIS R 6001 has no grade JIS #30000 (allowed: JIS #240, JIS #280, JIS #320, JIS #360, JIS #400, JIS #500, JIS #600, JIS #700, JIS #800, JIS #1000, JIS #1200, JIS #1500, JIS #2000, JIS #2500, JIS #3000, JIS #4000, JIS #6000 or JIS #8000) [unknown-grit]
  10 |   { hone = "hard waterstone, JIS #30000", strokes = 20 },
     |            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  A number beyond the standard is its maker's own statement.
  Give the size in micrometres instead: size_um = …, or "3 µm".
)"},
      {shop("{ hone = \"hard waterstone, very fine\", strokes = 20 },"),
       R"(shop.toml:10:12: "very fine" is not a grit (allowed: CAMI 220, F80, P240, D107 or JIS #1000, "9 µm") [unknown-grit]
  10 |   { hone = "hard waterstone, very fine", strokes = 20 },
     |            ^^^^^^^^^^^^^^^^^^^^^^^^^^^^
)"},
      {shop("{ hone = \"plated diamond, 2-4 µm\", strokes = 20 },"),
       R"(shop.toml:10:12: "2-4 µm" is not a grit (allowed: CAMI 220, F80, P240, D107 or JIS #1000, "9 µm") [unknown-grit]
  10 |   { hone = "plated diamond, 2-4 µm", strokes = 20 },
     |            ^^^^^^^^^^^^^^^^^^^^^^^^
)"},
      {shop("{ hone = \"lapping film, 0.001 µm\", strokes = 20 },"),
       R"(shop.toml:10:12: a grit of 0.001 µm is out of range (allowed: 0.02 … 3000 µm) [out-of-range]
  10 |   { hone = "lapping film, 0.001 µm", strokes = 20 },
     |            ^^^^^^^^^^^^^^^^^^^^^^^^
)"},
      {shop("{ hone = \"oilstone, F4\", strokes = 20 },"),
       R"(shop.toml:10:12: F4 is 4890 µm, coarser than any medium here (allowed: up to 3000 µm) [out-of-range]
  10 |   { hone = "oilstone, F4", strokes = 20 },
     |            ^^^^^^^^^^^^^^
)"},
      {shop("{ hone = \"my stone\", strokes = 20 },") +
           "[medium.\"my stone\"]\nfamily = \"soft waterstone\"\n",
       R"(shop.toml:10:12: the medium "my stone" has no grit [missing-key]
  10 |   { hone = "my stone", strokes = 20 },
     |            ^^^^^^^^^^
  Give grit = "JIS #1000" or size_um = 14.
)"},
      {shop(one_hone) + "[grit.yard]\nmark = \"Y\"\n",
       R"(shop.toml:13:8: [grit.yard]: mark must be text that holds {} for the number [bad-grit-table]
  13 | mark = "Y"
     |        ^^^
  Write mark = "P{}"
)"},
      {shop(one_hone) + "[grit.yard]\nmark = \"Y{}\"\ngrades = 3\n",
       R"(shop.toml:14:10: [grit.yard]: grades must be a list [bad-grit-table]
  14 | grades = 3
     |          ^
  Write grades = [ { number = 800, size_um = 21.8 }, … ]
)"},
      {shop(one_hone) + "[grit.yard]\nmark = \"Y{}\"\ngrades = [ 3, { number = 5, size_um = -3 } ]\n",
       R"(shop.toml:14:12: [grit.yard]: a grade must have a number of 1 … 999999 and a size_um of 0.02 … 6000 [bad-grit-table]
  14 | grades = [ 3, { number = 5, size_um = -3 } ]
     |            ^
  Write { number = 800, size_um = 21.8 }
)"},
      {shop(one_hone) +
           "[grit.yard]\nmark = \"Y{}\"\ngrades = [ { number = 4, size_um = 30 }, { number = 5, size_um = -3 } ]\n",
       R"(shop.toml:14:42: [grit.yard]: a grade must have a number of 1 … 999999 and a size_um of 0.02 … 6000 [bad-grit-table]
  14 | grades = [ { number = 4, size_um = 30 }, { number = 5, size_um = -3 } ]
     |                                          ^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  Write { number = 800, size_um = 21.8 }
)"},
  });
}

TEST_CASE("what cannot be on a bench", "[config]") {
  check_all({
      {shop(one_hone, with(iron, "= 30", "= 20")),
       R"(shop.toml:6:19: the micro-bevel of 20° lies below the primary bevel of 25° [impossible-geometry]
  6 | micro_bevel_deg = 20
    |                   ^^
  A micro-bevel is steeper than the bevel it stands on, or it never touches the stone.
  Give at least 25, or leave micro_bevel_deg out to hone the whole bevel.
)"},
      {shop(one_hone, with(iron, "= 30", "= 25.05")),
       R"(shop.toml:6:19: the micro-bevel is only 0.05° steeper than the primary bevel [impossible-geometry]
  6 | micro_bevel_deg = 25.05
    |                   ^^^^^
  No jig holds that, and the land would be wider than the bevel.
  Make it at least 0.1° steeper, or equal.
)"},
      {shop(one_hone, with(iron, "= 30", "= 60") + "back_bevel_deg = 30\n"),
       R"(shop.toml:7:18: the edge would be 90° wide [impossible-geometry]
  7 | back_bevel_deg = 30
    |                  ^^
  Bevel and back bevel together must stay below 90°.
)"},
      {shop(one_hone, knife + "back_bevel_deg = 5\n"),
       R"(shop.toml:8:18: a blade honed on two sides has no back to put a back bevel on [impossible-geometry]
  8 | back_bevel_deg = 5
    |                  ^
  Set honed_sides = 1, or leave back_bevel_deg out.
)"},
      {shop(one_hone, iron + "land_mm = 8\n"),
       R"(shop.toml:7:11: a land of 8 mm is wider than the whole bevel, 7.1 mm [impossible-geometry]
  7 | land_mm = 8
    |           ^
  Check land_mm and thickness_mm.
)"},
      {shop("{ back = \"oilstone, 9 µm\", strokes = 5 },", knife),
       R"(shop.toml:11:12: "iron" is honed on both sides and has no back [impossible]
  11 |   { back = "oilstone, 9 µm", strokes = 5 },
     |            ^^^^^^^^^^^^^^^^
  Hone both sides with hone, or set honed_sides = 1 in its tool.
)"},
      {shop(one_hone) + "[tester]\nsaturation_N = 0.4\n",
       R"(shop.toml:12:1: saturation_N = 0.4 N is not above cut_resistance_N = 0.5 N [impossible]
  12 | [tester]
     | ^^^^^^^^
  A blunt bar cannot part the filament with less force than a perfect edge.
)"},
      {shop(one_hone, with(iron, "\"O1\"", "\"mine\"")) + "[steel.mine]\ncarbide_um = 1\n",
       R"(shop.toml:2:9: the steel "mine" has no hardness [missing-key]
  2 | steel = "mine"
    |         ^^^^^^
  Give hardness_hrc in [steel."mine"] or in the tool.
)"},
      {shop("{ dress = \"oilstone, 9 µm\" },\n  { hone = \"oilstone, 9 µm\", strokes = 5 },"),
       R"(shop.toml:10:13: "oilstone, 9 µm" is dressed before this edge has touched it [step-order]
  10 |   { dress = "oilstone, 9 µm" },
     |             ^^^^^^^^^^^^^^^^
  Every history begins with freshly dressed media, so this step can do nothing here.
  Move it behind a hone or back step on that medium, or leave it out.
)"},
      {shop("{ read = \"new\" },\n  { read = \"new\" },"),
       R"(shop.toml:11:12: the edge "A" is read twice at "new" [given-twice]
  11 |   { read = "new" },
     |            ^^^^^
  Readings are matched by this name, so it must be unique within an edge.
  Give the second one a name of its own.
)"},
      {shop("{ follow = \"a\" },") +
           "[route.a]\nsteps = [ { follow = \"b\" } ]\n[route.b]\nsteps = [ { follow = \"a\" } ]\n",
       R"(shop.toml:15:22: the route "a" follows itself, in the end [route-cycle]
  15 | steps = [ { follow = "a" } ]
     |                      ^^^
)"},
  });
}
