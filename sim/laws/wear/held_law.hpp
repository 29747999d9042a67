// SPDX-License-Identifier: MIT
#pragma once

#include <array>
#include <cstddef>
#include <functional>
#include <memory>
#include <string_view>

#include "sim/laws/field.hpp"

/// The wear law of a model behind a pointer. Who has models about, but looks into no law, does not read the laws: one that changes
/// compiles again what integrates, and little else.
namespace arris::laws {

template <class T>
struct Formula;
template <class T>
struct SharedLoad;
template <class T>
struct WearConditions;

/// So many parameters has a law of the registry at most: what keeps room for them need not know the laws. The registry's own unit
/// does not compile with a law that has more.
inline constexpr std::size_t most_wear_parameters = 4;

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
  /// The law if it is that of the shared load; otherwise nullptr.
  [[nodiscard]] const SharedLoad<T>* shared_load() const;
  /// Place in the list of the registry; a formula comes behind all of them.
  [[nodiscard]] std::size_t place() const;
  /// The parameters of the law as it is `here`, in the order of its fields, where it is one of the registry whose rate depends on the
  /// radius alone; otherwise false, and nothing is put there.
  bool put_growth(const WearConditions<T>& here, std::array<T, most_wear_parameters>& parameters) const;
  /// Each parameter of the law, in the order of its fields.
  void for_each_number(const std::function<void(const Field&, T&)>& visit);
  /// The law of a model over other numbers; derivatives, if T has them, start at zero.
  template <class From>
  void take_over(const HeldWearLaw<From>& from);

 private:
  std::unique_ptr<StoredWearLaw<T>> law_;
};

}  // namespace arris::laws
