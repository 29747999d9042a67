// SPDX-License-Identifier: MIT
#pragma once

#include <string>
#include <string_view>
#include <type_traits>
#include <variant>
#include <vector>

#include "sim/laws/convert_table.hpp"
#include "sim/laws/wear/formula.hpp"
#include "sim/laws/wear/held_law.hpp"
#include "sim/laws/wear/registry.hpp"

/// The law of a model: one of the registry, or the one that a configuration states itself (formula.hpp). A formula has
/// `under(conditions)` in the place of `times(severity)`, since it says itself what of a wood matters.
namespace arris::laws {

template <class T>
using WearLaw = BuiltInWearLaws::AnyOf<T, Formula<T>>;

static_assert(BuiltInWearLaws::most_parameters <= most_wear_parameters,
              "a law has more parameters than most_wear_parameters of held_law.hpp: raise that");

template <class T>
struct StoredWearLaw {
  WearLaw<T> law;
};

template <class T>
HeldWearLaw<T>::HeldWearLaw() : law_(std::make_unique<StoredWearLaw<T>>()) {}
template <class T>
HeldWearLaw<T>::HeldWearLaw(const HeldWearLaw& other)
    : law_(other.law_ ? std::make_unique<StoredWearLaw<T>>(*other.law_) : nullptr) {}
template <class T>
HeldWearLaw<T>::HeldWearLaw(HeldWearLaw&& other) noexcept = default;
template <class T>
HeldWearLaw<T>& HeldWearLaw<T>::operator=(const HeldWearLaw& other) {
  HeldWearLaw copy(other);
  law_.swap(copy.law_);
  return *this;
}
template <class T>
HeldWearLaw<T>& HeldWearLaw<T>::operator=(HeldWearLaw&& other) noexcept = default;
template <class T>
HeldWearLaw<T>::~HeldWearLaw() = default;

template <class T>
std::string_view HeldWearLaw<T>::name() const {
  return std::visit([](const auto& law) -> std::string_view { return law.law_name; }, law_->law);
}

template <class T>
bool HeldWearLaw<T>::take(std::string_view name) {
  return [&]<class... Law>(std::variant<Law...>& wear) {
    return ((Law::law_name == name && (wear = Law{}, true)) || ...);
  }(law_->law);
}

template <class T>
Formula<T>* HeldWearLaw<T>::formula() {
  return std::get_if<Formula<T>>(&law_->law);
}
template <class T>
const Formula<T>* HeldWearLaw<T>::formula() const {
  return std::get_if<Formula<T>>(&law_->law);
}

template <class T>
const SharedLoad<T>* HeldWearLaw<T>::shared_load() const {
  return std::get_if<SharedLoad<T>>(&law_->law);
}
template <class T>
std::size_t HeldWearLaw<T>::place() const {
  return law_->law.index();
}

template <class T>
bool HeldWearLaw<T>::put_growth(const WearConditions<T>&             here,
                                std::array<T, most_wear_parameters>& parameters) const {
  return std::visit(
      [&]<class Law>(const Law& law) {
        if constexpr (std::is_same_v<Law, Formula<T>>) {
          return false;
        } else {
          if (!law.by_radius_alone()) return false;
          const Law   in_this = in_wood(law, here);
          std::size_t k       = 0;
          Law::fields([&](const Field&, const T& number) { parameters[k++] = number; }, in_this);
          return true;
        }
      },
      law_->law);
}

template <class T>
void HeldWearLaw<T>::for_each_number(const std::function<void(const Field&, T&)>& visit) {
  std::visit([&]<class Law>(Law& law) { Law::fields(visit, law); }, law_->law);
}

template <class T>
template <class From>
void HeldWearLaw<T>::take_over(const HeldWearLaw<From>& from) {
  std::visit([&]<template <class> class Law>(
                 const Law<From>& law) { law_->law = arris::detail::convert_table<Law<T>>(law); },
             from->law);
}

extern template class HeldWearLaw<double>;

}  // namespace arris::laws
