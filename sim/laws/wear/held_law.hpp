// SPDX-License-Identifier: MIT
#pragma once

#include <functional>
#include <memory>
#include <string_view>

#include "sim/laws/field.hpp"

/// The wear law of a model behind a pointer. Who has models about, but looks into no law, does not read the laws: one that changes
/// compiles again what integrates, and little else.
namespace arris::laws {

template <class T>
struct Formula;

/// One law of those that there are: `law` (wear_law.hpp).
template <class T>
struct StoredWearLaw;

/// Copied with its law, as a value is. Compiled for double and for ceres::Jet<double, 4> and <double, 8>; over other numbers with
/// wear_law.hpp.
template <class T>
class HeldWearLaw {
 public:
  HeldWearLaw();  ///< the first law of the registry
  HeldWearLaw(const HeldWearLaw& other);
  HeldWearLaw(HeldWearLaw&& other) noexcept;
  HeldWearLaw& operator=(const HeldWearLaw& other);
  HeldWearLaw& operator=(HeldWearLaw&& other) noexcept;
  ~HeldWearLaw();

  [[nodiscard]] StoredWearLaw<T>&       operator*() { return *law_; }
  [[nodiscard]] const StoredWearLaw<T>& operator*() const { return *law_; }
  [[nodiscard]] StoredWearLaw<T>*       operator->() { return law_.get(); }
  [[nodiscard]] const StoredWearLaw<T>* operator->() const { return law_.get(); }

  /// As a configuration names it.
  [[nodiscard]] std::string_view name() const;
  /// The law of that name as it is by default; false, and nothing changed, where there is none.
  bool take(std::string_view name);
  /// The law if it is a formula; otherwise nullptr.
  [[nodiscard]] Formula<T>*       formula();
  [[nodiscard]] const Formula<T>* formula() const;
  /// Each parameter of the law, in the order of its fields.
  void for_each_number(const std::function<void(const Field&, T&)>& visit);
  /// The law of a model over other numbers; derivatives, if T has them, start at zero.
  template <class From>
  void take_over(const HeldWearLaw<From>& from);

 private:
  std::unique_ptr<StoredWearLaw<T>> law_;
};

}  // namespace arris::laws
