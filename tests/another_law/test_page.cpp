// SPDX-License-Identifier: MIT
// A law that was added is on the page as soon as it is in the registry: the page's own functions, compiled for this machine.
#include <catch2/catch.hpp>

#include "bindings/page/src/page.hpp"
#include "sim/simulate/simulate.hpp"
#include "tests/desk.hpp"

using namespace arris;

namespace {

std::string yard_by(const std::string& wear) {
  return desk::contents(ARRIS_SOURCE_DIR "/configs/boatyard/boatyard.toml") + "\n[wear]\n" + wear;
}

}  // namespace

TEST_CASE("the page keeps the law that was added in its tree, and writes it") {
  const page::Json read =
      page::read({{"name", "yard.toml"}, {"text", yard_by("law = \"another\"\nrate_um_per_m = 5e-4\n")}});
  CHECK(read.at("tree").at("wear").at("law") == "another");
  const std::string text = page::write({{"tree", read.at("tree")}}).at("text");
  CHECK(text.find("law = \"another\"") != std::string::npos);
}

TEST_CASE("the page shows what an edge comes to by the law that was added") {
  const std::string text  = yard_by("law = \"another\"\nrate_um_per_m = 5e-4\n");
  const page::Json  shown = page::bench({{"name", "yard.toml"}, {"text", text}, {"ways", {"A1"}}}, nullptr);
  CHECK(shown.at("law") == "another");
  const double worn = shown.at("ways").at(0).at("moments").at("worn").at("apex_radius_um");

  const Scenario scenario = load_scenario("yard.toml", text).scenario;
  const auto&    plan     = scenario.edges.front();
  REQUIRE(plan.name == "A1");
  const auto cut = std::find_if(plan.steps.begin(), plan.steps.end(),
                                [](const Step& s) { return std::holds_alternative<CutStep>(s); });
  double     end = not_given;
  for (const TrackPoint& p : simulate_edge(scenario, plan).track) {
    if (p.step == cut - plan.steps.begin()) end = p.apex_radius_um;
  }
  CHECK(worn == Approx(end).epsilon(1e-9));

  const page::Json usual =
      page::bench({{"name", "yard.toml"}, {"text", yard_by("")}, {"ways", {"A1"}}}, nullptr);
  CHECK(usual.at("law") == "shared-load");
  CHECK(usual.at("ways").at(0).at("moments").at("worn").at("apex_radius_um") != worn);
}

TEST_CASE("the page says which laws there are, the one that was added among them") {
  try {
    (void)page::bench({{"name", "yard.toml"}, {"text", yard_by("law = \"anothr\"\n")}, {"ways", {"A1"}}},
                      nullptr);
    FAIL("a law that is not there was taken");
  } catch (const Error& error) {
    REQUIRE(error.diagnostics().size() == 1);
    CHECK(error.diagnostics()[0].code == "unknown-law");
    CHECK(error.diagnostics()[0].allowed.find("another") != std::string::npos);
  }
}
