// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <vector>

#include <nlohmann/json.hpp>

/// Each of these works out a group of numbers of the library, for validation/run.py to set beside others.
namespace arris::numbers {

using Json = nlohmann::json;

[[nodiscard]] Json closed_form_problems();  ///< ordinary differential equations, and sensitivities
[[nodiscard]] Json convergence();           ///< errors against tolerance and step
[[nodiscard]] Json histories();             ///< stages by this library, CVODES and GSL
[[nodiscard]] Json certified_fits();        ///< NIST, from both starts
[[nodiscard]] Json published_fits();        ///< textbooks, with profile intervals
[[nodiscard]] Json gauge_studies();
[[nodiscard]] Json variance_of_groups();
[[nodiscard]] Json power_of_tests(const Json& wanted);  ///< {differences, sizes, powers, alpha}
[[nodiscard]] Json designs(const Json& problems);       ///< [{slopes, wanted}]
[[nodiscard]] Json censored_lives();  ///< Weibull distributions, with a covariate and without; product limit
[[nodiscard]] Json worn_soles();      ///< t tests of shoes, in pairs and not
[[nodiscard]] Json gaussian_draws();
/// How often nominal 90 % intervals hold the truth, over campaigns drawn from the law of wear that is fitted, and from others.
[[nodiscard]] Json coverage(int campaigns);

/// The report of all checks as one HTML page, from what validation/checks.py makes of them (as_json). Throws Json::exception where
/// something of that is not there.
[[nodiscard]] std::string page_of_checks(const Json& checks);

}  // namespace arris::numbers
