// SPDX-License-Identifier: MIT
#include <cmath>
#include <filesystem>

#include <catch2/catch.hpp>

#include "sim/fit/fit.hpp"
#include "sim/input/files.hpp"

using namespace arris;

// The defaults of the program are the calibration that configs/calibration states: a fit of it from the priors' medians
// and other starts comes to them, and says how well it meets each fact.
TEST_CASE("the default parameters are those that the facts of the trade come to", "[calibration]") {
  const auto campaign =
      load_campaign_file(std::filesystem::path(ARRIS_SOURCE_DIR) / "configs/calibration/calibration.toml");
  const Loaded&              loaded = campaign.loaded;
  std::vector<FreeParameter> parameters;
  for (const std::string& path : loaded.fit.free)
    parameters.push_back(free_parameter(loaded.scenario.model, path, loaded.fit.priors));
  const CampaignModel model(loaded.scenario, campaign.readings, parameters, loaded.fit);
  const FitPoint      point = fit(model).best;
  INFO(point.failure);
  REQUIRE(point.usable);
  for (std::size_t i = 0; i < parameters.size(); ++i) {
    // the configuration states none of them, so what the loader has is the default
    const double present = parameters[i].scaled([&] {
      double value = 0.0;
      auto   copy  = loaded.scenario.model;
      for_each_number(copy, [&](const std::string& path, const Field&, double& number) {
        if (path == parameters[i].path) value = number;
      });
      return value;
    }());
    INFO(parameters[i].path);
    // defaults are written to three figures (half a per cent at most, a hundredth of the width of the narrowest of these priors)
    CHECK(std::abs(point.u[static_cast<Eigen::Index>(i)] - present) < 0.015);
  }
  // every fact is met within one and a half of the spread in which it is believed: what one set of defaults is to do
  const Information information = information_at(model, point);
  REQUIRE(information.residuals.size() == static_cast<Eigen::Index>(campaign.readings.size()));
  CHECK(information.residuals.cwiseAbs().maxCoeff() < 1.5);
}
