// SPDX-License-Identifier: MIT
// arris_numbers GROUP [ARGUMENT]: one group of numbers as JSON on standard output; arris_numbers report: the page of the report whose
// JSON is on standard input.
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

  const auto as_text = [](const auto& work_out) { return [=] { return work_out().dump() + '\n'; }; };

  const std::map<std::string, std::function<std::string()>> groups = {
      {"closed-form", as_text(closed_form_problems)},
      {"convergence", as_text(convergence)},
      {"histories", as_text(histories)},
      {"certified-fits", as_text(certified_fits)},
      {"published-fits", as_text(published_fits)},
      {"gauge", as_text(gauge_studies)},
      {"variances", as_text(variance_of_groups)},
      {"power", as_text([&] { return power_of_tests(from_input()); })},
      {"designs", as_text([&] { return designs(from_input()); })},
      {"lives", as_text(censored_lives)},
      {"soles", as_text(worn_soles)},
      {"gaussian", as_text(gaussian_draws)},
      {"coverage", as_text([&] { return coverage(argument.empty() ? 200 : std::stoi(argument)); })},
      {"report", [&] { return page_of_checks(from_input()); }},
  };
  const auto group = groups.find(what);
  if (group == groups.end()) {
    std::cerr << "usage: arris_numbers GROUP, one of:";
    for (const auto& [name, run] : groups) std::cerr << ' ' << name;
    std::cerr << '\n';
    return 2;
  }
  try {
    std::cout << group->second();
  } catch (const std::exception& wrong) {
    std::cerr << "arris_numbers " << what << ": " << wrong.what() << '\n';
    return 1;
  }
  return 0;
}
