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
