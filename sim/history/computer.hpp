// SPDX-License-Identifier: MIT
#pragma once

#include "sim/laws/field.hpp"

/// How much of the computer one run may take, so that a slip of the keyboard ends with a sentence and not with a machine that
/// does nothing else. It decides nothing about results, which therefore do not tell it.
namespace arris {

/// `[computer]`
struct Computer {
  int    max_edges     = 100'000;
  int    max_steps     = 2'000'000;
  double max_memory_MB = 4000;
  double max_time_h    = 24;

  template <class V, class... S>
  static void fields(V&& v, S&... s) {
    // clang-format off
    v(field("max_edges").between(1, 1e8).estimate().says("edges that a configuration may have"), s.max_edges...);
    v(field("max_steps").between(1, 1e9).estimate().says("steps that all edges together may have, those of their routes included"), s.max_steps...);
    v(field("max_memory_MB").between(50, 1e8).estimate().says("memory that the program may take, in megabytes; Python has its own"),
      s.max_memory_MB...);
    v(field("max_time_h").between(1e-4, 1e5).estimate().says("hours after which the program stops and keeps what is done; Python has its own"),
      s.max_time_h...);
    // clang-format on
  }
};

}  // namespace arris
