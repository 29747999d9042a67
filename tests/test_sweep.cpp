// SPDX-License-Identifier: MIT
#include <algorithm>
#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <cstring>
#include <string>
#include <thread>
#include <vector>

#include <catch2/catch.hpp>
#include <sys/wait.h>
#include <unistd.h>

#include "sim/input/files.hpp"
#include "sim/input/loader.hpp"
#include "sim/input/sweep_axes.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/hdf5_file.hpp"
#include "sim/output/provenance.hpp"
#include "sim/output/sweep_file.hpp"
#include "sim/studies/sweep/sweep.hpp"
#include "sim/studies/sweep/sweep_questions.hpp"
#include "tests/desk.hpp"

using namespace arris;
using namespace arris::desk;

namespace fs = std::filesystem;

namespace {

// an iron that comes to the strop with a burr, so that stropping first helps
const std::string text =
    shop(
        "{ hone = \"soft waterstone, JIS #1000\", strokes = 60 },\n"
        "  { hone = \"hard waterstone, JIS #8000\", strokes = 150 },\n"
        "  { strop = \"soft hide\", compound = \"chromium oxide 0.5 µm\", laps = 20 },\n"
        "  { read = \"stropped\" },\n"
        "  { cut = \"white oak\", passes = 40 },") +
    "[coefficients]\nabrasion = 0.15\nsize_exponent = 0.8\nradius_per_scratch = 6\ncarbide_share = 0.1\n"
    "burr_growth = 0.3\nburr_loss_one_sided = 0.05\nburr_loss_strop = 0.1\nburr_limit_um = 5\n";

SweepOutput output(const std::string& name) {
  if (name == "reading_gf")
    return {name, "gf", "reading", [](const TrackPoint& p) { return laws::in_gram_force(p.reading_N); }};
  if (name == "apex_radius_um")
    return {name, "um", "apex radius", [](const TrackPoint& p) { return p.apex_radius_um; }};
  if (name == "scratch_um")
    return {name, "um", "scratches", [](const TrackPoint& p) { return p.scratch_um; }};
  if (name == "strokes") return {name, "1", "strokes so far", [](const TrackPoint& p) { return p.strokes; }};
  if (name == "dub_depth_um")
    return {name, "um", "depth to flat", [](const TrackPoint& p) { return p.dub_depth_um; }};
  if (name == "chip_um") return {name, "um", "chips", [](const TrackPoint& p) { return p.chip_um; }};
  return {"passes_to_limit", "1", "passes to the limit", {}};
}

Loaded shop_for(const std::vector<std::string>& inputs, const std::string& configuration = text) {
  return load_scenario("shop.toml", configuration, {}, materials_in(inputs));
}

Sweep sweep_of(const Loaded& loaded, const std::vector<std::string>& inputs, const std::string& at = "end",
               const std::vector<std::string>& outputs = {"reading_gf", "apex_radius_um"}) {
  const EdgePlan& plan = loaded.scenario.edges.front();
  SweepDefinition d;
  d.edge     = plan.name;
  d.limit_gf = loaded.scenario.output.reading_limit_gf;
  for (const std::string& input : inputs) d.axes.push_back(sweep_axis(input, loaded, plan));
  name_apart(d.axes);
  for (const std::string& name : outputs) d.outputs.push_back(output(name));
  d.moment = sweep_moment(at);
  return {loaded.scenario, plan, d};
}

SweepMemory all_of(const Sweep& sweep, int threads = 1) {
  SweepMemory memory;
  sweep.run_into(memory, {}, threads);
  return memory;
}

double value(const Sweep& sweep, const SweepMemory& memory, std::size_t output_at, std::size_t row,
             std::size_t column) {
  const std::size_t chunk = row / sweep.grid().rows_per_chunk;
  return memory.get(chunk)
      .values[output_at][(row - sweep.grid().first_row(chunk)) * sweep.grid().columns + column];
}

bool same_blocks(const SweepBlock& a, const SweepBlock& b) {
  if (a.values.size() != b.values.size() || a.status != b.status) return false;
  for (std::size_t o = 0; o < a.values.size(); ++o) {
    if (!std::equal(a.values[o].begin(), a.values[o].end(), b.values[o].begin(), b.values[o].end(),
                    same_bits))
      return false;
  }
  return true;
}

bool same_numbers(const std::vector<double>& a, const std::vector<double>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), same_bits);
}

Answer answer_of(const Sweep& sweep, const SweepMemory& memory) {
  const auto get = [&](std::size_t chunk) { return memory.get(chunk); };
  return sweep_answer(sweep.definition(), {}, sweep.failures_in(memory), get);
}

Answer question_of(const Loaded& loaded, const std::string& name) {
  const Sweep sweep(
      loaded.scenario, loaded.scenario.edges.front(),
      define_question(sweep_question(name), loaded.scenario, loaded.scenario.edges.front(), {}, output));
  return answer_of(sweep, all_of(sweep));
}

Provenance origin(const std::string& configuration = "k = 1\n") {
  Provenance p    = command_provenance("arris sweep");
  p.configuration = configuration;
  return p;
}

void write_sweep(const Sweep& sweep, const fs::path& path, const SweepShard& shard = {}) {
  SweepFile  file(path, sweep.definition(), shard, "", origin());
  const auto failures = sweep.run_into(file, shard, 1);
  const auto get      = [&](std::size_t chunk) { return file.get(chunk); };
  file.finish(sweep_answer(sweep.definition(), shard, failures, get), failures);
}

/// A store that is killed after so many chunks.
class Dying : public SweepStore {
 public:
  Dying(SweepStore& inner, int after) : inner_(inner), left_(after) {}
  [[nodiscard]] bool has(std::size_t chunk) const override { return inner_.has(chunk); }
  void               put(std::size_t chunk, const SweepBlock& block) override {
    if (left_-- == 0) throw std::runtime_error("killed");
    inner_.put(chunk, block);
  }
  [[nodiscard]] SweepBlock get(std::size_t chunk) const override { return inner_.get(chunk); }

 private:
  SweepStore& inner_;
  int         left_;
};

}  // namespace

TEST_CASE("inputs of a sweep are read, with ranges, lists and suggestions", "[sweep]") {
  const Loaded    loaded = shop_for({"step.5.cut=teak|sugar maple", "step.3.strop=MDF|soft hide"});
  const EdgePlan& plan   = loaded.scenario.edges.front();
  const auto      axis   = [&](const std::string& input) { return sweep_axis(input, loaded, plan); };
  const auto      error  = [&](const std::string& input) {
    return error_of([&] { (void)axis(input); }).diagnostics().front();
  };

  const SweepAxis laps = axis("step.3.laps=0:60:61");
  CHECK(laps.values.size() == 61);
  CHECK(laps.values[7] == 7.0);
  CHECK(laps.values.back() == 60.0);
  CHECK(laps.own == 20.0);
  CHECK(laps.units == "1");
  const SweepAxis modulus = axis("backing.soft hide.modulus_MPa=1:100:3:log");
  // the middle of equal ratios is the geometric mean; pow rounds within a few ulp
  CHECK(modulus.values[1] == Approx(10.0).epsilon(1e-14));
  CHECK(modulus.name == "backing_modulus_MPa");
  CHECK(modulus.units == "MPa");
  CHECK(axis("step.1.force_N=30|10|20").values == std::vector<double>{10.0, 20.0, 30.0});
  const SweepAxis wood = axis("step.5.cut=teak|sugar maple");
  CHECK(wood.labels == std::vector<std::string>{"teak", "sugar maple"});
  CHECK(loaded.scenario.model.woods[static_cast<std::size_t>(wood.choices[1])].name == "sugar maple");
  CHECK(axis("step.3.strop=MDF|soft hide").own == 1.0);
  CHECK(axis("tool.iron.micro_bevel_deg=26:40:3").units == "degree");

  CHECK(error("backing.soft hide.modulus_Mpa=1:2:3").code == "unknown-input");
  CHECK(error("backing.soft hide.modulus_Mpa=1:2:3").next.find("\"backing.soft hide.modulus_MPa\"") !=
        std::string::npos);
  CHECK(error("step.3.lap=0:5:6").next == "Did you mean step.3.laps?");
  CHECK(error("step.9.laps=0:5:6").allowed == "1 … 5");
  CHECK(error("step.3.force_N=1:501:5").code == "out-of-range");
  CHECK(error("step.3.force_N=1:501:5").allowed == "0.1 … 500 N");
  CHECK(error("coefficients.dub_share=0:11:5").allowed == "0 … 10");
  CHECK(error("coefficients.dub_share=0:1:5:log").code == "bad-sweep");
  CHECK(error("coefficients.dub_share=1:0:5").code == "bad-sweep");
  CHECK(error("coefficients.dub_share=0:1:1").allowed == "2 … 10000000");
  CHECK(error("coefficients.dub_share=0|0.5|0.5").code == "given-twice");
  CHECK(error("coefficients.dub_share=many").code == "bad-sweep");
  CHECK(error("coefficients.dub_share").code == "bad-sweep");
  CHECK(error("step.2.skip=0|0.5").allowed == "0|1");
  const auto unknown = error_of([] { (void)shop_for({"step.5.cut=white oka"}); }).diagnostics().front();
  CHECK(unknown.code == "unknown-wood");
  CHECK(unknown.next.find("white oak") != std::string::npos);
  CHECK(sweep_moment("after step 3").text() == "after step 3");
  CHECK(sweep_moment("after 12.5 passes").text() == "after 12.5 passes");
  CHECK(error_of([] { (void)sweep_moment("after lunch"); }).diagnostics().front().code == "bad-option");
  std::vector<SweepAxis> twice{laps, laps};
  CHECK(error_of([&] { name_apart(twice); }).diagnostics().front().code == "given-twice");
}

TEST_CASE("a member of a sweep is the history with that value in it", "[sweep]") {
  const std::vector<std::string> inputs{"coefficients.dub_share=0.5:2:4", "step.1.strokes=20:80:3"};
  const Loaded                   loaded = shop_for(inputs);
  const Sweep                    sweep  = sweep_of(loaded, inputs);
  CHECK_FALSE(sweep.definition().row_is_one_history);
  const SweepMemory memory                        = all_of(sweep);
  Scenario          s                             = loaded.scenario;
  s.model.coefficients.dub_share                  = sweep.definition().axes[0].values[2];
  std::get<HoneStep>(s.edges[0].steps[0]).strokes = 80.0;
  // worked in lanes here and alone there: each errs by some tens of steps of 1e-6 at most (test_lanes.cpp)
  CHECK(value(sweep, memory, 1, 2, 2) ==
        Approx(simulate_edge(s, s.edges[0]).track.back().apex_radius_um).epsilon(2e-5));
}

TEST_CASE("the laps of a strop come from one integration per row, as if each were run alone", "[sweep]") {
  const std::vector<std::string> inputs{"step.3.laps=0:40:41", "backing.soft hide.modulus_MPa=2:200:5:log"};
  const Loaded                   loaded = shop_for(inputs);
  const Sweep                    sweep  = sweep_of(loaded, inputs, "after step 4");
  REQUIRE(sweep.definition().row_is_one_history);
  CHECK(sweep.definition().axes[1].path == "step.3.laps");  // put last, as columns
  const SweepMemory memory = all_of(sweep);
  for (std::size_t row = 0; row < 5; ++row) {
    for (const std::size_t column : {0, 1, 17, 40}) {
      Scenario s     = loaded.scenario;
      auto&    strop = std::get<StropStep>(s.edges[0].steps[2]);
      s.model.backings[static_cast<std::size_t>(strop.backing)].modulus_MPa =
          sweep.definition().axes[0].values[row];
      strop.laps = static_cast<double>(column);
      s.edges[0].steps.resize(3);
      const double alone = simulate_edge(s, s.edges[0]).steps.back().after.apex_radius_um;
      // both are within the tolerance of each step (1e-6) of the exact value; a strop takes fewer than 50 steps
      CHECK(value(sweep, memory, 1, row, column) == Approx(alone).epsilon(1e-4));
    }
  }
  CHECK(sweep_of(loaded, inputs, "end").definition().row_is_one_history == false);  // wood is cut in between
}

TEST_CASE("materials, skipped steps and passes to a limit are swept", "[sweep]") {
  const std::string              limited = text + "[output]\nreading_limit_gf = 250\n";
  const std::vector<std::string> inputs{"step.5.cut=teak|sugar maple|white oak", "step.3.skip=0|1"};
  const Loaded                   loaded = shop_for(inputs, limited);
  const Sweep sweep  = sweep_of(loaded, inputs, "after 30 passes", {"apex_radius_um", "passes_to_limit"});
  const auto  memory = all_of(sweep);
  Scenario    s      = loaded.scenario;
  s.edges[0].steps.erase(s.edges[0].steps.begin() + 2);
  const Prediction p = predict(s, s.edges[0], {{3, 30.0}});
  CHECK(value(sweep, memory, 0, 2, 1) ==
        Approx(p.points.front().apex_radius_um).epsilon(2e-5));  // in lanes, and alone
  CHECK(value(sweep, memory, 0, 0, 0) >
        value(sweep, memory, 0, 1, 0));  // silica in teak wears faster than maple
  const EdgeResult whole = simulate_edge(loaded.scenario, loaded.scenario.edges[0]);
  CHECK(same_bits(value(sweep, memory, 1, 2, 0), whole.life.passes));
  const auto error = error_of([&] { (void)sweep_of(shop_for(inputs), inputs, "end", {"passes_to_limit"}); });
  CHECK(error.diagnostics().front().code == "no-limit");
}

TEST_CASE("a member that fails is marked, with its cause, and the rest stays", "[sweep]") {
  const std::string hard =
      shop("{ hone = \"soft waterstone, JIS #1000\", strokes = 5, after_burr = true, max_strokes = 40 },");
  const std::vector<std::string> inputs{"tool.iron.apex_radius_um=0.05:60:5:log"};
  const Loaded                   loaded   = shop_for(inputs, hard);
  const Sweep                    sweep    = sweep_of(loaded, inputs);
  const auto                     memory   = all_of(sweep);
  const auto                     failures = sweep.failures_in(memory);
  REQUIRE(failures.count > 0);
  REQUIRE(failures.count < failures.members);
  CHECK(std::isnan(value(sweep, memory, 0, failures.first_row, 0)));
  CHECK(std::isfinite(value(sweep, memory, 0, 0, 0)));
  const Answer answer = answer_of(sweep, memory);
  CHECK(answer.remarks.back().find(std::to_string(failures.count) + " of 5 combinations gave no result") ==
        0);
  CHECK(answer.remarks.back().find("no burr in 40 strokes") != std::string::npos);

  // angles that no blade has together
  const std::vector<std::string> angles{"tool.iron.micro_bevel_deg=20:40:3"};
  const Sweep                    bevels = sweep_of(shop_for(angles), angles);
  const auto                     marked = all_of(bevels);
  CHECK(marked.get(0).status[0] == static_cast<double>(SweepStatus::impossible));
  CHECK(bevels.cause(0, 0).find("below the primary bevel") != std::string::npos);
  CHECK(std::isfinite(value(bevels, marked, 0, 1, 0)));
}

TEST_CASE("the number of threads does not change a bit", "[sweep]") {
  for (const auto& inputs :
       {std::vector<std::string>{"coefficients.dub_share=0.5:2:9", "step.1.strokes=20:80:11"},
        std::vector<std::string>{"backing.soft hide.modulus_MPa=2:200:70:log", "step.3.laps=0:40:41"}}) {
    const Loaded loaded = shop_for(inputs);
    const Sweep  sweep  = sweep_of(loaded, inputs, "after step 3");
    const auto   one = all_of(sweep, 1), many = all_of(sweep, 7);
    for (std::size_t c = 0; c < sweep.grid().chunks(); ++c) CHECK(same_blocks(one.get(c), many.get(c)));
  }
}

TEST_CASE("a sweep that was killed goes on and comes to the same file", "[sweep][files]") {
  const Folder                   folder;
  const std::vector<std::string> inputs{"coefficients.dub_share=0.5:2:200", "step.1.strokes=20:80:60"};
  const Loaded                   loaded = shop_for(inputs);
  const Sweep                    sweep  = sweep_of(loaded, inputs);
  REQUIRE(sweep.grid().chunks() > 20);
  write_sweep(sweep, folder / "whole.h5");
  {
    SweepFile file(folder / "killed.h5", sweep.definition(), {}, "", origin());
    Dying     dying(file, 25);
    CHECK_THROWS_AS(sweep.run_into(dying, {}, 1), std::runtime_error);
  }
  CHECK(folder.names() == std::vector<std::string>{"killed.h5.part", "whole.h5"});

  const auto refused = [&](const Sweep& other, const Provenance& p) {
    return error_of([&] { SweepFile(folder / "killed.h5", other.definition(), {}, "", p); })
        .diagnostics()
        .front();
  };
  const std::vector<std::string> fewer{"coefficients.dub_share=0.5:2:100", "step.1.strokes=20:80:60"};
  CHECK(refused(sweep_of(loaded, fewer), origin()).code == "sweep-differs");
  CHECK(refused(sweep_of(loaded, fewer), origin()).what.find("coefficients.dub_share (100 values") !=
        std::string::npos);
  CHECK(refused(sweep_of(loaded, inputs, "after step 1"), origin()).what.find("its moment is") !=
        std::string::npos);
  CHECK(refused(sweep, origin("k = 2\n")).what.find("\"k = 1\" before, \"k = 2\" now") != std::string::npos);

  {
    SweepFile file(folder / "killed.h5", sweep.definition(), {}, "", origin());
    CHECK(file.resumed() == 25);
  }
  const std::string part = contents(folder / "killed.h5.part");
  {  // a number that is not the one that was written: its block is worked out anew
    std::string  damaged = part;
    const double known =
        Hdf5Rows(folder / "killed.h5.part", {"map/reading_gf"}).get("map/reading_gf", 0, 1).front();
    std::string bytes(sizeof known, '\0');
    std::memcpy(bytes.data(), &known, sizeof known);
    const std::size_t at = damaged.find(bytes);
    REQUIRE(at != std::string::npos);
    damaged[at] ^= 1;
    write(folder / "killed.h5.part", damaged);
    SweepFile file(folder / "killed.h5", sweep.definition(), {}, "", origin());
    CHECK(file.resumed() == 24);
    CHECK_FALSE(file.has(0));
  }
  {  // all else is told
    std::string damaged = part;
    damaged[damaged.find("dub_share")] ^= 1;
    write(folder / "killed.h5.part", damaged);
    const auto told = refused(sweep, origin());
    CHECK(told.code == "damaged-result");
    CHECK(told.next == "Delete the file to begin anew.");
    std::string flipped = part;
    flipped[fs::file_size(folder / "killed.h5.part") - 20] ^= 1;  // in the seal
    write(folder / "killed.h5.part", flipped);
    CHECK(refused(sweep, origin()).code == "damaged-result");
  }
  write(folder / "killed.h5.part", part);
  write_sweep(sweep, folder / "killed.h5");
  CHECK(folder.names() == std::vector<std::string>{"killed.h5", "whole.h5"});
  const Hdf5Reader a(folder / "whole.h5"), b(folder / "killed.h5");
  for (const char* name : {"map/reading_gf", "map/apex_radius_um", "map/status", "map/coefficients_dub_share",
                           "optima/reading_gf"})
    CHECK(same_numbers(a.numbers(name), b.numbers(name)));
  CHECK(a.numbers("map/reading_gf").size() == sweep.grid().members());
}

TEST_CASE("shares of a sweep, merged, are the whole; what is missing or foreign is refused",
          "[sweep][files]") {
  const Folder                   folder;
  const std::vector<std::string> inputs{"coefficients.dub_share=0.5:2:131", "step.1.strokes=20:80:3"};
  const Loaded                   loaded = shop_for(inputs);
  const Sweep                    sweep  = sweep_of(loaded, inputs);
  write_sweep(sweep, folder / "whole.h5");
  std::vector<fs::path> shards;
  fs::create_directory(folder / "shares");
  for (std::size_t i = 1; i <= 3; ++i) {
    shards.push_back(folder / "shares" / ("s" + std::to_string(i) + ".h5"));
    write_sweep(sweep, shards.back(), {i, 3});
  }
  // the shares need not come in order
  const SweepShards all({shards[2], shards[0], shards[1]});
  const auto        get    = [&](std::size_t chunk) { return all.get(chunk); };
  const Answer      answer = sweep_answer(all.definition(), {}, all.failures(), get);
  // what the fit behind it misses stands in its first sentences
  SweepDefinition at_a_fit = all.definition();
  at_a_fit.misses          = {"Edges off film read 30 % less than it says."};
  CHECK(sweep_answer(at_a_fit, {}, all.failures(), get).headline ==
        answer.headline +
            " The fit behind this does not fit everywhere. Edges off film read 30 % less than it says.");
  std::size_t told = 0;
  all.copy(folder / "merged.h5", answer, "arris merge", [&](std::size_t done, std::size_t of) {
    CHECK(done == ++told);
    CHECK(of == sweep.grid().chunks());
  });
  CHECK(told == sweep.grid().chunks());
  CHECK(answer.headline == answer_of(sweep, all_of(sweep)).headline);
  const auto is_whole = [&](const char* merged) {
    const Hdf5Reader a(folder / "whole.h5"), b(folder / merged);
    for (const char* name : {"map/reading_gf", "map/apex_radius_um", "map/status",
                             "map/coefficients_dub_share", "map/step_1_strokes", "optima/reading_gf"})
      CHECK(same_numbers(a.numbers(name), b.numbers(name)));
  };
  is_whole("merged.h5");

  // a file that is linked is whole or refused, and tells which shares are wrong
  all.link(folder / "linked.h5", answer, "arris merge --link");
  is_whole("linked.h5");
  const auto refusal = [&] {
    const Diagnostic told_of = error_of([&] { Hdf5Reader{folder / "linked.h5"}; }).diagnostics().front();
    CHECK(told_of.code == "share-changed");
    return told_of.what;
  };
  fs::rename(shards[1], folder / "moved.h5");
  CHECK(refusal().find("shares/s2.h5 is not there") != std::string::npos);
  fs::rename(folder / "moved.h5", shards[1]);
  is_whole("linked.h5");
  fs::rename(shards[0], folder / "aside.h5");  // two shares swapped
  fs::rename(shards[1], shards[0]);
  fs::rename(folder / "aside.h5", shards[1]);
  CHECK(refusal().find("shares/s1.h5 is another file than the one that was linked and shares/s2.h5 is") !=
        std::string::npos);
  fs::rename(shards[0], folder / "aside.h5");
  fs::rename(shards[1], shards[0]);
  fs::rename(folder / "aside.h5", shards[1]);
  fs::copy_file(folder / "linked.h5", folder / "shares" / "linked.h5");  // from there they are elsewhere
  CHECK(error_of([&] { Hdf5Reader{folder / "shares" / "linked.h5"}; }).diagnostics().front().code ==
        "share-changed");
  fs::copy_file(shards[2], folder / "kept.h5");
  fs::resize_file(shards[2], fs::file_size(shards[2]) - 1);
  CHECK(refusal().find("shares/s3.h5 is damaged") != std::string::npos);
  fs::remove(shards[2]);
  CHECK(refusal().find("shares/s3.h5 is not there") != std::string::npos);
  is_whole("merged.h5");  // which needs none of them
  fs::rename(folder / "kept.h5", shards[2]);
  is_whole("linked.h5");

  const auto code = [&](std::vector<fs::path> files) {
    return error_of([&] { SweepShards{files}; }).diagnostics().front().code;
  };
  CHECK(code({shards[0], shards[2]}) == "share-missing");
  CHECK(code({shards[0], shards[1], shards[2], shards[1]}) == "share-twice");
  CHECK(code({shards[0], shards[1], folder / "none.h5"}) == "no-such-file");
  write_sweep(sweep, folder / "other.h5", {3, 4});
  CHECK(code({shards[0], shards[1], folder / "other.h5"}) == "sweep-differs");
  const std::vector<std::string> fewer{"coefficients.dub_share=0.5:2:130", "step.1.strokes=20:80:3"};
  write_sweep(sweep_of(loaded, fewer), folder / "fewer.h5", {3, 3});
  CHECK(code({shards[0], shards[1], folder / "fewer.h5"}) == "sweep-differs");
  { SweepFile begun(folder / "begun.h5", sweep.definition(), {3, 3}, "", origin()); }
  CHECK(code({shards[0], shards[1], folder / "begun.h5"}) == "unfinished-share");
  {
    Hdf5Writer writer(folder / "plain.h5");
    writer.root().attribute("kind", "simulate");
    writer.finish();
  }
  CHECK(code({folder / "plain.h5"}) == "not-a-sweep");
  {  // as version 3 wrote them
    Hdf5Writer writer(folder / "stripes.h5");
    writer.root().attribute("kind", "sweep");
    writer.root().attribute("shard", "1/3");
    writer.finish();
  }
  CHECK(code({folder / "stripes.h5"}) == "old-share");
}

TEST_CASE("soft pads round an edge over within some laps, hard ones do not", "[sweep][physics]") {
  const Answer       answer   = question_of(shop_for({}), "soft-strop");
  const AnswerTable& table    = answer.table("optima");
  const auto&        rounding = column(table, "rounding_from_laps").numbers;
  const auto&        harm     = column(table, "harm_pct").numbers;
  const auto&        pads     = column(table, "backing_modulus_MPa").numbers;
  CHECK(std::isfinite(rounding.front()));
  for (std::size_t i = 0; i < pads.size(); ++i) {
    if (pads[i] < 20.0) continue;
    CHECK(std::isnan(rounding[i]));
    CHECK(harm[i] < 2.0);
  }
  CHECK(*std::max_element(harm.begin(), harm.end()) > 4.0);
  CHECK(column(table, "reading_best_gf").numbers.front() >= column(table, "reading_best_gf").numbers.back());
  const auto& depth = column(table, "dub_depth_um").numbers;
  CHECK(*std::min_element(depth.begin(), depth.end()) > 0.0);
  CHECK(answer.headline.find("soft hide") != std::string::npos);
}

TEST_CASE("questions answer what simulations of their own would", "[sweep]") {
  const Loaded    loaded = shop_for({}, text + "[output]\nreading_limit_gf = 250\n");
  const EdgePlan& plan   = loaded.scenario.edges.front();
  {
    const Answer answer = question_of(loaded, "bevel-angle");
    const auto&  table  = answer.table("optima");
    const auto&  angles = column(table, "tool_micro_bevel_deg").numbers;
    const auto   at     = std::find(angles.begin(), angles.end(), 30.0);
    REQUIRE(at != angles.end());
    const double after = simulate_edge(loaded.scenario, plan).track.back().reading_N;
    // the row is one integration to twice the passes, so its steps differ: each errs by 1e-6, fewer than 100 of them
    CHECK(column(table, "reading_after_gf").numbers[static_cast<std::size_t>(at - angles.begin())] ==
          Approx(laws::in_gram_force(after)).epsilon(1e-4));
  }
  {
    // a limit that no bevel meets: which of them lasts longest was not seen, and no winner is named
    const Answer answer =
        question_of(shop_for({}, text + "[output]\nreading_limit_gf = 5000\n"), "bevel-angle");
    CHECK_THAT(answer.headline,
               Catch::StartsWith("All ") && Catch::Contains("for more than") && !Catch::Contains("longest"));
  }
  {
    const Answer answer = question_of(loaded, "strokes");
    const auto&  table  = answer.table("optima");
    CHECK(column(table, "strokes").numbers == std::vector<double>{60.0, 150.0, 20.0});
    // three pairs, and all three; what can go together is worked out together
    const auto& together = answer.table("together");
    CHECK(column(together, "strokes").numbers == std::vector<double>{210.0, 80.0, 170.0, 230.0});
    EdgePlan     bare                         = plan;
    const double none                         = column(together, "reading_none_gf").numbers.front();
    std::get<HoneStep>(bare.steps[0]).strokes = 0.0;
    std::get<HoneStep>(bare.steps[1]).strokes = 0.0;
    double after                              = not_given;
    for (const StepSummary& s : simulate_edge(loaded.scenario, bare).steps) {
      if (s.verb == "strop") after = s.after.reading_N;
    }
    CHECK(none == Approx(laws::in_gram_force(after)).epsilon(1e-4));
    for (std::size_t i = 0; i < 3; ++i) {
      CHECK(column(table, "enough_strokes").numbers[i] <= column(table, "strokes").numbers[i]);
      CHECK(column(table, "reading_best_gf").numbers[i] <= column(table, "reading_gf").numbers[i]);
    }
    CHECK_FALSE(column(table, "step").texts.front().find("from the burr on") != std::string::npos);
  }
  {
    const Answer answer = question_of(loaded, "skip-grits");
    const auto&  table  = answer.table("curve");
    REQUIRE(table.rows() == 2);
    CHECK(column(table, "saved_strokes").numbers == std::vector<double>{0.0, 60.0});
    // a fine stone alone cannot undo a blunt edge: skipping the coarse one leaves it blunter
    CHECK(column(table, "apex_radius_um").numbers[1] > column(table, "apex_radius_um").numbers[0]);
  }
  {
    const Loaded all    = load_scenario("shop.toml", text, {}, {{"wood", "", -1}});
    const Answer answer = question_of(all, "wood");
    const auto&  table  = answer.table("optima");
    CHECK(table.rows() == all.scenario.model.woods.size());
    CHECK(table.rows() > 40);
    const auto& worn = column(table, "reading_after_gf").numbers;
    CHECK(std::is_sorted(worn.begin(), worn.end()));
  }
  CHECK(error_of([] { (void)sweep_question("soft-strap"); }).diagnostics().front().code ==
        "unknown-question");
  const Loaded bare  = shop_for({}, shop(one_hone));
  const auto   error = error_of([&] { (void)question_of(bare, "soft-strop"); });
  CHECK(error.diagnostics().front().code == "question-does-not-apply");
}

TEST_CASE("no step is both shortened and lengthened by one answer on strokes", "[sweep]") {
  // the strop of a school's iron: with less of everything the edge read alike without it, and 18 % less with more of it
  const Loaded school = load_scenario_file(ARRIS_SOURCE_DIR "/configs/school/school.toml");
  const Answer answer = question_of(school, "strokes");
  const auto   worth  = answer.headline.find(" Worth more, one at a time: ");
  REQUIRE(worth != std::string::npos);
  REQUIRE(answer.headline.find(" can do with ") < worth);
  const std::string fewer = answer.headline.substr(0, worth), more = answer.headline.substr(worth);
  int               named = 0;
  for (const std::string& step : column(answer.table("optima"), "step").texts) {
    INFO(step);
    CHECK_FALSE(
        (fewer.find("for " + step) != std::string::npos && more.find(step + ": ") != std::string::npos));
    named += more.find(step + ": ") != std::string::npos ? 1 : 0;
  }
  CHECK(named > 0);
}

TEST_CASE("work that the model would leave out is to be tried on an edge first", "[sweep]") {
  const auto school = load_scenario_file(ARRIS_SOURCE_DIR "/configs/school/school.toml");
  const auto has    = [](const Answer& answer, const char* text) {
    return answer.headline.find(text) != std::string::npos;
  };
  const char*  first   = "hone an edge each way and read both before you rely on it.";
  const Answer strokes = question_of(school, "strokes"), grits = question_of(school, "skip-grits");
  REQUIRE(has(strokes, "none in place of"));
  CHECK(has(strokes, first));
  CHECK(has(grits, "can be left out: it saves") == has(grits, first));
  // fewer strokes, but some of all
  const Loaded plates = shop_for(
      {},
      shop(
          "{ hone = \"soft waterstone, JIS #1000\", strokes = 400 }, { hone = \"hard waterstone, JIS #8000\", strokes = 400 },"));
  const Answer fewer = question_of(plates, "strokes");
  REQUIRE(has(fewer, " can do with "));
  CHECK_FALSE(has(fewer, first));
}

TEST_CASE("a killed program leaves a sweep that its next run finishes", "[sweep][program]") {
  const Folder folder;
  write(folder / "shop.toml", text);
  const std::vector<std::string> words{ARRIS_PROGRAM,
                                       "sweep",
                                       (folder / "shop.toml").string(),
                                       "--over",
                                       "coefficients.dub_share=0.5:2:300",
                                       "--over",
                                       "step.1.strokes=20:80:1200",
                                       "--quiet",
                                       "--threads",
                                       "1",
                                       "--out"};
  const auto                     start = [&](const std::string& out) {
    std::vector<std::string> all = words;
    all.push_back((folder / out).string());
    const pid_t pid = ::fork();
    if (pid == 0) {
      std::vector<char*> pointers;
      for (std::string& word : all) pointers.push_back(word.data());
      pointers.push_back(nullptr);
      ::execv(pointers[0], pointers.data());
      ::_exit(127);
    }
    return pid;
  };
  const auto end_of = [](pid_t pid) {
    int status = 0;
    ::waitpid(pid, &status, 0);
    return status;
  };
  const auto began = std::chrono::steady_clock::now();
  REQUIRE(end_of(start("whole.h5")) == 0);
  const auto  whole = std::chrono::steady_clock::now() - began;
  const pid_t pid   = start("killed.h5");
  // once the file is there results come by the thousand; a third of the whole's time later it is far from done, on any machine
  for (int i = 0; i < 5000 && !fs::exists(folder / "killed.h5.part"); ++i)
    std::this_thread::sleep_for(std::chrono::milliseconds(1));
  std::this_thread::sleep_for(whole / 3);
  ::kill(pid, SIGKILL);
  const int status = end_of(pid);
  REQUIRE(WIFSIGNALED(status));
  REQUIRE(fs::exists(folder / "killed.h5.part"));
  REQUIRE(end_of(start("killed.h5")) == 0);
  const Hdf5Reader a(folder / "whole.h5"), b(folder / "killed.h5");
  for (const char* name : {"map/reading_gf", "map/apex_radius_um", "map/status"})
    CHECK(same_numbers(a.numbers(name), b.numbers(name)));
}
