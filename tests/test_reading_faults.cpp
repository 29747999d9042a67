// SPDX-License-Identifier: MIT
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "tests/yard_readings.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

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
      {"edge,step,apex_radius_um,apex_radius_sd_um,reading_gf\nA,new,0.8,,120\n",
       R"(r.csv:2:7: apex_radius_um is given without its uncertainty, beside readings of the tester [missing-uncertainty]
  2 | A,new,0.8,,120
    |       ^^^
  The scatter of a microscope is estimated where it alone comes without one.
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
