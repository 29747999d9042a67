// SPDX-License-Identifier: MIT
#pragma once

/// Default values of the laws that were fitted to facts of the trade: common practice, no source. Written by
/// `./dev calibrate` from configs/calibration, to three figures; how well each fact is met stands there in RESULT.md.
// clang-format off
namespace arris::calibrated {

inline constexpr double abrasion = 0.137;
inline constexpr double size_exponent = 0.63;
inline constexpr double radius_per_scratch = 1.55;
inline constexpr double carbide_share = 0.0576;
inline constexpr double burr_growth = 0.712;
inline constexpr double burr_loss_one_sided = 0.0157;
inline constexpr double burr_loss_back = 0.173;
inline constexpr double burr_loss_strop = 0.165;
inline constexpr double burr_break_off_m = 3.31;
inline constexpr double drape = 0.00293;
inline constexpr double collapse_load_N_per_m = 61.2;
inline constexpr double collapse_length_m = 4.93;
inline constexpr double parting_um2_per_m = 0.000442;
inline constexpr double crushing_um_per_m = 3.19e-05;

}  // namespace arris::calibrated
