// SPDX-License-Identifier: MIT
#pragma once

/// Default values of the laws that were fitted to facts of the trade: common practice, no source. Written by
/// `./dev calibrate` from configs/calibration, to three figures; how well each fact is met stands there in RESULT.md.
// clang-format off
namespace arris::calibrated {

inline constexpr double abrasion = 0.268;
inline constexpr double size_exponent = 0.807;
inline constexpr double radius_per_scratch = 0.685;
inline constexpr double carbide_share = 0.0482;
inline constexpr double burr_limit_um = 5.61;
inline constexpr double burr_loss_one_sided = 0.0572;
inline constexpr double burr_loss_back = 0.137;
inline constexpr double burr_loss_strop = 0.0936;
inline constexpr double burr_break_off_m = 2.72;
inline constexpr double collapse_load_N_per_m = 60;
inline constexpr double collapse_length_m = 5;
inline constexpr double contact_distance_um = 0.39;
inline constexpr double parting_um2_per_m = 0.000697;
inline constexpr double crushing_um_per_m = 3.19e-05;

}  // namespace arris::calibrated
