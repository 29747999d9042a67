// SPDX-License-Identifier: MIT
#include "sim/laws/wear/wear_law.hpp"

#include <ceres/jet.h>

#include "sim/laws/wear/law_names.hpp"

namespace arris::laws {

template class HeldWearLaw<double>;
template class HeldWearLaw<ceres::Jet<double, 4>>;
template class HeldWearLaw<ceres::Jet<double, 8>>;
template void HeldWearLaw<double>::take_over(const HeldWearLaw<double>&);
template void HeldWearLaw<ceres::Jet<double, 4>>::take_over(const HeldWearLaw<double>&);
template void HeldWearLaw<ceres::Jet<double, 8>>::take_over(const HeldWearLaw<double>&);

std::vector<std::string> built_in_wear_laws() {
  return []<class... Law>(const std::variant<Law...>*) {
    return std::vector<std::string>{std::string(Law::law_name)...};
  }(static_cast<const BuiltInWearLaw<double>*>(nullptr));
}

}  // namespace arris::laws
