// SPDX-License-Identifier: MIT
#include "sim/outline/honing.hpp"

namespace arris::outline {

void hone_flat(Outline& edge, const Honing& how) {
  switch (how.worked) {
    case Worked::both:
      return edge.cut_both(how.steeper, how.depth_um);
    case Worked::bevel:
      return edge.cut(Side::bevel, how.steeper, how.depth_um);
    case Worked::back:
      return edge.cut(Side::back, how.steeper, how.depth_um);
  }
}

}  // namespace arris::outline
