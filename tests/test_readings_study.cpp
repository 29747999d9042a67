// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <functional>
#include <random>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/input/readings_csv.hpp"
#include "sim/output/answer_output.hpp"
#include "sim/studies/readings/read_campaign.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

const std::string read_then_worked =
    "steps = [ {{ read = \"off\" }}, {{ strop = \"thin hide on wood\", laps = 20 }}, {{ read = \"ready\" }}, {{ cut = \"white "
    "oak\", passes = 100 }} ]\n";

// edges S1, S2 … of a stone and P1 … of a plate, read off it, stropped, and after wood
std::string stones_and_plates(int stones, int plates) {
  std::string text = iron +
                     "[route.stone]\nsteps = [{ hone = \"soft waterstone, JIS #1000\", strokes = 30 }]\n"
                     "[route.plate]\nsteps = [{ hone = \"plated diamond, 9 µm\", strokes = 30 }]\n";
  const auto add = [&](const char* prefix, int count, const char* route) {
    for (int i = 1; i <= count; ++i)
      text += fmt::format("[edge.{}{}]\ntool = \"iron\"\nroute = \"{}\"\n", prefix, i, route) +
              fmt::format(fmt::runtime(read_then_worked));
  };
  add("S", stones, "stone");
  add("P", plates, "plate");
  return text;
}

struct Levels {
  double off, ready, at_40, at_100;
};

// three readings of every edge and moment, lognormal; `times` is what an edge reads more than its level, by moment (0 … 3)
std::string csv_of(int stones, Levels stone, int plates, Levels plate, double luck, double scatter,
                   unsigned                                                          seed,
                   const std::function<double(const std::string& edge, int moment)>& times = nullptr) {
  std::mt19937               random(seed);
  std::normal_distribution<> normal;
  std::string                csv = "edge,step,passes,reading_gf\n";
  const auto                 add = [&](const char* prefix, int count, const Levels& levels) {
    for (int i = 1; i <= count; ++i) {
      const std::string edge    = fmt::format("{}{}", prefix, i);
      const double      own     = std::exp(luck * normal(random));
      const double      level[] = {levels.off, levels.ready, levels.at_40, levels.at_100};
      const char*       named[] = {"off,", "ready,", ",40", ",100"};
      for (int m = 0; m < 4; ++m) {
        for (int k = 0; k < 3; ++k)
          csv += fmt::format(
                              "{},{},{:.2f}\n", edge, named[m],
                              level[m] * own * (times ? times(edge, m) : 1.0) * std::exp(scatter * normal(random)));
      }
    }
  };
  add("S", stones, stone);
  add("P", plates, plate);
  return csv;
}

const Levels stone_levels{180.0, 130.0, 145.0, 160.0}, plate_levels{240.0, 140.0, 155.0, 171.0};

struct Read {
  Loaded               loaded;
  std::vector<Reading> readings;
  ReadCampaign         campaign;
  Answer               answer;
};

Read read(const std::string& text, const std::string& csv) {
  Loaded       loaded   = load(text);
  const auto   readings = parse_readings("r.csv", csv, loaded.scenario);
  ReadCampaign campaign = read_campaign(loaded.scenario, readings, nullptr, 1);
  Answer       answer   = readings_answer(campaign, readings, loaded.scenario, "r.csv");
  return {std::move(loaded), readings, std::move(campaign), std::move(answer)};
}

bool says(const std::string& text, const std::string& what) { return text.find(what) != std::string::npos; }

bool remarks(const Answer& answer, const std::string& what) {
  return std::any_of(answer.remarks.begin(), answer.remarks.end(),
                     [&](const std::string& remark) { return says(remark, what); });
}

}  // namespace

TEST_CASE("a burr on all edges of a way is found in their changes, where single edges scatter too much",
          "[readings]") {
  Levels burr  = stone_levels;
  burr.ready   = 170.0;
  burr.at_40   = 150.0;
  burr.at_100  = 166.0;
  const Read r = read(stones_and_plates(8, 0), csv_of(8, burr, 0, plate_levels, 0.05, 0.08, 3));
  INFO(r.answer.headline);
  CHECK(says(r.answer.headline, "The reading falls in wood, that of stone + thin hide on wood by "));
  CHECK(says(r.answer.headline, "from \"ready\" to \"40 passes\" (8 edges"));
  CHECK(says(r.answer.headline, "most likely a burr that was left on the edges and wore off"));
  CHECK(r.campaign.less.empty());  // not said of single edges again
  const auto fall = std::find_if(r.campaign.changes.begin(), r.campaign.changes.end(),
                                 [](const ReadChange& c) { return c.after == "40 passes"; });
  REQUIRE(fall != r.campaign.changes.end());
  CHECK(fall->low < 150.0 / 170.0);
  CHECK(fall->high > 150.0 / 170.0);
  CHECK(fall->worked);
  CHECK_FALSE(fall->sharpened);
  // the strop is held against the reading before it
  CHECK(r.campaign.changes.front().before == "off");
  CHECK(r.campaign.changes.front().sharpened);
  // without a burr nothing falls
  const Read none = read(stones_and_plates(8, 0), csv_of(8, stone_levels, 0, plate_levels, 0.05, 0.08, 3));
  INFO(none.answer.headline);
  CHECK_FALSE(says(none.answer.headline, "burr"));
  CHECK(says(none.answer.headline, "and 1"));  // what wood did to the one way: 130 to 160 gf
}

TEST_CASE("a fall that came with another operator may be that", "[readings]") {
  Levels burr      = stone_levels;
  burr.ready       = 170.0;
  burr.at_100      = 165.0;
  std::string csv  = csv_of(6, burr, 0, plate_levels, 0.03, 0.03, 5),
              with = "edge,step,passes,reading_gf,operator\n";
  std::size_t at   = csv.find('\n') + 1;
  for (std::size_t end = csv.find('\n', at); end != std::string::npos;
       at = end + 1, end = csv.find('\n', at)) {
    const std::string row = csv.substr(at, end - at);
    with += row + (says(row, "ready") || says(row, "off") ? ",K\n" : ",M\n");
  }
  const Read r = read(stones_and_plates(6, 0), with);
  INFO(r.answer.headline);
  CHECK(says(r.answer.headline,
             "They were read by different operators at the two moments, which may be why instead."));
}

TEST_CASE("a strop that helps one way and not the other is said first", "[readings]") {
  Levels unhelped = stone_levels;
  unhelped.ready  = 180.0;
  unhelped.at_40  = 198.0;
  unhelped.at_100 = 215.0;
  const Read r    = read(stones_and_plates(5, 5), csv_of(5, unhelped, 5, plate_levels, 0.05, 0.05, 1));
  INFO(r.answer.headline);
  CHECK(says(r.answer.headline,
             "From \"off\" to \"ready\" the reading of plate + thin hide on wood falls by 4"));
  CHECK(says(r.answer.headline, "and that of stone + thin hide on wood does not clearly change"));
  CHECK(says(r.answer.headline, "what was done between the two does not change all ways alike"));
  // plates rise in wood as stones do
  CHECK_FALSE(says(r.answer.headline, "in wood they do not change alike"));
  const AnswerTable& changes = r.answer.table("changes");
  CHECK(changes.rows() == 6);
}

TEST_CASE("ways that wear at different rates are named by their readings alone", "[readings]") {
  Levels fast  = plate_levels;
  fast.at_40   = 180.0;
  fast.at_100  = 215.0;
  const Read r = read(stones_and_plates(6, 6), csv_of(6, stone_levels, 6, fast, 0.05, 0.05, 2));
  INFO(r.answer.headline);
  CHECK(says(r.answer.headline,
             "From \"ready\" to \"100 passes\" the reading of stone + thin hide on wood rises by 2"));
  CHECK(says(r.answer.headline, "in wood they do not change alike, by more than edges differ."));
}

TEST_CASE("a mistyped reading is named by its line, and its edge is not accused", "[readings]") {
  std::string csv = csv_of(6, stone_levels, 0, plate_levels, 0.04, 0.05, 7);
  // the second reading of S3 when ready: two rows of each edge before it, three readings each
  std::size_t at = 0;
  for (int line = 1; line < 30; ++line) at = csv.find('\n', at) + 1;
  const std::size_t comma = csv.rfind(',', csv.find('\n', at));
  const double      was   = std::stod(csv.substr(comma + 1));
  csv.replace(comma + 1, csv.find('\n', at) - comma - 1, fmt::format("{:.1f}", 2.0 * was));
  const Read r = read(stones_and_plates(6, 0), csv);
  REQUIRE(r.campaign.odd.size() == 1);
  CHECK(r.campaign.odd[0].line == 30);
  CHECK(r.campaign.odd[0].edge == "S3");
  CHECK(r.campaign.odd[0].reading_gf == Approx(2.0 * was).epsilon(1e-3));
  CHECK(r.campaign.odd[0].others == 2);
  CHECK(r.campaign.apart.empty());
  CHECK(remarks(r.answer, "Look whether it is mistyped"));
  const Read right = read(stones_and_plates(6, 0), csv_of(6, stone_levels, 0, plate_levels, 0.04, 0.05, 7));
  CHECK(right.campaign.odd.empty());
}

TEST_CASE(
    "an edge is named as standing apart in one campaign of twenty where all are alike, and found where one is chipped",
    "[readings]") {
  constexpr int campaigns = 200;
  const Loaded  loaded    = load(stones_and_plates(5, 5));
  int           accused = 0, odd = 0, found = 0, unlike = 0, falls = 0;
  for (unsigned seed = 0; seed < campaigns; ++seed) {
    const auto look = [&](const std::function<double(const std::string&, int)>& times) {
      // the same changes in both ways
      const auto csv =
          csv_of(5, {200.0, 130.0, 145.0, 160.0}, 5, {240.0, 156.0, 174.0, 192.0}, 0.05, 0.06, seed, times);
      return read_campaign(loaded.scenario, parse_readings("r.csv", csv, loaded.scenario), nullptr, 1);
    };
    const ReadCampaign alike = look(nullptr);
    accused += alike.apart.empty() ? 0 : 1;
    odd += alike.odd.empty() ? 0 : 1;
    unlike += alike.unlike.empty() ? 0 : 1;
    falls += alike.less.empty() ? 0 : 1;
    // at 40 passes S2 loses a piece
    const ReadCampaign chipped =
        look([](const std::string& edge, int moment) { return edge == "S2" && moment >= 2 ? 1.5 : 1.0; });
    found += chipped.apart.size() == 1 && chipped.apart[0].edge == "S2" ? 1 : 0;
  }
  // 5 % of 200 is 10, and 18 or more come once in a hundred
  CHECK(accused < 18);
  CHECK(odd < 18);
  CHECK(unlike < 18);
  CHECK(falls < 18);
  CHECK(found > 0.8 * campaigns);
}
