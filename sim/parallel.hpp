// SPDX-License-Identifier: MIT
#pragma once

#include <cstddef>

#include "sim/stop.hpp"

#if defined(__SANITIZE_THREAD__)
#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>
#elif defined(ARRIS_WITH_TBB)
#include <tbb/global_control.h>
#include <tbb/parallel_for.h>
#endif

namespace arris {

/// Calls `work(i)` for i = 0 … count − 1, on up to `threads` threads (0: all cores). Each call must write only to what
/// belongs to its index; then the result does not depend on the number of threads. An exception from any call is
/// thrown on after all have stopped; where this thread listens to a wish to stop (stop.hpp), every call does. Built without
/// TBB (a browser module), it is a plain loop. The thread sanitizer cannot see into TBB; for it plain threads do the same.
template <class Work>
void for_each_index(std::size_t count, int threads, Work&& work) {
#if defined(__SANITIZE_THREAD__)
  const auto limit = std::min<std::size_t>(
      count, threads > 0 ? static_cast<std::size_t>(threads) : std::thread::hardware_concurrency());
  if (limit > 1) {
    const StopWish* const    wish = stop_wish();
    std::atomic<std::size_t> next{0};
    std::mutex               failing;
    std::exception_ptr       failure;
    const auto               worker = [&] {
      const Listening listening(wish);
      try {
        for (std::size_t i = next++; i < count; i = next++) {
          stop_if_wished();
          work(i);
        }
      } catch (...) {  // thrown on below
        const std::scoped_lock lock(failing);
        if (!failure) failure = std::current_exception();
        next = count;
      }
    };
    {
      std::vector<std::jthread> workers;
      for (std::size_t t = 0; t < limit; ++t) workers.emplace_back(worker);
    }
    if (failure) std::rethrow_exception(failure);
    return;
  }
#elif defined(ARRIS_WITH_TBB)
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
