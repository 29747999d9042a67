// SPDX-License-Identifier: MIT
#include <algorithm>
#include <filesystem>
#include <functional>
#include <regex>
#include <set>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fmt/format.h>
#include <hdf5.h>

#include "sim/diagnostic.hpp"
#include "sim/figures/svg.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/seal.hpp"
#include "sim/report/page.hpp"
#include "sim/report/paper.hpp"
#include "tests/program.hpp"

using namespace arris;
using namespace arris::desk;

namespace fs = std::filesystem;

namespace {

const std::string yard = (fs::path(ARRIS_SOURCE_DIR) / "configs/boatyard/boatyard.toml").string();

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// A campaign so small that a fit of it takes no time, with names that a page must not take for markup.
const std::string small =
    "title = \"Trial <b>& co\"\n[output]\nreading_limit_gf = 180\n[readings]\nfile = \"readings.csv\"\n" +
    shop(
        one_hone +
        "\n{ read = \"new\", replicates = 4 },\n{ strop = \"soft hide\", laps = 10 },\n{ read = \"stropped\", replicates = 4 },\n{ cut = \"teak\", passes = 50 },\n{ read = \"worn\", replicates = 4 },") +
    "[edge.\"<script>alert(1)<b>\"]\ntool = \"iron\"\nsteps = [ { hone = \"lapping film, 5 µm\", strokes = 30 }, { read = \"new\", replicates = 4 }, { cut = \"teak\", passes = 20 } ]\n";

/// Readings that the model invents for it.
void write_small(const Folder& folder) {
  write(folder / "c.toml", with(small, "[readings]\nfile = \"readings.csv\"\n", ""));
  const Outcome made = run(folder, {"simulate", "c.toml", "--quiet", "--invent-readings", "invented.csv"});
  INFO(made.err);
  REQUIRE(made.code == 0);
  fs::rename(folder / "invented.csv", folder / "readings.csv");
  write(folder / "c.toml", small);
}

std::string page_of(const Folder& folder, const std::vector<std::string>& results) {
  std::vector<std::string> words{"report"};
  words.insert(words.end(), results.begin(), results.end());
  words.insert(words.end(), {"-o", "page.html", "--quiet"});
  const Outcome made = run(folder, words);
  INFO(made.err);
  REQUIRE(made.code == 0);
  return contents(folder / "page.html");
}

/// What a page would fetch, link to or run from elsewhere.
std::vector<std::string> reaches_out(const std::string& html) {
  std::vector<std::string> out;
  const std::regex         reference(
              "(?:src|href|xlink:href|action)=\"([^\"#][^\"]*)\"|url\\(([^)#][^)]*)\\)|@import");
  for (std::sregex_iterator i(html.begin(), html.end(), reference), end; i != end; ++i) {
    if ((*i)[1] == "data:,") continue;  // no icon is asked for
    out.push_back(i->str());
  }
  return out;
}

void check_page(const std::string& html) {
  CHECK(html.rfind("<!DOCTYPE html>", 0) == 0);
  CHECK(reaches_out(html).empty());
  CHECK(html.size() < 1'000'000);
  for (const char* part : {"class=\"answer\"", "What it rests on", "What to do next", "Cautions",
                           "how to repeat it", "The configuration, every value that was used"}) {
    INFO(part);
    CHECK(has(html, part));
  }
  // in this order
  CHECK(html.find("class=\"answer\"") < html.find("<figure"));
  CHECK(html.find("<figure") < html.find("What it rests on"));
  // a verdict says before all sections what to do
  CHECK(html.find("What it rests on") < html.find("What to do next", html.find("id=\"s0\"")));
  CHECK(html.find("What to do next") < html.find("id=\"cautions\""));
  CHECK(html.find("id=\"cautions\"") < html.find("id=\"repeat\""));
  // every figure has a table behind it or beside it
  for (std::size_t at = html.find("<figure"); at != std::string::npos; at = html.find("<figure", at + 1)) {
    const std::string figure = html.substr(at, html.find("</figure>", at) - at);
    CHECK(has(figure, "<svg"));
    CHECK(has(figure, "<figcaption>"));
  }
}

}  // namespace

TEST_CASE("the result of every command makes a report", "[report][program]") {
  const Folder folder;
  write_small(folder);
  const auto make = [&](std::vector<std::string> words) {
    const Outcome made = run(folder, words);
    INFO(words.front() << "\n" << made.err);
    REQUIRE(made.code == 0);
  };
  make({"simulate", "c.toml", "--quiet", "--out", "simulate.h5"});
  make({"fit", "c.toml", "--quiet", "--out", "fit.h5", "--starts", "2", "--free",
        "tester.slope_N_per_um,coefficients.dub_share"});
  make({"weigh", "c.toml", "--quiet", "--out", "weigh.h5", "--starts", "1", "--law", "shared-load,power"});
  make({"forecast", "c.toml", "--quiet", "--out", "forecast.h5", "--members", "50"});
  make({"compare", "c.toml", "--quiet", "--out", "compare.h5", "--members", "50"});
  make({"forecast", "c.toml", "--quiet", "--out", "in-hand.h5", "--members", "50", "--edge", "A",
        "--from-now"});
  make({"upkeep", "c.toml", "--quiet", "--out", "upkeep.h5", "--members", "20", "--stroppings", "3", "--edge",
        "A", "--limit", "300"});
  make({"plan", "c.toml", "--quiet", "--out", "plan.h5", "--groups", "A,<script>alert(1)<b>", "--difference",
        "60"});
  make({"gauge", yard, "--quiet", "--out", "gauge.h5"});
  make({"sweep", "c.toml", "--quiet", "--out", "strop.h5", "--question", "soft-strop"});
  make({"sweep", "c.toml", "--quiet", "--out", "curve.h5", "--over", "tool.iron.micro_bevel_deg=30:40:6"});
  make({"sweep", "c.toml", "--quiet", "--out", "names.h5", "--edge", "A", "--over",
        "step.5.cut=teak|white oak"});
  make({"sweep", "c.toml", "--quiet", "--out", "panels.h5", "--edge", "A", "--over",
        "step.5.cut=teak|white oak", "--over", "step.3.laps=0:20:5"});
  make({"sensitivity", "c.toml", "--quiet", "--out", "sensitivity.h5", "--over",
        "tool.iron.micro_bevel_deg=30:40", "--base", "16"});
  std::vector<std::string> all;
  for (const char* kind : {"simulate", "fit", "forecast", "in-hand", "compare", "upkeep", "plan", "gauge",
                           "strop", "curve", "names", "panels", "sensitivity"}) {
    INFO(kind);
    all.push_back(std::string(kind) + ".h5");
    const std::string html = page_of(folder, {all.back()});
    check_page(html);
    // the sentence is that of the result, word for word
    const std::string headline = figures::escaped(Hdf5Reader(folder / all.back()).attribute("/", "headline"));
    CHECK(has(html, "<p class=\"answer\">" + headline + "</p>"));
    // the only scripts are those of the program
    CHECK_FALSE(has(html, "<script>alert"));
    CHECK_FALSE(has(html, "<b>"));
  }
  CHECK(has(page_of(folder, {"weigh.h5"}), "shared-load"));
  const std::string whole = page_of(folder, all);
  check_page(whole);
  CHECK(has(whole, "&lt;script&gt;alert(1)&lt;b&gt;"));
  CHECK(has(whole, "Trial &lt;b&gt;&amp; co"));
  CHECK(has(whole, "<nav"));
  // of ways and of a routine there is one verdict, before all sections
  CHECK(whole.find("id=\"verdict\"") < whole.find("id=\"s0\""));
}

TEST_CASE("ids of a page are unlike one another, and what refers to one finds it", "[report][program]") {
  const Folder folder;
  REQUIRE(run(folder, {"simulate", yard, "--quiet", "--out", "s.h5"}).code == 0);
  const std::string     html = page_of(folder, {"s.h5", "s.h5"});
  std::set<std::string> ids;
  const std::regex      id(" id=\"([^\"]*)\"");
  for (std::sregex_iterator i(html.begin(), html.end(), id), end; i != end; ++i) {
    INFO((*i)[1].str());
    CHECK(ids.insert((*i)[1]).second);
  }
  const std::regex reference(
      "(?:aria-labelledby|aria-controls| for)=\"([^\"]*)\"|href=\"#([^\"]*)\"|url\\(#([^)]*)\\)");
  int found = 0;
  for (std::sregex_iterator i(html.begin(), html.end(), reference), end; i != end; ++i) {
    for (int group = 1; group <= 3; ++group) {
      std::string words = (*i)[group];
      for (std::size_t at = 0; at < words.size();) {
        const std::size_t next = std::min(words.find(' ', at), words.size());
        INFO(words.substr(at, next - at));
        CHECK(ids.count(words.substr(at, next - at)) == 1);
        at = next + 1;
        ++found;
      }
    }
  }
  CHECK(found > 20);
}

TEST_CASE("a figure by itself is a picture", "[report][program]") {
  const Folder folder;
  REQUIRE(run(folder, {"simulate", yard, "--quiet", "--out", "s.h5"}).code == 0);
  const Outcome svg = run(folder, {"report", "s.h5", "--figure", "section", "-o", "x.svg"});
  INFO(svg.err);
  REQUIRE(svg.code == 0);
  CHECK(contents(folder / "x.svg").rfind("<?xml", 0) == 0);
  REQUIRE(run(folder, {"report", "s.h5", "--figure", "history", "-o", "x.png", "--width", "500"}).code == 0);
  const std::string png = contents(folder / "x.png");
  REQUIRE(png.size() > 24);
  CHECK(png.substr(0, 8) == "\x89PNG\r\n\x1a\n");
  // width of the picture, big-endian behind the name of the first chunk: two dots to a pixel
  CHECK((static_cast<unsigned char>(png[18]) << 8) + static_cast<unsigned char>(png[19]) == 1000);

  const Outcome unknown = run(folder, {"report", "s.h5", "--figure", "sektion", "-o", "x.svg"});
  CHECK(unknown.code == 2);
  CHECK(has(unknown.err, "unknown-figure"));
  CHECK(has(unknown.err, "Did you mean section?"));
  CHECK(run(folder, {"report", "s.h5", "--figure", "section", "-o", "x.html"}).code == 2);
  CHECK(run(folder, {"report", "s.h5", "-o", "x.svg"}).code == 2);
  CHECK(run(folder, {"report", "s.h5"}).code == 2);
  CHECK(run(folder, {"report", "s.h5", "-o", "s.h5"}).code == 2);
}

TEST_CASE("a page is set for paper as sheets of A4", "[report][program][paper]") {
  const Folder folder;
  REQUIRE(run(folder, {"simulate", yard, "--quiet", "--out", "s.h5"}).code == 0);
  const Outcome made = run(folder, {"report", "s.h5", "--pdf", "x.pdf"});
  INFO(made.err);
  REQUIRE(made.code == 0);
  const std::string pdf = contents(folder / "x.pdf");
  CHECK(pdf.rfind("%PDF-", 0) == 0);
  // 210 mm × 297 mm in points, a box to each sheet
  const std::regex box(R"(/MediaBox \[ 0 0 ([0-9.]+) ([0-9.]+) \])");
  int              sheets = 0;
  for (std::sregex_iterator i(pdf.begin(), pdf.end(), box), end; i != end; ++i) {
    CHECK(std::stod((*i)[1]) == Approx(595.28).margin(0.5));
    CHECK(std::stod((*i)[2]) == Approx(841.89).margin(0.5));
    ++sheets;
  }
  CHECK(sheets > 1);
  CHECK(has(made.out, fmt::format("{} sheets of A4", sheets)));

  // and the poster of an edge is one of them
  REQUIRE(run(folder, {"report", "s.h5", "--figure", "poster", "-o", "p.pdf"}).code == 0);
  const std::string poster = contents(folder / "p.pdf");
  CHECK(std::distance(std::sregex_iterator(poster.begin(), poster.end(), box), std::sregex_iterator()) == 1);
  CHECK(run(folder, {"report", "s.h5", "-o", "x.pdf"}).code == 2);
  CHECK(run(folder, {"report", "s.h5", "--figure", "poster", "--pdf", "p.pdf"}).code == 2);
  CHECK(run(folder, {"report", "s.h5", "--pdf", "s.h5"}).code == 2);
}

TEST_CASE("tables are set for paper too, long ones in part", "[report][paper]") {
  AnswerTable table;
  table.name = "lives";
  table.says = "How long they last";
  std::vector<std::string> names;
  std::vector<double>      passes;
  for (int i = 0; i < 100; ++i) {
    names.push_back(fmt::format("edge-{}", i));
    passes.push_back(1000.0 + i);
  }
  table.text("edge", "edge", "name", names);
  table.number("passes", "1", "passes", "to the limit", passes);
  // more columns than a sheet is wide
  for (int c = 0; c < 12; ++c)
    table.number(fmt::format("number_{}", c), "1", fmt::format("column-{} of them", c), "a number", passes);
  report::Section section;
  section.heading = "Lives";
  section.tables  = {table};
  report::Page page;
  page.title    = "Tables";
  page.sections = {section};
  std::string all;
  for (const report::PaperPage& sheet : report::paper_of(page)) all += sheet.svg;
  CHECK(has(all, "How long they last (40 of 100 rows"));
  // the first and the last, and the heads of every column
  for (const char* words : {">edge-0<", ">edge-99<", ">passes<", ">column-0", ">column-11"}) {
    INFO(words);
    CHECK(has(all, words));
  }
  CHECK(has(all, "The same, further columns"));
}

TEST_CASE("paper begins with the answers and the sheet of each", "[report][paper]") {
  AnswerTable              long_table;
  std::vector<std::string> names(200, "an edge");
  long_table.says = "Edges";
  long_table.text("edge", "edge", "name", names);
  report::Section first, second;
  first.heading = "What was read";
  first.answer =
      "12 readings. They are of two edges, each of which was read at one moment. What follows is more.";
  first.tables   = std::vector<AnswerTable>(3, long_table);
  second.heading = "How long each edge lasts";
  second.answer =
      "Edge A lasts about 300 passes in sugar maple, until it reads 200 gf. The rest is not known.";
  report::Page page;
  page.title        = "Answers";
  page.sections     = {first, second};
  const auto sheets = report::paper_of(page);
  REQUIRE(sheets.size() > 2);
  const std::string& front = sheets.front().svg;
  CHECK(has(front, ">1. What was read (sheet 1)<"));
  // a sentence that only counts takes the next along
  CHECK(has(front, ">12 readings. They are of two edges, each of which was read at one moment.<"));
  CHECK_FALSE(has(front, "The rest is not known"));
  std::size_t at = 0;
  for (std::size_t i = 1; i < sheets.size(); ++i) {
    if (has(sheets[i].svg, ">How long each edge lasts<")) at = i + 1;
  }
  REQUIRE(at > 1);
  CHECK(has(front, fmt::format(">2. How long each edge lasts (sheet {})<", at)));
}

TEST_CASE("a table on paper wraps its texts before it is cut in two", "[report][paper]") {
  AnswerTable              table;
  std::vector<std::string> long_texts(3, "read by different operators and with different filament lots");
  table.says = "Against the way that reads least";
  for (const char* name : {"read", "least", "way", "told apart"}) table.text(name, name, name, long_texts);
  table.number("times", "1", "times", "ratio", {1.2, 1.3, 1.4});
  report::Section section;
  section.heading = "Ways";
  section.tables  = {table};
  report::Page page;
  page.title    = "Tables";
  page.sections = {section};
  std::string all;
  for (const report::PaperPage& sheet : report::paper_of(page)) all += sheet.svg;
  CHECK(has(all, ">told apart<"));
  CHECK_FALSE(has(all, "further columns"));
}

TEST_CASE("a page moves through the history of an edge, and paper has its moments side by side",
          "[report][program]") {
  const Folder folder;
  REQUIRE(run(folder, {"simulate", yard, "--quiet", "--out", "s.h5"}).code == 0);
  const std::string html  = page_of(folder, {"s.h5"});
  const auto        begin = html.find("class=\"row history\"");
  REQUIRE(begin != std::string::npos);
  const std::string first = html.substr(begin, html.find("<figcaption", begin) - begin);
  const auto        count = [&](const std::string& part) {
    int n = 0;
    for (auto at = first.find(part); at != std::string::npos; at = first.find(part, at + 1)) ++n;
    return n;
  };
  // a moment for every step, those that a person remembers also on paper, each with its picture and its words
  CHECK(count("class=\"moment between\"") >= 2);
  CHECK(count("class=\"moment\"") >= 4);
  CHECK(count("<svg") == count("data-says="));
  CHECK(has(html, "input.addEventListener(\"input\", show)"));
  CHECK(reaches_out(html).empty());
}

TEST_CASE("what is no result makes no report, and says why", "[report][program]") {
  const Folder folder;
  write(folder / "no.h5", "not HDF5");
  Outcome o = run(folder, {"report", "no.h5", "-o", "x.html"});
  CHECK(o.code == 3);
  CHECK(has(o.err, "not-a-result"));
  CHECK_FALSE(fs::exists(folder / "x.html"));
  o = run(folder, {"report", "absent.h5", "-o", "x.html"});
  CHECK(o.code == 3);
  CHECK(has(o.err, "no-such-file"));
  {
    Hdf5Writer writer(folder / "other.h5");
    writer.root().attribute("title", std::string("somebody else's"));
    writer.finish();
  }
  o = run(folder, {"report", "other.h5", "-o", "x.html"});
  CHECK(o.code == 3);
  CHECK(has(o.err, "not-a-result"));
  {  // as version 1 wrote a simulation
    Hdf5Writer writer(folder / "old.h5");
    for (const auto& [name, text] : {std::pair{"Conventions", "arris-1"},
                                     {"kind", "simulate"},
                                     {"title", "old"},
                                     {"command", "arris simulate old.toml --out old.h5"}})
      writer.root().attribute(name, std::string(text));
    writer.finish();
  }
  o = run(folder, {"report", "old.h5", "-o", "x.html"});
  CHECK(o.code == 3);
  CHECK(has(o.err, "old-result"));
  CHECK(has(o.err, "arris simulate old.toml --out old.h5"));
}

TEST_CASE("a sealed file that holds something else than a result is told, whatever it lacks",
          "[report][program]") {
  const Folder folder;
  write_small(folder);
  REQUIRE(run(folder, {"simulate", "c.toml", "--quiet", "--out", "simulate.h5"}).code == 0);
  REQUIRE(run(folder, {"forecast", "c.toml", "--quiet", "--out", "forecast.h5", "--members", "20"}).code ==
          0);
  REQUIRE(run(folder, {"sweep", "c.toml", "--quiet", "--out", "sweep.h5", "--edge", "A", "--over",
                       "tool.iron.micro_bevel_deg=30:40:4", "--over", "step.1.strokes=20:80:3"})
              .code == 0);
  const auto numbers = [](hid_t file, const char* path, const std::vector<double>& values) {
    H5Ldelete(file, path, H5P_DEFAULT);
    const hsize_t size  = values.size();
    const hid_t   space = H5Screate_simple(1, &size, nullptr);
    const hid_t set = H5Dcreate2(file, path, H5T_NATIVE_DOUBLE, space, H5P_DEFAULT, H5P_DEFAULT, H5P_DEFAULT);
    H5Dwrite(set, H5T_NATIVE_DOUBLE, H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data());
    H5Dclose(set);
    H5Sclose(space);
  };
  const auto without = [](const char* path) {
    return [path](hid_t file) { CHECK(H5Ldelete(file, path, H5P_DEFAULT) >= 0); };
  };
  const auto definition = [](const std::string& text) {
    return [text](hid_t file) {
      CHECK(H5Adelete(file, "definition") >= 0);
      const hid_t type = H5Tcopy(H5T_C_S1), space = H5Screate(H5S_SCALAR);
      H5Tset_size(type, H5T_VARIABLE);
      const hid_t attribute = H5Acreate2(file, "definition", type, space, H5P_DEFAULT, H5P_DEFAULT);
      const char* pointer   = text.c_str();
      CHECK(H5Awrite(attribute, type, &pointer) >= 0);
      H5Aclose(attribute);
      H5Sclose(space);
      H5Tclose(type);
    };
  };
  struct Change {
    const char*                what;
    const char*                of;
    std::function<void(hid_t)> make;
    const char*                told;
  };
  const std::vector<Change> changes{
      {"a group within itself", "simulate",
       [](hid_t file) {
         CHECK(H5Lcreate_hard(file, "edge", file, "edge/again", H5P_DEFAULT, H5P_DEFAULT) >= 0);
       },
       "one object stands in several places"},
      {"a link in a circle", "simulate",
       [](hid_t file) { CHECK(H5Lcreate_soft("/edge", file, "edge/again", H5P_DEFAULT, H5P_DEFAULT) >= 0); },
       "a group has a member that stands elsewhere"},
      {"a column that is too short", "simulate",
       [&](hid_t file) { numbers(file, "edge/A/track/burr_um", {1}); },
       "columns of /edge/A/track are not of one length"},
      {"a column that is missing", "simulate", without("edge/A/track/burr_um"),
       "the result has no numbers /edge/A/track/burr_um"},
      {"numbers for texts", "simulate",
       [&](hid_t file) {
         numbers(file, "edges/tool", {1, 2});
       },
       "the result has no texts /edges/tool"},
      {"several units of one column", "simulate",
       [](hid_t file) {
         const hid_t   set = H5Dopen2(file, "edge/A/track/burr_um", H5P_DEFAULT), type = H5Tcopy(H5T_C_S1);
         const hsize_t size  = 40;
         const hid_t   space = H5Screate_simple(1, &size, nullptr);
         H5Tset_size(type, H5T_VARIABLE);
         CHECK(H5Adelete(set, "units") >= 0);
         const hid_t              units = H5Acreate2(set, "units", type, space, H5P_DEFAULT, H5P_DEFAULT);
         std::vector<const char*> texts(size, "um");
         CHECK(H5Awrite(units, type, texts.data()) >= 0);
         H5Aclose(units);
         H5Sclose(space);
         H5Tclose(type);
         H5Dclose(set);
       },
       "an attribute has not one value"},
      {"no curves", "forecast", without("curves"), "the result has no group /curves"},
      {"no definition", "sweep", definition("{}"),
       "the definition of the sweep in the result cannot be read"},
      {"half a definition", "sweep",
       definition("{\"axes\": [1, {}], \"outputs\": [{\"name\": \"reading_gf\"}]}"),
       "the definition of the sweep in the result cannot be read"},
      {"a shorter axis", "sweep",
       [&](hid_t file) {
         numbers(file, "map/step_1_strokes", {20, 80});
       },
       "the map of the sweep does not fit its axes"}};
  for (const Change& change : changes) {
    INFO(change.what);
    fs::copy_file(folder / (std::string(change.of) + ".h5"), folder / "changed.h5",
                  fs::copy_options::overwrite_existing);
    unseal(folder / "changed.h5");
    const hid_t file = H5Fopen((folder / "changed.h5").c_str(), H5F_ACC_RDWR, H5P_DEFAULT);
    REQUIRE(file >= 0);
    change.make(file);
    REQUIRE(H5Fclose(file) >= 0);
    seal(folder / "changed.h5");
    const Outcome o = run(folder, {"report", "changed.h5", "-o", "x.html"});
    CHECK(o.code == 3);
    INFO(o.err);
    CHECK(has(o.err, change.told));
    CHECK_FALSE(fs::exists(folder / "x.html"));
  }
}

TEST_CASE("a study does the whole job, and says what has no place in it", "[report][program]") {
  const Folder folder;
  // one edge, nothing read, nothing stropped
  write(folder / "one.toml", shop(one_hone + "\n{ cut = \"teak\", passes = 50 },"));
  const Outcome o = run(folder, {"study", "one.toml", "--out", "made"});
  INFO(o.err);
  REQUIRE(o.code == 0);
  CHECK(o.out == "made/report.html\n");
  for (const char* left : {"gauge.h5", "fit.h5", "compare.h5", "soft-strop.h5"}) {
    INFO(left);
    CHECK_FALSE(fs::exists(folder / "made" / left));
  }
  for (const char* there : {"simulate.h5", "forecast.h5"}) CHECK(fs::exists(folder / "made" / there));
  const std::string html = contents(folder / "made/report.html");
  check_page(html);
  CHECK(has(html, "Left out: judging the tester"));
  CHECK(has(html, "Left out: comparing ways of sharpening: there is only one way of sharpening to compare."));
  CHECK(has(o.err, "[3/10]"));
  // its results are those of the commands themselves, and say how to make them
  CHECK(Hdf5Reader(folder / "made/forecast.h5").attribute("/", "command") ==
        "arris forecast one.toml --out made/forecast.h5");

  // nor does it take away what it is asked about
  write(folder / "fitted.toml", shop(one_hone + "\n{ cut = \"teak\", passes = 50 },"));
  const Outcome refused = run(folder, {"study", "fitted.toml", "--out", "."});
  CHECK(refused.code == 2);
  CHECK(has(refused.err, "would-overwrite"));
  CHECK(fs::exists(folder / "fitted.toml"));

  // a wrong configuration is an error, not something left out
  write(folder / "wrong.toml", shop("{ hone = \"oilstone, 9 µm\", stroks = 5 },"));
  CHECK(run(folder, {"study", "wrong.toml"}).code == 2);
}
