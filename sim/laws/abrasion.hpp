// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

/// Steel removed from a face per stroke on an abrasive.
///
///     a = K(d)·p·L/H,     K(d) = K∞·χ/(1 + χ),   χ = (d/d_c)^q
///
/// | symbol | C++                 | meaning                                     | unit | range      | default |
/// |--------|---------------------|---------------------------------------------|------|------------|---------|
/// | K∞     | `coefficient_inf`   | abrasive wear coefficient of coarse grit    | –    | 0.01 … 0.2 | 0.15    |
/// | d_c    | `critical_size_um`  | size below which K falls with the grit      | µm   | 50 … 150   | 100     |
/// | q      | `size_exponent`     | how fast it falls                           | –    | 0.5 … 1.5  | 0.8     |
/// | d      | `size_um`           | mean grit size                              | µm   | > 0        | –       |
/// | p      | `pressure_Pa`       | mean pressure on the land                   | Pa   | ≥ 0        | –       |
/// | L      | `sliding_m`         | length of a stroke                          | m    | > 0        | –       |
/// | H      | `hardness_Pa`       | indentation hardness of the steel           | Pa   | > 0        | –       |
///
/// Assumes fresh, fixed grit and full contact of the land; slurry and loose grit remove 3–8 times less at the same
/// size (Bourithis, Papadimitriou, Sideris, Tribol. Int. 39 (2006) 479), which a medium states as a divisor.
/// Source: Archard 1953, Rabinowicz (equal to Preston 1927 with k_P = K/H); the size effect after Avient, Goddard,
/// Wilman 1960 and Sin, Saka, Suh 1979 (from memory); q is an estimate. Throws nothing.
///
///     const Abrasion<double> law{0.05, 100.0, 1.0};
///     law.coefficient(18.0);                                   // 0.00763
///     law.removal_um(law.coefficient(18.0), 0.8e6, 0.1, 7.1e9);  // 0.086 µm per stroke
namespace arris::laws {

template <class T>
struct Abrasion {
  T coefficient_inf;
  T critical_size_um;
  T size_exponent;

  /// K(d), dimensionless.
  [[nodiscard]] T coefficient(const T& size_um) const {
    using std::pow;
    const T chi = pow(size_um / critical_size_um, size_exponent);
    return coefficient_inf * chi / (1.0 + chi);
  }
  /// a in µm per stroke.
  [[nodiscard]] static T removal_um(const T& coefficient, const T& pressure_Pa, const T& sliding_m,
                                    const T& hardness_Pa) {
    return 1e6 * coefficient * pressure_Pa * sliding_m / hardness_Pa;
  }
};

}  // namespace arris::laws
