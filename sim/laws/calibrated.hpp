// SPDX-License-Identifier: MIT
#pragma once

/// Default values of the laws that were fitted to facts of the trade: common practice, no source. Written by
/// `./dev calibrate` from configs/calibration, to three figures; how well each fact is met stands there in RESULT.md.
// clang-format off
namespace arris::calibrated {

inline constexpr double abrasion = 0.255;
inline constexpr double size_exponent = 0.801;
inline constexpr double radius_per_scratch = 0.673;
inline constexpr double carbide_share = 0.0484;
inline constexpr double burr_limit_um = 5.8;
inline constexpr double burr_loss_one_sided = 0.0587;
inline constexpr double burr_loss_back = 0.138;
inline constexpr double burr_loss_strop = 0.0934;
inline constexpr double burr_break_off_m = 2.72;
inline constexpr double collapse_load_N_per_m = 60;
inline constexpr double collapse_length_m = 5;
inline constexpr double contact_distance_um = 0.388;
inline constexpr double parting_um2_per_m = 0.000695;
inline constexpr double crushing_um_per_m = 3.19e-05;

}  // namespace arris::calibrated
