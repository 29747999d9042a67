// SPDX-License-Identifier: MIT
// A wear law added as DEVELOPERS.md says, a header and a name behind all others in a registry of its own (CMakeLists.txt makes it), runs
// wherever a law runs.
#include <catch2/catch.hpp>

#include "sim/fit/fit.hpp"
#include "sim/input/files.hpp"
#include "sim/laws/wear/wear_law.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/studies/weigh/weigh.hpp"
#include "tests/desk.hpp"
#include "tests/lane_batch.hpp"

using namespace arris;
using namespace arris::bench;

namespace {

constexpr std::size_t place = laws::BuiltInWearLaws::size - 1;

Campaign campaign() {
  const std::string yard = ARRIS_SOURCE_DIR "/configs/boatyard/boatyard.toml";
  CampaignTexts     texts;
  texts.files.emplace_back(yard, desk::contents(yard) + "\n[wear]\nlaw = \"another\"\n");
  return load_campaign_texts(texts);
}

}  // namespace

TEST_CASE("the law that was added is the last of the registry") {
  CHECK(place > 0);
  CHECK(std::variant_alternative_t<place, laws::BuiltInWearLaw<double>>::law_name == "another");
}

TEST_CASE("lanes run the law that was added as the scalar path does") {
  Model<double> model = workshop();
  model.wear->law     = laws::Another<double>{};
  LaneBatch<double> batch;
  for (int i = 0; i < 40; ++i) {
    model.tools[tool::iron].apex_radius_um = 0.1 + 0.05 * i;
    batch.add(model, plan(tool::iron, {cut(wood::maple, 100.0 + i)}));
  }
  const auto alone = batch.run({}, InstructionSet::none);
  for (const InstructionSet set : instruction_sets()) {
    if (set == InstructionSet::none) continue;
    CAPTURE(name_of(set));
    const auto lanes = batch.run({}, set);
    for (std::size_t i = 0; i < lanes.size(); ++i) {
      CHECK(lanes[i].adaptive_from == -1);
      CHECK(off(lanes[i].state.apex_radius_um, alone[i].state.apex_radius_um) < 1e-5);  // ten tolerances
    }
  }
}

TEST_CASE("a configuration names the law that was added, and its resolved form says so") {
  const Campaign c = campaign();
  CHECK(c.loaded.scenario.model.wear->law.index() == place);
  CHECK(resolved_toml(c.loaded, false).find("law = \"another\"") != std::string::npos);
  const EdgeResult edge = simulate(c.loaded.scenario, 1).edges.front();
  CHECK(edge.status.usable());
}

TEST_CASE("a fit finds a parameter of the law that was added, with exact slopes") {
  const Campaign             c = campaign();
  std::vector<FreeParameter> free{free_parameter(c.loaded.scenario.model, "wear.rate_um_per_m"),
                                  free_parameter(c.loaded.scenario.model, "tester.slope_N_per_um")};
  FitSettings                settings;
  settings.starts = 2;
  const CampaignModel model(c.loaded.scenario, c.readings, free, settings);
  const FitResult     result = fit(model, 1);
  CHECK(result.converged);
  CHECK(result.best.u.allFinite());
}

TEST_CASE("the law that was added is weighed among the others") {
  const Campaign    c        = campaign();
  const auto        names    = wear_law_names(c.loaded.scenario.model);
  const FitSettings settings = [&] {
    FitSettings s = c.loaded.fit;
    s.free        = {"tester.slope_N_per_um"};
    s.starts      = 1;
    return s;
  }();
  CHECK(std::find(names.begin(), names.end(), "another") != names.end());
  const auto weighed = weigh(c.loaded.scenario, c.readings, settings, {"another", "shared-load"}, 1);
  REQUIRE(weighed.size() == 2);
  for (const WeighedLaw& law : weighed) {
    CAPTURE(law.name, law.failure);
    CHECK(std::isfinite(law.elpd));
  }
}
