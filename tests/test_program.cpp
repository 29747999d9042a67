// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "sim/diagnostic.hpp"
#include "sim/input/csv.hpp"
#include "tests/program.hpp"

using namespace arris;
using namespace arris::desk;

namespace fs = std::filesystem;

namespace {

const std::string fine =
    shop(one_hone + "\n{ read = \"new\" },\n{ cut = \"teak\", passes = 50 },\n{ read = \"worn\" },");
const std::string failed =
    shop("{ hone = \"lapping film, 0.02 µm\", strokes = 3, after_burr = true, max_strokes = 7 },") +
    "[edge.B]\ntool = \"iron\"\nsteps = [ { read = \"new\" } ]\n";

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// Long names of the options that the help of a command tells.
std::set<std::string> options_of(const std::string& help) {
  std::set<std::string> out;
  const std::regex      option("(^|[ ,])--([a-z-]+)");
  for (const std::string& line : lines(help)) {
    std::smatch found;
    if (line.rfind("  -", 0) == 0 && std::regex_search(line, found, option)) out.insert(found[2]);
  }
  return out;
}

/// The commands that the help of the program tells.
std::vector<std::string> commands_of(const std::string& help) {
  std::vector<std::string> out;
  bool                     there = false;
  for (const std::string& line : lines(help)) {
    if (there && line.rfind("  ", 0) == 0) out.push_back(line.substr(2, line.find(' ', 2) - 2));
    if (there && line.empty()) break;
    there |= line == "Subcommands:";
  }
  return out;
}

}  // namespace

TEST_CASE("exit codes tell what went wrong", "[program]") {
  const Folder folder;
  write(folder / "fine.toml", fine);
  write(folder / "failed.toml", failed);
  write(folder / "wrong.toml", shop("{ hone = \"oilstone, 9 µm\", stroks = 5 },"));
  write(folder / "readings.toml", fine + "[readings]\nfile = \"r.csv\"\n");
  write(folder / "r.csv", "edge,step,reading_gf\nA,new,120\nA,worn,oops\n");
  write(folder / "nothing.toml", fine + "[readings]\nfile = \"none.csv\"\n");
  const auto code = [&](const std::vector<std::string>& words) { return run(folder, words).code; };
  // 0: done
  CHECK(code({"check", "fine.toml"}) == 0);
  CHECK(code({"simulate", "fine.toml"}) == 0);
  CHECK(code({"check", "failed.toml"}) == 0);  // nothing is wrong with its text
  CHECK(code({"upkeep", "fine.toml", "--limit", "700", "--members", "5"}) == 0);
  // 2: usage or configuration
  CHECK(code({"check", "wrong.toml"}) == 2);
  CHECK(code({"simulate", "wrong.toml"}) == 2);
  CHECK(code({"check", "none.toml"}) == 2);
  CHECK(code({"check", "."}) == 2);
  CHECK(code({"check", ""}) == 2);
  CHECK(code({"check"}) == 2);
  CHECK(code({"check", "fine.toml", "fine.toml"}) == 2);
  CHECK(code({"polish", "fine.toml"}) == 2);
  CHECK(code({"simulate", "fine.toml", "--polish"}) == 2);
  CHECK(code({"simulate", "fine.toml", "--csv", "a.csv", "--csv", "b.csv"}) == 2);
  CHECK(code({"simulate", "fine.toml", "--threads", "many"}) == 2);
  CHECK(code({"simulate", "fine.toml", "--threads", "-1"}) == 2);
  CHECK(code({"simulate", "fine.toml", "--seed", "1"}) == 2);
  CHECK(code({"simulate", "fine.toml", "--edge", "Z"}) == 2);
  CHECK(code({"simulate", "fine.toml", "--out", "no/folder.h5"}) == 2);
  CHECK(code({"fit", "fine.toml"}) == 2);     // it names no readings
  CHECK(code({"upkeep", "fine.toml"}) == 2);  // it states no limit
  CHECK(code({"upkeep", "fine.toml", "--limit", "lawn mowing"}) == 2);
  CHECK(code({"upkeep", "fine.toml", "--limit", "1"}) == 2);
  CHECK(code({"upkeep", "fine.toml", "--limit", "500", "--least", "mix"}) == 2);
  CHECK(code({"upkeep", "fine.toml", "--limit", "500", "--least", "money"}) == 2);  // nothing costs any
  CHECK(code({"upkeep", "fine.toml", "--limit", "500", "--share", "0"}) == 2);
  CHECK(code({"upkeep", "fine.toml", "--limit", "500", "--edge", "Z"}) == 2);
  // 3: data
  CHECK(code({"upkeep", "fine.toml", "--limit", "500", "--fit", "none.h5"}) == 3);
  CHECK(code({"check", "readings.toml"}) == 3);
  CHECK(code({"simulate", "readings.toml"}) == 3);
  CHECK(code({"check", "nothing.toml"}) == 3);
  // 4: integration
  CHECK(code({"simulate", "failed.toml"}) == 4);
  CHECK(code({"simulate", "failed.toml", "--invent-readings", "i.csv"}) == 4);
}

TEST_CASE("the tester is judged from a campaign or from readings alone", "[program][gauge]") {
  const Folder      folder;
  const std::string rows =
      "E1,K,1,182\nE2,K,1,240\nE3,K,1,131\nE1,M,1,171\nE2,M,1,223\nE3,M,1,128\n"
      "E1,K,2,190\nE2,K,2,251\nE3,K,2,127\nE1,M,2,169\nE2,M,2,236\nE3,M,2,119\n";
  write(folder / "g.csv", "part,operator,replicate,reading_gf\n" + rows);
  const Outcome plain = run(folder, {"gauge", "g.csv"});
  CHECK(plain.code == 0);
  CHECK(plain.err.empty());
  CHECK(has(plain.out, "Rests on 12 readings in g.csv"));
  const Outcome json = run(folder, {"gauge", "g.csv", "--json", "-", "--difference", "25"});
  const auto    told = nlohmann::json::parse(json.out);
  CHECK(told.at("kind") == "gauge");
  CHECK(told.at("settings").at("difference_pct") == 25.0);
  CHECK(told.at("residuals").size() == 12);
  CHECK(told.at("provenance").at("configuration").get<std::string>().empty());  // there is no model behind it
  CHECK(has(told.at("provenance").at("inputs").get<std::string>(), "g.csv sha1:"));
  CHECK(run(folder, {"gauge", "g.csv", "-q", "--out", "g.h5", "--csv", "c.csv"}).code == 0);
  CHECK(contents(folder / "c.csv").rfind("component,source,scatter_pct,low_pct,high_pct,", 0) == 0);
  CHECK(fs::exists(folder / "g.h5"));
  CHECK(has(run(folder, {"gauge", "g.csv", "--scale", "linear"}).out, "gf of its mean"));

  // what was asked wrongly: 2; readings that do not do: 3
  const auto code = [&](const std::vector<std::string>& words) { return run(folder, words).code; };
  CHECK(code({"gauge", "none.csv"}) == 3);
  CHECK(code({"gauge", "none.toml"}) == 2);
  CHECK(code({"gauge", "g.csv", "--scale", "cubic"}) == 2);
  CHECK(code({"gauge", "g.csv", "--difference", "0"}) == 2);
  CHECK(code({"gauge", "g.csv", "--difference", "much"}) == 2);
  CHECK(code({"gauge", "g.csv", "--reference", "E1"}) == 2);
  CHECK(code({"gauge", "g.csv", "--value", "100"}) == 2);
  CHECK(code({"gauge", "g.csv", "--reference", "E7", "--value", "100"}) == 2);
  CHECK(code({"gauge", "g.csv", "--csv", "g.csv"}) == 2);
  const auto refused = [&](const std::string& text, const char* why) {
    write(folder / "b.csv", "part,operator,reading_gf\n" + text);
    const Outcome outcome = run(folder, {"gauge", "b.csv"});
    INFO(why << "\n" << outcome.err);
    CHECK(outcome.code == 3);
    CHECK(outcome.out.empty());
    CHECK(has(outcome.err, std::string("[") + why + "]"));
    CHECK_FALSE(has(outcome.err, "nan"));
  };
  refused("A,K,100\nA,K,101\nB,K,120\nB,K,121\n", "one-operator");
  refused("A,K,100\nA,M,101\nB,K,120\nB,M,121\n", "one-replicate");
  refused("A,K,100\nA,K,101\nA,M,120\nA,M,121\n", "one-part");
  refused("A,K,100\nA,K,100\nB,M,100\nB,M,100\n", "no-scatter");
  refused("A,K,\nB,M,\n", "no-readings");
  refused("A,K,100\n,K,101\n", "missing-part");
  refused("A,K,100\nA,,101\nB,K,120\n", "missing-operator");
  write(folder / "fine.toml", fine);
  CHECK(code({"gauge", "fine.toml"}) == 2);  // it names no readings
}

TEST_CASE("errors go to standard error, results to standard output", "[program]") {
  const Folder folder;
  write(folder / "fine.toml", fine);
  write(folder / "failed.toml", failed);
  write(folder / "wrong.toml", shop("{ hone = \"oilstone, 9 µm\", strokes = 5, forc_N = 5 },") + "[outpt]\n");
  write(folder / "noted.toml", fine + "[route.r]\nsteps = []\n");

  const Outcome wrong = run(folder, {"check", "wrong.toml"});
  CHECK(wrong.out.empty());
  CHECK(wrong.err ==
        "error: wrong.toml:10:43: [step] has no key \"forc_N\" [unknown-key]\n"
        "  10 |   { hone = \"oilstone, 9 µm\", strokes = 5, forc_N = 5 },\n"
        "     |                                           ^^^^^^\n"
        "  Did you mean \"force_N\"?\n"
        "error: wrong.toml:12:2: there is no table or key \"outpt\" [unknown-key]\n"
        "  12 | [outpt]\n"
        "     |  ^^^^^\n"
        "  Did you mean \"output\"?\n"
        "2 errors; nothing was written.\n");

  const Outcome good = run(folder, {"simulate", "fine.toml"});
  CHECK(good.err.empty());
  CHECK(has(good.out, "Edge A: iron, 30° at the apex, O1"));
  CHECK(has(good.out, "Rests on: "));

  const Outcome noted = run(folder, {"simulate", "noted.toml"});
  CHECK(noted.code == 0);
  CHECK(noted.err.rfind("note: noted.toml:15:1: no edge follows the route \"r\" [unused-route]\n", 0) == 0);
  CHECK_FALSE(has(noted.out, "note:"));

  // what did not fail is told all the same
  const Outcome half = run(folder, {"simulate", "failed.toml", "--csv", "half.csv", "--json", "half.json"});
  CHECK(half.err.rfind(
            "error: edge \"A\", step 1 (hone lapping film, 0.02 µm), after 7: no burr in 7 strokes.", 0) ==
        0);
  CHECK(has(half.out, "2 edges simulated; 1 failed, see below."));
  CHECK(has(contents(folder / "half.csv"), "\nB,iron,read,new,1,0,"));
  const auto json = nlohmann::json::parse(contents(folder / "half.json"));
  CHECK(json["edges"][0]["status"] != "ok");
  CHECK(json["edges"][1]["status"] == "ok");
}

TEST_CASE("quiet is quiet", "[program]") {
  const Folder folder;
  write(folder / "fine.toml", fine + "[route.r]\nsteps = []\n");  // with something to note
  write(folder / "wrong.toml", "nonsense = 1\n");
  write(folder / "failed.toml", failed);
  for (const char* switch_ : {"--quiet", "-q"}) {
    const Outcome o = run(folder, {"simulate", "fine.toml", switch_});
    CHECK(o.code == 0);
    CHECK(o.out.empty());
    CHECK(o.err.empty());
  }
  CHECK(run(folder, {"check", "-q", "fine.toml"}).out ==
        "fine.toml is right: 1 edge with 4 steps; 1 note to look at, above.\n");
  const Outcome wrong = run(folder, {"simulate", "-q", "wrong.toml"});
  CHECK(wrong.out.empty());
  CHECK_FALSE(wrong.err.empty());
  const Outcome half = run(folder, {"simulate", "-q", "failed.toml"});
  CHECK(half.code == 4);
  CHECK(half.out.empty());
  CHECK(has(half.err, "no burr"));
}

TEST_CASE("the program says what it is and how it is used", "[program]") {
  const Folder  folder;
  const Outcome version = run(folder, {"--version"});
  CHECK(version.code == 0);
  std::smatch number;
  const auto  cmake = contents(fs::path(ARRIS_SOURCE_DIR) / "CMakeLists.txt");
  REQUIRE(std::regex_search(cmake, number, std::regex("project\\(arris VERSION ([0-9.]+)")));
  const auto facts = lines(version.out);
  REQUIRE(facts.size() == 4);
  CHECK(std::regex_match(facts[0],
                         std::regex("arris " + number[1].str() + " \\(([0-9a-f]{7,40}\\+?|unknown)\\)")));
  CHECK(std::regex_match(facts[1], std::regex("(GNU|Clang|AppleClang) [0-9.]+, \\w+ build, flags: .*")));
  CHECK(std::regex_match(
      facts[3], std::regex("Boost [0-9.]+, fmt [0-9.]+, HDF5 [0-9]+\\.[0-9]+\\.[0-9]+, JSON [0-9.]+")));

  const Outcome help = run(folder, {"--help"});
  CHECK(help.code == 0);
  CHECK(help.err.empty());
  const auto commands = commands_of(help.out);
  for (const char* command : {"simulate", "check", "materials"})
    CHECK(std::count(commands.begin(), commands.end(), command) == 1);
  CHECK_FALSE(has(help.out, "write-documents"));  // for the build alone
  CHECK(has(
      help.out,
      "Exit codes: 0 done, 2 usage or configuration, 3 data, 4 integration, 5 fit not converged, 130 interrupted (143 by TERM, 129 by HUP)."));
  CHECK(run(folder, {}).out == help.out);
  CHECK(run(folder, {"-h"}).out == help.out);
  for (const std::string& command : commands) {
    INFO(command);
    const Outcome of = run(folder, {command, "--help"});
    CHECK(of.code == 0);
    CHECK(has(of.out, "Usage: arris " + command + " "));
    CHECK(options_of(of.out).count("help") == 1);
    // an unknown option, and nothing on standard output
    const Outcome unknown = run(folder, {command, "--no-such-option"});
    CHECK(unknown.code == 2);
    CHECK(unknown.out.empty());
    CHECK(has(unknown.err, "has no option --no-such-option"));
    CHECK(has(unknown.err, "[unknown-option]"));
  }
}

TEST_CASE("what check prints is a configuration", "[program][round-trip]") {
  const Folder folder;
  for (const char* file : {"boatyard.toml", "readings.csv"})
    fs::copy_file(fs::path(ARRIS_SOURCE_DIR) / "configs/boatyard" / file, folder / file);
  const Outcome first = run(folder, {"check", "boatyard.toml"});
  REQUIRE(first.code == 0);
  CHECK(first.err.empty());
  const Scenario scenario = load_scenario("b.toml", contents(folder / "boatyard.toml")).scenario;
  std::size_t    steps    = 0;
  for (const EdgePlan& edge : scenario.edges) steps += edge.steps.size();
  CHECK(lines(first.out).back() ==
        "# boatyard.toml is right: " + std::to_string(scenario.edges.size()) + " edges with " +
            std::to_string(steps) + " steps, " +
            std::to_string(parse_csv("r", contents(folder / "readings.csv")).rows.size()) +
            " readings in readings.csv.");
  write(folder / "again.toml", first.out);
  const Outcome second = run(folder, {"check", "again.toml"});
  CHECK(second.code == 0);
  CHECK(second.err.empty());
  // the same simulation to the last bit
  CHECK(run(folder, {"simulate", "boatyard.toml", "--csv", "-"}).out ==
        run(folder, {"simulate", "again.toml", "--csv", "-"}).out);
}

TEST_CASE("check holds the reduced law against the outline", "[program][outline]") {
  const Folder folder;
  write(folder / "fine.toml", fine);
  // sentences, wherever their lines break
  const auto flowing = [](std::string text) {
    std::replace(text.begin(), text.end(), '\n', ' ');
    return text;
  };
  const Outcome near = run(folder, {"check", "fine.toml", "--outline"});
  CHECK(near.code == 0);
  CHECK(near.err.empty());
  const std::string stropped = shop(
      "{ hone = \"soft waterstone, JIS #1000\", strokes = 60 },\n"
      "{ strop = \"soft hide\", compound = \"chromium oxide 0.5 µm\", laps = 200 },\n"
      "{ cut = \"teak\", passes = 500 },");
  write(folder / "few.toml", with(stropped, "laps = 200", "laps = 40"));
  const Outcome few = run(folder, {"check", "few.toml", "--outline"});
  CHECK(few.code == 0);
  CHECK(has(flowing(few.out), "trust the reduced law for this history"));
  CHECK_FALSE(has(flowing(few.out), "claim less"));
  write(
      folder / "hide.toml",
      with(
          stropped, "laps = 200 },",
          "laps = 60 },\n{ strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 20 },"));
  const Outcome hide = run(folder, {"check", "hide.toml", "--outline"});
  CHECK(hide.code == 0);
  CHECK(hide.out.rfind("By its outline ", 0) == 0);
  for (const char* part : {"Edge A, by the reduced law and beside it by its outline", "outline gf",
                           "to flat µm", "strop on soft hide", "cut teak"})
    CHECK(has(hide.out, part));
  // how soon a hard pad meets what a soft one has dubbed is more than the reduced law knows: it says where not to trust it
  CHECK(has(flowing(hide.out), "claim less for edge A, in the steps that are marked"));
  CHECK_FALSE(has(flowing(hide.out), "trust the reduced law"));
  CHECK_FALSE(has(hide.out, "[tool.iron]"));
  // the verdict alone
  const std::string verdict = run(folder, {"check", "hide.toml", "--outline", "--quiet"}).out;
  CHECK(hide.out.rfind(verdict, 0) == 0);
  CHECK_FALSE(has(verdict, "outline gf"));
  CHECK(run(folder, {"check", "hide.toml", "--outline", "--edge", "A"}).out == hide.out);
  CHECK(run(folder, {"check", "hide.toml", "--outline", "--edge", "Z"}).code == 2);
  CHECK(has(run(folder, {"check", "hide.toml", "--edge", "A"}).err, "--edge has nothing to choose"));
  // a history that cannot be run
  write(folder / "failed.toml", failed);
  const Outcome none = run(folder, {"check", "failed.toml", "--outline"});
  CHECK(none.code == 4);
  CHECK(has(none.err, "no burr in 7 strokes"));
}

TEST_CASE("a simulation by outlines says so at once, and studies refuse them", "[program][outline]") {
  const Folder folder;
  write(folder / "o.toml", fine + "[numerics]\nfidelity = \"outline\"\n[readings]\nfile = \"r.csv\"\n");
  write(folder / "r.csv", "edge,step,reading_gf\nA,new,120\nA,worn,150\n");
  const Outcome told =
      run(folder, {"simulate", "o.toml", "--out", "o.h5", "--json", "o.json", "--csv", "o.csv"});
  CHECK(told.code == 0);
  const auto said = told.out.find("Readings, dub and depth to");
  CHECK(said < 200);
  CHECK(has(told.out.substr(0, said + 200), "outline of"));
  CHECK(has(contents(folder / "o.json"), "those of an outline of"));
  CHECK(has(run(folder, {"report", "o.h5", "-o", "-"}).out, "those of an outline of"));
  // a strop's dub is drawn by the outline, and the caption says so
  write(
      folder / "s.toml",
      shop(one_hone + "\n{ hone = \"hard waterstone, JIS #8000\", strokes = 60 },\n"
                      "{ strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 30 },") +
          "[numerics]\nfidelity = \"outline\"\n");
  CHECK(run(folder, {"simulate", "s.toml", "--quiet", "--out", "s.h5"}).code == 0);
  CHECK(has(run(folder, {"report", "s.h5", "-o", "-"}).out, "it is drawn by its outline"));
  CHECK(has(run(folder, {"report", "s.h5", "--figure", "section", "-o", "-"}).out, "Drawn by its outline"));
  CHECK_FALSE(has(run(folder, {"report", "o.h5", "-o", "-"}).out, "it is drawn by its outline"));
  for (const std::vector<std::string>& words :
       std::vector<std::vector<std::string>>{{"fit", "o.toml"},
                                             {"weigh", "o.toml"},
                                             {"forecast", "o.toml"},
                                             {"compare", "o.toml"},
                                             {"upkeep", "o.toml", "--limit", "700"},
                                             {"plan", "o.toml"},
                                             {"sweep", "o.toml", "--over", "step.1.strokes=5:20:4"},
                                             {"study", "o.toml"}}) {
    INFO(words.front());
    const Outcome refused = run(folder, words);
    CHECK(refused.code == 2);
    CHECK(has(refused.err, "[needs-reduced]"));
    CHECK(has(refused.err, "fidelity = \"reduced\""));
  }
}

TEST_CASE("results can go to standard output, and then nothing else does", "[program]") {
  const Folder folder;
  write(folder / "fine.toml", "title = \"T\"\n" + fine);
  const Outcome csv = run(folder, {"simulate", "fine.toml", "--csv", "-"});
  CHECK(csv.code == 0);
  CHECK_NOTHROW(parse_csv("-", csv.out));
  CHECK(csv.out.rfind("edge,tool,verb,subject,step,count,", 0) == 0);
  const Outcome json = run(folder, {"simulate", "fine.toml", "--json", "-"});
  CHECK(nlohmann::json::parse(json.out).at("title") == "T");
  const Outcome readings = run(folder, {"simulate", "fine.toml", "--invent-readings", "-", "--seed", "3"});
  CHECK(readings.out.rfind("# Invented readings, not measured", 0) == 0);
  if (fs::is_character_file("/dev/full")) {
    const Outcome full = shell(folder, quoted(ARRIS_PROGRAM) + " check fine.toml >/dev/full");
    CHECK(full.code == 2);
    CHECK(full.err == "error: the output cannot be written: No space left on device [cannot-write]\n");
    CHECK(shell(folder, quoted(ARRIS_PROGRAM) + " simulate fine.toml --csv - >/dev/full").code == 2);
  }
}

TEST_CASE("result files are written where they should be, whole, or not at all", "[program][files]") {
  const Folder folder;
  write(folder / "fine.toml", fine);
  CHECK(run(folder, {"simulate", "fine.toml", "-q", "--out", "r.h5", "--csv", "r.csv", "--json", "r.json"})
            .code == 0);
  CHECK(folder.names() == std::vector<std::string>{"fine.toml", "r.csv", "r.h5", "r.json"});
  CHECK(contents(folder / "r.csv") == run(folder, {"simulate", "fine.toml", "--csv", "-"}).out);
  // an edge that is not there is noticed before anything is written
  const Outcome unknown = run(folder, {"simulate", "fine.toml", "--edge", "a", "--out", "s.h5"});
  CHECK(unknown.err == "error: there is no edge \"a\" (allowed: A) [unknown-edge]\n  Did you mean \"A\"?\n");
  CHECK_FALSE(fs::exists(folder / "s.h5"));
  // a file that cannot be written leaves the others
  const std::string before = contents(folder / "r.h5");
  CHECK(run(folder, {"simulate", "fine.toml", "-q", "--out", "no/r.h5"}).err ==
        "error: no/r.h5: the result cannot be written: there is no folder no [cannot-write]\n"
        "  Check that the folder exists, can be written and has room; an earlier file is left as it was.\n");
  CHECK(contents(folder / "r.h5") == before);
}

TEST_CASE("a word that is misspelt brings the one that was meant", "[program]") {
  const Folder folder;
  write(folder / "fine.toml", fine);
  const Outcome command = run(folder, {"simulat", "fine.toml"});
  CHECK(command.code == 2);
  CHECK(command.err.rfind("error: there is no command \"simulat\" (allowed: import, log, ", 0) == 0);
  CHECK(has(command.err, "[unknown-command]\n  Did you mean arris simulate?\n"));
  const Outcome help = run(folder, {"nothing", "--help"});
  CHECK(help.code == 2);
  CHECK(help.out.empty());
  CHECK(has(help.err, "there is no command \"nothing\""));
  const Outcome option = run(folder, {"check", "fine.toml", "--quite"});
  CHECK(
      option.err ==
      "error: arris check has no option --quite (allowed: --help, --outline, --edge, --confined, --quiet) [unknown-option]\n"
      "  Did you mean --quiet?\n");
  CHECK(has(run(folder, {"--versoin"}).err, "Did you mean --version?"));
  CHECK(has(run(folder, {"simulate", "fine.toml", "--cvs=x.csv"}).err, "Did you mean --csv?"));
  CHECK(has(run(folder, {"check", "fine.toml", "-x"}).err, "[usage]"));
}

TEST_CASE("a result takes the place of nothing that was read, and of no other result", "[program][files]") {
  const Folder folder;
  fs::create_directory(folder / "own");
  write(folder / "own/more.toml", "note = \"included\"\n");
  write(folder / "r.csv", "edge,step,reading_gf\nA,new,300\n");
  write(folder / "fine.toml", "include = [\"own/more.toml\"]\n" + fine + "[readings]\nfile = \"r.csv\"\n");
  for (const char* file : {"fine.toml", "./fine.toml", "own/../fine.toml", "own/more.toml", "r.csv"}) {
    for (const char* option : {"--out", "--csv", "--json", "--invent-readings"}) {
      INFO(option << " " << file);
      const std::string before = contents(folder / file);
      CHECK(run(folder, {"simulate", "fine.toml", option, file}).err ==
            std::string("error: ") + file + ": " + option +
                " would overwrite a file that is read here [would-overwrite]\n" +
                "  Give the result another name.\n");
      CHECK(contents(folder / file) == before);
    }
  }
  CHECK(run(folder, {"simulate", "fine.toml", "--csv", "x", "--json", "./x"}).err ==
        "error: ./x: --csv and --json name the same file [would-overwrite]\n");
  CHECK(run(folder, {"simulate", "fine.toml", "--csv", "-", "--json", "-"}).code == 2);
  CHECK(run(folder, {"fit", "fine.toml", "--fitted", "fine.toml"}).code == 2);
}

TEST_CASE("the steps of chosen edges, or of none", "[program]") {
  const Folder folder;
  write(folder / "two.toml", fine + "[edge.B]\ntool = \"iron\"\nsteps = [ { read = \"new\" } ]\n");
  const std::string all = run(folder, {"simulate", "two.toml"}).out;
  CHECK((has(all, "Edge A:") && has(all, "Edge B:")));
  const std::string one = run(folder, {"simulate", "two.toml", "-e", "B"}).out;
  CHECK((!has(one, "Edge A:") && has(one, "Edge B:")));
  const std::string both = run(folder, {"simulate", "two.toml", "--edge", "B, A"}).out;
  CHECK(both.find("Edge B:") < both.find("Edge A:"));
  const std::string brief = run(folder, {"simulate", "two.toml", "--brief"}).out;
  CHECK((!has(brief, "Edge A:") && !has(brief, "Edge B:") && has(brief, "2 edges simulated")));
}

TEST_CASE("invented readings can be repeated, and are readings", "[program][invented]") {
  const Folder      folder;
  const std::string name = "it's a \"dull\" $edge.toml";
  write(folder / name, fine);
  CHECK(run(folder, {"simulate", name, "-q", "--seed", "5", "--operators", "K, M", "--lots", "N",
                     "--invent-readings", "a.csv"})
            .code == 0);
  const std::string first = contents(folder / "a.csv");
  // the line in the file repeats it, in a shell
  const std::string repeat = "# Repeat with: arris ";
  const auto        line   = lines(first)[1];
  REQUIRE(line.rfind(repeat, 0) == 0);
  CHECK(shell(folder, quoted(ARRIS_PROGRAM) + " " + line.substr(repeat.size())).code == 0);
  CHECK(contents(folder / "a.csv") == first);
  // another seed, other readings
  CHECK(run(folder, {"simulate", name, "--seed", "6", "--invent-readings", "-"}).out !=
        run(folder, {"simulate", name, "--seed", "5", "--invent-readings", "-"}).out);
  // and they are read
  write(folder / "with.toml", fine + "[readings]\nfile = \"a.csv\"\n");
  CHECK(has(run(folder, {"check", "-q", "with.toml"}).out, "2 readings in a.csv"));
  CHECK(has(run(folder, {"simulate", "with.toml"}).out, "Measured against predicted (a.csv)"));
  CHECK(run(folder, {"simulate", "with.toml", "--invent-readings", "b.csv", "--operators", ","}).code == 2);
}

TEST_CASE("weigh takes laws one by one or in a list, and its answer goes where it is sent",
          "[program][weigh]") {
  const Folder folder;
  std::string  text = iron + "apex_radius_um = 0.4\n[readings]\nfile = \"r.csv\"\n";
  for (int e = 1; e <= 3; ++e) {
    text += "[edge.E" + std::to_string(e) +
            "]\ntool = \"iron\"\nsteps = [ { read = \"new\", replicates = 2 }, { cut = \"teak\", passes = " +
            std::to_string(30 * e) + " }, { read = \"worn\", replicates = 2 } ]\n";
  }
  write(folder / "bare.toml", with(text, "[readings]\nfile = \"r.csv\"\n", ""));
  write(folder / "built-in.toml", text);
  write(folder / "own.toml",
        text + "[wear]\nrate = \"k*severity/r\"\nk = { value = 1e-3, unit = \"µm²/m\", factor = 3 }\n");
  REQUIRE(run(folder, {"simulate", "bare.toml", "--invent-readings", "r.csv", "-q"}).code == 0);

  const auto weigh = [&](std::vector<std::string> words) {
    words.insert(words.begin(), {"weigh"});
    words.insert(words.end(), {"--starts", "1"});
    return run(folder, words);
  };
  const Outcome list = weigh({"built-in.toml", "--law", "power,square-root"});
  CHECK(list.code == 0);
  const Outcome repeated = weigh({"built-in.toml", "--law", "power", "-l", "square-root"});
  CHECK(same_text(repeated.out, list.out));
  CHECK(has(list.out, "wear law"));
  CHECK_FALSE(has(list.out, "settling"));
  CHECK_FALSE(has(list.out, "-0.0"));
  CHECK(has(list.out, "Rests on: r.csv and the priors of the parameters."));

  CHECK(weigh({"own.toml", "--law", "formula", "--law", "square-root", "-q", "--out", "w.h5", "--csv",
               "w.csv", "--json", "w.json"})
            .out.empty());
  CHECK(fs::file_size(folder / "w.h5") > 0);
  const auto rows = lines(contents(folder / "w.csv"));
  REQUIRE(rows.size() == 3);
  CHECK(
      rows[0] ==
      "law,usable,parameters,log_likelihood,aicc,bic,weight,elpd,elpd_se,difference,difference_se,by_chance,ruled_out,failure");
  const auto json = nlohmann::json::parse(contents(folder / "w.json"));
  CHECK(json["kind"] == "weigh");
  REQUIRE(json["laws"].size() == 2);
  for (const char* key : {"law", "usable", "parameters", "log_likelihood", "aicc", "bic", "elpd", "elpd_se",
                          "difference", "difference_se"}) {
    INFO(key);
    CHECK(json["laws"][0].contains(key));
  }
  CHECK(json["misfits"].size() == 4);  // two laws, new and worn
  CHECK(json.contains("provenance"));

  const Outcome none = weigh({"built-in.toml", "--law", "formula"});
  CHECK(none.code == 2);
  CHECK(none.err ==
        "error: the configuration states no formula to weigh [no-formula]\n"
        "  State it: [wear] law = \"formula\", rate = \"…\" and its parameters.\n");
  CHECK(weigh({"built-in.toml", "--law", "powr"}).code == 2);
  CHECK(weigh({"built-in.toml", "--law", " , "}).code == 2);
  CHECK(weigh({"built-in.toml", "--csv", "r.csv"}).code == 2);  // it is read from there
}

TEST_CASE("what a result says of its command line", "[program][provenance]") {
  const Folder folder;
  write(folder / "a b's.toml", fine);
  const Outcome outcome = run(folder, {"simulate", "a b's.toml", "--json", "-", "--edge", ""});
  CHECK(nlohmann::json::parse(outcome.out).at("provenance").at("command") ==
        "arris simulate 'a b'\\''s.toml' --json - --edge ''");
}

TEST_CASE("materials can be listed, searched and read by machines", "[program][materials]") {
  const Folder folder;
  const auto   out = [&](const std::vector<std::string>& words) {
    const Outcome o = run(folder, words);
    CHECK(o.code == 0);
    CHECK(o.err.empty());
    return o.out;
  };
  const std::vector<std::string> kinds{"steel",    "family", "grit",     "backing",
                                       "compound", "wood",   "filament", "limit"};
  const std::string              overview = out({"materials"});
  for (const std::string& kind : kinds) {
    INFO(kind);
    CHECK(has(overview, "\n" + kind + " "));
    CHECK(lines(out({"materials", kind})).size() > 5);
    CHECK(nlohmann::json::parse(out({"materials", kind, "--json"})).size() > 5);
  }
  const auto all = nlohmann::json::parse(out({"materials", "--json"}));
  CHECK(all.size() == kinds.size());
  CHECK(all.at("wood").size() == 82);

  // one alone, with its sources
  const std::string oak = out({"materials", "wood", "--search", "white oak"});
  CHECK(has(oak, "wood \"white oak\"\n"));
  CHECK(has(oak, "side_hardness_N"));
  CHECK(has(oak, "[1] USDA Forest Service"));
  // in any kind, by other names and remarks, in any case
  CHECK(has(out({"materials", "--search", "OAK, WHITE"}), "wood \"white oak\""));
  CHECK(has(out({"materials", "-s", "P800"}), "21.8"));
  const auto found = nlohmann::json::parse(out({"materials", "--search", "diamond", "--json"}));
  CHECK(found.contains("family"));
  CHECK(found.contains("compound"));
  CHECK_FALSE(found.contains("steel"));
  // nothing
  const Outcome none = run(folder, {"materials", "wood", "--search", "plastic"});
  CHECK(none.code == 2);
  CHECK(none.out.empty());
  CHECK(none.err == "error: no wood matches \"plastic\" [no-match]\n  arris materials wood lists all.\n");
  CHECK(run(folder, {"materials", "--search", "plastic"}).code == 2);
  // by a word of it, where no name has all that was looked for
  const Outcome near = run(folder, {"materials", "--search", "European oak"});
  CHECK(near.code == 2);
  CHECK(
      has(near.err, "Did you mean \"northern red oak\" or \"white oak\"? arris materials lists the kinds."));
  CHECK(nlohmann::json::parse(out({"materials", "--search", "plastic", "--json"})).empty());
  CHECK(nlohmann::json::parse(out({"materials", "wood", "--search", "plastic", "--json"})).empty());
  const Outcome unknown = run(folder, {"materials", "wod"});
  CHECK(unknown.code == 2);
  CHECK(has(unknown.err, "Did you mean \"wood\"?"));

  // those of a configuration too
  write(folder / "own.toml", fine +
                                 "[wood.driftwood]\nside_hardness_N = 2500\nnote = \"from the beach\"\n"
                                 "[grit.yard]\nmark = \"Y{}\"\ngrades = [ { number = 5, size_um = 40 } ]\n");
  CHECK(has(out({"materials", "wood", "--config", "own.toml", "--search", "beach"}), "wood \"driftwood\""));
  CHECK(has(out({"materials", "grit", "-c", "own.toml", "-s", "Y5"}), "Y5"));
  write(folder / "bad.toml", fine + "[grit.yard]\nmark = \"Y\"\ngrades = [ 1 ]\n");
  CHECK(run(folder, {"materials", "grit", "--config", "bad.toml"}).code == 2);
}

TEST_CASE("man page and completions tell every command and option", "[program][documents]") {
  const Folder folder;
  CHECK(run(folder, {"write-documents", "."}).code == 0);
  CHECK(folder.names() == std::vector<std::string>{"_arris", "arris.1", "arris.bash", "arris.fish"});
  const std::string man = contents(folder / "arris.1"), bash = contents(folder / "arris.bash"),
                    zsh = contents(folder / "_arris"), fish = contents(folder / "arris.fish");
  const auto commands = commands_of(run(folder, {"--help"}).out);
  REQUIRE(commands.size() >= 3);
  for (const std::string& command : commands) {
    CHECK(has(man, ".SS " + command + "\n"));
    CHECK(has(zsh, "    '" + command + ":"));
    CHECK(has(fish, "-f -a " + command + " -d "));
    for (const std::string& option : options_of(run(folder, {command, "--help"}).out)) {
      if (option == "help") continue;
      INFO(command << " --" << option);
      // from the part of the command on to the next
      const auto part = [&](const std::string& text, const std::string& begin, const std::string& end) {
        const auto at = text.find(begin);
        return at == std::string::npos ? std::string()
                                       : text.substr(at, text.find(end, at + begin.size()) - at);
      };
      std::string roff = option;
      for (std::size_t i = 0; (i = roff.find('-', i)) != std::string::npos; i += 2) roff.insert(i, "\\");
      CHECK(has(part(man, ".SS " + command + "\n", ".SS "), "\\fB\\-\\-" + roff + "\\fR"));
      const std::string in_bash = part(bash, "    " + command + ")\n", "      ;;\n");
      CHECK((has(in_bash, " --" + option + " ") || has(in_bash, " --" + option + "'")));
      CHECK(has(part(zsh, "    " + command + ")\n", "      ;;\n"), "--" + option));
      CHECK(has(fish, "'__fish_seen_subcommand_from " + command + "' -l " + option));
    }
  }
  // no line of the page is taken for a request that it is not
  for (const std::string& line : lines(man)) {
    if (line.front() == '.') CHECK(std::regex_search(line, std::regex("^\\.(\\\\\"|TH|SH|SS|TP|B|I|br)")));
    CHECK(line.front() != '\'');
  }
  if (shell(folder, "command -v groff >/dev/null").code == 0)
    CHECK(shell(folder, "groff -man -ww -z arris.1").err.empty());
  if (shell(folder, "command -v zsh >/dev/null").code == 0) CHECK(shell(folder, "zsh -n _arris").code == 0);
  if (shell(folder, "command -v fish >/dev/null").code == 0)
    CHECK(shell(folder, "fish -n arris.fish").code == 0);
}

TEST_CASE("bash completes commands, options, kinds and files", "[program][documents]") {
  const Folder folder;
  REQUIRE(run(folder, {"write-documents", "."}).code == 0);
  REQUIRE(shell(folder, "bash -n arris.bash").code == 0);
  write(folder / "fine.toml", fine);
  const auto complete = [&](const std::vector<std::string>& words) {
    std::string list;
    for (const std::string& word : words) list += " " + quoted(word);
    const Outcome o =
        shell(folder, "bash --norc -c " + quoted("source ./arris.bash; COMP_WORDS=(arris" + list +
                                                 "); COMP_CWORD=" + std::to_string(words.size()) +
                                                 "; _arris; printf '%s\\n' \"${COMPREPLY[@]}\""));
    CHECK(o.code == 0);
    CHECK(o.err.empty());
    return lines(o.out);
  };
  using Words = std::vector<std::string>;
  CHECK(complete({"sim"}) == Words{"simulate"});
  CHECK(complete({"--v"}) == Words{"--version"});
  CHECK(complete({"simulate", "--inv"}) == Words{"--invent-readings"});
  CHECK(complete({"simulate", "fi"}) == Words{"fine.toml"});
  CHECK(complete({"simulate", "--out", "fi"}) == Words{"fine.toml"});
  CHECK(complete({"simulate", "-o", "fi"}) == Words{"fine.toml"});
  CHECK(complete({"simulate", "--seed", ""}) == Words{""});
  CHECK(complete({"simulate", "-t", ""}) == Words{""});
  CHECK(complete({"materials", "wo"}) == Words{"wood"});
  CHECK(complete({"materials", "--config", "fi"}) == Words{"fine.toml"});
}

TEST_CASE("no input brings the program down", "[program][robustness]") {
  const Folder folder;
  std::string  bytes, deep(100000, '['), key = "a";
  for (int i = 0; i < 4096; ++i) bytes += static_cast<char>(i * 37 % 256);
  for (int i = 0; i < 100000; ++i) key += ".a";
  const auto nested = [](int n) {
    std::string out;
    for (int i = 0; i < n; ++i) out += "{ a = ";
    return out;
  };
  int                            n = 0;
  const std::vector<std::string> texts{std::string(),
                                       std::string("\n\n\n"),
                                       std::string("\xEF\xBB\xBF"),
                                       bytes,
                                       std::string("title = \"a\0b\"", 13),
                                       std::string("\xFF\xFEt\0i\0", 6),
                                       std::string(100000, 'x'),
                                       std::string(100000, 'x') + " = 1\n" + fine,
                                       "x = \"" + std::string(100000, 'y'),
                                       "x = " + deep,
                                       "x = " + nested(100000),
                                       key + " = 1\n",
                                       "[" + key + "]\n",
                                       shop("{ cut = \"teak\", passes = 1e308 },"),
                                       shop("{ cut = \"teak\", passes = 1e309 },"),
                                       shop("{ cut = \"teak\", passes = -0.0001 },"),
                                       shop("{ cut = \"teak\", passes = 99999999999999999999 },"),
                                       shop("{ cut = \"teak\", passes = 9223372036854775807 },"),
                                       shop("{ cut = \"teak\", passes = 1979-05-27 },"),
                                       shop("{ }, [ ], 1, \"\", inf,"),
                                       "edge = [ 1, 2 ]\n" + iron,
                                       "[[edge.A]]\n[[tool]]\n",
                                       "[edge.A.steps.hone]\nx = 1\n",
                                       "include = [\"\", \"/\", \"..\", \"self.toml\"]\n",
                                       "[fit]\nfree = [ 1, \"\", \"x\" ]\n" + fine,
                                       "[prior.x]\n[prior.\"\"]\nmedian = -1\n" + fine};
  for (const std::string& text : texts) {
    const std::string name = std::to_string(++n) + ".toml";
    write(folder / name, text);
    for (const char* command : {"check", "simulate"}) {
      INFO(n << ": " << text.substr(0, 60));
      const Outcome o = run(folder, {command, name});
      CHECK(o.code == 2);
      CHECK(o.out.empty());
      CHECK(o.err.rfind("error: ", 0) == 0);
      CHECK_FALSE(has(o.err, "terminate called"));
    }
  }
  // readings
  write(folder / "r.toml", fine + "[readings]\nfile = \"r.csv\"\n");
  for (const std::string& text : {std::string(), bytes, std::string(100000, ','), std::string(100000, '"'),
                                  "edge,step,reading_gf\n" + std::string(100000, 'A') + ",new,1\n",
                                  std::string("edge,step,reading_gf\nA,new,1e308\n"),
                                  std::string("edge,passes,reading_gf\nA,1e308,100\n"),
                                  std::string("edge,passes,reading_gf\nA,nan,100\n"),
                                  std::string("edge,step,reading_gf,replicate\nA,new,100,1e300\n")}) {
    write(folder / "r.csv", text);
    INFO(text.substr(0, 60));
    const Outcome o = run(folder, {"simulate", "r.toml"});
    CHECK(o.code == 3);
    CHECK(o.out.empty());
    CHECK(o.err.rfind("error: ", 0) == 0);
  }
}
