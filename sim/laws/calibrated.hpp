// SPDX-License-Identifier: MIT
#pragma once

/// Default values of the laws that were fitted to facts of the trade: common practice, no source. Written by
/// `./dev calibrate` from configs/calibration, to three figures; how well each fact is met stands there in RESULT.md.
// clang-format off
namespace arris::calibrated {

inline constexpr double abrasion = 0.208;
inline constexpr double size_exponent = 0.829;
inline constexpr double radius_per_scratch = 0.67;
inline constexpr double carbide_share = 0.0473;
inline constexpr double burr_growth = 1;
inline constexpr double burr_limit_um = 5.97;
inline constexpr double burr_loss_one_sided = 0.0572;
inline constexpr double burr_loss_back = 0.14;
inline constexpr double burr_loss_strop = 0.0945;
inline constexpr double burr_break_off_m = 2.6;
inline constexpr double collapse_load_N_per_m = 41.5;
inline constexpr double collapse_length_m = 5.2;
inline constexpr double contact_distance_um = 0.326;
inline constexpr double parting_um2_per_m = 0.000275;
inline constexpr double crushing_um_per_m = 3.16e-05;

}  // namespace arris::calibrated
