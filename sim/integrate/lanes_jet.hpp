// SPDX-License-Identifier: MIT
#pragma once

#include "sim/integrate/lanes_number.hpp"

/// Numbers of several histories at once, each with derivatives with respect to K parameters of its own history.
///
/// The laws take them as they take a ceres::Jet. Comparisons look at values alone; `select` takes a whole number with its
/// derivatives from one side, so that a derivative that is not finite on the other does no harm.
namespace arris::lanes {

template <class V, int K>
struct LaneJet {
  using Value                         = V;
  using Mask                          = typename V::Mask;
  static constexpr std::size_t size   = V::size;
  static constexpr int         slopes = K;

  V a;     ///< the value
  V v[K];  ///< its derivatives

  LaneJet() = default;
  LaneJet(double x) : LaneJet(V(x)) {}
  LaneJet(const V& x) : a(x) {
    for (int j = 0; j < K; ++j) v[j] = V(0.0);
  }
  /// The value and then the derivatives, 0 … K.
  V&                     part(int j) { return j == 0 ? a : v[j - 1]; }
  [[nodiscard]] const V& part(int j) const { return j == 0 ? a : v[j - 1]; }
  [[nodiscard]] const V& value() const { return a; }

  /// With `value`, and f(j) for derivative j.
  template <class F>
  [[nodiscard]] static LaneJet of(const V& value, const F& f) {
    LaneJet out;
    out.a = value;
    for (int j = 0; j < K; ++j) out.v[j] = f(j);
    return out;
  }

  friend LaneJet operator+(const LaneJet& x, const LaneJet& y) {
    return of(x.a + y.a, [&](int j) { return x.v[j] + y.v[j]; });
  }
  friend LaneJet operator-(const LaneJet& x, const LaneJet& y) {
    return of(x.a - y.a, [&](int j) { return x.v[j] - y.v[j]; });
  }
  friend LaneJet operator*(const LaneJet& x, const LaneJet& y) {
    return of(x.a * y.a, [&](int j) { return fma(x.a, y.v[j], x.v[j] * y.a); });
  }
  friend LaneJet operator/(const LaneJet& x, const LaneJet& y) {
    const V per = 1.0 / y.a, ratio = x.a * per;
    return of(ratio, [&](int j) { return (x.v[j] - ratio * y.v[j]) * per; });
  }
  friend LaneJet operator-(const LaneJet& x) {
    return of(-x.a, [&](int j) { return -x.v[j]; });
  }
  // with numbers that do not vary
  friend LaneJet operator+(const LaneJet& x, const V& c) {
    return of(x.a + c, [&](int j) { return x.v[j]; });
  }
  friend LaneJet operator+(const V& c, const LaneJet& x) { return x + c; }
  friend LaneJet operator-(const LaneJet& x, const V& c) {
    return of(x.a - c, [&](int j) { return x.v[j]; });
  }
  friend LaneJet operator-(const V& c, const LaneJet& x) {
    return of(c - x.a, [&](int j) { return -x.v[j]; });
  }
  friend LaneJet operator*(const LaneJet& x, const V& c) {
    return of(x.a * c, [&](int j) { return x.v[j] * c; });
  }
  friend LaneJet operator*(const V& c, const LaneJet& x) { return x * c; }
  friend LaneJet operator/(const LaneJet& x, const V& c) { return x * (1.0 / c); }
  friend LaneJet operator/(const V& c, const LaneJet& x) {
    const V per = 1.0 / x.a, ratio = c * per;
    return of(ratio, [&](int j) { return -ratio * x.v[j] * per; });
  }
  friend LaneJet operator+(const LaneJet& x, double c) { return x + V(c); }
  friend LaneJet operator+(double c, const LaneJet& x) { return x + V(c); }
  friend LaneJet operator-(const LaneJet& x, double c) { return x - V(c); }
  friend LaneJet operator-(double c, const LaneJet& x) { return V(c) - x; }
  friend LaneJet operator*(const LaneJet& x, double c) { return x * V(c); }
  friend LaneJet operator*(double c, const LaneJet& x) { return x * V(c); }
  friend LaneJet operator/(const LaneJet& x, double c) { return x * V(1.0 / c); }
  friend LaneJet operator/(double c, const LaneJet& x) { return V(c) / x; }

  LaneJet& operator+=(const LaneJet& y) { return *this = *this + y; }
  LaneJet& operator-=(const LaneJet& y) { return *this = *this - y; }

  friend Mask operator<(const LaneJet& x, const LaneJet& y) { return x.a < y.a; }
  friend Mask operator>(const LaneJet& x, const LaneJet& y) { return y.a < x.a; }
  friend Mask operator<=(const LaneJet& x, const LaneJet& y) { return x.a <= y.a; }
  friend Mask operator>=(const LaneJet& x, const LaneJet& y) { return y.a <= x.a; }

  friend LaneJet select(const Mask& where, const LaneJet& x, const LaneJet& y) {
    return of(select(where, x.a, y.a), [&](int j) { return select(where, x.v[j], y.v[j]); });
  }
  friend LaneJet min(const LaneJet& x, const LaneJet& y) { return select(x.a <= y.a, x, y); }
  friend LaneJet max(const LaneJet& x, const LaneJet& y) { return select(x.a >= y.a, x, y); }
  friend LaneJet sqrt(const LaneJet& x) {
    const V root = sqrt(x.a), by = 0.5 / root;
    return of(root, [&](int j) { return x.v[j] * by; });
  }
  friend LaneJet exp(const LaneJet& x) {
    const V e = exp(x.a);
    return of(e, [&](int j) { return x.v[j] * e; });
  }
  friend LaneJet log(const LaneJet& x) {
    const V by = 1.0 / x.a;
    return of(log(x.a), [&](int j) { return x.v[j] * by; });
  }
  friend LaneJet abs(const LaneJet& x) { return select(x.a < 0.0, -x, x); }
  friend LaneJet pow(const LaneJet& x, const LaneJet& y) {
    const V power = pow(x.a, y.a), by_base = y.a * power / x.a, by_exponent = power * log(x.a);
    return of(power, [&](int j) { return fma(by_base, x.v[j], by_exponent * y.v[j]); });
  }
  /// x·y + z
  friend LaneJet fma(const LaneJet& x, const LaneJet& y, const LaneJet& z) {
    return of(fma(x.a, y.a, z.a), [&](int j) { return fma(x.a, y.v[j], fma(x.v[j], y.a, z.v[j])); });
  }
  /// c·x + y where c does not vary
  friend LaneJet fma(const V& c, const LaneJet& x, const LaneJet& y) {
    return of(fma(c, x.a, y.a), [&](int j) { return fma(c, x.v[j], y.v[j]); });
  }
};

/// f(x) of a function of one number: with one derivative, and then the chain rule, which costs less than f with K of them.
template <class V, class F>
[[nodiscard]] auto of_one(const V& x, const F& f) {
  if constexpr (V::slopes == 0) {
    return f(x);
  } else {
    LaneJet<typename V::Value, 1> alone(x.a);
    alone.v[0]     = typename V::Value(1.0);
    const auto out = f(alone);
    return V::of(out.a, [&](int j) { return out.v[0] * x.v[j]; });
  }
}

}  // namespace arris::lanes
