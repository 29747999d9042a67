// SPDX-License-Identifier: MIT
#include <cmath>

#include <catch2/catch.hpp>

#include "sim/laws/geometry.hpp"
#include "sim/simulate/outline_history.hpp"
#include "sim/simulate/simulate.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace {

OutlineHistory followed(const std::string& text) {
  const Loaded loaded = load(text);
  return outline_history(loaded.scenario, loaded.scenario.edges.front());
}

double ratio_after(const OutlineHistory& h, std::size_t step) {
  const OutlinePoint& p = h.steps.at(step).back();
  return p.outline.reading_N / p.reduced.reading_N;
}

const std::string stones = R"({ hone = "soft waterstone, JIS #1000", strokes = 40 },
  { hone = "hard waterstone, JIS #8000", strokes = 60 },
  { back = "hard waterstone, JIS #8000", strokes = 10 },)";

}  // namespace

TEST_CASE("An arc put in the place of a finer tip touches both faces", "[outline]") {
  constexpr double    included = 30 * laws::degree;
  const outline::Face face{500, 5 * laws::degree, 6000};
  outline::Outline    keen  = outline::Outline::fresh(included, 0.0, face);
  outline::Outline    apart = outline::Outline::fresh(included, 0.0, face, face);
  for (outline::Outline* edge : {&keen, &apart}) {
    REQUIRE(edge->round_tip(0.5));
    CHECK(edge->equivalent_radius_um(1.0) == Approx(0.5).epsilon(0.01));
    CHECK(edge->tip_radius_um() == Approx(0.5).epsilon(0.05));
    CHECK(edge->depth_to_flat_um() == Approx(0.5 * (1 - std::sin(0.5 * included))).epsilon(0.02));
    CHECK(edge->tip_setback_um() == Approx(0.5 * (1 / std::sin(0.5 * included) - 1)).epsilon(0.01));
    const double before = edge->tip_setback_um();
    CHECK_FALSE(edge->round_tip(0.2));  // it is blunter than that
    CHECK(edge->tip_setback_um() == before);
    CHECK_THROWS_AS(edge->round_tip(0.0), std::invalid_argument);
  }
}

TEST_CASE("What a tester meets of an arc is its radius, near the tip and far behind it", "[outline]") {
  for (double r : {0.1, 1.0, 5.0, 40.0}) {
    const auto edge =
        outline::Outline::fresh(30 * laws::degree, r, {2000, 5 * laws::degree, 6000}, outline::Mesh{});
    CHECK(met_radius_um(edge, 0.33) == Approx(r).epsilon(0.02));
  }
}

TEST_CASE("Where nothing dubs, the outline says what the reduced law says", "[outline]") {
  const OutlineHistory h = followed(shop(stones + R"(
  { cut = "sugar maple", passes = 100 },
  { cut = "sugar maple", passes = 400 },)"));
  REQUIRE(h.status.usable());
  REQUIRE(h.steps.size() == 5);
  for (std::size_t i = 0; i < h.steps.size(); ++i) CHECK(std::abs(ratio_after(h, i) - 1.0) < 0.03);
  CHECK(h.points > 40);
  CHECK(h.presses == 0);
}

TEST_CASE("Under another wear law the tip has the reduced radius", "[outline]") {
  const OutlineHistory h = followed("[wear]\nlaw = \"square-root\"\n" +
                                    shop(stones + "\n{ cut = \"sugar maple\", passes = 300 },"));
  REQUIRE(h.status.usable());
  CHECK(std::abs(ratio_after(h, 3) - 1.0) < 0.03);
}

TEST_CASE("A strop dubs the outline, and stones take that off again", "[outline]") {
  const std::string strop =
      "\n{ strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 30 },";
  const OutlineHistory h = followed(shop(stones + strop + stones));
  REQUIRE(h.status.usable());
  CHECK(h.presses > 10);
  const auto dub = [&](std::size_t step) {
    const OutlinePoint& p = h.steps[step].back();
    return p.outline.depth_to_flat_um - p.arc_depth_um;
  };
  CHECK(dub(2) < 0.01);
  CHECK(dub(3) > 0.3);
  CHECK(dub(6) < 0.05);
  CHECK(ratio_after(h, 6) == Approx(1.0).epsilon(0.05));
}

TEST_CASE("A few strokes on a dubbed edge leave its tip alone", "[outline]") {
  const std::string strop =
      "\n{ strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 60 },";
  const OutlineHistory h =
      followed(shop(stones + strop + "\n{ hone = \"lapping film, 0.5 µm\", strokes = 1 },"));
  REQUIRE(h.status.usable());
  const EdgeMeasure stropped = h.steps[3].back().outline, honed = h.steps[4].back().outline;
  CHECK(honed.depth_to_flat_um < stropped.depth_to_flat_um);
  CHECK(honed.depth_to_flat_um > 0.3 * stropped.depth_to_flat_um);
}

TEST_CASE("Honed by hand an edge comes out convex", "[outline]") {
  const auto honed = [](const std::string& scatter) {
    return followed(shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 60" + scatter + " },"))
        .steps[0]
        .back();
  };
  const OutlinePoint guided = honed(""), by_hand = honed(", angle_scatter_deg = 0.5");
  CHECK(by_hand.outline.depth_to_flat_um > guided.outline.depth_to_flat_um + 0.3);
  CHECK(by_hand.outline.depth_to_flat_um == Approx(by_hand.reduced.depth_to_flat_um).epsilon(0.4));
  CHECK(by_hand.outline.met_radius_um == Approx(by_hand.reduced.met_radius_um).epsilon(0.15));
}

TEST_CASE("An outline is looked at where it was asked for, and at the end of each step", "[outline]") {
  const Loaded loaded = load(shop(stones + "\n{ cut = \"sugar maple\", passes = 100 },"));
  const auto&  plan   = loaded.scenario.edges.front();
  int          ends   = 0;
  const auto   h      = outline_history(loaded.scenario, plan, {{0.0, 5.0}, {}, {3.0}, {10.0, 60.0}},
                                        [&](std::size_t, const outline::Outline&) { ++ends; });
  std::vector<std::vector<double>> counts;
  for (const auto& step : h.steps) {
    counts.emplace_back();
    for (const OutlinePoint& p : step) counts.back().push_back(p.count);
  }
  CHECK(counts ==
        std::vector<std::vector<double>>{{0.0, 5.0, 40.0}, {60.0}, {3.0, 10.0}, {10.0, 60.0, 100.0}});
  CHECK(ends == 4);
  // where one looks makes no difference to the end
  const auto again = outline_history(loaded.scenario, plan);
  CHECK(again.steps[2].back().outline.reading_N == h.steps[2].back().outline.reading_N);
}

TEST_CASE("A simulation takes readings, dub and depth from the outline where it is asked to", "[outline]") {
  const std::string text =
      shop(stones +
           "\n{ strop = \"thin hide on wood\", compound = \"chromium oxide 0.5 µm\", laps = 30 },\n"
           "{ cut = \"sugar maple\", passes = 200, shaving_um = 1 },\n{ read = \"worn\" },");
  const Loaded     reduced = load(text), outline = load(text + "[numerics]\nfidelity = \"outline\"\n");
  const EdgePlan&  plan   = outline.scenario.edges.front();
  const EdgeResult by_law = simulate_edge(reduced.scenario, reduced.scenario.edges.front());
  const EdgeResult edge   = simulate_edge(outline.scenario, plan);
  REQUIRE(edge.status.usable());
  CHECK(by_law.outline_points == 0);
  CHECK(edge.outline_points > 40);
  CHECK(edge.outline_presses > 10);
  REQUIRE(edge.track.size() == by_law.track.size());
  REQUIRE(edge.steps.size() == by_law.steps.size());
  for (std::size_t i = 0; i < edge.track.size(); ++i) {
    const TrackPoint &a = edge.track[i], &b = by_law.track[i];
    INFO("step " << a.step << ", count " << a.count);
    CHECK((a.step == b.step && a.count == b.count && a.scratch_um == b.scratch_um && a.burr_um == b.burr_um &&
           a.land_mm == b.land_mm && a.chip_um == b.chip_um));
    CHECK(a.met_radius_um ==
          Approx(a.apex_radius_um + a.dub_um + laws::chip_radius_share * a.chip_um).epsilon(1e-9));
    CHECK((a.dub_um >= 0.0 && a.dub_depth_um >= 0.0 && a.reading_N > 0.0));
  }
  // ends of steps are those of the outline, and a moment that is asked for alone is the same, but that a strop pauses where one looks
  const OutlineHistory h = followed(text);
  for (std::size_t i = 0; i < edge.steps.size(); ++i)
    CHECK(edge.steps[i].after.reading_N == Approx(h.steps[i].back().outline.reading_N).epsilon(1e-2));
  CHECK(edge.steps[3].after.reading_N != by_law.steps[3].after.reading_N);
  const Prediction at = predict(outline.scenario, plan, {{3, 30.0}, {4, 50.0}, {5, not_given}});
  REQUIRE(at.points.size() == 3);
  CHECK(at.points[2].reading_N == Approx(edge.track.back().reading_N).epsilon(1e-2));
  // what a strop has left is there to be drawn, from the back over the tip to the bevel
  REQUIRE(edge.outline.size() > 60);
  CHECK(edge.outline.front().step == 3);
  CHECK((edge.outline.front().x_um < -1.0 && edge.outline.back().x_um > 1.0));
  CHECK(by_law.outline.empty());
  // and the same bits again
  CHECK(simulate_edge(outline.scenario, plan).track.back().reading_N == edge.track.back().reading_N);
}

TEST_CASE("What an outline cannot follow is no result", "[outline]") {
  const Loaded loaded = load(
      shop(
          "{ read = \"new\" },\n{ strop = \"soft hide\", compound = \"chromium oxide 0.5 µm\", laps = 10, force_N = 500 },",
          with(iron, "width_mm = 50", "width_mm = 3")) +
      "[numerics]\nfidelity = \"outline\"\n");
  const EdgeResult edge = simulate_edge(loaded.scenario, loaded.scenario.edges.front());
  CHECK_FALSE(edge.status.usable());
  CHECK(edge.message.find("the outline cannot follow it") != std::string::npos);
  CHECK(edge.steps.size() == 1);
  CHECK(edge.track.size() == 1);
}

TEST_CASE("There are two fidelities", "[outline]") {
  const Error error = load_error(shop(one_hone) + "[numerics]\nfidelity = \"fine\"\n");
  CHECK(codes(error) == std::vector<std::string>{"unknown-fidelity"});
  CHECK(underlined(error.diagnostics().front()) == "\"fine\"");
  CHECK(error.diagnostics().front().allowed == "reduced or outline");
}

TEST_CASE("An edge that no outline can follow says so", "[outline]") {
  const OutlineHistory h = followed(
      shop("{ strop = \"soft hide\", compound = \"chromium oxide 0.5 µm\", laps = 10, force_N = 500 },",
           with(iron, "width_mm = 50", "width_mm = 3")));
  CHECK_FALSE(h.status.usable());
  INFO(h.message);
  CHECK(h.message.find("edge \"A\", step 1 (strop soft hide): the outline cannot follow it: ") == 0);
}
