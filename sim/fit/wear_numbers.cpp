// SPDX-License-Identifier: MIT
#include "sim/fit/wear_numbers.hpp"

#include <algorithm>

namespace arris {

WearNumbers wear_numbers(const laws::WearLaw<double>& law) {
  WearNumbers out;
  std::visit(
      [&]<class Law>(Law of) {
        Law::fields(
            [&](const Field& field, double& number) {
              out.paths.push_back(std::string(wear_prefix) + std::string(field.key));
              out.values.push_back(number);
            },
            of);
      },
      law);
  return out;
}

laws::WearLaw<double> with_wear_numbers(laws::WearLaw<double> law, const std::vector<std::string>& paths,
                                        const std::vector<double>& values) {
  std::visit(
      [&]<class Law>(Law& of) {
        Law::fields(
            [&](const Field& field, double& number) {
              const std::string path = std::string(wear_prefix) + std::string(field.key);
              const auto        at   = std::find(paths.begin(), paths.end(), path);
              if (at != paths.end()) number = values[static_cast<std::size_t>(at - paths.begin())];
            },
            of);
      },
      law);
  return law;
}

std::string wear_law_text(const laws::WearLaw<double>& law) {
  return std::visit(
      [](const auto& of) {
        std::string text(of.law_name);
        if constexpr (requires { of.program; }) {
          if (of.program != nullptr) text += ": " + of.program->text();
        }
        return text;
      },
      law);
}

namespace {

std::optional<laws::WearLaw<double>> built_in_law(const std::string& name) {
  std::optional<laws::WearLaw<double>> out;
  [&]<class... Law>(std::variant<Law...>*) {
    (void)(... || (Law::law_name == name && (out = Law{}, true)));
  }(static_cast<laws::BuiltInWearLaw<double>*>(nullptr));
  return out;
}

}  // namespace

std::optional<laws::WearLaw<double>> wear_law_of_text(const std::string& text, const Scenario& scenario) {
  if (wear_law_text(scenario.model.wear) == text) return scenario.model.wear;
  for (const NamedFormula& formula : scenario.formulas) {
    if (wear_law_text(formula.law) == text) return formula.law;
  }
  return built_in_law(text);
}

bool is_rival_path(const std::string& path, const std::vector<NamedFormula>& formulas) {
  const auto dot = path.rfind('.');
  if (!is_wear_path(path) || dot < wear_prefix.size()) return false;
  const std::string name = path.substr(wear_prefix.size(), dot - wear_prefix.size());
  auto              law  = built_in_law(name);
  for (const NamedFormula& formula : formulas) {
    if (formula.name == name) law = formula.law;
  }
  if (!law) return false;
  const WearNumbers numbers = wear_numbers(*law);
  return std::find(numbers.paths.begin(), numbers.paths.end(),
                   std::string(wear_prefix) + path.substr(dot + 1)) != numbers.paths.end();
}

}  // namespace arris
