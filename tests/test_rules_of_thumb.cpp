// SPDX-License-Identifier: MIT
#include <algorithm>
#include <cmath>

#include <catch2/catch.hpp>

#include "sim/fit/ensemble.hpp"
#include "sim/fit/fit.hpp"
#include "sim/fit/marginal.hpp"
#include "sim/fit/rules_of_thumb.hpp"
#include "sim/fit/sensitivities.hpp"
#include "sim/input/loader.hpp"
#include "sim/simulate/simulate.hpp"
#include "sim/statistics/linear_algebra.hpp"

using namespace arris;

namespace {

Loaded yard(const std::string& extra = {}) {
  return load_scenario("rules.toml", extra + R"(
[tool.iron]
steel = "A2"
width_mm = 50
thickness_mm = 3.2
primary_bevel_deg = 25
micro_bevel_deg = 30
[edge.A]
tool = "iron"
steps = [
  { hone = "soft waterstone, JIS #1000", strokes = 20, after_burr = true, max_strokes = 50000 },
  { hone = "soft waterstone, JIS #4000", strokes = 30 },
  { hone = "hard waterstone, JIS #8000", strokes = 30 },
  { back = "hard waterstone, JIS #8000", strokes = 10 },
  { strop = "thin hide on wood", compound = "chromium oxide 0.5 µm", laps = 20 },
]
)");
}

// 5th and 95th of 100 of the ready reading over an ensemble
std::pair<double, double> ready(const Scenario& scenario, const Ensemble& ensemble) {
  std::vector<double> readings;
  for (std::size_t i = 0; i < ensemble.size(); ++i) {
    Scenario member = scenario;
    member.model    = member_of(scenario.model, ensemble, i);
    const auto edge = simulate(member, 1).edges.front();
    if (edge.status.usable()) readings.push_back(edge.track.back().reading_N);
  }
  std::sort(readings.begin(), readings.end());
  const auto at = [&](double share) {
    return readings[static_cast<std::size_t>(share * static_cast<double>(readings.size() - 1))];
  };
  return {at(0.05), at(0.95)};
}

}  // namespace

TEST_CASE("Rules of thumb narrow parameters, and some together more than each") {
  const auto                 s = yard().scenario;
  std::vector<FreeParameter> parameters;
  for (const char* path :
       {"coefficients.radius_per_scratch", "coefficients.carbide_share", "tester.slope_N_per_um"})
    parameters.push_back(free_parameter(s.model, path));
  const RulesOfThumb rules(s.model, parameters, {});
  CHECK(rules.on({}).cols() == 0);  // where nothing that they tell of is free
  REQUIRE(rules.facts() > 10);
  const auto covariance_of = [&](const std::vector<Eigen::Index>& free) -> Eigen::MatrixXd {
    const Eigen::MatrixXd w = rules.on(free);
    return inverse_symmetric(Eigen::MatrixXd::Identity(w.cols(), w.cols()) + w.transpose() * w);
  };
  const Eigen::MatrixXd covariance = covariance_of({0, 1, 2});
  for (Eigen::Index i = 0; i < 3; ++i) CHECK(covariance(i, i) < 1.0);  // narrower than the prior
  // a steeper tester goes with finer edges: together they are better known than either
  CHECK(covariance(0, 2) < 0.0);
  // for a fit of two of them the third varies by its prior: the same knowledge, summed over it
  const Eigen::MatrixXd of_two = covariance_of({0, 2});
  CHECK(std::abs(of_two(0, 0) - covariance(0, 0)) < 1e-9);
  CHECK(std::abs(of_two(0, 1) - covariance(0, 2)) < 1e-9);
  CHECK(std::abs(of_two(1, 1) - covariance(2, 2)) < 1e-9);
}

TEST_CASE("Draws of what rules of thumb say are of all parameters that they tie, and of no other") {
  const auto                 s = yard().scenario;
  std::vector<FreeParameter> parameters;
  for (const char* path : {"coefficients.radius_per_scratch", "coefficients.carbide_share",
                           "tester.slope_N_per_um", "tool.iron.apex_radius_um"})
    parameters.push_back(free_parameter(s.model, path));
  const RulesOfThumb rules(s.model, parameters, {});
  const std::size_t  n = RulesOfThumb::draws();
  REQUIRE(n >= 400);
  Eigen::MatrixXd drawn(static_cast<Eigen::Index>(n), 4);
  for (std::size_t k = 0; k < n; ++k) {
    Eigen::VectorXd u = Eigen::VectorXd::Constant(4, 7.0);
    rules.hear(u, k);
    drawn.row(static_cast<Eigen::Index>(k)) = u.transpose();
  }
  CHECK((drawn.col(3).array() == 7.0).all());  // no rule is about this iron
  for (Eigen::Index j = 0; j < 3; ++j) {
    const double mean = drawn.col(j).mean(), sd = std::sqrt((drawn.col(j).array() - mean).square().mean());
    CHECK(std::abs(mean) < 1.0);
    CHECK(sd > 0.05);
    CHECK(sd < 0.95);  // narrower than the prior
  }
  // one with a stated prior, or another value, is not of the rules any more
  Eigen::VectorXd    u = Eigen::VectorXd::Constant(4, 7.0);
  const RulesOfThumb stated(s.model, parameters,
                            {{"tester.slope_N_per_um", {PriorShape::log_normal, 3.0, 1.2}}});
  stated.hear(u, 0);
  CHECK(u[2] == 7.0);
  CHECK(u[0] != 7.0);
  Model<double> steeper         = s.model;
  steeper.tester.slope_N_per_um = 2.5;
  const RulesOfThumb other(steeper, parameters, {});
  other.hear(u, 1);
  CHECK(u[2] == 7.0);
}

TEST_CASE("Without readings common media and strops read within a factor of 1.7") {
  const std::string head   = R"(
[tool.iron]
steel = "A2"
width_mm = 50
thickness_mm = 3.2
primary_bevel_deg = 25
micro_bevel_deg = 30
[edge.A]
tool = "iron"
steps = [
)";
  const std::string stones = R"(
  { hone = "soft waterstone, JIS #1000", strokes = 20, after_burr = true, max_strokes = 50000 },
  { hone = "soft waterstone, JIS #4000", strokes = 30 },
  { hone = "hard waterstone, JIS #8000", strokes = 30 },
  { back = "hard waterstone, JIS #8000", strokes = 10 },
)";
  const std::string plates = R"(
  { hone = "plated diamond, 45 µm", strokes = 20, after_burr = true, max_strokes = 50000 },
  { hone = "plated diamond, 25 µm", strokes = 30 },
  { hone = "plated diamond, 9 µm", strokes = 30 },
  { back = "plated diamond, 9 µm", strokes = 10 },
)";
  const std::string film   = R"(
  { hone = "lapping film, 15 µm", strokes = 20, after_burr = true, max_strokes = 50000 },
  { hone = "lapping film, 5 µm", strokes = 30 },
  { hone = "lapping film, 1 µm", strokes = 30 },
  { hone = "lapping film, 0.3 µm", strokes = 30 },
  { back = "lapping film, 0.3 µm", strokes = 10 },
)";
  for (const auto* media : {&stones, &plates, &film}) {
    for (const char* strop : {"thin hide on wood", "soft hide"}) {
      CAPTURE(*media, strop);
      const auto scenario =
          load_scenario("common.toml", head + *media + "{ strop = \"" + strop +
                                           "\", compound = \"chromium oxide 0.5 µm\", laps = 20 } ]\n")
              .scenario;
      const auto [low, high] = ready(scenario, prior_ensemble(scenario, {}, 300, 1));
      CHECK(high / low < 1.7);
      CHECK(high / low > 1.1);  // and nobody knows better than that
    }
  }
}

TEST_CASE("In a fit rules tie free parameters with default priors, and none of the tester") {
  const auto s    = yard().scenario;
  const auto rows = [&](const std::vector<FreeParameter>& free, const std::map<std::string, Prior>& stated) {
    return rules_on(s.model, free, stated);
  };
  const FreeParameter abrasion = free_parameter(s.model, "coefficients.abrasion"),
                      share    = free_parameter(s.model, "coefficients.carbide_share"),
                      slope    = free_parameter(s.model, "tester.slope_N_per_um");
  const Eigen::MatrixXd w      = rows({abrasion, slope, share}, {});
  REQUIRE(w.rows() > 10);
  CHECK(w.col(0).norm() > 0.0);
  CHECK(w.col(1).isZero(0.0));
  CHECK(w.col(2).norm() > 0.0);
  // a wider prior: the same knowledge in its own widths
  FreeParameter wide            = share;
  wide.prior.spread             = std::pow(share.prior.spread, 2.0);
  const Eigen::MatrixXd of_wide = rows({wide}, {}), of_share = rows({share}, {});
  CHECK((of_wide - 2.0 * of_share).norm() < 1e-9 * of_share.norm());
  // about another centre, or with a prior that is stated, nothing is known of it
  FreeParameter moved = share;
  moved.prior.centre *= 1.1;
  CHECK(rows({moved}, {}).rows() == 0);
  CHECK(rows({share}, {{share.path, {PriorShape::log_normal, share.prior.centre, 1.5}}}).rows() == 0);
  CHECK(rows({slope}, {}).rows() == 0);
}

TEST_CASE("A fit heeds rules of thumb as its prior, unless it is not to") {
  const auto loaded = yard();
  Reading    r;
  r.edge       = 0;
  r.moment     = {4, 20.0};
  r.reading_N  = 1.2;
  r.reading_cv = 0.1;
  FitSettings settings;
  settings.starts      = 1;
  settings.edge_effect = false;
  const std::vector<FreeParameter> free{free_parameter(loaded.scenario.model, "coefficients.carbide_share")};
  const auto                       covariance = [&](bool heeds) {
    settings.rules_of_thumb = heeds;
    const CampaignModel model(loaded.scenario, {r}, free, settings);
    const FitResult     found = fit(model, 1);
    REQUIRE(found.converged);
    Eigen::VectorXd effects(0);
    const auto      at = [&](double u) {
      return log_marginal(model, Eigen::VectorXd::Constant(1, u), found.best.spread, effects, false);
    };
    // the posterior is as bent at its top as its covariance says
    const double u = found.best.u[0], h = 1e-2;
    CHECK(-(at(u + h) + at(u - h) - 2.0 * at(u)) / (h * h) * found.information.covariance(0, 0) ==
                                Approx(1.0).epsilon(0.1));
    CHECK(std::abs(at(u + h) - at(u - h)) < 0.02 * (at(u) - at(u + 1.0)));
    return found.information.covariance(0, 0);
  };
  CHECK(covariance(true) < 0.95 * covariance(false));
}

TEST_CASE("Without readings the ready reading is known to what the rules of thumb say of it") {
  const auto loaded   = yard();
  const auto ensemble = prior_ensemble(loaded.scenario, {}, 300, 7);
  CHECK(ensemble.rests_on.find("rules of thumb of the trade, no measurement") != std::string::npos);
  const auto [low, high] = ready(loaded.scenario, ensemble);
  CAPTURE(low, high);
  CHECK(high / low < 1.9);
  CHECK(high / low > 1.1);
}

TEST_CASE("Sensitivities are slopes of the readings by the width of the prior") {
  const auto loaded = yard();
  Reading    r;
  r.edge                    = 0;
  r.moment                  = {4, 20.0};
  r.reading_N               = 1.0;
  r.reading_cv              = 0.1;
  const Sensitivities found = sensitivities(loaded.scenario, {r}, {});
  REQUIRE(found.measurements.size() == 1);
  const auto at = std::find_if(found.parameters.begin(), found.parameters.end(),
                               [](const FreeParameter& p) { return p.path == "tester.slope_N_per_um"; }) -
                  found.parameters.begin();
  const auto log_reading = [&](double u) {
    Scenario moved                    = loaded.scenario;
    moved.model.tester.slope_N_per_um = found.parameters[static_cast<std::size_t>(at)].value(u);
    return std::log(simulate(moved, 1).edges.front().track.back().reading_N);
  };
  CHECK(found.by_prior(0, at) ==
        Approx((log_reading(1e-3) - log_reading(-1e-3)) / 2e-3 / std::sqrt(std::log1p(0.01))).epsilon(1e-3));
}
