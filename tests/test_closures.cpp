// SPDX-License-Identifier: MIT
#include <cmath>
#include <map>
#include <regex>
#include <set>
#include <string>

#include <catch2/catch.hpp>
#include <fmt/format.h>

#include "sim/history/tables.hpp"
#include "sim/input/files.hpp"
#include "sim/laws/outline_constants.hpp"
#include "sim/outline/stropping.hpp"
#include "validation/closures/reduced.hpp"

using namespace arris;
using namespace arris::closures;

namespace {

std::string closures_file(const std::string& name) {
  return read_text(fmt::format("{}/configs/closures/{}", ARRIS_SOURCE_DIR, name), Exit::data);
}
const std::vector<Case>& outline_cases() {
  static const std::vector<Case> cases = cases_of("cases.csv", closures_file("cases.csv"));
  return cases;
}

/// Roots of the mean squares of the errors at ½, 1 and 2 µm and of the depth, and of the three radii together.
std::array<double, 5> errors_of_the_law() {
  std::array<double, 4> squares{};
  double                count = 0.0, depths = 0.0;
  for (const Case& rows : outline_cases()) {
    if (!rows.front().is_fitted()) continue;
    const auto shapes = shapes_of<double>(rows, laws::OutlineConstants{});
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (!rows[i].in_wood() && rows[i].laps < first_lap) continue;
      const auto error = errors_of(rows[i], shapes[i]);
      for (std::size_t k = 0; k < error.size(); ++k) squares[k] += error[k] * error[k];
      count += 1.0;
      depths += rows[i].in_wood() ? 0.0 : 1.0;
    }
  }
  std::array<double, 5> out{};
  for (std::size_t k = 0; k < squares.size(); ++k) out[k] = std::sqrt(squares[k] / (k < 3 ? count : depths));
  out[4] = std::sqrt((squares[0] + squares[1] + squares[2]) / (3.0 * count));
  return out;
}

/// Largest error at 1 µm in wood, over the cases of a group on a pad whose modulus is within these.
double worst_in_wood(std::string_view group, double least_MPa, double most_MPa) {
  double worst = 0.0;
  for (const Case& rows : outline_cases()) {
    if (rows.front().group != group || rows.front().modulus_MPa < least_MPa ||
        rows.front().modulus_MPa > most_MPa)
      continue;
    const auto shapes = shapes_of<double>(rows, laws::OutlineConstants{});
    for (std::size_t i = 0; i < rows.size(); ++i)
      if (rows[i].in_wood()) worst = std::max(worst, std::abs(errors_of(rows[i], shapes[i])[1]));
  }
  return worst;
}

std::array<double, 5> stated_errors() {
  std::smatch       found;
  const std::string text = closures_file("RESULT.md");
  const std::regex  line(
       "fitted to: ([0-9.]+) at ½ µm, ([0-9.]+) at 1 µm, ([0-9.]+) at 2 µm; ([0-9.]+) of the depth. Radii "
        "together "
        "([0-9]\\.[0-9]+)");
  REQUIRE(std::regex_search(text, found, line));
  std::array<double, 5> out{};
  for (std::size_t k = 0; k < out.size(); ++k) out[k] = std::stod(found[k + 1]);
  return out;
}

}  // namespace

TEST_CASE("The reduced law of stropping is as near to the outline as its result says") {
  const auto law = errors_of_the_law(), stated = stated_errors();
  for (std::size_t k = 0; k < law.size(); ++k) {
    CAPTURE(k);
    CHECK(std::abs(law[k] - stated[k]) < 0.001);  // stated to three places; the integration is far more exact
  }
  CHECK(law[4] < 0.2);
  CHECK(law[3] < 0.2);
}

TEST_CASE("Wood wears a stropped edge as it does the outline") {
  for (const char* group : {"wood", "cycles"}) {
    CAPTURE(group);
    const double hard = worst_in_wood(group, 10, 200), soft = worst_in_wood(group, 1, 10);
    CHECK(hard > 0.0);
    CHECK(hard < 0.15);
    CHECK(soft < 0.45);
  }
}

TEST_CASE("The priors of a strop's dub are the errors of the law") {
  const auto                    law = errors_of_the_law();
  std::map<std::string, double> prior;
  Coefficients<double>          c;
  Coefficients<double>::fields(
      [&](const Field& field, const double&) { prior[std::string(field.key)] = field.prior_factor; }, c);
  CHECK(std::abs(prior.at("dub_share") - std::exp(law[4])) < 0.01);
  CHECK(std::abs(prior.at("dub_depth_share") - std::exp(law[3])) < 0.01);
}

TEST_CASE("The constants of the law are those of its result") {
  using laws::OutlineConstants;
  const std::map<std::string, double> constants{{"angle", OutlineConstants::angle},
                                                {"reach", OutlineConstants::reach},
                                                {"mean_share", OutlineConstants::mean_share},
                                                {"steepest", OutlineConstants::steepest},
                                                {"onset", OutlineConstants::onset},
                                                {"even_share", OutlineConstants::even_share},
                                                {"land_share", OutlineConstants::land_share},
                                                {"worn_in_share", OutlineConstants::worn_in_share},
                                                {"depth", OutlineConstants::depth},
                                                {"depth_onset", OutlineConstants::depth_onset},
                                                {"hand", OutlineConstants::hand},
                                                {"borne", OutlineConstants::borne}};
  const std::string                   text = closures_file("RESULT.md");
  const std::regex                    row(R"(\| ([a-z_]+) \| [^|]+ \| ([0-9.e+-]+) \|)");
  std::map<std::string, double>       stated;
  for (std::sregex_iterator it(text.begin(), text.end(), row), end; it != end; ++it)
    stated[(*it)[1]] = std::stod((*it)[2]);
  CHECK(stated == constants);
}

TEST_CASE("The cases of the closures are many, and the outline gives them") {
  std::set<std::string> names;
  std::size_t           fitted = 0;
  for (const Case& rows : outline_cases()) {
    CHECK(names.insert(rows.front().name).second);
    fitted += rows.front().is_fitted() ? 1 : 0;
  }
  CHECK(fitted >= 60);
  for (const Case& rows : outline_cases()) {
    if (rows.front().group != "land") continue;
    const Row& row =
        rows[2];  // after four laps; on the default mesh, which is coarser than that of the cases
    auto edge = outline::Outline::fresh(row.included_deg * laws::degree, row.start_radius_um,
                                        {.land_um    = row.land_um,
                                         .step_angle = row.step_angle_deg * laws::degree,
                                         .behind_um  = row.step_angle_deg > 0 ? 6000.0 : 0.0});
    outline::strop(edge, {1e6 * row.modulus_MPa, row.thickness_um},
                   {.force_N_per_m = row.force_N_per_m, .removal_um_per_MPa = row.removal_um_per_MPa},
                   row.laps);
    CAPTURE(row.name);
    CHECK(std::abs(edge.equivalent_radius_um(1.0) - row.radius_one_um) < 0.03 + 0.03 * row.radius_one_um);
    CHECK(std::abs(edge.depth_to_flat_um() / row.depth_um - 1.0) < 0.05);
  }
}
