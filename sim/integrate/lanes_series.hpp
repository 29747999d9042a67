// SPDX-License-Identifier: MIT
#pragma once

#include <type_traits>
#include <utility>

/// Power series of what a kernel integrates, and loops over their coefficients: lanes_abrasion.hpp makes one coefficient after
/// the other from those before.
namespace arris::lanes {

/// c₀ + c₁·x + … of the order `Order`.
template <class T, int Order>
struct Series {
  static constexpr int order = Order;

  T of[Order + 1];

  T&                     operator[](int k) { return of[k]; }
  [[nodiscard]] const T& operator[](int k) const { return of[k]; }

  /// Its sum at x, by Horner's rule.
  [[nodiscard]] T at(const typename T::Value& x) const {
    T sum = of[Order];
    backwards<Order>([&](int k) { sum = fma(x, sum, of[k]); });
    return sum;
  }
  /// Calls f(k) for k = From − 1 … 0.
  template <int From, class F>
  static void backwards(const F& f) {
    if constexpr (T::slopes > 0) {
      for (int k = From - 1; k >= 0; --k) f(k);
    } else {
      [&]<int... K>(std::integer_sequence<int, K...>) { (f(From - 1 - K), ...); }
      (std::make_integer_sequence<int, From>{});
    }
  }
};

/// A number known when compiling.
template <int K>
using Order = std::integral_constant<int, K>;

/// k + 1, an int or an `Order` as k is.
template <class K>
auto next_of(K k) {
  if constexpr (std::is_same_v<K, int>)
    return k + 1;
  else
    return Order<K::value + 1>{};
}

/// Calls f(k) for k = From … To − 1. Of plain numbers the calls are written out, k an `Order`, so that coefficients live in
/// registers; with derivatives that would be too much code.
template <class T, int From, int To, class F>
void orders(const F& f) {
  if constexpr (T::slopes > 0) {
    for (int k = From; k < To; ++k) f(k);
  } else {
    [&]<int... K>(std::integer_sequence<int, K...>) { (f(Order<From + K>{}), ...); }
    (std::make_integer_sequence<int, To - From>{});
  }
}

/// Item i of 0 … n − 1 from the middle outwards, the last of them last. The coefficients at the ends of a sum of products are the
/// newest: added last, they keep nobody waiting.
constexpr int outwards(int n, int i) {
  const int k = n % 2 == 0 ? (n - 1) / 2 + (i % 2 == 1 ? (i + 1) / 2 : -i / 2)
                           : (n - 1) / 2 - (i % 2 == 1 ? (i + 1) / 2 : -i / 2);
  return k;
}

/// Σ a_j·b_{k−j} over j = first … k. `k` an int or an `Order`.
template <int First, class T, int N, int M, class K>
[[nodiscard]] T products(const Series<T, N>& a, const Series<T, M>& b, K k) {
  if constexpr (std::is_same_v<K, int>) {
    T sum = a[First] * b[k - First];
    for (int j = First + 1; j <= k; ++j) sum = fma(a[j], b[k - j], sum);
    return sum;
  } else {
    constexpr int n = K::value - First + 1, first = First + outwards(n, 0);
    T             sum = a[first] * b[K::value - first];
    [&]<int... I>(std::integer_sequence<int, I...>) {
      ((sum = fma(a[First + outwards(n, I + 1)], b[K::value - First - outwards(n, I + 1)], sum)), ...);
    }
    (std::make_integer_sequence<int, n - 1>{});
    return sum;
  }
}

/// Coefficient k of a² without what a_0 takes part in: Σ a_j·a_{k−j} over j = 1 … k − 1.
template <class T, int N, class K>
[[nodiscard]] T inner_square(const Series<T, N>& a, K k) {
  if constexpr (std::is_same_v<K, int>) {
    T sum(0.0);
    for (int j = 1; 2 * j < k; ++j) sum = fma(a[j], a[k - j], sum);
    sum = sum + sum;
    return k % 2 == 0 && k > 0 ? fma(a[k / 2], a[k / 2], sum) : sum;
  } else if constexpr (K::value < 2) {
    return T(0.0);
  } else {
    constexpr int pairs = (K::value - 1) / 2, half = K::value / 2;
    if constexpr (pairs == 0) {
      return a[half] * a[half];
    } else {
      T sum = a[pairs] * a[K::value - pairs];
      [&]<int... J>(std::integer_sequence<int, J...>) {
        ((sum = fma(a[pairs - 1 - J], a[K::value - pairs + 1 + J], sum)), ...);
      }
      (std::make_integer_sequence<int, pairs - 1>{});
      if constexpr (K::value % 2 == 0) return fma(a[half], a[half], T(sum + sum));
      return sum + sum;
    }
  }
}

}  // namespace arris::lanes
