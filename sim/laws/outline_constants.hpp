// SPDX-License-Identifier: MIT
#pragma once

/// Constants of the laws of stropping (stropping.hpp, dub.hpp), fitted to the outline of sim/outline. Written by `./dev closures`, to three
/// figures; how near the laws come to the outline with them stands in configs/closures/RESULT.md.
// clang-format off
namespace arris::laws {

namespace of_outline {

inline constexpr double angle = 2.14;  ///< A₁
inline constexpr double reach = 0.775;  ///< c_w
inline constexpr double mean_share = 0.195;  ///< c_∞
inline constexpr double steepest = 0.97;  ///< c_m
inline constexpr double onset = 3.88;  ///< c_L
inline constexpr double even_share = 2.46;  ///< c_y
inline constexpr double land_share = 0.0179;  ///< c_ℓ
inline constexpr double worn_in_share = 0.309;  ///< c_b
inline constexpr double depth = 1.97;  ///< c_h
inline constexpr double depth_onset = 5.97;  ///< c_d
inline constexpr double hand = 0.802;  ///< c_σ
inline constexpr double borne = 5.28;  ///< c_n

}  // namespace of_outline

/// The same as a type, which laws take as a parameter: an object of it takes no room.
struct OutlineConstants {
  static constexpr double angle = of_outline::angle;
  static constexpr double reach = of_outline::reach;
  static constexpr double mean_share = of_outline::mean_share;
  static constexpr double steepest = of_outline::steepest;
  static constexpr double onset = of_outline::onset;
  static constexpr double even_share = of_outline::even_share;
  static constexpr double land_share = of_outline::land_share;
  static constexpr double worn_in_share = of_outline::worn_in_share;
  static constexpr double depth = of_outline::depth;
  static constexpr double depth_onset = of_outline::depth_onset;
  static constexpr double hand = of_outline::hand;
  static constexpr double borne = of_outline::borne;
};

}  // namespace arris::laws
