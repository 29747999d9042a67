// SPDX-License-Identifier: MIT
// Work whose instructions are counted (counts.py): arris_counts NAME does the work called NAME once, in one thread, what is counted
// within `counted`. Without a name it lists them.
#include <cmath>
#include <cstdio>
#include <functional>
#include <map>
#include <numeric>
#include <string>
#include <utility>

#include <fmt/format.h>

#include "sim/fit/fit.hpp"
#include "sim/fit/normal_ensemble.hpp"
#include "sim/input/files.hpp"
#include "sim/laws/tester.hpp"
#include "sim/output/answer_text.hpp"
#include "sim/studies/forecast/forecast.hpp"
#include "tests/lane_batch.hpp"

/// callgrind collects while this runs. By its C name, so that one pattern finds it.
extern "C" [[gnu::noinline]] void counted(const std::function<void()>& work) { work(); }

namespace {

using namespace arris;
using namespace arris::bench;

template <int N>
using Jet = ceres::Jet<double, N>;

// with the instruction set that valgrind knows and most computers have
constexpr InstructionSet common = InstructionSet::avx2;

/// Six honing steps, a strop and some 500 passes, as many as `count`, each with a model, a start and counts of its own.
template <class T>
LaneBatch<T> histories(int count, const std::function<void(Model<T>&)>& vary) {
  LaneBatch<T> batch;
  Dice         dice(5);
  for (int i = 0; i < count; ++i) {
    Model<double> model = workshop();
    draw_from_priors(model, dice);
    model.tools[tool::iron].apex_radius_um = dice.log_between(0.5, 10.0);
    const auto        so_many = [&](double n) { return std::floor(n * std::exp(0.3 * dice.normal())) + 1.0; };
    std::vector<Step> steps{
        hone(medium::plate, so_many(20)),  hone(medium::coarse, so_many(25)),
        hone(medium::middle, so_many(30)), hone(medium::fine, so_many(40)),
        hone(medium::film, so_many(40)),   strop(backing::thin_hide, compound::oxide, so_many(20)),
        cut(dice.below(4), so_many(500))};
    Model<T> over = convert<T>(model);
    vary(over);
    batch.add(over, plan(tool::iron, std::move(steps)));
  }
  return batch;
}

void lanes() {
  LaneBatch<double> batch = histories<double>(512, [](Model<double>&) {});
  counted([&] { (void)batch.run({}, common); });
}

void slopes() {
  // of coefficients that lanes have equations for, which are those with a prior
  LaneBatch<Jet<8>> batch = histories<Jet<8>>(64, [](Model<Jet<8>>& model) {
    int next = 0;
    for_each_number(model, [&](const std::string& path, const Field& field, Jet<8>& number) {
      if (path.rfind("coefficients.", 0) == 0 && field.prior_factor > 0.0 && next < 8) number.v[next++] = 1.0;
    });
  });
  counted([&] { (void)batch.run({}, common); });
}

const Campaign& yard() {
  static const Campaign c =
      load_campaign_file(std::string(ARRIS_SOURCE_DIR) + "/configs/boatyard/boatyard.toml");
  return c;
}

CampaignModel yard_model() {
  std::vector<FreeParameter> free;
  for (const std::string& path : usual_parameters(yard().loaded.scenario))
    free.push_back(free_parameter(yard().loaded.scenario.model, path));
  FitSettings settings;
  settings.starts = 1;
  return {yard().loaded.scenario, yard().readings, free, settings};
}

void fit_once() {
  const CampaignModel model = yard_model();
  counted([&] { (void)fit(model, 1); });
}

void answer() {
  const CampaignModel model = yard_model();
  const Ensemble      draws = normal_ensemble(model, fit(model, 1), 200, 1);
  counted([&] {
    const Campaign c = load_campaign_file(std::string(ARRIS_SOURCE_DIR) + "/configs/boatyard/boatyard.toml");
    std::vector<std::size_t> edges(c.loaded.scenario.edges.size());
    std::iota(edges.begin(), edges.end(), std::size_t{0});
    ForecastSettings settings;
    settings.limit_N   = laws::in_newton(c.loaded.scenario.output.reading_limit_gf);
    settings.threads   = 1;
    const Forecast out = forecast(c.loaded.scenario, c.loaded.workshop, draws, edges, settings);
    (void)answer_text(forecast_answer(out, c.loaded.workshop, draws));
  });
}

const std::map<std::string, void (*)()> all{
    {"histories", lanes}, {"derivatives", slopes}, {"fit", fit_once}, {"forecast", answer}};

}  // namespace

int main(int argc, char** argv) {
  const auto found = argc == 2 ? all.find(argv[1]) : all.end();
  if (found != all.end()) {
    found->second();
    return 0;
  }
  for (const auto& [name, work] : all) fmt::print("{}\n", name);
  return argc == 1 ? 0 : 2;
}
