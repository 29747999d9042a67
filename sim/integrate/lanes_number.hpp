// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>
#include <cstdint>

#include <xsimd/xsimd.hpp>

#include "sim/laws/number.hpp"

/// A number of several histories at once, which the laws take like any other: each lane is one history.
///
/// It is `Registers` registers of the instruction set A, so that the processor has something to do in one while it waits for
/// the other.
namespace arris::lanes {

template <class A, int Registers>
struct Lanes {
  using Register                      = xsimd::batch<double, A>;
  using Bits                          = xsimd::batch<std::uint64_t, A>;
  using Value                         = Lanes;
  static constexpr std::size_t size   = Register::size * Registers;
  static constexpr int         slopes = 0;  ///< derivatives; lanes_jet.hpp has numbers with some

  struct Mask {
    xsimd::batch_bool<double, A> of[Registers];

    friend Mask operator&(const Mask& a, const Mask& b) {
      return mask([&](int i) { return a.of[i] & b.of[i]; });
    }
    friend Mask operator|(const Mask& a, const Mask& b) {
      return mask([&](int i) { return a.of[i] | b.of[i]; });
    }
    friend Mask operator!(const Mask& a) {
      return mask([&](int i) { return !a.of[i]; });
    }
    friend bool any(const Mask& a) {
      bool out = false;
      for (int i = 0; i < Registers; ++i) out |= xsimd::any(a.of[i]);
      return out;
    }
    friend bool all(const Mask& a) {
      bool out = true;
      for (int i = 0; i < Registers; ++i) out &= xsimd::all(a.of[i]);
      return out;
    }
  };

  Register of[Registers];

  Lanes() = default;
  Lanes(double x) {
    for (int i = 0; i < Registers; ++i) of[i] = Register(x);
  }
  /// Of what `f(i)` gives for register i.
  template <class F>
  [[nodiscard]] static Lanes each(const F& f) {
    Lanes out;
    for (int i = 0; i < Registers; ++i) out.of[i] = f(i);
    return out;
  }
  template <class F>
  [[nodiscard]] static Mask mask(const F& f) {
    Mask out;
    for (int i = 0; i < Registers; ++i) out.of[i] = f(i);
    return out;
  }
  [[nodiscard]] static Mask nowhere() {
    return mask([](int) { return xsimd::batch_bool<double, A>(false); });
  }
  /// The first lane of register i.
  [[nodiscard]] static std::size_t first_of(int i) { return static_cast<std::size_t>(i) * Register::size; }
  [[nodiscard]] static Lanes       load(const double* x) {
          return each([&](int i) { return Register::load_aligned(x + first_of(i)); });
  }
  void store(double* x) const {
    for (int i = 0; i < Registers; ++i) of[i].store_aligned(x + first_of(i));
  }

  Lanes&                     part(int) { return *this; }
  [[nodiscard]] const Lanes& part(int) const { return *this; }
  [[nodiscard]] const Lanes& value() const { return *this; }

  friend Lanes operator+(const Lanes& a, const Lanes& b) {
    return each([&](int i) { return a.of[i] + b.of[i]; });
  }
  friend Lanes operator-(const Lanes& a, const Lanes& b) {
    return each([&](int i) { return a.of[i] - b.of[i]; });
  }
  friend Lanes operator*(const Lanes& a, const Lanes& b) {
    return each([&](int i) { return a.of[i] * b.of[i]; });
  }
  friend Lanes operator/(const Lanes& a, const Lanes& b) {
    return each([&](int i) { return a.of[i] / b.of[i]; });
  }
  friend Lanes operator-(const Lanes& a) {
    return each([&](int i) { return -a.of[i]; });
  }
  Lanes& operator+=(const Lanes& b) { return *this = *this + b; }
  Lanes& operator-=(const Lanes& b) { return *this = *this - b; }

  friend Mask operator<(const Lanes& a, const Lanes& b) {
    return mask([&](int i) { return a.of[i] < b.of[i]; });
  }
  friend Mask operator>(const Lanes& a, const Lanes& b) { return b < a; }
  friend Mask operator<=(const Lanes& a, const Lanes& b) {
    return mask([&](int i) { return a.of[i] <= b.of[i]; });
  }
  friend Mask operator>=(const Lanes& a, const Lanes& b) { return b <= a; }

  friend Lanes select(const Mask& where, const Lanes& a, const Lanes& b) {
    return each([&](int i) { return xsimd::select(where.of[i], a.of[i], b.of[i]); });
  }
  friend Lanes min(const Lanes& a, const Lanes& b) {
    return each([&](int i) { return xsimd::min(a.of[i], b.of[i]); });
  }
  friend Lanes max(const Lanes& a, const Lanes& b) {
    return each([&](int i) { return xsimd::max(a.of[i], b.of[i]); });
  }
  friend Lanes abs(const Lanes& a) {
    return each([&](int i) { return xsimd::abs(a.of[i]); });
  }
  friend Lanes sqrt(const Lanes& a) {
    return each([&](int i) { return xsimd::sqrt(a.of[i]); });
  }
  friend Lanes ceil(const Lanes& a) {
    return each([&](int i) { return xsimd::ceil(a.of[i]); });
  }
  friend Lanes pow(const Lanes& a, const Lanes& b) {
    return each([&](int i) { return xsimd::pow(a.of[i], b.of[i]); });
  }
  friend Lanes log(const Lanes& a) {
    return each([&](int i) { return xsimd::log(a.of[i]); });
  }
  /// a·b + c
  friend Lanes fma(const Lanes& a, const Lanes& b, const Lanes& c) {
    return each([&](int i) { return xsimd::fma(a.of[i], b.of[i], c.of[i]); });
  }

  /// e^x to two units in the last place, for −708 ≤ x ≤ 709, and the value at the end beyond; NaN is one of the two. xsimd's
  /// own leaves the register to make integers of its exponents.
  friend Lanes exp(const Lanes& x) {
    return each([&](int i) { return exp_of(x.of[i]); });
  }
  /// x^(−1/5) to 7 %, for the size of a step: the bits of a number are its logarithm, nearly.
  friend Lanes fifth_root_of_inverse(const Lanes& x) {
    return each([&](int i) {
      const Register two52(0x1.0p52);
      const Bits     upper = (xsimd::bitwise_cast<Bits>(x.of[i]) >> 32) | xsimd::bitwise_cast<Bits>(two52);
      const Register log2  = (xsimd::bitwise_cast<Register>(upper) - two52) * 0x1.0p-20 - 1023.0;
      const Register bits  = (1023.0 - 0.2 * log2) * 0x1.0p20 + two52;
      return xsimd::bitwise_cast<Register>(xsimd::bitwise_cast<Bits>(bits) << 32);
    });
  }

  /// x^(−1/n) for normal x > 0, to 9 %/n, for the size of a step: the bits of a number are its logarithm, nearly.
  friend Lanes root_of_inverse(const Lanes& x, int n) {
    const double by = 1.0 / n;
    return each([&](int i) {
      const Register two52(0x1.0p52);
      const Bits     upper = (xsimd::bitwise_cast<Bits>(x.of[i]) >> 32) | xsimd::bitwise_cast<Bits>(two52);
      const Register log2  = (xsimd::bitwise_cast<Register>(upper) - two52) * 0x1.0p-20 - 1023.0;
      const Register bits  = (1023.0 - by * log2) * 0x1.0p20 + two52;
      return xsimd::bitwise_cast<Register>(xsimd::bitwise_cast<Bits>(bits) << 32);
    });
  }

 private:
  static Register exp_of(const Register& beyond) {
    // x = n·ln 2 + y: adding 1.5·2^52 leaves n in the low bits
    const Register x = xsimd::min(xsimd::max(beyond, Register(-708.0)), Register(709.0));
    const Register shift(0x1.8p52);
    const Register shifted = xsimd::fma(x, Register(1.4426950408889634), shift);
    const Register n       = shifted - shift;
    const Register y       = xsimd::fma(n, Register(-1.90821492927058770002e-10),
                                        xsimd::fma(n, Register(-6.93147180369123816490e-01), x));
    // the series as far as y¹³/13!, which for |y| ≤ 0.35 leaves 4·10⁻¹⁸; in pairs, so that they need not wait for another
    const auto pair = [](double a, double b, const Register& z) {
      return xsimd::fma(Register(b), z, Register(a));
    };
    const Register y2 = y * y, y4 = y2 * y2;
    const Register a = pair(1.0, 1.0, y), b = pair(1.0 / 2, 1.0 / 6, y), c = pair(1.0 / 24, 1.0 / 120, y);
    const Register d = pair(1.0 / 720, 1.0 / 5040, y), e = pair(1.0 / 40320, 1.0 / 362880, y);
    const Register f = pair(1.0 / 3628800, 1.0 / 39916800, y), g = pair(1.0 / 479001600, 1.0 / 6227020800, y);
    const Register low = xsimd::fma(b, y2, a), middle = xsimd::fma(d, y2, c), high = xsimd::fma(f, y2, e);
    const Register sum = xsimd::fma(xsimd::fma(xsimd::fma(g, y4, high), y4, middle), y4, low);
    return xsimd::bitwise_cast<Register>(xsimd::bitwise_cast<Bits>(sum) +
                                         (xsimd::bitwise_cast<Bits>(shifted) << 52));
  }
};

}  // namespace arris::lanes

namespace arris {

template <class Mask>
requires requires(const Mask& m) { any(m); }
struct Choice<Mask> {
  template <class Yes, class No>
  [[nodiscard]] static auto of(const Mask& condition, const Yes& yes, const No& no) {
    return select(condition, yes(), no());
  }
};

}  // namespace arris
