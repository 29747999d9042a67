// SPDX-License-Identifier: MIT
#pragma once

/// Default values of the laws that were fitted to facts of the trade: common practice, no source. Written by
/// `./dev calibrate` from configs/calibration, to three figures; how well each fact is met stands there in RESULT.md.
// clang-format off
namespace arris::calibrated {

inline constexpr double abrasion = 0.135;
inline constexpr double size_exponent = 0.633;
inline constexpr double radius_per_scratch = 1.53;
inline constexpr double carbide_share = 0.0586;
inline constexpr double burr_growth = 0.717;
inline constexpr double burr_loss_one_sided = 0.0156;
inline constexpr double burr_loss_back = 0.174;
inline constexpr double burr_loss_strop = 0.165;
inline constexpr double burr_break_off_m = 3.33;
inline constexpr double drape = 0.00273;
inline constexpr double collapse_load_N_per_m = 60.7;
inline constexpr double collapse_length_m = 4.94;
inline constexpr double parting_um2_per_m = 0.000417;
inline constexpr double crushing_um_per_m = 9.2e-05;

}  // namespace arris::calibrated
