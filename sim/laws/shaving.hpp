// SPDX-License-Identifier: MIT
#pragma once

/// The thinnest shaving an apex can still form; below it the edge skates.
///
///     t_min = 0.3·r
///
/// | symbol | C++              | meaning                | unit | range | default |
/// |--------|------------------|------------------------|------|-------|---------|
/// | r      | `apex_radius_um` | apex radius            | µm   | > 0   | –       |
/// | t_min  | –                | thinnest shaving       | µm   | > 0   | –       |
///
/// Source: minimum chip thickness about 0.3 r, Zou et al. 2026, measured in steel; its use for wood is an estimate.
/// Throws nothing.
///
///     thinnest_shaving_um(5.0);     // 1.5 µm
namespace arris::laws {

template <class T>
[[nodiscard]] T thinnest_shaving_um(const T& apex_radius_um) {
  return 0.3 * apex_radius_um;
}

}  // namespace arris::laws
