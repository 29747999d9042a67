// SPDX-License-Identifier: MIT
// arris_numbers GROUP [ARGUMENT]: one group of numbers as JSON on standard output.
#include <exception>
#include <functional>
#include <iostream>
#include <map>
#include <string>

#include "validation/numbers/numbers.hpp"

int main(int argc, char** argv) {
  using namespace arris::numbers;
  const std::string what = argc > 1 ? argv[1] : "", argument = argc > 2 ? argv[2] : "";
  const auto        from_input = [] { return Json::parse(std::cin); };

  const std::map<std::string, std::function<Json()>> groups = {
      {"closed-form", closed_form_problems},
      {"convergence", convergence},
      {"histories", histories},
      {"certified-fits", certified_fits},
      {"published-fits", published_fits},
      {"gauge", gauge_studies},
      {"variances", variance_of_groups},
      {"power", [&] { return power_of_tests(from_input()); }},
      {"designs", [&] { return designs(from_input()); }},
      {"lives", censored_lives},
      {"soles", worn_soles},
      {"gaussian", gaussian_draws},
      {"coverage", [&] { return coverage(argument.empty() ? 200 : std::stoi(argument)); }},
  };
  const auto group = groups.find(what);
  if (group == groups.end()) {
    std::cerr << "usage: arris_numbers GROUP, one of:";
    for (const auto& [name, run] : groups) std::cerr << ' ' << name;
    std::cerr << '\n';
    return 2;
  }
  try {
    std::cout << group->second().dump() << '\n';
  } catch (const std::exception& wrong) {
    std::cerr << "arris_numbers " << what << ": " << wrong.what() << '\n';
    return 1;
  }
  return 0;
}
