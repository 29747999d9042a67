// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <regex>
#include <string>
#include <vector>

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "sim/input/files.hpp"
#include "sim/input/loader.hpp"
#include "sim/simulate/simulate.hpp"
#include "tests/program.hpp"

// The gallery: every example is run by the command that stands at its head, and what it answers must make sense. Where two
// numbers are compared without a margin, the model leaves none: it is exact to the tolerance of its integration, 1e-6.

using namespace arris;
using namespace arris::desk;

namespace fs = std::filesystem;
using Json   = nlohmann::json;

namespace {

const fs::path source  = ARRIS_SOURCE_DIR;
const fs::path gallery = source / "configs" / "examples";

std::vector<std::string> names() {
  std::vector<std::string> out;
  for (const auto& file : fs::directory_iterator(gallery)) {
    if (file.path().extension() == ".toml") out.push_back(file.path().stem().string());
  }
  std::sort(out.begin(), out.end());
  return out;
}

std::string text_of(const std::string& name) { return contents(gallery / (name + ".toml")); }

/// The comment at the head of an example.
struct Head {
  std::string all;       ///< in one line
  std::string question;  ///< between its quotation marks
  std::string command;   ///< what follows "build/arris "
};

Head head_of(const std::string& name) {
  Head head;
  for (const std::string& line : lines(text_of(name))) {
    if (line.empty() || line.front() != '#') break;
    const std::string start = "#     build/arris ";
    if (line.rfind(start, 0) == 0) {
      REQUIRE(head.command.empty());
      head.command = line.substr(start.size());
    } else if (line.size() > 2) {
      head.all += line.substr(line.find_first_not_of(' ', 1)) + " ";
    }
  }
  const auto first = head.all.find('"'), last = head.all.rfind('"');
  if (first < last) head.question = head.all.substr(first + 1, last - first - 1);
  return head;
}

/// First paragraph behind the title, in one line: the answer.
std::string answer_in(const std::string& out) {
  std::string answer;
  int         paragraph = 0;
  for (const std::string& line : lines(out)) {
    if (line.empty() && ++paragraph == 2) break;
    if (paragraph == 1 && !line.empty()) answer += (answer.empty() ? "" : " ") + line;
  }
  return answer;
}

/// The same with every number as #, so that a new calibration does not make the words wrong.
std::string without_numbers(const std::string& text) {
  return std::regex_replace(text, std::regex("[0-9]+(\\.[0-9]+)?( [0-9]{3})*"), "#");
}

/// What the README of the gallery says came out of an example.
std::string told_of(const std::string& name) {
  for (const std::string& line : lines(contents(gallery / "README.md"))) {
    if (line.find("](" + name + ".toml)") == std::string::npos) continue;
    const auto end = line.rfind(" |"), start = line.rfind("| ", end - 1);
    return line.substr(start + 2, end - start - 2);
  }
  return {};
}

/// Runs an example as its head says, from the folder above all, and returns its answer as JSON. The README must tell the
/// sentences with which that answer begins.
Json run_example(const std::string& name) {
  const Folder  folder;
  const Head    head    = head_of(name);
  const Outcome outcome = shell(source, quoted(ARRIS_PROGRAM) + " " + head.command + " --json " +
                                            quoted((folder / "answer.json").string()));
  INFO(head.command);
  INFO(outcome.err);
  REQUIRE(outcome.code == 0);
  const std::string told = told_of(name), answer = answer_in(outcome.out);
  INFO("the program says: " << answer);
  INFO("README says:      " << told);
  CHECK_FALSE(told.empty());
  CHECK(without_numbers(answer).rfind(without_numbers(told), 0) == 0);
  return Json::parse(contents(folder / "answer.json"));
}

/// The only row of a table whose `key` is `value`.
Json row(const Json& table, const std::string& key, const Json& value) {
  std::vector<Json> found;
  std::copy_if(table.begin(), table.end(), std::back_inserter(found),
               [&](const Json& r) { return r.at(key) == value; });
  INFO(key << " = " << value << " in " << table.dump().substr(0, 300));
  REQUIRE(found.size() == 1);
  return found.front();
}

double number(const Json& row, const std::string& key) {
  INFO(key);
  REQUIRE(row.at(key).is_number());
  return row.at(key).get<double>();
}

/// The edges of `text`, simulated.
std::vector<EdgeResult> simulated(const std::string& text) {
  const SimulationResult result = simulate(load_scenario("example.toml", text).scenario);
  for (const EdgeResult& edge : result.edges) {
    INFO(edge.name << ": " << edge.message);
    REQUIRE(edge.status.usable());
  }
  return result.edges;
}

const EdgeResult& edge_of(const std::vector<EdgeResult>& edges, const std::string& name) {
  const auto found =
      std::find_if(edges.begin(), edges.end(), [&](const EdgeResult& e) { return e.name == name; });
  REQUIRE(found != edges.end());
  return *found;
}

/// gram-force at the end of step `k`, from 1
double gf_after(const EdgeResult& edge, std::size_t k) {
  return edge.steps.at(k - 1).after.reading_N / 9.80665e-3;
}

}  // namespace

TEST_CASE("every example asks a question, names its command and its limits, and simulates",
          "[examples][configs]") {
  CHECK(names().size() >= 8);
  const std::string        readme = contents(gallery / "README.md");
  std::vector<std::string> commands;
  for (const std::string& name : names()) {
    INFO(name);
    const Head head = head_of(name);
    CHECK(head.question.find('?') != std::string::npos);
    CHECK(head.command.find("configs/examples/" + name + ".toml") != std::string::npos);
    const auto says = [&](const char* word) { return head.all.find(word) != std::string::npos; };
    CHECK((says("invented") || says("Nothing has been measured")));
    CHECK(says("estimate"));
    CHECK((says("dges cut") || says("catch fingers")));  // the caution
    CHECK(says("qualified people"));
    CHECK(readme.find("](" + name + ".toml)") != std::string::npos);
    CHECK(readme.find("`" + head.command.substr(0, head.command.find(' ')) + "`") != std::string::npos);
    commands.push_back(head.command.substr(0, head.command.find(' ')));

    for (const EdgeResult& edge : simulated(text_of(name))) {
      INFO(edge.name);
      // ready for its first work any edge here is work-sharp or nearly so; the worst, D2 with its large carbides, is at 209
      for (const StepSummary& step : edge.steps) {
        if (step.verb != "cut") continue;
        CHECK(step.before.reading_N / 9.80665e-3 < 220.0);
        CHECK(step.after.apex_radius_um > 0.02);
        break;
      }
    }
  }
  std::sort(commands.begin(), commands.end());
  commands.erase(std::unique(commands.begin(), commands.end()), commands.end());
  CHECK(commands ==
        std::vector<std::string>{"compare", "fit", "forecast", "plan", "simulate", "sweep", "upkeep"});
}

TEST_CASE("example: a spokeshave on green ash is stropped often and honed seldom", "[examples]") {
  const Json answer = run_example("spokeshave-green-ash");
  const Json best   = row(answer.at("routines"), "routine", "least time");
  CHECK(number(best, "worst_gf") <= 160.0);  // the limit that was asked for
  CHECK(number(best, "mean_gf") < number(best, "worst_gf"));
  CHECK(number(best, "strop_every_passes") < number(best, "hone_every_passes"));
  CHECK(number(best, "minutes") < number(row(answer.at("routines"), "routine", "never strop"), "minutes"));
  // passes within an hour's shaving and a day's, at 15 a minute
  CHECK(number(best, "strop_every_passes") > 100.0);
  CHECK(number(best, "strop_every_passes") < 15.0 * 60.0 * 8.0);

  // step 6 is the first stretch of work: seasoned ash is harder and dulls more
  const std::string text  = text_of("spokeshave-green-ash");
  const double      green = gf_after(edge_of(simulated(text), "spindles"), 6);
  const double      dry   = gf_after(
             edge_of(simulated(with(text, "cut = \"white ash, green\"", "cut = \"white ash\"")), "spindles"), 6);
  CHECK(dry > green);
}

TEST_CASE("example: a marking knife is best honed thin, but not as thin as can be", "[examples]") {
  const Json optima = run_example("marking-knife").at("optima");
  double     best = 0.0, at = 0.0;
  for (const Json& r : optima) {
    if (number(r, "passes_to_limit") > best)
      best = number(r, "passes_to_limit"), at = number(r, "tool_micro_bevel_deg");
  }
  CHECK(at > number(optima.front(), "tool_micro_bevel_deg"));  // a thinner tip gives way
  CHECK(at < 30.0);                                            // wear widens a steep edge faster
  CHECK(best > 1.2 * number(row(optima, "tool_micro_bevel_deg", 40.0), "passes_to_limit"));
}

TEST_CASE("example: a gouge gets its burr, and maple dulls it more than spruce", "[examples]") {
  const Json answer = run_example("violin-gouge");
  const Json back = row(answer.at("edges"), "name", "back"), belly = row(answer.at("edges"), "name", "belly");
  const Json hone = back.at("steps").at(0);
  CHECK(hone.at("verb") == "hone");
  const double to_burr = number(hone, "strokes_to_burr");
  CHECK(to_burr > 1.0);
  CHECK(to_burr < 100.0);
  // 30 more from then on; where the burr stands along half the edge a stroke counts half, so not quite their sum
  CHECK(number(hone, "count") == Approx(to_burr + 30.0).margin(1.0));
  CHECK(number(hone, "burr_after_um") > 0.0);
  CHECK(number(back.at("steps").back(), "reading_after_gf") >
        number(belly.at("steps").back(), "reading_after_gf"));

  // what its head says of rolling: a third of the edge at a time, with a third of the path and all of the force on it, comes
  // to the same burr. Pressure is three times as high and enters only as force times path (Archard), so to rounding.
  const std::string text   = text_of("violin-gouge");
  std::string       rolled = with(text, "width_mm          = 24", "width_mm          = 8");
  rolled                   = with(rolled, "force_N = 15, stroke_mm = 60", "force_N = 15, stroke_mm = 20");
  const double flat_burr   = edge_of(simulated(text), "back").steps.at(0).strokes_to_burr;
  const double rolled_burr = edge_of(simulated(rolled), "back").steps.at(0).strokes_to_burr;
  CHECK(rolled_burr == Approx(flat_burr).epsilon(1e-4));  // a hundred tolerances of the integration
}

TEST_CASE("example: a skew chisel lasts longer in side grain than in end grain", "[examples]") {
  const Json life = row(run_example("skew-chisel-pine-end-grain").at("lives"), "edge", "skew");
  CHECK(number(life, "fresh_gf") < 120.0);  // the limit that was asked for
  CHECK(number(life, "passes") > 100.0);
  // 12 mm of path a cut; metres are told of passes rounded to two digits: 5 % at most
  CHECK(number(life, "metres") == Approx(0.012 * number(life, "passes")).epsilon(0.05));

  const std::string text = text_of("skew-chisel-pine-end-grain");
  const auto        worn = [](const std::string& t) { return gf_after(edge_of(simulated(t), "skew"), 5); };
  CHECK(worn(with(text, "cut = \"eastern white pine, end grain\"", "cut = \"eastern white pine\"")) <
        worn(text));
}

TEST_CASE("example: a back bevel makes an edge read more and last less", "[examples]") {
  const Json curve = run_example("back-bevel").at("curve");
  REQUIRE(curve.size() == 9);
  for (std::size_t i = 1; i < curve.size(); ++i) {
    INFO(curve.at(i).at("tool_back_bevel_deg"));
    CHECK(number(curve.at(i), "reading_gf") > number(curve.at(i - 1), "reading_gf"));
    CHECK(number(curve.at(i), "passes_to_limit") < number(curve.at(i - 1), "passes_to_limit"));
  }
}

TEST_CASE("example: after a nick the coarse plate saves strokes and no finer grit may be left out",
          "[examples]") {
  const Json curve    = run_example("regrind-coarse-plate").at("curve");
  const auto left_out = [&](const std::string& what) { return row(curve, "left_out", what); };
  const Json all      = left_out("nothing");
  CHECK(number(left_out("plated diamond, 120 µm (step 1)"), "saved_strokes") < 0.0);
  CHECK(number(left_out("plated diamond, 25 µm (step 3)"), "reading_gf") > 1.4 * number(all, "reading_gf"));
  CHECK(number(left_out("soft waterstone, JIS #3000 (step 4)"), "reading_gf") >
        1.4 * number(all, "reading_gf"));

  // off the coarse plate alone an edge is duller than off film, and has more of the steel gone
  const auto plate = edge_of(simulated(text_of("regrind-coarse-plate")), "regrind");
  const auto film  = edge_of(simulated(text_of("film-only")), "film");
  REQUIRE(plate.steps.at(1).subject == "off the coarse plate");
  REQUIRE(film.steps.at(5).subject == "off the film");
  CHECK(gf_after(film, 6) < 0.5 * gf_after(plate, 2));
  CHECK(film.steps.at(5).after.scratch_um < 0.01 * plate.steps.at(1).after.scratch_um);
  CHECK(film.steps.at(5).after.blade_loss_um < plate.steps.at(1).after.blade_loss_um);
}

TEST_CASE("example: film to 0.3 µm lies between film to 1 µm and the strop", "[examples]") {
  const Json ways = run_example("film-only").at("ways");
  const auto gf   = [&](const char* edge) { return number(row(ways, "edges", edge), "reading_gf"); };
  CHECK(gf("film") < gf("short"));
  CHECK(gf("stropped") < gf("film"));
  CHECK(number(row(ways, "edges", "film"), "minutes") > number(row(ways, "edges", "short"), "minutes"));
}

TEST_CASE("example: a hard strop keeps a chisel sharp, a soft one rounds it", "[examples]") {
  const Json edges = run_example("strop-only").at("edges");
  const Json hard = row(edges, "name", "hard strop"), soft = row(edges, "name", "soft strop"),
             none = row(edges, "name", "never stropped");
  int strops      = 0;
  for (std::size_t i = 0; i < hard.at("steps").size(); ++i) {
    const Json step = hard.at("steps").at(i), other = soft.at("steps").at(i);
    REQUIRE(step.at("verb") == other.at("verb"));
    if (step.at("verb") != "strop") continue;
    ++strops;
    // every time the hard strop takes off what the job put on
    CHECK(number(step, "reading_after_gf") < number(hard.at("steps").at(i - 1), "reading_after_gf"));
  }
  CHECK(strops == 4);
  // the soft one dubs the edge more from job to job
  CHECK(number(soft.at("steps").back(), "reading_after_gf") >
        number(hard.at("steps").back(), "reading_after_gf"));
  CHECK(number(hard.at("steps").back(), "reading_after_gf") <
        number(none.at("steps").back(), "reading_after_gf"));
}

TEST_CASE("example: in teak M2 outlasts O1, and D2 begins blunter than both", "[examples]") {
  const Json lives = run_example("rabbet-plane-teak").at("lives");
  const Json o1 = row(lives, "edge", "O1"), d2 = row(lives, "edge", "D2"), m2 = row(lives, "edge", "M2");
  CHECK(number(m2, "passes") > number(o1, "passes"));
  CHECK(number(d2, "fresh_gf") > number(m2, "fresh_gf"));
  CHECK(number(d2, "fresh_gf") > number(o1, "fresh_gf"));

  // silica: maple is harder than teak, and yet teak dulls an edge faster
  const std::string text = text_of("rabbet-plane-teak");
  const auto        worn = [](const std::string& t) {
    const EdgeResult edge = edge_of(simulated(t), "O1");
    return edge.steps.back().after.apex_radius_um;
  };
  const std::string maple = with(text, "tool  = \"O1\"\nroute = \"diamond\"\nsteps = [{ cut = \"teak\"",
                                 "tool  = \"O1\"\nroute = \"diamond\"\nsteps = [{ cut = \"sugar maple\"");
  CHECK(worn(text) > worn(maple));
}

TEST_CASE("example: felt against hide takes edges enough, and the plan finds the difference", "[examples]") {
  const Json  answer   = run_example("two-strops");
  const Json& settings = answer.at("settings");
  CHECK(number(settings, "power_by_formula") >= 0.9);  // what was asked for
  // what the simulated experiments found, within 4 standard errors: by chance once in 16 000 times
  CHECK(number(settings, "power_simulated") ==
        Approx(number(settings, "power_by_formula")).margin(4.0 * number(settings, "power_simulated_se")));
  CHECK(number(settings, "edges_per_group") >= 3.0);
  CHECK(number(settings, "readings") ==
        2.0 * number(settings, "edges_per_group") * number(settings, "readings_per_edge_and_moment") * 3.0);
  // fewer edges find only larger differences
  double before = 1e9;
  for (const Json& r : answer.at("smaller")) {
    CHECK(number(r, "smallest_difference_pct") < before);
    before = number(r, "smallest_difference_pct");
  }
}

TEST_CASE("example: most strokes on the one stone are wasted, those that raise the burr are not",
          "[examples]") {
  const Json answer = run_example("one-stone");
  const Json stone  = answer.at("optima").at(0);
  CHECK(number(stone, "enough_strokes") < 0.5 * number(stone, "strokes"));
  CHECK(answer.at("headline").get<std::string>().find("left out") == std::string::npos);

  // without the burr the stone has done nothing for the apex: three strokes do not reach it
  const std::string text = text_of("one-stone");
  const auto        off  = [](const std::string& t) { return gf_after(edge_of(simulated(t), "site"), 2); };
  CHECK(off(with(text, "strokes = 100, after_burr = true", "strokes = 3")) > 2.0 * off(text));
}

TEST_CASE("example: pins on a disc give back the load exponent and the oil that were put in", "[examples]") {
  const Json answer = run_example("pin-on-disc");
  const auto of     = [&](const std::string& path) {
    for (const Json& p : answer.at("parameters"))
      if (p.at("path") == path) return p;
    FAIL("no parameter " << path);
    return Json();
  };
  // invented with 1.15, 0.11 and 2.4e-3 µm/m: of 12 pins that differ by 8 % these stand within what the fit says of its own certainty,
  // here within three standard deviations of a log
  const std::pair<const char*, double> truths[]{{"specimen.load_exponent", 1.15},
                                                {"counterface.oil.wear_factor", 0.11},
                                                {"wear.rate_um_per_m", 2.4e-3}};
  for (const auto& [path, truth] : truths) {
    INFO(path);
    const Json   p      = of(path);
    const double log_sd = number(p, "log_sd");
    CHECK(std::abs(std::log(number(p, "value") / truth)) < 3.0 * log_sd);
    CHECK(
        log_sd <
        0.2);  // the oil's factor: two counterfaces of six pins each, each scattering by 8 %, near the profile's own scatter
  }
}
