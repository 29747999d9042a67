// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include "sim/stop.hpp"

#ifdef ARRIS_WITH_TBB
#include <tbb/global_control.h>
#include <tbb/parallel_for.h>
#endif

namespace arris {

/// Calls `work(i)` for i = 0 … count − 1, on up to `threads` threads (0: all cores). Each call must write only to what
/// belongs to its index; then the result does not depend on the number of threads. An exception from any call is
/// thrown on after all have stopped; where this thread listens to a wish to stop (stop.hpp), every call does. Built without TBB (a browser module), it is a plain loop.
template <class Work>
void for_each_index(std::size_t count, int threads, Work&& work) {
#ifdef ARRIS_WITH_TBB
  const auto limit = threads > 0
                         ? static_cast<std::size_t>(threads)
                         : tbb::global_control::active_value(tbb::global_control::max_allowed_parallelism);
  if (limit > 1 && count > 1) {
    const tbb::global_control control(tbb::global_control::max_allowed_parallelism, limit);
    const StopWish* const     wish = stop_wish();
    tbb::parallel_for(std::size_t{0}, count, [&](std::size_t i) {
      const Listening listening(wish);
      stop_if_wished();
      work(i);
    });
    return;
  }
#else
  (void)threads;
#endif
  for (std::size_t i = 0; i < count; ++i) {
    stop_if_wished();
    work(i);
  }
}

}  // namespace arris
