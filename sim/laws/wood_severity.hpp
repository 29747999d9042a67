// SPDX-License-Identifier: MIT
#pragma once

#include <cmath>

/// How much faster than the reference case an edge wears in a given wood, with a given steel and angle.
///
///     S_w = (J/J₀)^j · x_e · (1 + c_si·silica %) · ζ · g(30°)/g(β),     ζ = z·H₀/H
///
/// | symbol | C++                | meaning                                                | unit | range    | default |
/// |--------|--------------------|--------------------------------------------------------|------|----------|---------|
/// | J, J₀  | `side_hardness_N`  | Janka side hardness of the wood; of the reference, radiata pine | N | 200 … 25 000 | J₀ 3150 |
/// | j      | `hardness_exponent`| how wear grows with hardness                           | –    | 0 … 4    | 1.6     |
/// | x_e    | `extractive_factor`| what extractives add (tannin, resin)                   | –    | 0.2 … 20 | 1       |
/// | c_si   | `silica_factor`    | what a per cent of silica adds                         | 1/%  | 0 … 50   | 7       |
/// | z      | `wear_ratio`       | wear of the steel relative to O1 at the same hardness  | –    | 0.1 … 3  | by steel |
/// | H, H₀  | `hardness_Pa`      | hardness of the steel; of the reference                | Pa   | > 0      | H₀ 7.1 GPa |
/// | g      | `section_factor`   | missing cross-section per r² (geometry.hpp)            | –    | > 0      | –       |
///
/// The worn cross-section per metre is what scales (Archard); the radius follows through g, so the angle enters here.
/// J/100 mm² is a mean crushing pressure (Janka ball 11.28 mm, ASTM D143): sugar maple 6450 N, 64.5 MPa.
/// Source: D2 wears half as fast as O1 at 60 HRC in three-body abrasion (Bourithis et al., Tribol. Int. 39 (2006) 479);
/// silica dominates over density (Cristóvão et al. 2011, carbide tools); j and c_si are estimates set so that maple is
/// about 4, oak with its extractives about 7 and silica-rich tropical woods some 20 times pine. Throws nothing.
///
///     const WoodSeverity<double> s{1.6, 7.0};
///     s.wood(6450.0, 1.0, 0.03);      // 3.81
namespace arris::laws {

inline constexpr double reference_side_hardness_N = 3150.0;
inline constexpr double reference_hardness_Pa     = 7.1e9;

template <class T>
struct WoodSeverity {
  T hardness_exponent;
  T silica_factor;

  /// Factor of the wood, dimensionless.
  [[nodiscard]] T wood(const T& side_hardness_N, const T& extractive_factor, const T& silica_pct) const {
    using std::pow;
    return pow(side_hardness_N / reference_side_hardness_N, hardness_exponent) * extractive_factor *
           (1.0 + silica_factor * silica_pct);
  }
  /// ζ, factor of the steel, dimensionless.
  [[nodiscard]] static T steel(const T& wear_ratio, const T& hardness_Pa) {
    return wear_ratio * reference_hardness_Pa / hardness_Pa;
  }
};

}  // namespace arris::laws
