// SPDX-License-Identifier: MIT
#include "sim/fit/wear_numbers.hpp"

#include <algorithm>

#include "sim/laws/wear/formula.hpp"

namespace arris {

WearNumbers wear_numbers(laws::HeldWearLaw<double> law) {
  WearNumbers out;
  law.for_each_number([&](const Field& field, double& number) {
    out.paths.push_back(std::string(wear_prefix) + std::string(field.key));
    out.values.push_back(number);
  });
  return out;
}

laws::HeldWearLaw<double> with_wear_numbers(laws::HeldWearLaw<double>       law,
                                            const std::vector<std::string>& paths,
                                            const std::vector<double>&      values) {
  law.for_each_number([&](const Field& field, double& number) {
    const auto at = std::find(paths.begin(), paths.end(), std::string(wear_prefix) + std::string(field.key));
    if (at != paths.end()) number = values[static_cast<std::size_t>(at - paths.begin())];
  });
  return law;
}

std::string wear_law_text(const laws::HeldWearLaw<double>& law) {
  std::string text(law.name());
  if (const auto* formula = law.formula(); formula != nullptr && formula->program != nullptr)
    text += ": " + formula->program->text();
  return text;
}

namespace {

std::optional<laws::HeldWearLaw<double>> built_in_law(const std::string& name) {
  laws::HeldWearLaw<double> law;
  if (name == laws::Formula<double>::law_name || !law.take(name)) return std::nullopt;
  return law;
}

}  // namespace

std::optional<laws::HeldWearLaw<double>> wear_law_of_text(const std::string& text, const Scenario& scenario) {
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
