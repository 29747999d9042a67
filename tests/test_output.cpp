// SPDX-License-Identifier: MIT
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <limits>
#include <stdexcept>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <fcntl.h>
#include <nlohmann/json.hpp>
#include <sys/stat.h>
#include <unistd.h>

#include "sim/input/csv.hpp"
#include "sim/input/files.hpp"
#include "sim/output/columns.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/root_attributes.hpp"
#include "sim/output/safe_file.hpp"
#include "sim/output/seal.hpp"
#include "sim/output/simulation_files.hpp"
#include "sim/output/simulation_hdf5.hpp"
#include "sim/output/simulation_text.hpp"
#include "sim/output/terminal.hpp"
#include "sim/sha1.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/text.hpp"
#include "sim/wording.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace fs = std::filesystem;

namespace {

/// The boat yard, simulated and compared with its readings, as the program does it.
struct Yard {
  Campaign campaign = load_campaign_file(fs::path(ARRIS_SOURCE_DIR) / "configs/boatyard/boatyard.toml");
  SimulationResult            result     = simulate(campaign.loaded.scenario);
  std::optional<Comparison>   comparison = compare_with_readings(campaign.loaded.scenario, campaign.readings);
  Provenance                  origin     = provenance(campaign, "arris simulate boatyard.toml", "7");
  [[nodiscard]] const Loaded& loaded() const { return campaign.loaded; }
};

const Yard& yard() {
  static const Yard y;
  return y;
}

/// One edge fails, with a track and a step, and names are awkward.
const Yard& broken_yard() {
  static const Yard y = [] {
    Yard b;
    b.campaign        = {};
    b.campaign.loaded = load(
        "title = \"µ \\\"½\\\"\"\n" +
        shop(one_hone +
             "\n{ hone = \"lapping film, 0.02 µm\", strokes = 3, after_burr = true, max_strokes = 7 },") +
        "[edge.\"#1, \\\\ Ö\"]\ntool = \"iron\"\nsteps = [ { read = \"new, \\\"sharp\\\"\" } ]\n");
    b.result     = simulate(b.campaign.loaded.scenario);
    b.comparison = std::nullopt;
    b.origin     = provenance(b.campaign, "arris", "");
    return b;
  }();
  return y;
}

void write_yard(const fs::path& path, const Yard& y) {
  write_hdf5(path, y.loaded(), y.result, y.comparison, y.campaign.readings, y.origin);
}

/// strtod rounds correctly, so a shortest decimal comes back to the last bit.
double number(const std::string& text) {
  char*        end   = nullptr;
  const double value = std::strtod(text.c_str(), &end);
  if (text.empty() || *end != '\0') throw std::runtime_error("\"" + text + "\" is no number");
  return value;
}

template <class Row>
void check_columns(const Hdf5Reader& file, const std::string& group, const std::vector<Row>& rows,
                   const Columns<Row>& columns) {
  INFO(group);
  for (const auto& column : columns.numbers) {
    INFO(column.name);
    const auto values = file.numbers(group + "/" + column.name);
    REQUIRE(values.size() == rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i) CHECK(same_bits(values[i], column.value(rows[i])));
    CHECK(file.attribute(group + "/" + column.name, "units") == column.units);
    CHECK(file.attribute(group + "/" + column.name, "long_name") == column.long_name);
  }
  for (const auto& column : columns.text) {
    INFO(column.name);
    const auto values = file.texts(group + "/" + column.name);
    REQUIRE(values.size() == rows.size());
    for (std::size_t i = 0; i < rows.size(); ++i) CHECK(values[i] == column.value(rows[i]));
    CHECK(file.attribute(group + "/" + column.name, "long_name") == column.long_name);
  }
}

template <class Row>
void check_json(const nlohmann::json& list, const std::vector<Row>& rows, const Columns<Row>& columns) {
  REQUIRE(list.size() == rows.size());
  for (std::size_t i = 0; i < rows.size(); ++i) {
    for (const auto& column : columns.numbers) {
      INFO(i << " " << column.name);
      const double          wanted = column.value(rows[i]);
      const nlohmann::json& got    = list[i].at(column.name);
      CHECK((std::isnan(wanted) ? got.is_null() : got.is_number() && same_bits(got.get<double>(), wanted)));
    }
    for (const auto& column : columns.text) CHECK(list[i].at(column.name) == column.value(rows[i]));
  }
}

}  // namespace

TEST_CASE("a curve written as CSV reads back to the last bit", "[output][csv][round-trip]") {
  for (const Yard* y : {&yard(), &broken_yard()}) {
    const CsvTable           table   = parse_csv("t.csv", simulation_csv(y->loaded(), y->result));
    const auto&              columns = track_columns().numbers;
    std::vector<std::string> header;
    for (const CsvCell& cell : table.header.cells) header.push_back(cell.text);
    std::vector<std::string> wanted{"edge", "tool", "verb", "subject"};
    for (const auto& column : columns) wanted.emplace_back(column.name);
    REQUIRE(header == wanted);

    std::size_t row = 0;
    for (std::size_t e = 0; e < y->result.edges.size(); ++e) {
      const EdgeResult& edge = y->result.edges[e];
      for (const TrackPoint& p : edge.track) {
        REQUIRE(row < table.rows.size());
        const auto& cells = table.rows[row++].cells;
        REQUIRE(cells.size() == header.size());
        const Step& step = y->loaded().scenario.edges[e].steps[static_cast<std::size_t>(p.step)];
        CHECK(cells[0].text == edge.name);
        CHECK(cells[1].text == edge.tool);
        CHECK(cells[2].text == verb_of(step));
        CHECK(cells[3].text == subject_of(step));
        for (std::size_t c = 0; c < columns.size(); ++c)
          CHECK(same_bits(number(cells[4 + c].text), columns[c].value(p)));
      }
    }
    CHECK(row == table.rows.size());
  }
}

TEST_CASE("JSON holds everything, with null where there is no number", "[output][json][round-trip]") {
  for (const Yard* y : {&yard(), &broken_yard()}) {
    const auto json =
        nlohmann::json::parse(simulation_json(y->loaded(), y->result, y->comparison, y->origin));
    CHECK(json.at("kind") == "simulate");
    CHECK(json.at("schema_version") == schema_version);
    CHECK(json.at("title") == y->loaded().scenario.title);
    check_json(json.at("edges"), y->result.edges, edge_columns());
    for (std::size_t e = 0; e < y->result.edges.size(); ++e) {
      INFO(y->result.edges[e].name);
      check_json(json.at("edges")[e].at("steps"), y->result.edges[e].steps, step_columns());
      check_json(json.at("edges")[e].at("track"), y->result.edges[e].track, track_columns());
    }
    CHECK(json.contains("comparison") == y->comparison.has_value());
    if (y->comparison)
      check_json(json.at("comparison").at("moments"), y->comparison->moments, comparison_columns());
    for (const auto& [name, text] : entries_of(y->origin)) CHECK(json.at("provenance").at(name) == text);
  }
  // a failed edge says so
  const auto json = nlohmann::json::parse(
      simulation_json(broken_yard().loaded(), broken_yard().result, {}, broken_yard().origin));
  CHECK(json["edges"][0]["status"].get<std::string>().rfind("edge \"A\", step 2", 0) == 0);
  CHECK(json["edges"][0]["passes_to_limit"].is_null());
}

TEST_CASE("JSON stays text when the command line was none", "[output][json]") {
  const Provenance origin = provenance(yard().campaign, "arris simulate caf\xE9.toml", "");
  const auto       json = nlohmann::json::parse(simulation_json(yard().loaded(), yard().result, {}, origin));
  CHECK(json["provenance"]["command"] == "arris simulate caf\xEF\xBF\xBD.toml");  // the replacement character
}

TEST_CASE("a reading lies on the curve of its edge where it was taken", "[output][readings]") {
  const Yard& y      = yard();
  const auto  points = reading_points(y.result, y.campaign.readings);
  REQUIRE(points.size() == y.campaign.readings.size());
  for (const ReadingPoint& p : points) {
    INFO(p.edge << ", " << p.reading->moment_name);
    const auto& plan = y.loaded().scenario.edges[static_cast<std::size_t>(p.reading->edge)];
    // what the model itself has at that moment; the curve is recorded where steps end, so it agrees to the tolerance of the
    // integration, 1e-6, there, and these readings are all taken at the end of a step
    const Prediction exact = predict(y.loaded().scenario, plan, {p.reading->moment});
    REQUIRE(exact.status.usable());
    CHECK(p.at.reading_N == Approx(exact.points[0].reading_N).epsilon(1e-5));
    CHECK(p.at.passes == exact.points[0].passes);
    CHECK(p.at.strokes == Approx(exact.points[0].strokes).epsilon(1e-5));
  }
}

TEST_CASE("a reading between two recorded points lies between them", "[output][readings]") {
  EdgeResult edge;
  edge.name = "A";
  for (int i = 0; i < 3; ++i) {
    TrackPoint p;
    p.step      = 1;
    p.count     = 10.0 * i;
    p.passes    = 100.0 + p.count;
    p.reading_N = 1.0 + i;
    edge.track.push_back(p);
  }
  Reading middle, late, early;
  middle.edge = late.edge = early.edge = 0;
  middle.reading_N = late.reading_N = early.reading_N = 1.5;
  middle.moment                                       = {1, 15.0};
  late.moment                                         = {1, not_given};
  early.moment                                        = {0, not_given};
  SimulationResult           result{{edge}};
  const std::vector<Reading> readings{middle, late, early};
  const auto                 points = reading_points(result, readings);
  // straight between counts 10 and 20
  CHECK(points[0].at.passes == Approx(115.0));
  CHECK(points[0].at.reading_N == Approx(2.5));
  CHECK(points[1].at.passes == 120.0);
  CHECK(std::isnan(points[2].at.passes));  // the edge was never simulated there
}

TEST_CASE("HDF5 holds every column, with unit and name, to the last bit", "[output][hdf5][round-trip]") {
  const Folder folder;
  for (const Yard* y : {&yard(), &broken_yard()}) {
    write_yard(folder / "r.h5", *y);
    const Hdf5Reader file(folder / "r.h5");
    check_columns(file, "/edges", y->result.edges, edge_columns());
    if (!y->campaign.readings.empty())
      check_columns(file, "/readings", reading_points(y->result, y->campaign.readings), reading_columns());
    CHECK(file.attribute("/", "headline") == simulation_answer(y->loaded(), y->result));
    std::vector<std::string> names;
    for (const EdgeResult& edge : y->result.edges) {
      names.push_back(edge.name);
      check_columns(file, "/edge/" + edge.name + "/track", edge.track, track_columns());
      check_columns(file, "/edge/" + edge.name + "/steps", edge.steps, step_columns());
    }
    auto groups = file.groups("/edge");
    std::sort(groups.begin(), groups.end());
    std::sort(names.begin(), names.end());
    CHECK(groups == names);
    if (y->comparison) check_columns(file, "/comparison", y->comparison->moments, comparison_columns());
    CHECK(file.groups("/") == (y->comparison
                                   ? std::vector<std::string>{"comparison", "edge", "edges", "readings"}
                                   : std::vector<std::string>{"edge", "edges"}));
    CHECK(file.attribute("/", "kind") == "simulate");
    CHECK(file.attribute("/", "title") == y->loaded().scenario.title);
    CHECK(file.attribute("/", "history") == y->origin.started + " " + y->origin.command);
    for (const auto& [name, text] : entries_of(y->origin)) CHECK(file.attribute("/", name) == text);
  }
  CHECK(folder.names() == std::vector<std::string>{"r.h5"});
}

TEST_CASE("an HDF5 file may hold nothing along an axis", "[output][hdf5]") {
  const Folder folder;
  {
    Hdf5Writer       writer(folder / "e.h5");
    const Hdf5Group& root = writer.root();
    root.axis("point", 0, "nothing");
    root.data("x", std::vector<double>{}, "point", "m", "x");
    root.data("name", std::vector<std::string>{}, "point", "name");
    root.axis("edge", {"A", "Ö"}, "names");
    root.data("y", {1.5, std::numeric_limits<double>::quiet_NaN()}, "edge", "N", "y");
    root.axis("two", 2, "rows");
    root.data("table", {1, 2, 3, 4}, "two", "edge", "1", "row by row");
    writer.finish();
  }
  const Hdf5Reader file(folder / "e.h5");
  CHECK(file.numbers("/x").empty());
  CHECK(file.texts("/name").empty());
  CHECK(file.texts("/edge") == std::vector<std::string>{"A", "Ö"});
  CHECK(file.numbers("/y").at(0) == 1.5);
  CHECK(std::isnan(file.numbers("/y").at(1)));
  CHECK(file.numbers("/two") == std::vector<double>{0, 1});
  CHECK(file.numbers("/table") == std::vector<double>{1, 2, 3, 4});
}

TEST_CASE("a result of a newer version is told, and not read as if it were of this one", "[output][hdf5]") {
  const Folder folder;
  const auto   written = [&](int version) {
    Hdf5Writer writer(folder / "v.h5");
    writer.root().attribute("schema_version", static_cast<double>(version));
    writer.finish();
  };
  written(schema_version);
  CHECK_NOTHROW(Hdf5Reader(folder / "v.h5"));
  written(schema_version + 1);
  const Error error = error_of([&] { Hdf5Reader reader(folder / "v.h5"); });
  CHECK(error.exit() == Exit::data);
  CHECK(codes(error) == std::vector<std::string>{"newer-result"});
}

TEST_CASE("what is wrong with an HDF5 file comes as an error", "[output][hdf5]") {
  const Folder folder;
  const auto   code = [](const Error& error) {
    CHECK(error.exit() == Exit::data);
    return codes(error);
  };
  const std::vector<std::string> hdf5{"hdf5"};
  const std::vector<std::string> damaged{"damaged-result"};
  write(folder / "text.h5", "this is no HDF5 file");
  CHECK(code(error_of([&] { Hdf5Reader reader(folder / "text.h5"); })) ==
        std::vector<std::string>{"not-a-result"});
  CHECK(code(error_of([&] { Hdf5Reader reader(folder / "none.h5"); })) ==
        std::vector<std::string>{"cannot-read"});
  write_yard(folder / "r.h5", broken_yard());
  const Hdf5Reader file(folder / "r.h5");
  CHECK(code(error_of([&] { (void)file.numbers("/edges/nothing"); })) == hdf5);
  CHECK(code(error_of([&] { (void)file.numbers("/edges/name"); })) == hdf5);  // text is no number
  CHECK(code(error_of([&] { (void)file.groups("/nothing"); })) == hdf5);
  CHECK(code(error_of([&] { (void)file.attribute("/", "nothing"); })) == hdf5);
  // cut off in the middle
  const std::string whole = contents(folder / "r.h5");
  write(folder / "half.h5", whole.substr(0, whole.size() / 2));
  CHECK(code(error_of([&] { Hdf5Reader reader(folder / "half.h5"); })) == damaged);
  // without its seal, and with what only looks like one
  write(folder / "bare.h5", whole.substr(0, whole.rfind("\narris seal 1\n")));
  CHECK(code(error_of([&] { Hdf5Reader reader(folder / "bare.h5"); })) == damaged);
  for (const char* end :
       {"\narris seal 1\nbytes 8\nopen \nsum 0\n00000040\n", "99999999\n", "00000000\n", "00000009\n",
        "\narris seal 1\nbytes 8\nopen 9+1\nsum 0000000000000000\n00000056\n"}) {
    write(folder / "seal.h5", whole + end);
    CHECK(code(error_of([&] { Hdf5Reader reader(folder / "seal.h5"); })) == damaged);
  }
  // two data sets of one name, data along an axis that is not there, a table that does not fit
  Hdf5Writer writer(folder / "new.h5");
  writer.root().axis("point", 2, "points");
  CHECK(code(error_of([&] { writer.root().axis("point", 2, "points"); })) == hdf5);
  CHECK(code(error_of([&] { writer.root().data("x", {1, 2}, "nowhere", "m", "x"); })) == hdf5);
  CHECK(code(error_of([&] { writer.root().data("t", {1, 2, 3}, "point", "point", "m", "t"); })) == hdf5);
}

TEST_CASE("what is open in a sealed file may change, and nothing else", "[output][hdf5]") {
  const Folder folder;
  {
    Hdf5Writer       writer(folder / "rows.h5");
    const Hdf5Group& root = writer.root();
    root.axis("row", 3, "rows");
    root.axis("column", 2, "columns");
    root.axis("nothing", 0, "no rows");
    root.room("x", {"row", "column"}, Hdf5Group::Kept::numbers, "N", "numbers");
    root.room("mark", {"row"}, Hdf5Group::Kept::marks, "", "marks");
    root.room("none", {"nothing"}, Hdf5Group::Kept::numbers, "N", "no numbers");
    root.data("fixed", {1, 2, 3}, "row", "N", "numbers that stay");
    writer.finish({"x", "mark", "none"});
  }
  const std::vector<Span> open = check_seal(folder / "rows.h5");
  REQUIRE(open.size() == 2);  // what holds nothing is nowhere
  CHECK(std::max(open[0].size, open[1].size) == 3 * 2 * sizeof(double));
  CHECK(std::min(open[0].size, open[1].size) == 3);
  {
    const Hdf5Rows rows(folder / "rows.h5", {"x", "mark", "none"});
    CHECK(rows.get("mark", 0, 3) == std::vector<double>{-1, -1, -1});
    CHECK(std::isnan(rows.get("x", 2, 1).at(1)));
    CHECK(rows.get("none", 0, 0).empty());
    rows.put("x", 1, {1.5, -2.0, 3.0, 4.0});
    rows.put("mark", 2, {5});
    CHECK(rows.get("x", 2, 1) == std::vector<double>{3.0, 4.0});
    CHECK(codes(error_of([&] { rows.put("x", 2, {1, 2, 3, 4}); })) == std::vector<std::string>{"hdf5"});
    CHECK(codes(error_of([&] { (void)rows.get("mark", 4, 1); })) == std::vector<std::string>{"hdf5"});
  }
  CHECK(codes(error_of([&] { Hdf5Rows(folder / "rows.h5", {"fixed"}); })) ==
        std::vector<std::string>{"hdf5"});
  {
    const Hdf5Reader file(folder / "rows.h5");
    CHECK(file.numbers("mark") == std::vector<double>{-1, -1, 5});
    CHECK(std::isnan(file.numbers("x").at(0)));
    CHECK(file.numbers("x").at(3) == -2.0);
  }
  // one byte of what is not open
  std::string whole = contents(folder / "rows.h5");
  whole[open[0].begin - 1] ^= 1;
  write(folder / "rows.h5", whole);
  CHECK(codes(error_of([&] { Hdf5Rows(folder / "rows.h5", {"x"}); })) ==
        std::vector<std::string>{"damaged-result"});
}

TEST_CASE("a file that is not finished leaves the earlier one, and nothing beside it", "[output][files]") {
  const Folder folder;
  write(folder / "r.h5", "earlier");
  SECTION("an exception on the way") {
    try {
      Hdf5Writer writer(folder / "r.h5");
      writer.root().attribute("title", std::string("half"));
      CHECK(folder.names().size() == 2);  // the earlier one and the one that is written
      throw std::runtime_error("the disk is full");
    } catch (const std::runtime_error&) {
    }
  }
  SECTION("nobody finishes it") { const Hdf5Writer writer(folder / "r.h5"); }
  SECTION("it is text") {
    SafeFile file(folder / "r.h5");
    write(file.temporary(), "half");
  }
  CHECK(contents(folder / "r.h5") == "earlier");
  CHECK(folder.names() == std::vector<std::string>{"r.h5"});
}

TEST_CASE("a file that is finished takes the place of the earlier one", "[output][files]") {
  const Folder folder;
  write_text((folder / "a.csv").string(), "first");
  CHECK(contents(folder / "a.csv") == "first");
  write_text((folder / "a.csv").string(), "second\nline");
  CHECK(contents(folder / "a.csv") == "second\nline");
  CHECK(folder.names() == std::vector<std::string>{"a.csv"});
  // with no folder in its name, it is where the program was started
  const fs::path before = fs::current_path();
  fs::current_path(folder.path());
  write_text("b.csv", "here");
  fs::current_path(before);
  CHECK(contents(folder / "b.csv") == "here");
}

TEST_CASE("where no file can be, the error says why", "[output][files]") {
  const Folder folder;
  const auto   why = [](const fs::path& path) {
    const Error error = error_of([&] { write_text(path.string(), "text"); });
    CHECK(error.exit() == Exit::usage);
    CHECK(codes(error) == std::vector<std::string>{"cannot-write"});
    CHECK(error.diagnostics()[0].file == path.string());
    // HDF5 says the same
    CHECK(error_of([&] { write_yard(path, broken_yard()); }).diagnostics()[0].what ==
            error.diagnostics()[0].what);
    return error.diagnostics()[0].what;
  };
  CHECK(why(folder / "no/such/folder.csv") ==
        "the result cannot be written: there is no folder " + (folder / "no/such").string());
  CHECK(why(folder.path()) == "the result cannot be written: it is a folder");
  CHECK(why("").rfind("the result cannot be written: ", 0) == 0);
  // a folder in which nobody can make a file, not even the superuser
  if (fs::is_directory("/proc/self"))
    CHECK(why("/proc/self/a.csv") == "the result cannot be written: No such file or directory");
  if (::geteuid() != 0) {
    fs::create_directory(folder / "locked");
    fs::permissions(folder / "locked", fs::perms::owner_read | fs::perms::owner_exec);
    CHECK(why(folder / "locked/a.csv") == "the result cannot be written: Permission denied");
  }
  CHECK(folder.names().size() <= 1);
}

TEST_CASE("a pipe is written to and stays a pipe", "[output][files]") {
  const Folder folder;
  const auto   pipe = folder / "pipe";
  REQUIRE(::mkfifo(pipe.c_str(), 0600) == 0);
  const int reader = ::open(pipe.c_str(), O_RDONLY | O_NONBLOCK);
  REQUIRE(reader >= 0);
  write_text(pipe.string(), "through");
  char       buffer[16] = {};
  const auto got        = ::read(reader, buffer, sizeof buffer);
  ::close(reader);
  CHECK(std::string(buffer, static_cast<std::size_t>(got)) == "through");
  CHECK(fs::is_fifo(pipe));
  // an HDF5 file cannot be written through one
  CHECK(error_of([&] { write_yard(pipe, broken_yard()); }).diagnostics()[0].what ==
        "the result cannot be written: it is a pipe or a device");
  CHECK(fs::is_fifo(pipe));
}

TEST_CASE("what a result says of how it came to be", "[output][provenance]") {
  // the hashes of the standard's own examples (FIPS 180-4)
  CHECK(sha1("abc") == "a9993e364706816aba3e25717850c26c9cd0d89d");
  CHECK(sha1("") == "da39a3ee5e6b4b0d3255bfef95601890afd80709");
  const Provenance& p = yard().origin;
  CHECK(p.command == "arris simulate boatyard.toml");
  CHECK(p.seed == "7");
  REQUIRE(p.started.size() == 20);  // 2001-02-03T04:05:06Z
  CHECK(p.started[10] == 'T');
  CHECK(p.started[19] == 'Z');
  CHECK(p.numerics.find("relative tolerance 1e-06") != std::string::npos);
  CHECK_FALSE(p.compiler.empty());
  REQUIRE(p.inputs.size() == 2);
  CHECK(p.inputs[0].first.find("boatyard.toml") != std::string::npos);
  CHECK(p.inputs[0].second == sha1(contents(fs::path(ARRIS_SOURCE_DIR) / "configs/boatyard/boatyard.toml")));
  CHECK(p.inputs[1].second == sha1(contents(fs::path(ARRIS_SOURCE_DIR) / "configs/boatyard/readings.csv")));
  // the configuration in it is one
  CHECK_NOTHROW(load_scenario("resolved.toml", p.configuration));
}

TEST_CASE("the hash of a file is that of its bytes, and a fit is among what was read",
          "[output][provenance]") {
  const Folder      folder;
  const std::string file = folder / "fit.h5";
  // many pieces, the last of them in part
  for (const std::size_t bytes : {0, 1, 65536, 200001}) {
    const std::string text(bytes, 'x');
    write(file, text);
    CHECK(sha1_of_file(file) == sha1(text));
  }
  const auto with_fit = [&] { return provenance(yard().campaign, "arris simulate yard.toml", "", file); };
  const Provenance p  = with_fit();
  REQUIRE(p.inputs.size() == 3);
  CHECK(p.inputs[2].first == file);
  CHECK(p.inputs[2].second == sha1(std::string(200001, 'x')));
  fs::remove(file);
  CHECK_FALSE(sha1_of_file(file).has_value());
  CHECK_FALSE(sha1_of_file(fs::path(file).parent_path()).has_value());
  const Error gone = error_of([&] { (void)with_fit(); });
  CHECK(gone.exit() == Exit::data);
  CHECK(gone.diagnostics()[0].what == "the fit can no longer be read");
}

TEST_CASE("a table stands in columns, letters of several bytes too", "[output][text]") {
  TextTable table({"wood", "µm", "note"}, {false, true, false});
  table.add({"Öl ½", "1.5", "a"});
  table.gap();
  table.add({"oak", "", "µ"});
  table.add({"x", "12345", ""});
  CHECK(table.text() ==
        "wood     µm  note\n"
        "────  ─────  ────\n"
        "Öl ½    1.5  a\n"
        "\n"
        "oak          µ\n"
        "x     12345\n");
  CHECK(TextTable({"a"}, {true}).text(3) == "   a\n   ─\n");
}

TEST_CASE("a table that is wider than it may be stands in parts, or as lists", "[output][text]") {
  TextTable table({"wood", "first", "second", "third"}, {false, true, true, true});
  table.add({"oak", "1", "22", "333"});
  table.add({"pine", "", "5", "6"});
  CHECK(table.text(0, 200) == table.text(0, 0));
  CHECK(table.text(0, 20) ==
        "wood  first  second\n"
        "────  ─────  ──────\n"
        "oak       1      22\n"
        "pine              5\n"
        "\n"
        "wood  third\n"
        "────  ─────\n"
        "oak     333\n"
        "pine      6\n");
  CHECK(table.text(0, 10) ==
        "wood: oak\n"
        "first: 1\n"
        "second: 22\n"
        "third: 333\n"
        "\n"
        "wood: pine\n"
        "second: 5\n"
        "third: 6\n");
}

TEST_CASE("what is no text is shown as numbers, and lists part where they may", "[output][text]") {
  CHECK(printable("na\xEFve \x1b[2J \xC2\x9B ½\xE2") == "na\\xefve \\x1b[2J \\x9b ½\\xe2");
  CHECK(printable("\x80") == "\\x80");
  // whatever stands in a sentence or a table that goes to a terminal
  CHECK(wrapped("a name \x1b[2J\nof two lines", 30) == "a name \\x1b[2J of two lines\n");
  TextTable table({"edge"}, {false});
  table.add({"\x1b[2J\xE2\x80\xAE"});
  CHECK(table.text(0, 40) == "edge\n─────────────\n\\x1b[2J\\u202e\n");
  using Parts = std::vector<std::string>;
  CHECK(parts_of_list(" a | b c|d ", '|') == Parts{"a", "b c", "d"});
  CHECK(parts_of_list("oak|\"a;b|c&d\" | \"x, \"\"y\"\" \"", '|') == Parts{"oak", "a;b|c&d", "x, \"y\" "});
  CHECK(parts_of_list("", ',') == Parts{""});
  CHECK(parts_of_list("6\"|7", '|') == Parts{"6\"", "7"});  // inches
}

TEST_CASE("sentences are broken at blanks", "[output][text]") {
  CHECK(wrapped("one two three", 7) == "one two\nthree\n");
  CHECK(wrapped("one two three", 8, 1) == " one two\n three\n");
  CHECK(wrapped("µµµ µµµ µ", 7) == "µµµ µµµ\nµ\n");  // characters count, not bytes
  CHECK(wrapped("  much \n white   space ", 100) == "much white space\n");
  CHECK(wrapped("unbreakable", 4) == "unbreakable\n");
  CHECK(wrapped("").empty());
}

TEST_CASE("numbers are shown with as many digits as they are worth", "[output][text]") {
  CHECK(digits(0.0) == "0");
  CHECK(digits(1.0) == "1.00");
  CHECK(digits(12.345) == "12.3");
  CHECK(digits(123.6) == "124");
  CHECK(digits(123456.0) == "123456");
  CHECK(digits(0.00012345) == "0.000123");
  CHECK(digits(-0.5, 2) == "-0.50");
  CHECK(digits(1e-7) == "1e-07");
  CHECK(digits(1.5e12) == "1.5e+12");
  CHECK(digits(std::numeric_limits<double>::quiet_NaN()).empty());
  CHECK(decimals(2.5) == "2");  // to even, as the standard rounds what is half way
  CHECK(decimals(2.51) == "3");
  CHECK(decimals(0.125, 2) == "0.12");
  CHECK(decimals(std::numeric_limits<double>::quiet_NaN()).empty());
}

TEST_CASE("a simulation is told in a sentence, a line per edge and a line per step", "[output][text]") {
  const Yard&       y      = yard();
  const std::string answer = simulation_answer(y.loaded(), y.result);
  CHECK(answer.rfind("12 edges simulated.", 0) == 0);
  CHECK(answer.find("180 gf") != std::string::npos);
  CHECK(answer.find("They pass 180 gf after about ") != std::string::npos);
  // at a fit a forecast says that, with all it does not know
  Loaded at_fit                 = y.loaded();
  at_fit.scenario.beside.passes = {0.0, 100.0};
  at_fit.scenario.beside.along  = {0.0, 0.0};
  const std::string at_a_fit    = simulation_answer(at_fit, y.result);
  CHECK(at_a_fit.rfind("12 edges simulated. Ready for work they read ", 0) == 0);
  CHECK(at_a_fit.find("; the forecast says how long each lasts") != std::string::npos);
  CHECK(at_a_fit.find("They pass") == std::string::npos);
  // and what the fit misses stands behind it
  CHECK(at_a_fit.find("does not fit") == std::string::npos);
  at_fit.scenario.beside.misses = {"Edges off film read 30 % less than it says."};
  const std::string missed      = simulation_answer(at_fit, y.result);
  CHECK(missed ==
        at_a_fit +
            " The fit behind this does not fit everywhere. Edges off film read 30 % less than it says.");
  const auto overview = lines(simulation_overview(y.loaded(), y.result));
  CHECK(overview.size() == 2 + y.result.edges.size());
  for (const EdgeResult& edge : y.result.edges) {
    INFO(edge.name);
    const auto text = lines(edge_text(y.loaded(), edge));
    CHECK(text[0].rfind("Edge " + edge.name + ": " + edge.tool + ", ", 0) == 0);
    CHECK(text.size() >=
          4 + edge.steps.size());  // a heading, two lines of table head, the state before, the steps
    for (std::size_t i = 0; i < edge.steps.size(); ++i)
      CHECK(text[4 + i].find(edge.steps[i].subject) != std::string::npos);
    for (const std::string& line : text) CHECK(line.find("nan") == std::string::npos);
  }
  CHECK(comparison_text(*y.comparison).find("nan") == std::string::npos);
}

TEST_CASE("nothing is asked of an edge without a limit or without wood", "[output][text]") {
  const Loaded loaded = load(shop("{ read = \"new\" },"));
  const auto   result = simulate(loaded.scenario);
  CHECK(simulation_answer(loaded, result) == "1 edge simulated.");
  CHECK(simulation_overview(loaded, result).find("passes to") == std::string::npos);
  const Loaded limit = load("[output]\nreading_limit_gf = 300\n" + shop("{ read = \"new\" },"));
  CHECK(simulation_answer(limit, simulate(limit.scenario)) == "1 edge simulated.");
}

TEST_CASE("units are spelled in ASCII for programs, and back for people", "[output]") {
  for (const char* symbol : {"µm", "µm/m", "µm²/m", "N/µm", "°", "%", "1/%", "MPa", "1", ""}) {
    const std::string spelled = unit_for_files(symbol);
    CHECK(std::all_of(spelled.begin(), spelled.end(),
                      [](char c) { return static_cast<unsigned char>(c) < 0x80; }));
    CHECK(unit_for_people(spelled) == symbol);
  }
  CHECK(unit_for_files("µm²/m") == "um^2/m");
}

TEST_CASE("a file that another program changed is read again once it is sealed anew", "[output][files]") {
  const Folder folder;
  {
    Hdf5Writer writer(folder / "r.h5");
    writer.root().attribute("kind", "simulate");
    writer.finish();
  }
  const std::string sum = seal_sum(folder / "r.h5");
  seal_anew(folder / "r.h5");
  CHECK(seal_sum(folder / "r.h5") == sum);
  {  // as HDF5 leaves it: no seal, and other bytes
    unseal(folder / "r.h5");
    std::ofstream(folder / "r.h5", std::ios::binary | std::ios::app) << "more";
  }
  CHECK(error_of([&] { Hdf5Reader{folder / "r.h5"}; }).diagnostics().front().code == "damaged-result");
  seal_anew(folder / "r.h5");
  CHECK(seal_sum(folder / "r.h5") != sum);
  write_text((folder / "text.h5").string(), "no result");
  CHECK(error_of([&] { seal_anew(folder / "text.h5"); }).diagnostics().front().code == "not-a-result");
}
