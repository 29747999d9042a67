// SPDX-License-Identifier: MIT
#pragma once

/// Default values of the laws that were fitted to facts of the trade: common practice, no source. Written by
/// `./dev calibrate` from configs/calibration, to three figures; how well each fact is met stands there in RESULT.md.
// clang-format off
namespace arris::calibrated {

inline constexpr double abrasion = 0.082;
inline constexpr double size_exponent = 0.82;
inline constexpr double radius_per_scratch = 0.86;
inline constexpr double carbide_share = 0.071;
inline constexpr double burr_growth = 0.92;
inline constexpr double burr_limit_um = 5;
inline constexpr double burr_loss_one_sided = 0.057;
inline constexpr double burr_loss_back = 0.15;
inline constexpr double burr_loss_strop = 0.24;
inline constexpr double burr_break_off_m = 2.9;
inline constexpr double collapse_load_N_per_m = 56;
inline constexpr double collapse_length_m = 5;
inline constexpr double parting_um2_per_m = 0.00042;
inline constexpr double crushing_um_per_m = 3.2e-05;
inline constexpr double contact_distance_um = 0.5;

}  // namespace arris::calibrated
