// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/history/stages.hpp"
#include "sim/input/csv.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/simulate/readings.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

// an edge that is read, used and read again, and one that is only read; the filament saturates at 8.00 N, 815.9 gf
const Loaded& yard() {
  static const Loaded loaded = load(
      shop(
          "{ read = \"new\" },\n  { cut = \"white oak\", passes = 100 },\n  { read = \"worn\" },\n  { cut = \"white oak\", passes = 50 },") +
      "[edge.B]\ntool = \"iron\"\nsteps = [ { read = \"new\" } ]\n");
  return loaded;
}

std::vector<Reading> parse(const std::string& text) { return parse_readings("r.csv", text, yard().scenario); }

Error parse_error(const std::string& text) {
  return error_of([&] { (void)parse(text); });
}

struct Case {
  std::string text;      ///< the readings r.csv
  std::string expected;  ///< all that is said about them
};

void check_all(const std::vector<Case>& cases) {
  for (const Case& c : cases) {
    INFO(c.text);
    const Error error = parse_error(c.text);
    CHECK(error.what() == c.expected);
    CHECK(error.exit() == Exit::data);
  }
}

double in_newton(double gf) { return gf * 1e-3 * 9.80665; }

}  // namespace

TEST_CASE("faults of the columns of a readings file", "[readings]") {
  check_all({
      {"edge,step,reading\nA,new,120\n",
       R"(r.csv:1:11: the readings have no unit (allowed: reading_gf or reading_N) [missing-unit]
  1 | edge,step,reading
    |           ^^^^^^^
)"},
      {"edge,step,reading_gf,reading_N\nA,new,120,1.2\n",
       R"(r.csv:1:1: the readings are given in two units [given-twice]
  1 | edge,step,reading_gf,reading_N
    | ^
  Keep reading_gf or reading_N.
)"},
      {"edge,step,reading_gf,edge\nA,new,120,A\n",
       R"(r.csv:1:22: the column "edge" appears twice [given-twice]
  1 | edge,step,reading_gf,edge
    |                      ^^^^
)"},
      {"edge;step;reading_gf\nA;new;120,5\n",
       R"(r.csv:1:1: the columns are separated by semicolons [semicolons]
  1 | edge;step;reading_gf
    | ^^^^^^^^^^^^^^^^^^^^
  Spreadsheets of some countries export so.
  Export with commas between columns and a decimal point in numbers.
)"},
      {"step,reading_gf\nnew,120\n",
       R"(r.csv:1:1: there is no column that names the edge (allowed: edge or code) [missing-column]
  1 | step,reading_gf
    | ^
)"},
      {"edge,reading_gf\nA,120\n",
       R"(r.csv:1:1: there is no column that says when a reading was taken (allowed: step or passes) [missing-column]
  1 | edge,reading_gf
    | ^
)"},
      {"edge,step\nA,new\n",
       R"(r.csv:1:1: there is no column of readings (allowed: reading_gf or reading_N) [missing-column]
  1 | edge,step
    | ^
)"},
      {"", R"(r.csv: the file is empty [no-readings]
  Its first line names the columns.
)"},
      {"# nothing but a remark\n", R"(r.csv: the file is empty [no-readings]
  Its first line names the columns.
)"},
      {"edge,step,reading_gf\n", R"(r.csv:1:1: the file holds no readings [no-readings]
  1 | edge,step,reading_gf
    | ^
)"},
      {"edge,step,reading_gf\nA,new,\n", R"(r.csv:1:1: the file holds no readings [no-readings]
  1 | edge,step,reading_gf
    | ^
  Fill in the readings; rows that stay empty count as missing.
)"},
  });
  // the columns that there are stand in the message
  const Error unknown = parse_error("edge,step,reading_gf,oprator\nA,new,120,K\n");
  REQUIRE(codes(unknown) == std::vector<std::string>{"unknown-column"});
  CHECK(underlined(unknown.diagnostics()[0]) == "oprator");
  CHECK(unknown.diagnostics()[0].next == "Did you mean \"operator\"?");
  CHECK(unknown.diagnostics()[0].allowed.find("edge, step, passes, reading_gf, reading_N, replicate") == 0);
}

TEST_CASE("faults of a reading", "[readings]") {
  check_all({
      {"edge,step,reading_gf\nA,new,about 120\n",
       R"(r.csv:2:7: "about 120" is not a number: the reading [not-a-number]
  2 | A,new,about 120
    |       ^^^^^^^^^
  Leave the cell empty where a reading is missing; put remarks under note.
)"},
      {"edge,step,reading_gf\nA,new,120 gf\n",
       R"(r.csv:2:7: "120 gf" is not a number: the reading [not-a-number]
  2 | A,new,120 gf
    |       ^^^^^^
  Leave the cell empty where a reading is missing; put remarks under note.
)"},
      {"edge,step,reading_gf\nA,new,nan\n",
       R"(r.csv:2:7: "nan" is not a finite number: the reading [not-finite]
  2 | A,new,nan
    |       ^^^
  Leave the cell empty where a reading is missing.
)"},
      {"edge,step,reading_gf\nA,new,inf\n",
       R"(r.csv:2:7: "inf" is not a finite number: the reading [not-finite]
  2 | A,new,inf
    |       ^^^
  Leave the cell empty where a reading is missing.
)"},
      {"edge,step,reading_gf\nA,new,1e999\n",
       R"(r.csv:2:7: "1e999" is not a number: the reading [not-a-number]
  2 | A,new,1e999
    |       ^^^^^
  Leave the cell empty where a reading is missing; put remarks under note.
)"},
      {"edge,step,reading_gf\nA,new,-120\n",
       R"(r.csv:2:7: a reading of -120 is no force (allowed: above 0) [negative-force]
  2 | A,new,-120
    |       ^^^^
  An empty cell means missing; zero would mean that no force was needed.
  Correct it, or leave it empty.
)"},
      {"edge,step,reading_gf\nA,new,0\n",
       R"(r.csv:2:7: a reading of 0 is no force (allowed: above 0) [negative-force]
  2 | A,new,0
    |       ^
  An empty cell means missing; zero would mean that no force was needed.
  Correct it, or leave it empty.
)"},
      {"edge,step,reading_gf\nA,new,120,5\n", R"(r.csv:2:1: 4 cells where the header has 3 [wrong-count]
  2 | A,new,120,5
    | ^
  A decimal comma splits a number into two cells.
  Write numbers with a decimal point, and text with commas in "quotes".
)"},
      {"edge,step,reading_gf\nA,new,\"120,5\"\n",
       R"(r.csv:2:8: "120,5" is not a number: the reading [decimal-comma]
  2 | A,new,"120,5"
    |        ^^^^^
  Numbers here have a decimal point.
  Export with a decimal point.
)"},
      {"edge,step,reading_gf\nA,new,900\n",
       R"(r.csv:2:7: a reading of 900 gf lies beyond the saturation of the filament, 815.9 gf [beyond-saturation]
  2 | A,new,900
    |       ^^^
  A blunt bar parts this filament with less.
  Check the unit and the filament, or give a reason under excluded.
)"},
      {"edge,step,reading_N\nA,new,120\n",
       R"(r.csv:2:7: a reading of 120 N lies beyond the saturation of the filament, 8.001 N [beyond-saturation]
  2 | A,new,120
    |       ^^^
  A blunt bar parts this filament with less.
  Check the unit and the filament, or give a reason under excluded.
)"},
      {"edge,step,reading_gf\nA;new;120\n", R"(r.csv:2:1: 1 cell where the header has 3 [wrong-count]
  2 | A;new;120
    | ^
  This row has semicolons between its cells.
  Separate cells by commas, as in the header.
)"},
      {"edge,step,reading_gf,note\nA,new,120\n", R"(r.csv:2:1: 3 cells where the header has 4 [wrong-count]
  2 | A,new,120
    | ^
  End the row with as many commas as the header has.
)"},
  });
}

TEST_CASE("faults of where and when a reading was taken", "[readings]") {
  check_all({
      {"edge,step,reading_gf\nC,new,120\n",
       R"(r.csv:2:1: the configuration has no edge "C" (allowed: A or B) [unknown-edge]
  2 | C,new,120
    | ^
)"},
      {"edge,step,reading_gf\na,new,120\n",
       R"(r.csv:2:1: the configuration has no edge "a" (allowed: A or B) [unknown-edge]
  2 | a,new,120
    | ^
  Did you mean "A"?
)"},
      {"edge,step,reading_gf\nA,newer,120\n",
       R"(r.csv:2:3: the edge "A" is not read at "newer" (allowed: new or worn) [unknown-step]
  2 | A,newer,120
    |   ^^^^^
  Did you mean "new"?
)"},
      {"edge,step,reading_gf\nB,worn,120\n",
       R"(r.csv:2:3: the edge "B" is not read at "worn" (allowed: new) [unknown-step]
  2 | B,worn,120
    |   ^^^^
)"},
      {"edge,passes,reading_gf\nA,151,120\n",
       R"(r.csv:2:3: the edge "A" never makes 151 passes (allowed: 0 … 150) [unknown-step]
  2 | A,151,120
    |   ^^^
)"},
      {"edge,passes,reading_gf\nA,-1,120\n",
       R"(r.csv:2:3: the edge "A" never makes -1 passes (allowed: 0 … 150) [unknown-step]
  2 | A,-1,120
    |   ^^
)"},
      {"edge,passes,reading_gf\nA,many,120\n",
       R"(r.csv:2:3: "many" is not a number: passes when it was taken [not-a-number]
  2 | A,many,120
    |   ^^^^
  Leave the cell empty where a reading is missing; put remarks under note.
)"},
      {"edge,step,passes,reading_gf\nA,new,10,120\n", R"(r.csv:2:3: step and passes are both given [no-moment]
  2 | A,new,10,120
    |   ^^^
  Give one of them: it says when the reading was taken.
)"},
      {"edge,step,passes,reading_gf\nA,,,120\n", R"(r.csv:2:3: neither step nor passes is given [no-moment]
  2 | A,,,120
    |   ^
  Give one of them: it says when the reading was taken.
)"},
      {"edge,step,reading_gf,replicate\nA,new,120,1.5\n",
       R"(r.csv:2:11: replicate 1.5 must be a whole number (allowed: 1, 2, 3 …) [not-an-integer]
  2 | A,new,120,1.5
    |           ^^^
)"},
      {"edge,step,reading_gf,replicate\nA,new,120,0\n",
       R"(r.csv:2:11: replicate 0 must be a whole number (allowed: 1, 2, 3 …) [not-an-integer]
  2 | A,new,120,0
    |           ^
)"},
      {"edge,step,reading_gf,replicate,operator\nA,new,120,1,K\nA,new,125,1,L\nA,new,130,1,K\n",
       R"(r.csv:4:11: replicate 1 of edge A at "new" stands twice [duplicate-replicate]
  4 | A,new,130,1,K
    |           ^
  Number the replicates of one operator 1, 2, 3 …
)"},
  });
}

TEST_CASE("faults of what was measured under a microscope", "[readings]") {
  check_all({
      {"edge,step,apex_radius_um,apex_radius_sd_um\nA,new,0.8,\n",
       R"(r.csv:2:7: apex_radius_um is given without its uncertainty [missing-uncertainty]
  2 | A,new,0.8,
    |       ^^^
  Give one standard deviation in apex_radius_sd_um.
)"},
      {"edge,step,apex_radius_um\nA,new,0.8\n",
       R"(r.csv:2:7: apex_radius_um is given without its uncertainty [missing-uncertainty]
  2 | A,new,0.8
    |       ^^^
  Give one standard deviation in apex_radius_sd_um.
)"},
      {"edge,step,recession_um,recession_sd_um\nA,new,-3,1\n",
       R"(r.csv:2:7: recession_um = -3 must be above 0 [out-of-range]
  2 | A,new,-3,1
    |       ^^
  Leave the cell empty where it was not measured.
)"},
      {"edge,step,recession_um,recession_sd_um\nA,new,3,0\n",
       R"(r.csv:2:9: recession_sd_um = 0 must be above 0 [out-of-range]
  2 | A,new,3,0
    |         ^
)"},
      {"edge,step,recession_um,recession_sd_um\nA,new,3,some\n",
       R"(r.csv:2:9: "some" is not a number: an uncertainty [not-a-number]
  2 | A,new,3,some
    |         ^^^^
  Leave the cell empty where a reading is missing; put remarks under note.
)"},
  });
}

TEST_CASE("faults of the text of a readings file", "[readings][csv]") {
  check_all({
      {"edge,step,reading_gf\nA,\"new,120\n",
       R"(r.csv:2:3: a quoted cell does not end within its line [unclosed-quote]
  2 | A,"new,120
    |   ^
  Close the quote, and write a quote inside a cell twice.
)"},
      {"edge,step,reading_gf\nA,\"new\" or so,120\n",
       R"(r.csv:2:3: a quoted cell does not end within its line [unclosed-quote]
  2 | A,"new" or so,120
    |   ^
  Close the quote, and write a quote inside a cell twice.
)"},
      {"edge,step,reading_gf,operator\nA,new,120,J\xFCrgen\n",
       R"(r.csv:2:1: this line is not UTF-8 text [not-text]
  It was probably saved in an older encoding, in which accented letters are other bytes.
  Save it as CSV in UTF-8.
)"},
      {std::string("e\0d\0g\0e\0", 8), R"(r.csv: this is not a text file [not-text]
  Save it as CSV in UTF-8.
)"},
  });
  for (const char* bad : {"\xC0\x80", "\xE0\x80\x80", "\xED\xA0\x80", "\xF0\x80\x80\x80", "\xF4\x90\x80\x80",
                          "\xC3", "\xE2\x82", "\x80", "\xFF"}) {
    CHECK(codes(parse_error(std::string("edge,step,reading_gf,note\nA,new,120,") + bad + "\n")) ==
          std::vector<std::string>{"not-text"});
  }
}

TEST_CASE("all faults of a readings file are told, row by row", "[readings]") {
  const Error error = parse_error(
      "# yard\n"
      "edge,step,reading_gf,replicate\n"
      "A,new,120,1\n"
      "C,new,x,1\n"
      "\n"
      "A,old,-3,0\n"
      "A,worn,120,2,\n");
  std::vector<std::pair<int, std::string>> told;
  for (const Diagnostic& d : error.diagnostics()) told.emplace_back(d.line, d.code);
  CHECK(told == std::vector<std::pair<int, std::string>>{{4, "unknown-edge"},
                                                         {4, "not-a-number"},
                                                         {6, "unknown-step"},
                                                         {6, "negative-force"},
                                                         {6, "not-an-integer"},
                                                         {7, "wrong-count"}});
}

TEST_CASE("no more faults of a readings file are told than can be read", "[readings]") {
  std::string rows = "edge,step,reading_gf\n";
  for (int i = 0; i < 1000; ++i) rows += "A,new,none\n";
  const Error error = parse_error(rows);
  // one sentence for all of them, and the lines
  REQUIRE(error.diagnostics().size() == 2);
  CHECK(error.diagnostics().front().cause.find("The same in lines 3, 4,") != std::string::npos);
  CHECK(error.diagnostics().back().text() ==
        "r.csv: there are more faults than these [more-faults]\n  Mend the first ones and try again.\n");
  // each another fault
  std::string others = "edge,step,reading_gf\n";
  for (int i = 0; i < 1000; ++i) others += "X" + std::to_string(i) + ",new,120\n";
  CHECK(parse_error(others).diagnostics().size() == Findings::most_told + 1);
  // a line of nothing but commas: one fault, many times
  const Error commas = parse_error(std::string(100000, ','));
  REQUIRE(commas.diagnostics().size() == 2);
  CHECK(commas.diagnostics().front().line == 1);
  CHECK(commas.diagnostics().back().code == "more-faults");
  const Error long_line =
      parse_error("edge,step,reading_gf,note\nA,new,oops," + std::string(100000, 'x') + "\n");
  REQUIRE(codes(long_line) == std::vector<std::string>{"not-a-number"});
  CHECK(underlined(long_line.diagnostics()[0]) == "oops");
  CHECK(long_line.diagnostics()[0].line_text == "A,new,oops," + std::string(149, 'x') + "…");
}

TEST_CASE("the columns of a readings file may stand in any order, and rows may name step or passes",
          "[readings]") {
  const auto readings = parse(
      "note,reading_gf,passes,replicate,step,edge,filament_lot,operator,excluded\n"
      "first,120,,1,new,A,lot 1,K,\n"
      ",130.5,25,2,,A,,,\n"
      "\"slipped, twice\",9999,,3,worn,A,,L,filament slipped\n");
  REQUIRE(readings.size() == 3);
  CHECK(readings[0].edge == 0);
  CHECK(readings[0].moment.step == 0);
  CHECK(readings[0].moment_name == "new");
  CHECK(readings[0].reading_N == in_newton(120));
  CHECK(readings[0].operator_name == "K");
  CHECK(readings[0].filament_lot == "lot 1");
  CHECK(readings[0].note == "first");
  CHECK(readings[0].excluded.empty());
  CHECK(readings[0].line == 2);
  CHECK(readings[1].moment.step == 1);
  CHECK(readings[1].moment.count == 25.0);
  CHECK(readings[1].moment_name == "25 passes");
  CHECK(readings[1].replicate == 2);
  // beyond the saturation, and told why
  CHECK(readings[2].reading_N == in_newton(9999));
  CHECK(readings[2].excluded == "filament slipped");
  CHECK(readings[2].note == "slipped, twice");
}

TEST_CASE("a reading in newton is taken as it stands", "[readings]") {
  CHECK(parse("edge,step,reading_N\nA,new,1.25\n").at(0).reading_N == 1.25);
}

TEST_CASE("an empty reading is missing, not zero", "[readings]") {
  const auto readings = parse("edge,step,reading_gf\nA,new,\nA,worn,140\nB,new,  \n");
  REQUIRE(readings.size() == 1);
  CHECK(readings[0].moment_name == "worn");
}

TEST_CASE("replicates are counted for each operator; rows without one are not", "[readings]") {
  CHECK(
      parse(
          "edge,step,reading_gf,replicate,operator\nA,new,120,1,K\nA,new,120,1,L\nA,new,120,2,K\nB,new,120,1,K\n")
          .size() == 4);
  CHECK(parse("edge,step,reading_gf,replicate\nA,new,120,\nA,new,121,\n").size() == 2);
}

TEST_CASE("a readings file may come from any editor", "[readings][csv]") {
  const auto plain = parse("edge,step,reading_gf\nA,new,120\nB,new,130\n");
  for (
      const std::string& text :
      {std::string("\xEF\xBB\xBF"
                   "edge,step,reading_gf\nA,new,120\nB,new,130\n"),        // byte order mark
       std::string("edge,step,reading_gf\r\nA,new,120\r\nB,new,130\r\n"),  // line ends of another system
       std::string("edge,step,reading_gf\nA,new,120\nB,new,130"),          // no last line end
       std::string(
           "# made by hand\n\nedge,step,reading_gf\n  \n# B comes later\nA,new,120\n\n  # here\nB,new,130\n\n"),
       std::string("\"edge\",\"step\",\"reading_gf\"\n\"A\",\"new\",\"120\"\n\"B\",new,130\n"),
       std::string(" edge ,\tstep, reading_gf\n A ,\t\"new\" , 120\t\nB, new ,130 \n")}) {
    INFO(text);
    const auto readings = parse(text);
    REQUIRE(readings.size() == 2);
    for (std::size_t i = 0; i < 2; ++i) {
      CHECK(readings[i].edge == plain[i].edge);
      CHECK(readings[i].moment.step == plain[i].moment.step);
      CHECK(readings[i].reading_N == plain[i].reading_N);
    }
  }
}

TEST_CASE("cells of a table, and where they stand", "[csv]") {
  const CsvTable table = parse_csv("t.csv",
                                   "a,b,c\n"
                                   "# x,y,z\n"
                                   "µm, \"x, \"\"y\"\"\" ,\n"
                                   ",,\" \"");
  REQUIRE(table.rows.size() == 2);
  const auto& first = table.rows[0];
  CHECK(first.line == 3);
  REQUIRE(first.cells.size() == 3);
  CHECK(first.cells[0].text == "µm");
  CHECK(first.cells[1].text == "x, \"y\"");
  CHECK(first.cells[1].column == 6);  // counted in characters, not in bytes; behind the quote
  CHECK(first.cells[2].text.empty());
  CHECK(first.cells[2].column == 17);
  const auto& second = table.rows[1];
  CHECK(second.line == 4);
  REQUIRE(second.cells.size() == 3);
  CHECK(second.cells[2].text == " ");  // in quotes blanks count
}

TEST_CASE("a row that is written reads back", "[csv][round-trip]") {
  const std::vector<std::string> cells{
      "plain", "with, comma", "with \"quotes\"", " blanks ", "#number", "", "µ ½", "\"", ",", "a\tb"};
  const CsvTable table = parse_csv("t.csv", csv_row(cells) + csv_row(cells));
  REQUIRE(table.rows.size() == 1);
  std::vector<std::string> back;
  for (const CsvCell& cell : table.rows[0].cells) back.push_back(cell.text);
  CHECK(back == cells);
  CHECK(csv_row({"two\nlines"}) == "\"two lines\"\n");
}

TEST_CASE("no text of a row is a formula to a spreadsheet, numbers stay numbers, and all reads back",
          "[csv][round-trip]") {
  const std::vector<std::string> cells{"=1+1", "+K", "-", "@x", "'=1", "''@", "'plain", "a=b", "=\"a\",b"};
  const std::string              row = csv_row(cells);
  CHECK(row == "'=1+1,'+K,'-,'@x,''=1,'\'\'@,'plain,a=b,\"'=\"\"a\"\",b\"\n");
  std::vector<std::string> back;
  for (const CsvCell& cell : parse_csv("t.csv", row).header.cells) back.push_back(cell.text);
  CHECK(back == cells);
  CHECK(csv_row({"-1.5", "+0.25", "-1e-300", "3"}) == "-1.5,+0.25,-1e-300,3\n");
}

TEST_CASE("readings that are written read back", "[readings][round-trip]") {
  std::vector<Reading> readings;
  const auto           add = [&](int edge, Moment moment, const std::string& name, double gf, int replicate) {
    Reading r;
    r.edge        = edge;
    r.moment      = moment;
    r.moment_name = name;
    r.reading_N   = in_newton(gf);
    r.replicate   = replicate;
    readings.push_back(r);
  };
  add(0, {0, 0.0}, "new", 123.4, 1);
  add(0, {0, 0.0}, "new", 0.1, 2);
  add(0, {1, 12.5}, "12.5 passes", 815.8, 1);
  add(0, {3, 20.0}, "120 passes", 300.0, 7);
  add(1, {0, 0.0}, "new", 99.9, 1);
  readings[1].operator_name     = "Ö, \"K\"";
  readings[1].filament_lot      = "# 7";
  readings[2].note              = "two, cells";
  readings[3].excluded          = " a reason ";
  readings[4].apex_radius_um    = 0.1 + 0.2;  // has no short decimal
  readings[4].apex_radius_sd_um = 1e-3;
  readings[0].recession_um = 12.0, readings[0].recession_sd_um = 0.5;

  const std::string text = readings_text(readings, yard().scenario, {"a remark", "with\nan end of line"});
  CHECK(text.rfind("# a remark\n# with\\x0aan end of line\nedge,", 0) == 0);
  const auto back = parse(text);
  REQUIRE(back.size() == readings.size());
  for (std::size_t i = 0; i < back.size(); ++i) {
    INFO(i);
    CHECK(back[i].edge == readings[i].edge);
    CHECK(back[i].moment.step == readings[i].moment.step);
    CHECK(back[i].moment.count == readings[i].moment.count);
    CHECK(back[i].moment_name == readings[i].moment_name);
    CHECK(same_bits(back[i].reading_N, readings[i].reading_N));
    CHECK(same_bits(back[i].apex_radius_um, readings[i].apex_radius_um));
    CHECK(same_bits(back[i].apex_radius_sd_um, readings[i].apex_radius_sd_um));
    CHECK(same_bits(back[i].recession_um, readings[i].recession_um));
    CHECK(same_bits(back[i].recession_sd_um, readings[i].recession_sd_um));
    CHECK(back[i].replicate == readings[i].replicate);
    CHECK(back[i].operator_name == readings[i].operator_name);
    CHECK(back[i].filament_lot == readings[i].filament_lot);
    CHECK(back[i].note == readings[i].note);
    CHECK(back[i].excluded == readings[i].excluded);
  }
  CHECK(readings_text(back, yard().scenario, {}) == readings_text(readings, yard().scenario, {}));
}

TEST_CASE("passes are counted over all cuts of an edge", "[readings]") {
  const EdgePlan& edge = yard().scenario.edges.at(0);
  const auto      at   = [&](double passes) {
    const Moment m = moment_after_passes(edge, passes);
    return std::make_pair(m.step, m.count);
  };
  CHECK(at(0) == std::make_pair(1, 0.0));
  CHECK(at(30.5) == std::make_pair(1, 30.5));
  CHECK(at(100) == std::make_pair(1, 100.0));  // the end of the first cut, not the beginning of the second
  CHECK(at(101) == std::make_pair(3, 1.0));
  CHECK(at(150) == std::make_pair(3, 50.0));
  CHECK(at(150.5).first == -1);
  CHECK(moment_after_passes(yard().scenario.edges.at(1), 1).step == -1);
  CHECK(read_step(edge, "worn") == 2);
  CHECK(read_step(edge, "white oak") == -1);
}

TEST_CASE("measured beside predicted, worked out by hand", "[readings][comparison]") {
  Scenario scenario                  = yard().scenario;
  scenario.model.scatter             = {};
  scenario.model.scatter.reading_cv  = 0.1;
  scenario.model.scatter.edge_cv     = 0.2;
  scenario.model.scatter.operator_cv = 0.05;
  scenario.model.scatter.lot_cv      = 0.04;
  // three readings with a geometric mean of 2 N, a factor of two apart; one excluded; at another edge a single one
  const auto readings =
      parse_readings("r.csv",
                     "edge,step,reading_N,replicate,excluded\n"
                     "A,new,1,1,\nA,new,2,2,\nA,new,4,3,\nA,new,7,4,it slipped\nB,new,3,1,\n",
                     scenario);
  const Comparison c = compare_with_readings(scenario, readings);
  REQUIRE(c.moments.size() == 2);
  const auto&  tool = scenario.model.tools.at(0);
  const double new_N =
      tester_law(scenario.model.tester)
          .reading_N(tool.apex_radius_um, tool.burr_um, 0.5 * laws::degree * tool.micro_bevel_deg);
  const double log2 = std::log(2.0);

  // logarithms, exponentials and their sums: some units in the last place
  constexpr double rounding = 1e-14;
  const auto&      a        = c.moments[0];
  CHECK(a.edge == "A");
  CHECK(a.moment == "new");
  CHECK(a.count == 3);
  CHECK(a.excluded == 1);
  CHECK(a.measured_N == Approx(2.0).epsilon(rounding));
  CHECK(a.spread_cv == Approx(std::sqrt(std::exp(log2 * log2) - 1.0)).epsilon(rounding));
  CHECK(a.predicted_N == Approx(new_N).epsilon(rounding));
  CHECK(a.ratio == Approx(2.0 / new_N).epsilon(rounding));
  const auto   variance = [](double cv) { return std::log(1.0 + cv * cv); };
  const double apex     = 1.0 - scenario.model.tester.cut_resistance_N / new_N;
  const auto   sd       = [&](int count) {
    return std::sqrt(variance(0.1) / count + apex * apex * variance(0.2) + variance(0.05) + variance(0.04));
  };
  CHECK(a.in_sd == Approx(std::log(2.0 / new_N) / sd(3)).epsilon(rounding));
  const auto& b = c.moments[1];
  CHECK(b.edge == "B");
  CHECK(b.count == 1);
  CHECK(std::isnan(b.spread_cv));
  CHECK(b.in_sd == Approx(std::log(3.0 / new_N) / sd(1)).epsilon(rounding));

  CHECK(c.readings == 4);
  CHECK(c.excluded == 1);
  CHECK(c.mean_ratio == Approx(std::sqrt(6.0) / new_N).epsilon(rounding));
  CHECK(c.typical_error ==
        Approx(std::sqrt((std::pow(std::log(2.0 / new_N), 2) + std::pow(std::log(3.0 / new_N), 2)) / 2.0))
            .epsilon(rounding));
  CHECK(c.beyond_2sd == (std::abs(a.in_sd) > 2.0) + (std::abs(b.in_sd) > 2.0));
  CHECK(c.failed.empty());
}

TEST_CASE("readings in the middle of a cut are compared with the curve there", "[readings][comparison]") {
  const auto& scenario = yard().scenario;
  const auto  readings = parse("edge,passes,reading_gf\nA,0,300\nA,60,310\nA,150,320\n");
  const auto  c        = compare_with_readings(scenario, readings);
  const auto  points   = predict(scenario, scenario.edges.at(0), {{1, 0.0}, {1, 60.0}, {3, 50.0}}).points;
  REQUIRE(c.moments.size() == 3);
  REQUIRE(points.size() == 3);
  for (std::size_t i = 0; i < 3; ++i) CHECK(same_bits(c.moments[i].predicted_N, points[i].reading_N));
  CHECK(c.moments[0].predicted_N < c.moments[1].predicted_N);
  CHECK(c.moments[1].predicted_N < c.moments[2].predicted_N);
}

TEST_CASE("a microscope and a balance are compared with the model too", "[readings][comparison]") {
  Scenario scenario              = yard().scenario;
  scenario.model.scatter.edge_cv = 0.2;
  const auto readings            = parse_readings(
                 "r.csv",
                 "edge,step,passes,reading_gf,apex_radius_um,apex_radius_sd_um,recession_um,recession_sd_um,mass_loss_mg,excluded\n"
                            "A,,60,,2,0.2,,,,\nA,,60,,4,0.8,,,,\nA,,60,,9,0.1,,,,out of focus\nA,,60,,,,20,1,3,\nB,new,,310,,,,,,\n",
                 scenario);
  const Comparison c = compare_with_readings(scenario, readings);
  // nobody read edge A on the tester: it has no place among readings
  REQUIRE(c.moments.size() == 1);
  CHECK(c.moments[0].edge == "B");
  REQUIRE(c.measures.size() == 3);
  const TrackPoint p = predict(scenario, scenario.edges.at(0), {{1, 60.0}}).points.front();
  // both radii are known to 10 % and 20 %: weights 100 and 25
  const auto& radius = c.measures[0];
  CHECK(radius.kind == Measured::apex_radius);
  CHECK(radius.edge == "A");
  CHECK(radius.count == 2);
  constexpr double rounding = 1e-13;  // some logarithms and exponentials
  CHECK(radius.measured ==
        Approx(std::exp((100.0 * std::log(2.0) + 25.0 * std::log(4.0)) / 125.0)).epsilon(rounding));
  CHECK(radius.predicted == p.apex_radius_um);
  CHECK(radius.ratio == Approx(radius.measured / p.apex_radius_um).epsilon(rounding));
  CHECK(radius.in_sd ==
        Approx(std::log(radius.ratio) / std::sqrt(1.0 / 125.0 + std::log(1.04))).epsilon(rounding));
  CHECK(c.measures[1].kind == Measured::recession);
  CHECK(c.measures[1].predicted == p.tip_setback_um);
  const auto& mass = c.measures[2];
  CHECK(mass.kind == Measured::mass_loss);
  CHECK(mass.predicted == p.mass_loss_mg);
  // the balance alone is uncertain of it, as no uncertainty is stated
  CHECK(mass.in_sd == Approx(std::log(mass.ratio) / (unstated_mass_loss_sd_mg / 3.0)).epsilon(rounding));
  const std::string text = comparison_text(c);
  CHECK(text.find("apex radius") != std::string::npos);
  CHECK(text.find("of these 3 lie beyond") != std::string::npos);
  CHECK(text.find("nan") == std::string::npos);
}

TEST_CASE("where every reading is excluded nothing is compared", "[readings][comparison]") {
  const auto       readings = parse("edge,step,reading_gf,excluded\nA,new,300,dropped\nB,new,310,dropped\n");
  const Comparison c        = compare_with_readings(yard().scenario, readings);
  CHECK(c.readings == 0);
  CHECK(c.excluded == 2);
  CHECK(c.beyond_2sd == 0);
  for (const ComparedMoment& m : c.moments) {
    CHECK(std::isnan(m.measured_N));
    CHECK(std::isnan(m.ratio));
    CHECK(std::isnan(m.in_sd));
    CHECK_FALSE(std::isnan(m.predicted_N));
  }
  std::string text = comparison_text(c);
  std::replace(text.begin(), text.end(), '\n', ' ');  // wherever its lines break
  text.erase(std::unique(text.begin(), text.end(), [](char a, char b) { return a == ' ' && b == ' '; }),
             text.end());
  CHECK(text.find("None of them can be compared.") != std::string::npos);
  CHECK(text.find("nan") == std::string::npos);
}

TEST_CASE("an edge without a prediction is named, and the others are compared", "[readings][comparison]") {
  Scenario scenario =
      load(
          shop(
              "{ hone = \"lapping film, 0.02 µm\", strokes = 1, after_burr = true, max_strokes = 1 },\n  { read = \"new\" },") +
          "[edge.B]\ntool = \"iron\"\nsteps = [ { read = \"new\" } ]\n")
          .scenario;
  const auto readings = parse_readings("r.csv", "edge,step,reading_gf\nA,new,300\nB,new,310\n", scenario);
  const auto c        = compare_with_readings(scenario, readings);
  REQUIRE(c.moments.size() == 2);
  CHECK(std::isnan(c.moments[0].predicted_N));
  CHECK(std::isnan(c.moments[0].ratio));
  CHECK_FALSE(std::isnan(c.moments[1].ratio));
  CHECK(c.mean_ratio == Approx(c.moments[1].ratio).epsilon(1e-15));  // one logarithm and its exponential
  REQUIRE(c.failed.size() == 1);
  CHECK(c.failed[0].find("edge \"A\", step 1") == 0);
}

TEST_CASE("comparisons do not depend on the number of threads", "[readings][comparison][threads]") {
  const auto& scenario = yard().scenario;
  const auto  readings = invent_readings(scenario, 5, {"K"}, {"N"});
  const auto  one      = compare_with_readings(scenario, readings, 1),
             many      = compare_with_readings(scenario, readings, 7);
  REQUIRE(one.moments.size() == many.moments.size());
  for (std::size_t i = 0; i < one.moments.size(); ++i)
    CHECK(same_bits(one.moments[i].in_sd, many.moments[i].in_sd));
  CHECK(same_bits(one.typical_error, many.typical_error));
}

TEST_CASE("invented readings follow from their seed alone", "[readings][invented]") {
  const auto text = [](unsigned long long seed, int threads) {
    return readings_text(invent_readings(yard().scenario, seed, {"K", "M"}, {"N-1", "N-2"}, threads),
                         yard().scenario, {});
  };
  CHECK(text(7, 1) == text(7, 1));
  CHECK(text(7, 2) == text(7, 1));
  CHECK(text(7, 7) == text(7, 1));
  CHECK(text(8, 1) != text(7, 1));
  // they are readings: the parser takes them
  CHECK(parse(text(7, 0)).size() == 3);
}

namespace {

// many edges, each read once or several times as new, with the scatter stated and no other
std::vector<Reading> sample(std::size_t edges, int replicates, const std::string& scatter,
                            std::size_t operators, std::size_t lots) {
  std::string text = iron + "[scatter]\nreading_cv = 0\nedge_cv = 0\noperator_cv = 0\nlot_cv = 0\n";
  text             = with(text, scatter.substr(0, scatter.find(' ')) + " = 0\n", scatter + "\n");
  for (std::size_t i = 0; i < edges; ++i) {
    text += fmt::format("[edge.E{:05}]\ntool = \"iron\"\nsteps = [ {{ read = \"new\", replicates = {} }} ]\n",
                        i, replicates);
  }
  const Loaded loaded = load(text);
  const auto   names  = [](std::size_t n) {
    std::vector<std::string> out;
    for (std::size_t i = 0; i < n; ++i) out.push_back(fmt::format("{}", i));
    return out;
  };
  return invent_readings(loaded.scenario, 20811, names(operators), names(lots));
}

double log_sd(double cv) { return std::sqrt(std::log(1.0 + cv * cv)); }

struct Moments {
  double mean, sd;
};
Moments moments(const std::vector<double>& x) {
  double sum = 0.0, squares = 0.0;
  for (const double v : x) sum += v;
  const double mean = sum / static_cast<double>(x.size());
  for (const double v : x) squares += (v - mean) * (v - mean);
  return {mean, std::sqrt(squares / static_cast<double>(x.size() - 1))};
}

// The mean of n normal values has the standard deviation σ/√n, their standard deviation about σ/√(2(n−1)). Five of those
// are allowed: a right sampler fails one time in a million, and the seed is fixed. The coefficients of variation below
// are large, so that a standard deviation taken for them would be noticed.
void check_normal(const std::vector<double>& x, double sigma) {
  const auto n = static_cast<double>(x.size());
  const auto m = moments(x);
  CHECK(std::abs(m.mean) < 5.0 * sigma / std::sqrt(n));
  CHECK(std::abs(m.sd - sigma) < 5.0 * sigma / std::sqrt(2.0 * (n - 1.0)));
}

}  // namespace

TEST_CASE("invented readings scatter as the configuration states", "[readings][invented]") {
  const Loaded plain   = load(shop("{ read = \"new\" },"));
  const auto&  tool    = plain.scenario.model.tools.at(0);
  const auto   tester  = tester_law(plain.scenario.model.tester);
  const double half    = 0.5 * laws::degree * tool.micro_bevel_deg;
  const double typical = tester.reading_N(tool.apex_radius_um, tool.burr_um, half);
  const auto   factors = [&](const std::vector<Reading>& readings) {
    std::vector<double> logs;
    for (const Reading& r : readings) logs.push_back(std::log(r.reading_N / typical));
    return logs;
  };
  SECTION("of repeated readings") {
    check_normal(factors(sample(10, 1000, "reading_cv = 0.5", 2, 2)), log_sd(0.5));
  }
  SECTION("of operators, each at one edge") {
    check_normal(factors(sample(4000, 1, "operator_cv = 1", 4000, 1)), log_sd(1.0));
  }
  SECTION("of filament lots, each at one edge") {
    check_normal(factors(sample(4000, 1, "lot_cv = 0.6", 1, 4000)), log_sd(0.6));
  }
  SECTION("of edges, on the apex radius") {
    // the tester's law solved for the radius that gives the reading
    const double        start = tester.reading_N(0.0, 0.0, half);
    const double        room  = tester.saturation_N - start;
    std::vector<double> logs;
    for (const Reading& r : sample(4000, 1, "edge_cv = 0.8", 2, 2)) {
      const double above = r.reading_N - start;
      logs.push_back(std::log(above / (1.0 - above / room) / tester.slope_N_per_um / tool.apex_radius_um));
    }
    check_normal(logs, log_sd(0.8));
  }
  SECTION("not at all where it states none") {
    // a product of factors that are all exactly 1
    for (const Reading& r : sample(3, 2, "reading_cv = 0", 2, 2)) CHECK(same_bits(r.reading_N, typical));
  }
  SECTION("operators and lots take turns") {
    std::map<std::string, int> operators, lots;
    for (const Reading& r : sample(12, 1, "reading_cv = 0.1", 3, 4)) {
      ++operators[r.operator_name];
      ++lots[r.filament_lot];
    }
    CHECK(operators == std::map<std::string, int>{{"0", 4}, {"1", 4}, {"2", 4}});
    CHECK(lots == std::map<std::string, int>{{"0", 3}, {"1", 3}, {"2", 3}, {"3", 3}});
  }
}

TEST_CASE("readings are not invented for a history that fails", "[readings][invented]") {
  const Loaded loaded = load(shop(
      "{ hone = \"lapping film, 0.02 µm\", strokes = 1, after_burr = true, max_strokes = 1 },\n  { read = \"new\" },"));
  const Error  error  = error_of([&] { (void)invent_readings(loaded.scenario, 1, {"K"}, {"N"}); });
  CHECK(error.exit() == Exit::integration);
  CHECK(codes(error) == std::vector<std::string>{"no-convergence"});
}
