// SPDX-License-Identifier: MIT
#include <algorithm>
#include <string>
#include <vector>

#include <catch2/catch.hpp>

#include "sim/input/dates.hpp"
#include "sim/input/readings_columns.hpp"
#include "sim/input/readings_csv.hpp"
#include "sim/input/readings_import.hpp"
#include "sim/input/readings_log.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

ImportedReadings taken(const std::string& text, const ReadingsForm& form = {}) {
  return import_readings({{"r.csv", text}}, form);
}

std::string table_of(const std::string& text, const ReadingsForm& form = {}) {
  return csv_text(taken(text, form).table);
}

// the one fault that a text has
Diagnostic fault_of(const std::string& text, const ReadingsForm& form = {}) {
  const Error error = error_of([&] { (void)taken(text, form); });
  CHECK(error.exit() == Exit::data);
  REQUIRE(error.diagnostics().size() == 1);
  return error.diagnostics().front();
}

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

}  // namespace

TEST_CASE("a readings file is taken as it is, and nothing is said", "[import]") {
  const std::string      text = "edge,step,reading_gf,note\nA,new,120.5,\"one, two\"\n";
  const ImportedReadings read = taken(text);
  CHECK(read.is_plain);
  CHECK(read.said.empty());
  CHECK(csv_text(read.table) == text);
}

TEST_CASE("separators and decimal commas are seen in the text", "[import]") {
  const std::string plain = "edge,passes,reading_gf\nA,60,120.5\nA,90,131\n";
  CHECK(table_of("edge;passes;reading_gf\nA;60;120,5\nA;90;131\n") == plain);
  CHECK(table_of("edge\tpasses\treading_gf\nA\t60\t120,5\nA\t90\t131\n") == plain);
  CHECK(table_of("sep=;\r\nedge;passes;reading_gf\r\nA;60;120.5\r\nA;90;131\r\n") == plain);
  CHECK(table_of("edge,passes,reading_gf\nA,60,\"120,5\"\nA,90,131\n") == plain);
  const auto said = taken("edge;passes;reading_gf\nA;60;120,5\nA;90;131\n").said;
  CHECK(said == std::vector<std::string>{"r.csv: columns are separated by semicolons.",
                                         "r.csv: numbers have a decimal comma (reading_gf)."});
}

TEST_CASE("a number with two readings is an error that shows both, unless another settles it", "[import]") {
  const Diagnostic unclear = fault_of("edge;step;reading_gf\nA;new;1,204\n");
  CHECK(unclear.code == "ambiguous");
  CHECK(unclear.what == "\"1,204\" may be 1.204 with a decimal comma, or 1204 with a mark between thousands");
  CHECK(underlined(unclear) == "1,204");
  CHECK(fault_of("edge;step;reading_gf\nA;new;1.204\n").what ==
        "\"1.204\" may be 1.204 with a decimal point, or 1204 with a mark between thousands");
  CHECK(table_of("edge;step;reading_gf\nA;new;1,204\nA;new;98,5\n") ==
        "edge,step,reading_gf\nA,new,1.204\nA,new,98.5\n");
  CHECK(table_of("edge;step;reading_gf\nA;new;1,204\n", {.decimal = "comma"}) ==
        "edge,step,reading_gf\nA,new,1.204\n");
  // with commas between columns a point is a decimal point
  CHECK(taken("edge,step,reading_N\nA,new,1.204\n").is_plain);
  const Diagnostic mixed = fault_of("edge;step;reading_gf\nA;new;98,5\nA;new;97.5\n");
  CHECK(mixed.code == "ambiguous");
  CHECK(has(mixed.what, "\"98,5\" has a comma, and \"97.5\" in line 3"));
}

TEST_CASE("separators with two readings are an error that shows both", "[import]") {
  const Diagnostic d = fault_of("a;b,c\n1;2,3\n");
  CHECK(d.code == "ambiguous");
  CHECK(d.what == "columns may be separated by commas or by semicolons");
}

TEST_CASE("heads are read with capitals, blanks and units", "[import]") {
  const auto read = taken("Edge,Step,Reading (gf),Taken by,Filament lot\nA,new,120,K,N-07\n");
  CHECK(csv_text(read.table) == "edge,step,reading_gf,operator,filament_lot\nA,new,120,K,N-07\n");
  CHECK(read.said.size() == 5);
  CHECK(table_of("edge,step,force [N]\nA,new,1.2\n") == "edge,step,reading_N\nA,new,1.2\n");
  CHECK(table_of("edge,step,g\nA,new,120\n") == "edge,step,reading_gf\nA,new,120\n");
  const auto grams = taken("edge,step,reading g\nA,new,120\n").said;
  REQUIRE(grams.size() == 1);
  CHECK(has(grams[0], "reading_gf, gram-force"));
}

TEST_CASE("a reading without a unit shows what it would be in each", "[import]") {
  const Diagnostic d = fault_of("edge,step,reading\nA,new,200\n");
  CHECK(d.code == "missing-unit");
  CHECK(d.cause == "As gram-force, 200 would be 1.96 N; as newtons, 20394 gf.");
  CHECK(table_of("edge,step,reading\nA,new,200\n", {.unit = "gf"}) == "edge,step,reading_gf\nA,new,200\n");
}

TEST_CASE("other columns are kept in the note, and what may be a slip is asked for", "[import]") {
  CHECK(table_of("edge,step,reading_gf,weather,note\nA,new,200,damp,first\nA,new,210,,\n") ==
        "edge,step,reading_gf,note\nA,new,200,first; weather: damp\nA,new,210,\n");
  const Diagnostic d = fault_of("edge,step,reading_gf,oprator\nA,new,200,K\n");
  CHECK(d.code == "ambiguous");
  CHECK(has(d.what, "may be operator misspelt, or a column of its own"));
  CHECK(table_of("edge,step,reading_gf,oprator\nA,new,200,K\n", {.columns = {{"oprator", "operator"}}}) ==
        "edge,step,reading_gf,operator\nA,new,200,K\n");
  CHECK(table_of("edge,step,reading_gf,oprator\nA,new,200,K\n", {.columns = {{"oprator", "keep"}}}) ==
        "edge,step,reading_gf,note\nA,new,200,oprator: K\n");
  CHECK(table_of("Klinge,step,reading_gf,x\nA,new,200,K\n",
                 {.columns = {{"Klinge", "edge"}, {"x", "leave out"}}}) ==
        "edge,step,reading_gf\nA,new,200\n");
}

TEST_CASE(
    "where no head is known, a column of dates and one with a unit of force are taken for what they are",
    "[import]") {
  const std::string text = "Datum;Klinge;Schritt;Kraft (N)\n14.03.2025;A;new;1,85\n15.03.2025;A;new;1,9\n";
  const auto        read = taken(text, {.columns = {{"Klinge", "edge"}, {"Schritt", "step"}}});
  CHECK(csv_text(read.table) == "date,edge,step,reading_N\n2025-03-14,A,new,1.85\n2025-03-15,A,new,1.9\n");
  const auto says = [&](const char* part) {
    return std::any_of(read.said.begin(), read.said.end(), [&](const auto& s) { return has(s, part); });
  };
  CHECK(says("\"Datum\" is taken for date, as all its cells are dates"));
  CHECK(says("\"Kraft (N)\" is taken for reading_N, as no other head has a unit of force"));
  // two such columns, or a head that is known, leave nothing to guess
  CHECK(table_of("edge,step,reading_gf,bought\nA,new,1,2025-06-03\n") ==
        "edge,step,reading_gf,date\nA,new,1,2025-06-03\n");
  CHECK(table_of("edge,step,reading_gf,bought,honed\nA,new,1,2025-06-03,2025-06-04\n") ==
        "edge,step,reading_gf,note\nA,new,1,bought: 2025-06-03; honed: 2025-06-04\n");
  CHECK(table_of("edge,step,reading_gf,load (N)\nA,new,1,20\n") ==
        "edge,step,reading_gf,note\nA,new,1,load (N): 20\n");
  CHECK(table_of("edge,step,reading_gf,bought\nA,new,1,2025-06-03\n", {.columns = {{"bought", "keep"}}}) ==
        "edge,step,reading_gf,note\nA,new,1,bought: 2025-06-03\n");
  CHECK(fault_of("edge,Kraft (N),Last (N)\nA,1.8,20\n").code == "wide-table");
}

TEST_CASE("a table that names no edge, or has no readings, is no table of readings", "[import]") {
  const Diagnostic d = fault_of("Klinge,step,Force (N)\nA,new,1.8\n");
  CHECK(d.code == "missing-column");
  CHECK(d.what == "there is no column that names the edge");
  CHECK(has(d.cause, "\"Klinge\""));
  CHECK(has(d.next, "arris import --column \"…=edge\""));
  const Diagnostic none = fault_of("Edge,weather\nA,dry\n");
  CHECK(none.code == "missing-column");
  CHECK(none.what == "there is no column of readings");
}

TEST_CASE("a moment may be called as answers call it, by its passes", "[import]") {
  const Loaded s  = load(shop("{ read = \"new\" }, { cut = \"teak\", passes = 90 },"));
  const auto rows = parse_readings("r.csv", "edge,step,reading_gf\nA,60 passes,150\nA,new,120\n", s.scenario);
  const auto same = parse_readings("r.csv", "edge,passes,reading_gf\nA,60,150\n", s.scenario);
  CHECK(rows[0].moment.step == same[0].moment.step);
  CHECK(rows[0].moment.count == same[0].moment.count);
  CHECK(rows[0].moment_name == "60 passes");
  const auto fault = [&](const char* moment) {
    return error_of([&] {
             (void)parse_readings("r.csv", std::string("edge,step,reading_gf\nA,") + moment + ",1\n",
                                  s.scenario);
           })
        .diagnostics()
        .front()
        .what;
  };
  CHECK(has(fault("91 passes"), "never makes 91 passes"));
  CHECK(has(fault("sixty passes"), "is not read at \"sixty passes\""));
}

TEST_CASE("rows of the check edge are left to the check of the tester", "[import]") {
  const ReadingsForm       form{.check_edge = "check"};
  const std::string        text = "edge,step,reading_gf\ncheck,,181\nA,new,120\ncheck,,183\n";
  std::vector<std::string> said;
  CHECK(csv_text(without_check_edge(taken(text).table, form, &said)) == "edge,step,reading_gf\nA,new,120\n");
  CHECK(said == std::vector<std::string>{"2 rows of the check edge \"check\" are left to arris log check."});
  CHECK(csv_text(without_check_edge(taken(text).table, {})) == text);
}

TEST_CASE("a column for each moment is turned into a row for each reading where that is stated", "[import]") {
  const std::string wide = "edge,sharp,after 60,operator\nA,120,180,K\nB,125,,L\n";
  const Diagnostic  d    = fault_of(wide);
  CHECK(d.code == "wide-table");
  CHECK(has(d.next, "moments = { \"sharp\" = \"…\", \"after 60\" = \"…\" }"));
  const ReadingsForm form{.unit = "gf", .moments = {{"sharp", "new"}, {"after 60", "60 passes"}}};
  CHECK(table_of(wide, form) ==
        "edge,operator,step,passes,reading_gf\nA,K,new,,120\nA,K,,60,180\nB,L,new,,125\n");
  // a microscope's word beside them has no moment
  const Diagnostic beside = fault_of("edge,sharp,apex_radius_um\nA,120,0.3\n", form);
  CHECK(beside.code == "ambiguous");
  CHECK(has(beside.cause, "apex_radius_um"));
}

TEST_CASE("dates are read in the order that the whole column settles", "[import]") {
  const auto dates = [](const std::string& a, const std::string& b, const ReadingsForm& form = {}) {
    return table_of("edge,step,reading_gf,date\nA,new,1," + a + "\nA,new,2," + b + "\n", form);
  };
  const std::string june = "edge,step,reading_gf,date\nA,new,1,2025-06-03\nA,new,2,2025-06-17\n";
  CHECK(dates("3/6/2025", "17/6/2025") == june);
  CHECK(dates("6/3/2025", "6/17/2025") == june);
  CHECK(dates("3.6.2025", "17.06.2025") == june);
  CHECK(dates("2025-06-03 14:05", "2025/6/17") == june);
  CHECK(dates("45811", "45825", {.dates = "days since 1900"}) == june);
  CHECK(dates("44349", "44363", {.dates = "days since 1904"}) == june);
  const auto fault = [](const std::string& a, const std::string& b) {
    return fault_of("edge,step,reading_gf,date\nA,new,1," + a + "\nA,new,2," + b + "\n");
  };
  CHECK(fault("3/6/2025", "4/6/2025").what ==
        "\"3/6/2025\" may be 2025-06-03 with the day first, or 2025-03-06 with the month first");
  CHECK(fault("45811", "45825").what ==
        "\"45811\" may be 2025-06-03 counted from 1900, or 2029-06-04 counted from 1904");
  CHECK(fault("17/6/2025", "6/17/2025").code == "ambiguous");
  CHECK(fault("2025-02-30", "").code == "not-a-date");
  CHECK(fault("3.6.25", "").code == "not-a-date");
}

TEST_CASE("days of both ways in which spreadsheets count", "[import]") {
  CHECK(date_of_days(61, zero_day_1900) == "1900-03-01");
  CHECK(date_of_days(60, zero_day_1900).empty());  // the 29 February 1900 that never was
  CHECK(date_of_days(44197.75, zero_day_1900) == "2021-01-01");
  CHECK(date_of_days(42735, zero_day_1904) == "2021-01-01");
  CHECK(date_of_days(0, zero_day_1904) == "1904-01-01");
  CHECK(date_of_days(1e300, zero_day_1900).empty());
}

TEST_CASE("a date is the test day unless one is stated, and a year of it can be", "[import]") {
  const Loaded      s = load(shop("{ read = \"new\" },"));
  const std::string text =
      "edge,step,reading_gf,date,test_day\nA,new,150,2024-05-02,\nA,new,160,2025-05-02,spring\n";
  const auto rows = parse_readings("r.csv", text, s.scenario);
  CHECK(rows[0].test_day == "2024-05-02");
  CHECK(rows[1].test_day == "spring");
  CHECK(rows[1].date == "2025-05-02");
  CHECK(readings_text(rows, s.scenario, {}).find(",date,test_day\n") != std::string::npos);
  CHECK(table_of(text, {.day = "year"}) ==
        "edge,step,reading_gf,date,test_day\nA,new,150,2024-05-02,2024\nA,new,160,2025-05-02,spring\n");
}

TEST_CASE("several files become one table, each fault with its own place", "[import]") {
  const auto read = import_readings({{"a.csv", "edge,step,reading_gf\nA,new,120\n"},
                                     {"b.csv", "edge;step;reading_N;operator\nA;new;1,5;K\n"}},
                                    {});
  CHECK(csv_text(read.table) == "edge,step,reading_gf,operator\nA,new,120,\nA,new,152.957,K\n");
  CHECK(has(read.said.back(), "newtons are turned into gram-force"));
  const Loaded s     = load(shop("{ read = \"new\" },"));
  const Error  error = error_of([&] {
    (void)parse_readings("both",
                          import_readings({{"a.csv", "edge,step,reading_gf\nA,new,120\n"},
                                          {"b.csv", "edge,step,reading_gf\nA,new,120\n\nA,new,x\n"}},
                                          {})
                              .table,
                          s.scenario);
  });
  CHECK(error.diagnostics().front().file == "b.csv");
  CHECK(error.diagnostics().front().line == 4);
  CHECK(underlined(error.diagnostics().front()) == "x");
}

TEST_CASE("what is stated of the form must be one of its choices", "[import]") {
  const Error error = error_of([] { (void)taken("edge,step,reading_gf\n", {.decimal = "dot"}); });
  CHECK(error.exit() == Exit::usage);
  CHECK(error.diagnostics().front().allowed == "point or comma");
  const Error loaded =
      load_error(shop("{ read = \"new\" },") +
                 "[readings]\nfile = [\"a.csv\", \"a.csv\"]\ndates = \"day\"\nmoments = 3\n");
  auto all = codes(loaded);
  std::sort(all.begin(), all.end());
  CHECK(all == std::vector<std::string>{"bad-form", "given-twice", "not-text"});
}

TEST_CASE("[readings] goes out as it came in", "[import]") {
  const std::string readings =
      "\n[readings]\nfile = [\"2025.xlsx\", \"june.csv\"]\nunit = \"gf\"\ncolumns = { \"Klinge\" = \"edge\" }\nmoments = { \"60\" = \"60 passes\" }\n";
  const Loaded first = load(shop("{ read = \"new\" },") + readings);
  CHECK(first.readings_files == std::vector<std::string>{"2025.xlsx", "june.csv"});
  CHECK(has(resolved_toml(first, false), readings));
}

TEST_CASE("every column of a readings file is explained", "[import]") {
  std::vector<std::string> explained, known = readings_columns();
  for (const ReadingsColumn& column : readings_column_list()) explained.emplace_back(column.name);
  known.emplace_back("part");
  std::sort(explained.begin(), explained.end());
  std::sort(known.begin(), known.end());
  CHECK(explained == known);
}

TEST_CASE("a log grows by a row in the form that it has", "[log]") {
  const std::string log =
      "# bench log\r\nEdge;Reading (gf);Date;Replicate;Weather\r\nA;120,5;2025-06-03;1;dry";
  CHECK(with_row("l.csv", log, {{"edge", "A"}, {"reading_gf", "98.5"}, {"date", "2025-06-03"}}) ==
        log + "\r\nA;98,5;2025-06-03;2;\r\n");
  CHECK(with_row("l.csv", new_log("gf"), {{"edge", "A"}, {"reading_gf", "98.5"}, {"note", "=1+1, \"x\""}}) ==
        new_log("gf") + "A,,,98.5,1,,,,,\"'=1+1, \"\"x\"\"\",\n");
  CHECK(error_of([&] {
          (void)with_row("l.csv", log, {{"edge", "A"}, {"reading_N", "1"}});
        })
            .diagnostics()[0]
            .code == "two-units");
  CHECK(error_of([&] {
          (void)with_row("l.csv", log, {{"reading_gf", "1"}, {"operator", "K"}});
        })
            .diagnostics()[0]
            .code == "no-column");
  // a log that cannot be read does not grow
  CHECK(error_of([&] {
          (void)with_row("l.csv", "edge,reading_gf,date\nA,1,2025-02-30\n",
                         {{"edge", "A"}, {"reading_gf", "1"}});
        })
            .diagnostics()[0]
            .code == "not-a-date");
}
