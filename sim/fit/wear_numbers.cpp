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

std::optional<laws::WearLaw<double>> wear_law_of_text(const std::string&           text,
                                                      const laws::WearLaw<double>& own) {
  if (wear_law_text(own) == text) return own;
  std::optional<laws::WearLaw<double>> out;
  [&]<class... Law>(std::variant<Law...>*) {
    (void)(... || (Law::law_name == text && (out = Law{}, true)));
  }(static_cast<laws::BuiltInWearLaw<double>*>(nullptr));
  return out;
}

bool is_rival_path(const std::string& path) {
  if (!is_wear_path(path)) return false;
  const auto dot = path.find('.', wear_prefix.size());
  if (dot == std::string::npos) return false;
  const auto law =
      wear_law_of_text(path.substr(wear_prefix.size(), dot - wear_prefix.size()), laws::SharedLoad<double>{});
  if (!law) return false;
  const WearNumbers numbers = wear_numbers(*law);
  return std::find(numbers.paths.begin(), numbers.paths.end(),
                   std::string(wear_prefix) + path.substr(dot + 1)) != numbers.paths.end();
}

}  // namespace arris
