// SPDX-License-Identifier: MIT
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/csv.hpp"
#include "sim/simulate/readings.hpp"
#include "tests/yard_readings.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

double in_newton(double gf) { return gf * 1e-3 * 9.80665; }

}  // namespace

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
