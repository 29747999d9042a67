// SPDX-License-Identifier: MIT
#pragma once

/// Default values of the laws that were fitted to facts of the trade: common practice, no source. Written by
/// `./dev calibrate` from configs/calibration, to three figures; how well each fact is met stands there in RESULT.md.
// clang-format off
namespace arris::calibrated {

inline constexpr double abrasion = 0.248;
inline constexpr double size_exponent = 0.795;
inline constexpr double radius_per_scratch = 1.44;
inline constexpr double carbide_share = 0.263;
inline constexpr double burr_limit_um = 6.84;
inline constexpr double burr_loss_one_sided = 0.0601;
inline constexpr double burr_loss_back = 0.129;
inline constexpr double burr_loss_strop = 0.147;
inline constexpr double burr_break_off_m = 2.77;
inline constexpr double collapse_load_N_per_m = 60;
inline constexpr double collapse_length_m = 5;
inline constexpr double contact_distance_um = 0.538;
inline constexpr double parting_um2_per_m = 0.00117;
inline constexpr double crushing_um_per_m = 8.65e-05;

}  // namespace arris::calibrated
